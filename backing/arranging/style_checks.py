"""What each key of a style allows and all together do not: faults between its strokes."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from backing.arranging.figures import PlacedStroke, laid, one_bar
from backing.arranging.places import Places, possible_places
from backing.arranging.style import Figure, Hand, Style, Until, When
from backing.data.key_path import KeyPath
from backing.data.reader import KeyFault
from backing.music.metre import Metre, parse_metre
from backing.wording import ordinal

#: What a figure for any metre is tried in.
_TRIED = ("2/4", "3/4", "4/4", "6/8", "9/8", "3/8", "7/8", "2/2")


def faults_of(style: Style) -> list[KeyFault]:
    """The faults of a style whose keys are right one by one."""
    found = list(_never_played(style))
    for index, figure in enumerate(style.figures):
        path = ("figure", index)
        found += _numbers(figure, path)
        found += dict.fromkeys(_places(figure, path) or _together(figure, path))
    return found


def tried_in(figure: Figure) -> list[Metre]:
    """The metres that a figure is for, or some if it is for any."""
    return [parse_metre(name) for name in figure.metres or _TRIED]


def _never_played(style: Style) -> Iterator[KeyFault]:
    for index, figure in enumerate(style.figures[:-1]):
        if figure.for_all:
            said = f"never played, for the {ordinal(index + 1)} figure fits every bar"
            yield KeyFault(("figure", index + 1), f"{said}; put it before that")


def _numbers(figure: Figure, path: KeyPath) -> Iterator[KeyFault]:
    """Bars and beats that the figure has not."""
    for index, stroke in enumerate(figure.strokes):
        where = (*path, "strokes", index, "when")
        if stroke.bar > figure.bars:
            hint = f"bars = {stroke.bar} makes it longer"
            yield KeyFault(where, f"the figure has no bar {stroke.bar}; {hint}")
        if stroke.bar and stroke.when in (When.CHANGE, When.SECTION):
            said = f"a change has no bar of its own; leave out bar {stroke.bar}"
            yield KeyFault(where, said)
        for metre in figure.metres:
            beats = len(parse_metre(metre).beats)
            beyond = [beat for beat in stroke.beats if beat > beats]
            if beyond:
                said = f"{metre} has no beat {beyond[0]}; it is felt in {beats}"
                yield KeyFault(where, said)


def _places(figure: Figure, path: KeyPath) -> list[KeyFault]:
    """Places that no bar has together."""
    said = "no bar is ever at the places of only and never"
    if not _met(figure.only, figure.never):
        return [KeyFault(path, said)]
    return [
        KeyFault((*path, "strokes", index), said)
        for index, stroke in enumerate(figure.strokes)
        if not _met(figure.only | stroke.only, figure.never | stroke.never)
    ]


def _met(only: Places, never: Places) -> bool:
    return any(only <= places and never.isdisjoint(places) for places in possible_places())


def _together(figure: Figure, path: KeyPath) -> Iterator[KeyFault]:
    """Strokes of one hand that fall together, or sound into each other.

    Lengths are looked at where the metres are named; elsewhere they are cut as they come.
    """
    mentioned = figure.mentioned
    met = {
        places & mentioned
        for places in possible_places()
        if figure.only <= places and figure.never.isdisjoint(places)
    }
    paths = {id(stroke): (*path, "strokes", at) for at, stroke in enumerate(figure.strokes)}
    for metre in tried_in(figure):
        for places in sorted(met, key=sorted):
            bars = [laid(one_bar(metre), figure, at, places) for at in range(figure.bars)]
            for hand in Hand:
                yield from _meetings(bars, hand, metre, paths)
                if figure.metres:
                    yield from _overlaps(bars, hand, metre, paths)


#: The place of each stroke in the file, by its identity.
_StrokePaths = dict[int, KeyPath]
_HandLine = list[tuple[Fraction, PlacedStroke]]


def _line(bars: list[list[PlacedStroke]], hand: Hand, metre: Metre) -> _HandLine:
    """One hand's strokes over the bars of a figure, each with its onset from the start."""
    length = one_bar(metre).length
    return [
        (at * length + item.onset, item)
        for at, bar in enumerate(bars)
        for item in bar
        if item.stroke.play is hand
    ]


def _meetings(
    bars: list[list[PlacedStroke]], hand: Hand, metre: Metre, paths: _StrokePaths
) -> Iterator[KeyFault]:
    for (onset, item), (after, following) in pairwise(_line(bars, hand, metre)):
        if onset == after:
            said = f"falls on the same moment as another {hand} in {metre}"
            there, here = paths[id(following.stroke)], paths[id(item.stroke)]
            yield KeyFault(there, f"{said}, the {_which(here)}")


def _overlaps(
    bars: list[list[PlacedStroke]], hand: Hand, metre: Metre, paths: _StrokePaths
) -> Iterator[KeyFault]:
    line = _line(bars, hand, metre)
    for (onset, item), (after, following) in pairwise(line):
        if onset < after < onset + (item.length or 0):
            here, there = paths[id(item.stroke)], paths[id(following.stroke)]
            said = f"in {metre} it sounds into the next {hand}, the {_which(there)}"
            yield KeyFault((*here, "hold"), said)
    for onset, item in line[-1:]:
        beats = item.stroke.hold.until is Until.BEATS
        if beats and onset + (item.length or 0) > len(bars) * one_bar(metre).length:
            said = f"in {metre} it is longer than the figure"
            yield KeyFault((*paths[id(item.stroke)], "hold"), said)


def _which(path: KeyPath) -> str:
    """Which stroke of its figure."""
    return f"{ordinal(int(path[-1]) + 1)} stroke"
