"""Which note values were meant: onsets put on a grid that is found beat by beat.

Each beat takes the grid (halves, quarters, thirds …) that its onsets fit best, with a
price for finer and rarer places; what the whole tune does often becomes cheap, so that
swung pairs and dotted ones are told apart by the many, not one by one.  Files whose
onsets all stand on exact places are not moved at all.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import exp, floor, gcd, log, sqrt
from statistics import median
from typing import NamedTuple

from backing.parse.midi.frame import Span


class Division(NamedTuple):
    """A way to divide a beat: into how many parts at the finest, the places that it has
    (in parts of the table), and whether it is a tuplet."""

    parts: int
    places: tuple[int, ...]
    tuplet: bool


@dataclass(frozen=True, slots=True)
class Table:
    """The divisions of a kind of beat, in `unit` parts, and the price of each place by the
    denominator of its share of the beat."""

    unit: int
    prices: dict[int, float]
    divisions: tuple[Division, ...]


def _evenly(unit: int, parts: int, *, tuplet: bool = False) -> Division:
    return Division(parts, tuple(range(0, unit + 1, unit // parts)), tuplet)


#: Beats that halve; the last two have a triplet in one half only.
HALVING = Table(
    24,
    {1: 0.0, 2: 1.0, 4: 3.0, 3: 3.5, 6: 5.0, 8: 9.0},
    (
        *(_evenly(24, parts) for parts in (1, 2, 4, 8)),
        *(_evenly(24, parts, tuplet=True) for parts in (3, 6)),
        Division(6, (0, 4, 8, 12, 18, 24), True),
        Division(6, (0, 6, 12, 16, 20, 24), True),
    ),
)
#: Beats of three.
OF_THREE = Table(
    36,
    {1: 0.0, 3: 0.7, 6: 3.0, 2: 7.0, 12: 8.0, 4: 9.0, 9: 9.0},
    (
        *(_evenly(36, parts) for parts in (1, 3, 6, 12)),
        *(_evenly(36, parts, tuplet=True) for parts in (2, 4, 9)),
    ),
)
#: What a beat pays once for leaving the ordinary divisions.
_TUPLET = 2.0
#: Divisions tried where all is exact, coarse to fine.
_EXACT = (1, 2, 3, 4, 6, 8, 12, 9, 16, 18, 24, 32, 5, 7, 10, 36, 48, 64, 14, 20, 11, 13, 15)
#: Divisions that tell whether a file is exact at all.
_USUAL = (8, 12)
_EXACT_SHARE = 0.9
_FIRST_DEVIATION, _LEAST_DEVIATION, _MOST_DEVIATION = 12.0, 3.0, 15.0
_MOST_SHIFT = 30.0
_PASSES = 3
#: What it costs that two onsets fall on one place, and how many onsets the prices weigh.
_COLLISION, _PRIOR = 20.0, 4.0
_CROTCHET = Fraction(1, 4)
#: Onsets nearer than this are struck together, unless the file is exact.
TOGETHER_MS = 30.0


@dataclass(frozen=True, slots=True)
class Beat:
    """A stretch of a bar that has a grid of its own, in whole notes."""

    start: Fraction
    length: Fraction


@dataclass(slots=True)
class Grid:
    """Where onsets were put: position by tick, and how far each was moved in milliseconds.

    `exact` is True where the file's own places were kept.  `divisions` are those that
    each beat took, by its index.
    """

    beats: list[Beat]
    exact: bool
    ppq: int
    places: dict[int, Fraction] = field(default_factory=dict)
    moved: list[float] = field(default_factory=list)
    divisions: dict[int, int] = field(default_factory=dict)
    starts: list[int] = field(default_factory=list)
    bounds: list[tuple[float, float]] = field(init=False)

    def __post_init__(self) -> None:
        """Start and length of each beat in ticks."""
        self.bounds = [
            (float(beat.start) * 4 * self.ppq, float(beat.length) * 4 * self.ppq)
            for beat in self.beats
        ]

    def beat_at(self, tick: int) -> int:
        """The index of the beat that a tick lies in."""
        return max(bisect_right(self.starts, tick) - 1, 0)

    def exact_place(self, tick: int) -> Fraction | None:
        """The place that rounds to this tick, if it is on the grids that music uses."""
        index = self.beat_at(tick)
        start, size = self.bounds[index]
        offset = tick - start
        for division in _EXACT:
            steps = floor(offset * division / size + 0.5)
            if abs(offset - steps * size / division) < 0.999:
                beat = self.beats[index]
                return beat.start + _part(beat.length, steps, division)
        return None

    def near_place(self, tick: int, least: Fraction) -> Fraction:
        """The nearest place on the grid of the beat, in steps of `least` or finer."""
        index = self.beat_at(tick)
        beat = self.beats[index]
        step = min(beat.length / self.divisions.get(index, 1), least)
        offset = Fraction(tick, 4 * self.ppq) - beat.start
        return beat.start + step * floor(offset / step + Fraction(1, 2))

    def near_beat(self, tick: int) -> Fraction | None:
        """The beat that begins within a tenth of its length from a tick, if there is one."""
        beat = self.beats[self.beat_at(tick)]
        at = Fraction(tick, 4 * self.ppq)
        for place in (beat.start, beat.start + beat.length):
            if abs(at - place) * 10 <= beat.length:
                return place
        return None


@lru_cache(maxsize=4096)
def _part(length: Fraction, steps: int, division: int) -> Fraction:
    """So many steps of a beat that is divided; there are few, and many notes at each."""
    return length * steps / division


def beats_of(spans: Sequence[Span]) -> list[Beat]:
    """The stretches that have grids of their own: crotchets, or beats of three."""
    beats: list[Beat] = []
    for span in spans:
        at = span.start
        for length in _beat_lengths(span):
            beats.append(Beat(at, length))
            at += length
    return beats


def _beat_lengths(span: Span) -> list[Fraction]:
    """Crotchets, or the beats where one of them divides in three; the last cut to the bar."""
    cycle = span.metre.beats
    if not any(beat.numerator == 3 for beat in cycle):
        cycle = (_CROTCHET,)
    lengths: list[Fraction] = []
    begun = span.metre.length - span.length
    left = span.length
    if begun > 0 and not span.metre.free and begun % cycle[0]:
        lengths.append(min(cycle[0] - begun % cycle[0], left))
        left -= lengths[0]
    place = 0
    while left > 0:
        lengths.append(min(cycle[place % len(cycle)], left))
        left -= lengths[-1]
        place += 1
    return lengths


def find_grid(ticks: Sequence[int], beats: list[Beat], ppq: int, wholes_a_minute: float) -> Grid:
    """Put onsets (ticks, sorted, each once) on the grids of their beats.

    Where they are not exact, onsets within 30 milliseconds are one.
    """
    starts = [floor(beat.start * 4 * ppq) for beat in beats]
    grid = Grid(beats, exact=False, ppq=ppq, starts=starts)
    tick_ms = 60_000 / (wholes_a_minute * 4 * ppq)
    usual = sum(_on_usual(grid, tick) for tick in ticks)
    grid.exact = usual >= _EXACT_SHARE * len(ticks)
    if grid.exact:
        loose = [tick for tick in ticks if not _keep(grid, tick)]
        _fit(grid, loose, tick_ms, passes=1)
        _learn_divisions(grid)
        return grid
    leaders = _leaders(ticks, tick_ms)
    _fit(grid, sorted(set(leaders.values())), tick_ms, passes=_PASSES)
    for tick, leader in leaders.items():
        grid.places[tick] = grid.places[leader]
    return grid


def _leaders(ticks: Sequence[int], tick_ms: float) -> dict[int, int]:
    """For each onset the first of those that it is struck together with."""
    found: dict[int, int] = {}
    leader = ticks[0]
    for tick in ticks:
        if (tick - leader) * tick_ms > TOGETHER_MS:
            leader = tick
        found[tick] = leader
    return found


def _on_usual(grid: Grid, tick: int) -> bool:
    start, size = grid.bounds[grid.beat_at(tick)]
    offset = tick - start
    return any(abs(offset - floor(offset * d / size + 0.5) * size / d) < 0.999 for d in _USUAL)


def _keep(grid: Grid, tick: int) -> bool:
    place = grid.exact_place(tick)
    if place is None:
        return False
    grid.places[tick] = place
    grid.moved.append(0.0)
    return True


def _learn_divisions(grid: Grid) -> None:
    """The division that each beat of an exact file uses."""
    for tick, place in grid.places.items():
        index = grid.beat_at(tick)
        beat = grid.beats[index]
        division = ((place - beat.start) / beat.length).denominator
        grid.divisions[index] = max(grid.divisions.get(index, 1), division)


# -- fitting --------------------------------------------------------------------


@dataclass(slots=True)
class _Prices:
    """What places in a beat cost, by the unit of its table and place; learnt from pass to
    pass, as are the shift and the deviation of the playing in milliseconds."""

    learnt: dict[tuple[int, int], float] = field(default_factory=dict)
    deviation: float = _FIRST_DEVIATION
    shift: float = 0.0
    tuplet: float = _TUPLET

    def of(self, table: Table, place: int) -> float:
        """The price of a place."""
        place %= table.unit
        known = self.learnt.get((table.unit, place))
        return table.prices[table.unit // gcd(place, table.unit)] if known is None else known


@dataclass(frozen=True, slots=True)
class _GridFit:
    """The division that a beat took, and for each onset its place and error."""

    cost: float
    division: Division
    places: tuple[int, ...]
    errors: tuple[float, ...]


def _table_of(beat: Beat) -> Table:
    return OF_THREE if beat.length.numerator == 3 else HALVING


def _fit(grid: Grid, ticks: list[int], tick_ms: float, passes: int) -> None:
    """Choose a division for each beat, learn what the tune does often, and choose again."""
    if not ticks:
        return
    by_beat: dict[int, list[int]] = {}
    for tick in ticks:
        by_beat.setdefault(grid.beat_at(tick), []).append(tick)
    prices = _Prices()
    fits: dict[int, _GridFit] = {}
    shift = 0.0
    for _ in range(passes):
        shift = prices.shift
        fits = {
            index: _fit_beat(grid.beats[index], found, grid.ppq, tick_ms, prices)
            for index, found in by_beat.items()
        }
        prices = _learn(grid, fits)
    for index, fit in fits.items():
        beat = grid.beats[index]
        unit = _table_of(beat).unit
        grid.divisions[index] = max(grid.divisions.get(index, 1), fit.division.parts)
        for tick, place, error in zip(by_beat[index], fit.places, fit.errors, strict=True):
            grid.places[tick] = beat.start + beat.length * place / unit
            grid.moved.append(abs(error + shift))


def _fit_beat(beat: Beat, ticks: list[int], ppq: int, tick_ms: float, prices: _Prices) -> _GridFit:
    """The division of a beat that costs least."""
    table = _table_of(beat)
    part_ms = float(beat.length) * 4 * ppq * tick_ms / table.unit
    start = float(beat.start) * 4 * ppq
    offsets = [(tick - start) * tick_ms - prices.shift for tick in ticks]
    fits = [_fit_division(table, each, offsets, part_ms, prices) for each in table.divisions]
    return min(fits, key=lambda fit: fit.cost)


def _fit_division(
    table: Table, division: Division, offsets: list[float], part_ms: float, prices: _Prices
) -> _GridFit:
    """What a division costs: how far the onsets (milliseconds after the beat) lie from its
    places, the prices of these, and what falls together."""
    cost = prices.tuplet if division.tuplet else 0.0
    places: list[int] = []
    errors: list[float] = []
    for offset in offsets:
        place = _nearest(division.places, offset / part_ms)
        error = offset - place * part_ms
        cost += (error / prices.deviation) ** 2 + prices.of(table, place)
        places.append(place)
        errors.append(error)
    cost += _COLLISION * (len(places) - len(set(places)))
    return _GridFit(cost, division, tuple(places), tuple(errors))


def _nearest(places: tuple[int, ...], at: float) -> int:
    index = bisect_right(places, at)
    if index == len(places):
        return places[-1]
    if index == 0:
        return places[0]
    low, high = places[index - 1], places[index]
    return low if at - low < high - at else high


def _learn(grid: Grid, fits: dict[int, _GridFit]) -> _Prices:
    """Prices from how often each place was taken; the deviation and shift found."""
    counts: Counter[tuple[int, int]] = Counter()
    errors: list[float] = []
    for index, fit in fits.items():
        unit = _table_of(grid.beats[index]).unit
        errors += fit.errors
        counts.update((unit, place % unit) for place in fit.places)
    prices = _Prices(tuplet=_TUPLET / 2)
    for table in (HALVING, OF_THREE):
        unit = table.unit
        mass = sum(count for key, count in counts.items() if key[0] == unit)
        places = {place % unit for division in table.divisions for place in division.places}
        prior = {p: exp(-table.prices[unit // gcd(p, unit)] / 2) for p in places}
        total = sum(prior.values())
        for place, weight in prior.items():
            share = (counts[unit, place] + _PRIOR * weight / total) / (mass + _PRIOR)
            prices.learnt[unit, place] = -2 * log(share)
    prices.shift = max(-_MOST_SHIFT, min(_MOST_SHIFT, median(errors)))
    spread = sqrt(sum((e - prices.shift) ** 2 for e in errors) / len(errors))
    prices.deviation = max(_LEAST_DEVIATION, min(_MOST_DEVIATION, spread))
    return prices
