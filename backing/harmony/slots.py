"""The places of a tune that may each have a chord of their own, and what is heard there.

A slot is half a bar where the bar has two or four felt beats, else the bar; a minim in free
metre.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from backing.errors import TuneError
from backing.music.key import Key
from backing.music.tune import Bar, Note, Tune

#: Positions inside a bar are counted in whole numbers: a whole note holds so many, which
#: leaves dotted 64ths and tuplets of 3, 5, 7 and 9 exact.
_GRID = 64 * 2 * 9 * 5 * 7
#: In free metre a chord may change every minim.
_IN_FREE_METRE = Fraction(1, 2)
MOST_SLOTS = 50_000
#: Pitch classes and how much of each is heard.
HeardTones = tuple[tuple[int, float], ...]


class _Heard(NamedTuple):
    """What of a note a slot holds, on the grid; `midi` is its highest pitch."""

    start: int
    stop: int
    midi: int


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """Half a bar (or a bar) of the melody.

    `onset` and `length` count from the start of the written bar `bar`.  `before` is the
    index of the slot that is played before it the first time, -1 for none.  `bar_start`
    is True at the start of a bar; `struck` where a note or a rest begins with the slot, so
    that a new chord can stand there.  `closes` marks the last slot of a section or of an
    ending.  `bars_left` counts the bars to that end, 0 in the last one; `bars_in` those
    since the section's start.  `tones` is what is heard: see `heard_in`.
    """

    bar: int
    onset: Fraction
    length: Fraction
    key: Key
    section: str
    before: int
    bar_start: bool
    struck: bool
    closes: bool
    bars_left: int
    bars_in: int
    tones: dict[str, HeardTones]


def slots_of(tune: Tune, keys: Sequence[Key]) -> list[Slot]:
    """The slots of a tune's melody in written order, pickups left out.

    `keys` are the keys that its bars live in.  Raises TuneError past 50,000 slots.
    """
    spans: list[tuple[int, Fraction, Fraction]] = []
    heard: list[list[_Heard]] = []
    struck: list[set[Fraction]] = []
    for index, bar in enumerate(tune.bars):
        notes = tune.melody.bars[index]
        halves = [] if bar.pickup else list(_halves(bar, MOST_SLOTS - len(spans)))
        spans += [(index, onset, stop) for onset, stop in halves]
        heard += _heard(notes, [(_on_grid(onset), _on_grid(stop)) for onset, stop in halves])
        struck.append({note.onset for note in notes})
    places = _places(tune.bars)
    bars = [index for index, _, _ in spans]
    befores = _befores(tune.bars, bars)
    whole_bars = _tones_of_bars(bars, heard)
    slots = []
    for at, (index, onset, stop) in enumerate(spans):
        left, since = places[index]
        before = befores[at]
        slots.append(
            Slot(
                bar=index,
                onset=onset,
                length=stop - onset,
                key=keys[index],
                section=tune.bars[index].section,
                before=before,
                bar_start=not onset,
                struck=not onset or onset in struck[index],
                closes=not left and (at + 1 == len(spans) or bars[at + 1] != index),
                bars_left=left,
                bars_in=since,
                tones=_tones(
                    heard[at],
                    heard[before] if before >= 0 else [],
                    heard[at + 1] if at + 1 < len(heard) else [],
                    whole_bars[index],
                    _strong_points(onset, stop),
                ),
            )
        )
    return slots


def _on_grid(length: Fraction) -> int:
    return length.numerator * _GRID // length.denominator


def _halves(bar: Bar, most: int) -> Iterator[tuple[Fraction, Fraction]]:
    """Start and stop of the slots of a bar; a short bar has those that begin in it."""
    full = bar.metre.length or 2 * _IN_FREE_METRE
    step = full / 2 if bar.metre.free or len(bar.metre.beats) in (2, 4) else full
    at = Fraction(0)
    while at < bar.length:
        most -= 1
        if most < 0:
            raise TuneError(
                f"the tune has more than {MOST_SLOTS:,} half bars, too many to find chords for",
                "split it in two, or write its chords into it",
            )
        yield at, min(at + step, bar.length)
        at += step


def _heard(notes: Sequence[Note], spans: Sequence[tuple[int, int]]) -> Iterator[list[_Heard]]:
    """What of a bar's notes, which follow each other, sounds between points of the grid."""
    sounding = [
        _Heard(
            onset := _on_grid(note.onset),
            onset + _on_grid(note.length),
            max(pitch.midi for pitch in note.pitches),
        )
        for note in notes
        if note.pitches
    ]
    first = 0
    for start, stop in spans:
        while first < len(sounding) and sounding[first].stop <= start:
            first += 1
        last = first
        while last < len(sounding) and sounding[last].start < stop:
            last += 1
        yield [
            _Heard(max(onset, start), min(end, stop), midi)
            for onset, end, midi in sounding[first:last]
        ]


def _befores(bars: Sequence[Bar], slots: Sequence[int]) -> list[int]:
    """The slot that each slot follows: a second ending follows what its first follows."""
    befores = []
    before_endings = -1
    for at, index in enumerate(slots):
        ending = bars[index].ending
        before = at - 1
        last = bars[slots[at - 1]].ending if at else None
        if ending is not None and last is None:
            before_endings = before
        elif ending is not None and last is not None and ending.numbers != last.numbers:
            before = before_endings
        befores.append(before)
    return befores


def _places(bars: Sequence[Bar]) -> list[tuple[int, int]]:
    """For each bar: how many follow in its section as played once, how many went before.

    Bars before the endings count to the end of the first one.
    """
    places: list[tuple[int, int]] = []
    for _, section in groupby(bars, key=lambda bar: bar.section):
        places += _places_in_section(list(section))
    return places


def _places_in_section(bars: Sequence[Bar]) -> Iterator[tuple[int, int]]:
    first_of: dict[tuple[int, ...], int] = {}
    ends: dict[tuple[int, ...], int] = {}
    for index, bar in enumerate(bars):
        if bar.ending is not None:
            first_of.setdefault(bar.ending.numbers, index)
            ends[bar.ending.numbers] = index
    last = len(bars) - 1
    body_end = next(iter(ends.values()), last)
    body = next(iter(first_of.values()), last)
    for index, bar in enumerate(bars):
        end, since = body_end, index
        if bar.ending is not None:
            end, since = ends[bar.ending.numbers], body + index - first_of[bar.ending.numbers]
        # Bars after the endings belong to the section's own end.
        yield (end if index <= end else last) - index, since


def _tones_of_bars(bars: Sequence[int], heard: Sequence[list[_Heard]]) -> dict[int, HeardTones]:
    found: dict[int, list[_Heard]] = {}
    for index, notes in zip(bars, heard, strict=True):
        found.setdefault(index, []).extend(notes)
    return {index: _shares(notes) for index, notes in found.items()}


def _shares(notes: Sequence[_Heard]) -> HeardTones:
    """How much of the time each pitch class sounds."""
    total = sum(note.stop - note.start for note in notes)
    shares: dict[int, float] = {}
    for note in notes:
        tone = note.midi % 12
        shares[tone] = shares.get(tone, 0.0) + (note.stop - note.start) / total
    return tuple(shares.items())


def _tones(
    heard: Sequence[_Heard],
    before: Sequence[_Heard],
    after: Sequence[_Heard],
    whole_bar: HeardTones,
    points: Sequence[int],
) -> dict[str, HeardTones]:
    """What is heard in a slot and beside it, by the part that it plays there."""
    tones: dict[str, HeardTones] = {"sounding": _shares(heard), "in the bar": whole_bar}
    if heard:
        tones["on beats"] = _on_beats(heard, points)
        tones["first"] = ((heard[0].midi % 12, 1.0),)
        tones["last"] = ((heard[-1].midi % 12, 1.0),)
        tones["passing"] = _passing(heard, before, after)
    if before:
        tones["before"] = ((before[-1].midi % 12, 1.0),)
    if after:
        tones["after"] = ((after[0].midi % 12, 1.0),)
    return tones


def _strong_points(onset: Fraction, stop: Fraction) -> tuple[int, int]:
    """The start of a slot and the stronger point inside it: its middle, or its last third
    where it divides in three."""
    length = stop - onset
    inside = Fraction(2, 3) if length.numerator == 3 else Fraction(1, 2)
    return _on_grid(onset), _on_grid(onset + length * inside)


def _on_beats(heard: Sequence[_Heard], points: Sequence[int]) -> HeardTones:
    """The notes that sound at the strong points, half for each."""
    return tuple(
        (note.midi % 12, 0.5)
        for point in points
        for note in heard
        if note.start <= point < note.stop
    )


def _passing(
    heard: Sequence[_Heard], before: Sequence[_Heard], after: Sequence[_Heard]
) -> HeardTones:
    """The notes that are come to and left by step: passing and neighbour notes."""
    line = [*before[-1:], *heard, *after[:1]]
    total = sum(note.stop - note.start for note in heard)
    shares: dict[int, float] = {}
    for last, note, following in zip(line, line[1:], line[2:], strict=False):
        if 0 < abs(last.midi - note.midi) <= 2 and 0 < abs(following.midi - note.midi) <= 2:
            tone = note.midi % 12
            shares[tone] = shares.get(tone, 0.0) + (note.stop - note.start) / total
    return tuple(shares.items())
