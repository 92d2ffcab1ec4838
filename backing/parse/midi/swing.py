"""Swung pairs: two to one throughout means even pairs, swung."""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from backing.music.swing import swing_unit
from backing.parse.midi.frame import Span

TWO_TO_ONE = Fraction(2)
_LEAST_PAIRS = 4
_THIRD = Fraction(1, 3)


@dataclass(frozen=True, slots=True)
class Struck:
    """Keys struck together: onset and end in whole notes from the start of the file.

    `graces` are keys struck just before.
    """

    onset: Fraction
    stop: Fraction
    keys: tuple[int, ...]
    graces: tuple[int, ...] = ()


def straighten(notes: list[Struck], spans: list[Span]) -> tuple[list[Struck], Fraction | None]:
    """The notes with their swung pairs even, and the ratio; unchanged where none is swung.

    Swung is a tune with four pairs or more that divide a quarter of the bar two to one
    (a crotchet in three-time), at least three times as many as even pairs.
    """
    swung: list[tuple[int, Fraction]] = []
    even = 0
    for index, unit, onset in _pairs(notes, spans):
        first, second = notes[index], notes[index + 1]
        whole = (second.stop - onset) % unit == 0
        if whole and second.onset - onset == 2 * _THIRD * unit:
            swung.append((index, onset + unit / 2))
        elif second.stop - onset == unit and first.stop == second.onset == onset + unit / 2:
            even += 1
    if len(swung) < _LEAST_PAIRS or len(swung) < 3 * even:
        return notes, None
    straight = list(notes)
    for index, middle in swung:
        first, second = straight[index], straight[index + 1]
        stop = middle if first.stop == second.onset else min(first.stop, middle)
        straight[index] = replace(first, stop=stop)
        straight[index + 1] = replace(second, onset=middle)
    return straight, TWO_TO_ONE


def _pairs(notes: list[Struck], spans: list[Span]) -> Iterator[tuple[int, Fraction, Fraction]]:
    """(index of the first note, length, onset) of each pair that could be swung: two notes
    alone in a unit, the first at its start."""
    onsets = [note.onset for note in notes]
    for span in spans:
        unit = swing_unit(span.metre)
        if unit is None:
            continue
        at = span.start - (-span.length % unit if span.length < span.metre.length else 0)
        while at < span.stop:
            low, high = bisect_left(onsets, at), bisect_left(onsets, at + unit)
            if high - low == 2 and onsets[low] == at:
                yield low, unit, at
            at += unit
