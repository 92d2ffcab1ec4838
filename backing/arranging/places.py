"""Where each bar stands: in its phrase, its section, the tune, and what the tune does there.

Figures and strokes of a style name such places.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import product
from math import ceil, lcm
from typing import NamedTuple

from backing.arranging.face import ONCE, Face
from backing.music.played import (
    PHRASE,
    BarShape,
    Keys,
    MappedBar,
    PlayedTune,
    Strike,
    grid_of,
    in_steps,
    phrase_at,
)
from backing.music.tune import Note

#: Dances whose phrases end on three strong notes, a quarter of the bar each, in whichever
#: metre they are written (common practice, no source).
_THREE_STRONG = ("hornpipe", "clog")
#: Fast notes: at least so many on a felt beat, and so many times those of the usual bar.
_FAST_ON_A_BEAT, _FAST = 3, Fraction(3, 2)


class Place(StrEnum):
    """What can be said of a bar."""

    PHRASE_START = "phrase start"
    FIRST_HALF = "first half"
    SECOND_HALF = "second half"
    PHRASE_END = "phrase end"
    SECTION_START = "section start"
    BEFORE_SECTION_END = "before the section end"
    SECTION_END = "section end"
    SECOND_TIME = "second time"
    TUNE_END = "tune end"
    CADENCE = "cadence"
    FAST = "fast notes"
    SYNCOPATION = "syncopation"
    BEFORE_CHANGE = "before a change"


#: Those that the melody decides, and that the harmony decides; the form decides the others.
OF_THE_MELODY = frozenset({Place.CADENCE, Place.FAST, Place.SYNCOPATION})
OF_THE_HARMONY = frozenset({Place.BEFORE_CHANGE})
Places = frozenset[Place]
NOWHERE: Places = frozenset()


class Stand(NamedTuple):
    """Where a bar stands: its place in its section (from 0), and all that is said of it."""

    position: int
    places: Places


def stands(
    played: PlayedTune, changes: Iterable[Fraction], wanted: Places, face: Face = ONCE
) -> list[Stand]:
    """Where each bar stands, as far as `wanted` asks; `changes` are onsets of new harmony,
    `face` says which time through the tune it is.

    A pickup stands nowhere.
    """
    bars = played.bars
    found = _of_the_form(bars, face)
    if wanted & OF_THE_HARMONY:
        ahead = set(changes)
        found = [
            Stand(stand.position, stand.places | OF_THE_HARMONY) if bar.stop in ahead else stand
            for bar, stand in zip(bars, found, strict=True)
        ]
    if wanted & OF_THE_MELODY:
        melody = _of_the_melody(played)
        found = [
            Stand(stand.position, _joined(stand.places, places))
            for stand, places in zip(found, melody, strict=True)
        ]
    return found


# -- the form --------------------------------------------------------------------


def _of_the_form(bars: Sequence[MappedBar], face: Face) -> list[Stand]:
    found = []
    second: dict[int, bool] = {}
    for bar in bars:
        if bar.pickup:
            found.append(Stand(bar.position, NOWHERE))
            continue
        if bar.opens:
            first = bar.index
            second[first] = not second.get(first, True)
        again = face.time > 1 or (second[first] and not face.alone)
        last = face.last and (face.alone or bar.part == bars[-1].part)
        found.append(Stand(bar.position, _form(bar.position, bar.full, again, last)))
    return found


@lru_cache(maxsize=4096)
def _form(position: int, count: int, second: bool, last: bool) -> Places:
    """What the form says of a bar: its position among `count`, the time through."""
    start, stop = phrase_at(position, count)
    offset = position - start
    said = {
        Place.PHRASE_START: position == start,
        Place.FIRST_HALF: offset < PHRASE // 2,
        Place.SECOND_HALF: offset >= PHRASE // 2,
        Place.PHRASE_END: position == stop - 1,
        Place.SECTION_START: position == 0,
        Place.BEFORE_SECTION_END: position == count - 2,
        Place.SECTION_END: position == count - 1,
        Place.SECOND_TIME: second,
        Place.TUNE_END: last and position == count - 1,
    }
    return frozenset(place for place, true in said.items() if true)


# -- the melody ------------------------------------------------------------------

#: Where the struck notes of a bar begin and how long each sounds, in numerators and
#: denominators, whose hash is quick: most tunes have a handful of rhythms.
Rhythm = tuple[tuple[int, int, int, int], ...]


def _of_the_melody(played: PlayedTune) -> list[Places]:
    """What the melody does in each bar as it is played."""
    written = played.tune.melody.bars
    rhythms: dict[tuple[int, Keys], Rhythm] = {}
    for into, strikes in played.struck:
        if into not in rhythms:
            rhythms[into] = _rhythm(written[into[0]], strikes)
    in_order = [rhythms[into] for into, _ in played.struck]
    pairs = list(zip(played.bars, in_order, strict=True))
    full = [len(rhythm) for bar, rhythm in pairs if not bar.pickup]
    # the lower middle one; statistics would load longer than all of this takes
    fast = ceil(_FAST * sorted(full)[(len(full) - 1) // 2]) if full else 0
    known: dict[tuple[BarShape, Rhythm], Places] = {}
    found = []
    strong = played.dance is not None and played.dance.name in _THREE_STRONG
    for bar, rhythm in pairs:
        alike = (bar.shape, rhythm)
        if alike not in known:
            known[alike] = _melody_places(bar, rhythm, fast, strong=strong)
        found.append(known[alike])
    return found


def _rhythm(notes: Iterable[Note], strikes: Iterable[Strike]) -> Rhythm:
    """The notes that are struck, each as long as what a tie holds on."""
    found: list[tuple[int, int, int, int]] = []
    for note, strike in zip(notes, strikes, strict=True):
        if strike.keys:
            found.append((*note.onset.as_integer_ratio(), *note.length.as_integer_ratio()))
        elif strike.held and found:
            length = Fraction(*found[-1][2:]) + note.length
            found[-1] = (*found[-1][:2], *length.as_integer_ratio())
    return tuple(found)


def _melody_places(bar: MappedBar, rhythm: Rhythm, fast: int, *, strong: bool) -> Places:
    beats = [onset for onset, _, _ in bar.beats()] or [Fraction(0)]
    below = [below for note in rhythm for below in note[1::2]]
    grid = 2 * lcm(grid_of([*beats, bar.length]), *below)
    on_beats = [in_steps(beat, grid) for beat in beats]
    notes = [(at * (grid // a), length * (grid // b)) for at, a, length, b in rhythm]
    places = set(on_beats)
    off = [(onset, onset + length) for onset, length in notes if onset not in places]
    said = set()
    if _at_rest(bar, notes, on_beats, grid, strong=strong):
        said.add(Place.CADENCE)
    if fast and len(notes) >= max(fast, _FAST_ON_A_BEAT * len(beats)):
        said.add(Place.FAST)
    if any(bisect_right(on_beats, onset) < bisect_left(on_beats, stop) for onset, stop in off):
        said.add(Place.SYNCOPATION)
    return frozenset(said)


def _at_rest(
    bar: MappedBar,
    notes: Sequence[tuple[int, int]],
    beats: Sequence[int],
    grid: int,
    *,
    strong: bool,
) -> bool:
    """True where nothing is struck off the beat before the last beat, in a bar of one beat
    before its middle; with `strong` the beats are the quarters of a bar of two that halve."""
    if strong and bar.metre.feel in ("2/2", "2/4"):
        beats = [quarter * in_steps(bar.metre.length, grid) // 4 for quarter in range(4)]
    until = beats[-1] if len(beats) > 1 else in_steps(bar.length, grid) // 2
    places = set(beats)
    return all(onset >= until or onset in places for onset, _ in notes)


@lru_cache(maxsize=1024)
def _joined(form: Places, melody: Places) -> Places:
    """Both; only a phrase's end can be a cadence."""
    if Place.PHRASE_END not in form:
        melody -= {Place.CADENCE}
    return form | melody


def implied(places: Places) -> Places:
    """What holds wherever these do: the end of a tune is that of a section and a phrase.

    >>> sorted(implied(frozenset({Place.TUNE_END})) & {Place.PHRASE_END, Place.SECTION_END})
    [<Place.PHRASE_END: 'phrase end'>, <Place.SECTION_END: 'section end'>]
    """
    met = [possible for possible in possible_places() if places <= possible]
    return frozenset.intersection(*met) if met else places


@lru_cache(maxsize=1)
def possible_places() -> frozenset[Places]:
    """Every set of places that a bar can have."""
    forms = {
        _form(position, count, second, last)
        for count in (*range(1, 10), 16)
        for position in range(count)
        for second in (False, True)
        for last in (False, True)
    }
    extras = [(NOWHERE, frozenset({place})) for place in sorted(OF_THE_MELODY | OF_THE_HARMONY)]
    melodies = {frozenset[Place]().union(*chosen) for chosen in product(*extras)}
    return frozenset(_joined(form, melody) for form in forms for melody in melodies)
