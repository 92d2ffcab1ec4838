"""Onsets that are not exact, put on the rhythms of their beats.

Each beat takes the rhythm that its onsets fit best, with a price for what is rarely printed;
what the whole tune does often becomes cheap, so that swung pairs and dotted ones are told
apart by the many, not one by one.  An onset near the end of a beat may be the first of the
next, so that all beats are decided together, exactly.
"""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import zip_longest
from math import sqrt
from statistics import median
from typing import NamedTuple

from backing.parse.midi.divisions import (
    DEAREST_KNOWN,
    HALVING,
    OF_THREE,
    BeatCell,
    Table,
    parts_of,
)
from backing.parse.midi.meant import Meant
from backing.parse.midi.rhythm_prices import RhythmPrices

_LEAST_DEVIATION, _MOST_DEVIATION = 3.0, 15.0
#: Beats that are learnt from.
_LEARNT = 2000
#: Milliseconds, and share of a beat, before its end at which an onset may be of the next.
_CARRIED_MS, _CARRIED = 60.0, 0.25
_NONE = float("inf")


class FittedOnset(NamedTuple):
    """An onset: its tick, the place that it was put on, how many milliseconds it lies behind, the
    index of its beat, the parts that this divides into."""

    tick: int
    place: Fraction
    late: float
    beat: int
    parts: int


class _StruckBeat(NamedTuple):
    """A beat: its number, its rhythms, where it starts and how long it is in whole notes and in
    milliseconds, its onsets (milliseconds after its start)."""

    number: int
    table: Table
    start: Fraction
    length: Fraction
    ms: float
    onsets: list["_Onset"]


class _Onset(NamedTuple):
    """An onset: its tick, the milliseconds of the tick and where it was meant, after the start
    of its beat; how many onsets tell it."""

    tick: int
    struck: float
    meant: float
    weight: int

    def before(self, ms: float) -> "_Onset":
        """The same in the next beat."""
        return _Onset(self.tick, self.struck - ms, self.meant - ms, self.weight)


class _CellFit(NamedTuple):
    """The rhythm that onsets of a beat take, and what it costs."""

    cost: float
    cell: BeatCell
    onsets: list[_Onset]


class _RhythmWay(NamedTuple):
    """A way through the beats so far: its cost, its last beat and fit, the way before."""

    cost: float
    beat: _StruckBeat
    fit: _CellFit
    before: "_RhythmWay | None"


def fit_onsets(
    onsets: Sequence[Meant],
    beats: Sequence[tuple[Fraction, Fraction]],
    ticks_a_whole: int,
    tick_ms: float,
    *,
    passes: int,
    most_shift: float,
) -> list[FittedOnset]:
    """Choose a rhythm for each beat, learn what the tune does often, and choose again.

    `beats` are (start, length) in whole notes; `most_shift` is by how many milliseconds all
    may be late or early.
    """
    struck = _struck(onsets, beats, ticks_a_whole, tick_ms)
    prices = RhythmPrices()
    for _ in range(passes - 1 if struck else 0):
        prices = _learnt(_way(struck[:_LEARNT], prices), most_shift)
    fits = _way(struck, prices)
    found = []
    for beat, fit in fits:
        parts = parts_of(beat.table.unit, fit.cell)
        for place, onset in zip(fit.cell, fit.onsets, strict=True):
            late = onset.struck - beat.ms * place / beat.table.unit
            at = beat.start + _part(beat.length, place, beat.table.unit)
            found.append(FittedOnset(onset.tick, at, late, beat.number, parts))
    return found


@lru_cache(maxsize=1024)
def _part(length: Fraction, place: int, unit: int) -> Fraction:
    """Where a place of a beat is; there are few, and many notes at each."""
    return length * place / unit


def _struck(
    onsets: Sequence[Meant],
    beats: Sequence[tuple[Fraction, Fraction]],
    ticks_a_whole: int,
    tick_ms: float,
) -> list[_StruckBeat]:
    """The beats that onsets lie in, and those that one may be carried to."""
    starts = [float(start) * ticks_a_whole for start, _ in beats]
    found: dict[int, _StruckBeat] = {}

    def beat_at(index: int) -> _StruckBeat:
        if index not in found:
            start, length = beats[index]
            table = OF_THREE if length.numerator == 3 else HALVING
            ms = float(length) * ticks_a_whole * tick_ms
            found[index] = _StruckBeat(index, table, start, length, ms, [])
        return found[index]

    for onset in onsets:
        index = max(bisect_right(starts, onset.at) - 1, 0)
        beat = beat_at(index)
        struck, at = ((tick - starts[index]) * tick_ms for tick in (onset.tick, onset.at))
        beat.onsets.append(_Onset(onset.tick, struck, at, onset.weight))
        if _may_be_carried(beat) and index + 1 < len(beats):
            beat_at(index + 1)
    return [found[index] for index in sorted(found)]


def _may_be_carried(beat: _StruckBeat) -> bool:
    """Whether the last onset may be the first of the next beat."""
    near = min(_CARRIED_MS, _CARRIED * beat.ms)
    return bool(beat.onsets) and beat.ms - beat.onsets[-1].meant < near


def _way(struck: Sequence[_StruckBeat], prices: RhythmPrices) -> list[tuple[_StruckBeat, _CellFit]]:
    """The cheapest rhythm of each beat, of all ways to carry onsets from beat to beat."""
    ways: dict[bool, _RhythmWay | None] = {False: None}
    before: _StruckBeat | None = None
    for beat, following in zip_longest(struck, struck[1:]):
        adjoins = following is not None and following.number == beat.number + 1
        outs = (False, True) if adjoins and _may_be_carried(beat) else (False,)
        found: dict[bool, _RhythmWay | None] = {}
        for carried, way in ways.items():
            head = [before.onsets[-1].before(before.ms)] if carried and before else []
            for out in outs:
                onsets = head + (beat.onsets[:-1] if out else beat.onsets)
                fit = _fitted(beat, onsets, prices)
                now = _RhythmWay(fit.cost + (way.cost if way else 0.0), beat, fit, way)
                known = found.get(out)
                if known is None or now.cost < known.cost:
                    found[out] = now
        ways, before = found, beat
    fits, last = [], ways[False]
    while last is not None:
        fits.append((last.beat, last.fit))
        last = last.before
    return fits[::-1]


def _fitted(beat: _StruckBeat, onsets: list[_Onset], prices: RhythmPrices) -> _CellFit:
    """The rhythm that onsets of a beat fit best: one that is printed or that the tune has, else
    of any division."""
    table, part = beat.table, beat.ms / beat.table.unit
    rows = [
        ((onset.meant - prices.shift) / part, onset.weight * (part / prices.deviation) ** 2)
        for onset in onsets
    ]
    least, best = _NONE, BeatCell()
    for price, cell in prices.usual(table, len(onsets)):
        if price >= least:
            break
        cost = price + _off(rows, cell, least - price)
        if cost < least:
            least, best = cost, cell
    for division in table.divisions if least > DEAREST_KNOWN else ():
        cell = tuple(_nearest(division.places, at) for at, _ in rows)
        price = prices.of(table, cell, tuplet=division.tuplet)
        cost = price + _off(rows, cell, least - price)
        if cost < least:
            least, best = cost, cell
    return _CellFit(least, best, onsets)


def _off(rows: Sequence[tuple[float, float]], cell: BeatCell, most: float) -> float:
    """What it costs that onsets (place and weight) lie off a rhythm; past `most` no more is
    counted."""
    cost = 0.0
    for index, (at, weight) in enumerate(rows):
        cost += weight * (at - cell[index]) ** 2
        if cost > most:
            break
    return cost


def _nearest(places: BeatCell, at: float) -> int:
    index = bisect_right(places, at)
    if index == len(places):
        return places[-1]
    if index == 0:
        return places[0]
    low, high = places[index - 1], places[index]
    return low if at - low < high - at else high


def _learnt(fits: Sequence[tuple[_StruckBeat, _CellFit]], most_shift: float) -> RhythmPrices:
    """Prices by how often each rhythm was taken; the deviation and shift found."""
    prices = RhythmPrices()
    errors: list[tuple[float, int]] = []
    for beat, fit in fits:
        if fit.cell:
            prices.counts[beat.table.unit, fit.cell] += 1
            prices.totals[beat.table.unit] += 1
        part = beat.ms / beat.table.unit
        for onset, place in zip(fit.onsets, fit.cell, strict=True):
            errors.append((onset.meant - place * part, onset.weight))
    prices.shift = max(-most_shift, min(most_shift, median(error for error, _ in errors)))
    spread = sum(weight * (e - prices.shift) ** 2 for e, weight in errors) / len(errors)
    prices.deviation = max(_LEAST_DEVIATION, min(_MOST_DEVIATION, sqrt(spread)))
    return prices
