"""Where each bar stands: in its phrase, its section, the tune, and what the tune does there.

Figures and strokes of a style name such places.  A phrase is four bars, counted from the
start of its section, pickups left out; a section of nine bars has a last phrase of five.
"""

from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import product
from statistics import median_low
from typing import NamedTuple

from backing.arranging.arrangement import MappedBar
from backing.music.tune import Note

PHRASE = 4
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


def with_section_starts(bars: Sequence[MappedBar]) -> Iterator[tuple[MappedBar, bool]]:
    """Each bar, and whether a section (or a time through it) begins with it."""
    before: MappedBar | None = None
    led = False
    for bar in bars:
        opens = before is None or led or before.section != bar.section or bar.index <= before.index
        yield bar, opens
        led = bool(opens and bar.begins)
        before = bar


class Stand(NamedTuple):
    """Where a bar stands: its place in its section (from 0), and all that is said of it."""

    position: int
    places: Places


def stands(
    bars: Sequence[MappedBar],
    written: Sequence[Sequence[Note]],
    changes: Iterable[Fraction],
    wanted: Places,
) -> list[Stand]:
    """Where each bar stands, as far as `wanted` asks; `changes` are onsets of new harmony.

    `written` are the melody's notes by written bar.  A pickup stands nowhere.
    """
    found = _of_the_form(bars)
    if wanted & OF_THE_HARMONY:
        ahead = set(changes)
        found = [
            Stand(stand.position, stand.places | OF_THE_HARMONY) if bar.stop in ahead else stand
            for bar, stand in zip(bars, found, strict=True)
        ]
    if wanted & OF_THE_MELODY:
        melody = _of_the_melody(bars, written)
        found = [
            Stand(stand.position, _joined(stand.places, melody[bar.index]))
            for bar, stand in zip(bars, found, strict=True)
        ]
    return found


# -- the form --------------------------------------------------------------------


def _of_the_form(bars: Sequence[MappedBar]) -> list[Stand]:
    passes: list[list[int]] = []
    for at, (bar, opens) in enumerate(with_section_starts(bars)):
        fresh = opens and not (passes and not passes[-1])
        if fresh or not passes:
            passes.append([])
        if not (opens and bar.begins):
            passes[-1].append(at)
    found = [Stand(0, NOWHERE)] * len(bars)
    times: dict[int, int] = {}
    for number, places in enumerate(passes, start=1):
        if not places:
            continue
        first = bars[places[0]].index
        times[first] = times.get(first, 0) + 1
        for position, at in enumerate(places):
            second, last = times[first] % 2 == 0, number == len(passes)
            found[at] = Stand(position, _form(position, len(places), second, last))
    return found


@lru_cache(maxsize=4096)
def _form(position: int, count: int, second: bool, last: bool) -> Places:
    """What the form says of a bar: its position among `count`, the time through."""
    start = position // PHRASE * PHRASE
    if start == count - 1 and start:
        start -= PHRASE
    stop = min(start + PHRASE, count)
    stop += stop == count - 1
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

#: Where a struck note begins in its bar, and how long it sounds.
_Struck = tuple[Fraction, Fraction]


def _of_the_melody(
    bars: Sequence[MappedBar], written: Sequence[Sequence[Note]]
) -> dict[int, Places]:
    """What the melody does in each written bar that is played."""
    struck = _struck(written)
    full = [len(struck[bar.index]) for bar in bars if not bar.begins]
    usual: int = median_low(full) if full else 0
    found: dict[int, Places] = {}
    # Most tunes have a handful of rhythms.
    rhythms: dict[tuple[object, ...], Places] = {}
    for bar in bars:
        if bar.index not in found:
            rhythm = (bar.shape, *struck[bar.index])
            if rhythm not in rhythms:
                rhythms[rhythm] = _melody_places(bar, struck[bar.index], usual)
            found[bar.index] = rhythms[rhythm]
    return found


def _struck(written: Sequence[Sequence[Note]]) -> list[list[_Struck]]:
    """The notes of each bar, a tie's second note left out and its first as long as both."""
    found: list[list[_Struck]] = []
    held: frozenset[int] = frozenset()
    for notes in written:
        bar: list[_Struck] = []
        for note in notes:
            if held and {pitch.midi for pitch in note.pitches} <= held:
                if bar and note.pitches:
                    bar[-1] = (bar[-1][0], bar[-1][1] + note.length)
            elif note.pitches:
                bar.append((note.onset, note.length))
            held = frozenset(pitch.midi for pitch in note.ties)
        found.append(bar)
    return found


def _melody_places(bar: MappedBar, notes: list[_Struck], usual: int) -> Places:
    beats = bar.beats()
    onsets = [onset for onset, _, _ in beats] or [Fraction(0)]
    on_beats = frozenset(onsets)
    off = [(onset, length) for onset, length in notes if onset not in on_beats]
    said = set()
    if _rests(bar, onsets, off):
        said.add(Place.CADENCE)
    if usual and len(notes) >= max(_FAST * usual, Fraction(_FAST_ON_A_BEAT * len(onsets))):
        said.add(Place.FAST)
    if any(onset < beat < onset + length for onset, length in off for beat in onsets):
        said.add(Place.SYNCOPATION)
    return frozenset(said)


def _rests(bar: MappedBar, onsets: list[Fraction], off: list[_Struck]) -> bool:
    """True where the tune comes to rest: nothing is struck off the beat before the last
    beat (in a bar of one beat: before its middle)."""
    until = onsets[-1] if len(onsets) > 1 else bar.length / 2
    return all(onset >= until for onset, _ in off)


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
