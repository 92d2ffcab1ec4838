"""What each key of a style allows and all together do not: faults between its strokes."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from backing.arranging.figures import Placed, laid, one_bar
from backing.arranging.places import Places, possible_places
from backing.arranging.style import Figure, Hand, Style, Until, When
from backing.music.metre import Metre, parse_metre

#: What a figure for any metre is tried in.
_TRIED = ("2/4", "3/4", "4/4", "6/8", "9/8", "3/8", "7/8", "2/2")


def faults_of(style: Style) -> list[str]:
    """The faults of a style whose keys are right one by one, each with its path."""
    found = list(_fallback(style))
    for index, figure in enumerate(style.figures):
        path = f"figure[{index}]"
        found += _numbers(figure, path)
        found += dict.fromkeys(_places(figure, path) or _together(figure, path))
    return found


def tried_in(figure: Figure) -> list[Metre]:
    """The metres that a figure is for, or some if it is for any."""
    return [parse_metre(name) for name in figure.metres or _TRIED]


def _fallback(style: Style) -> Iterator[str]:
    for index, figure in enumerate(style.figures[:-1]):
        if figure.for_all:
            yield (
                f"figure[{index + 1}]: never played, for figure[{index}] fits every bar; "
                "put it before that"
            )
    if style.figures and not style.figures[-1].for_all:
        yield (
            'figure: the last one must be for metres = "any", without dances, only and never: '
            "other metres fall back on it"
        )


def _numbers(figure: Figure, path: str) -> Iterator[str]:
    """Bars and beats that the figure has not."""
    for index, stroke in enumerate(figure.strokes):
        where = f"{path}.strokes[{index}].when"
        if stroke.bar > figure.bars:
            hint = f"bars = {stroke.bar} makes it longer"
            yield f"{where}: the figure has no bar {stroke.bar}; {hint}"
        if stroke.bar and stroke.when in (When.CHANGE, When.SECTION):
            yield f"{where}: a change has no bar of its own; leave out bar {stroke.bar}"
        for metre in figure.metres:
            beats = len(parse_metre(metre).beats)
            beyond = [beat for beat in stroke.beats if beat > beats]
            if beyond:
                yield f"{where}: {metre} has no beat {beyond[0]}; it is felt in {beats}"


def _places(figure: Figure, path: str) -> list[str]:
    """Places that no bar has together."""
    found = []
    if not _met(figure.only, figure.never):
        found.append(f"{path}: no bar is ever at the places of only and never")
    for index, stroke in enumerate(figure.strokes):
        if not _met(figure.only | stroke.only, figure.never | stroke.never):
            found.append(f"{path}.strokes[{index}]: no bar is ever at the places of only and never")
    return found


def _met(only: Places, never: Places) -> bool:
    return any(only <= places and never.isdisjoint(places) for places in possible_places())


def _together(figure: Figure, path: str) -> Iterator[str]:
    """Strokes of one hand that fall together, or sound into each other.

    Lengths are looked at where the metres are named; elsewhere they are cut as they come.
    """
    mentioned = figure.mentioned
    met = {
        places & mentioned
        for places in possible_places()
        if figure.only <= places and figure.never.isdisjoint(places)
    }
    paths = {id(stroke): f"{path}.strokes[{i}]" for i, stroke in enumerate(figure.strokes)}
    for metre in tried_in(figure):
        for places in sorted(met, key=sorted):
            bars = [laid(one_bar(metre), figure, at, places) for at in range(figure.bars)]
            for hand in Hand:
                yield from _meetings(bars, hand, metre, paths)
                if figure.metres:
                    yield from _overlaps(bars, hand, metre, paths)


_Line = list[tuple[Fraction, Placed]]


def _line(bars: list[list[Placed]], hand: Hand, metre: Metre) -> _Line:
    """One hand's strokes over the bars of a figure, each with its onset from the start."""
    length = one_bar(metre).length
    return [
        (at * length + item.onset, item)
        for at, bar in enumerate(bars)
        for item in bar
        if item.stroke.play is hand
    ]


def _meetings(
    bars: list[list[Placed]], hand: Hand, metre: Metre, paths: dict[int, str]
) -> Iterator[str]:
    for (onset, item), (after, following) in pairwise(_line(bars, hand, metre)):
        if onset == after:
            here, there = paths[id(item.stroke)], paths[id(following.stroke)]
            yield f"{there}: falls on the same moment as another {hand} in {metre}, {here}"


def _overlaps(
    bars: list[list[Placed]], hand: Hand, metre: Metre, paths: dict[int, str]
) -> Iterator[str]:
    line = _line(bars, hand, metre)
    for (onset, item), (after, following) in pairwise(line):
        if onset < after < onset + (item.length or 0):
            here, there = paths[id(item.stroke)], paths[id(following.stroke)]
            yield f"{here}.hold: in {metre} it sounds into the next {hand}, {there}"
    for onset, item in line[-1:]:
        beats = item.stroke.hold.until is Until.BEATS
        if beats and onset + (item.length or 0) > len(bars) * one_bar(metre).length:
            yield f"{paths[id(item.stroke)]}.hold: in {metre} it is longer than the figure"
