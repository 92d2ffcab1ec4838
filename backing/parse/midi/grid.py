"""Which note values were meant: onsets put on a grid that is found beat by beat.

Each beat takes the grid (halves, quarters, thirds …) that its onsets fit best, with a
price for finer and rarer places; what the whole tune does often becomes cheap, so that
swung pairs and dotted ones are told apart by the many, not one by one.  Files whose
onsets all stand on exact places are not moved at all.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import floor

from backing.parse.midi.fitting import fit_onsets
from backing.parse.midi.frame import Span
from backing.parse.midi.meant import Meant, meant

#: Divisions tried where all is exact, coarse to fine.
_EXACT = (1, 2, 3, 4, 6, 8, 12, 9, 16, 18, 24, 32, 5, 7, 10, 36, 48, 64, 14, 20, 11, 13, 15)
#: Divisions that tell whether a file is exact at all.
_USUAL = (8, 12)
_EXACT_SHARE = 0.9
#: Milliseconds that all notes of a file may be late, or early.
_MOST_SHIFT = 30.0
_PASSES = 3
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


def find_grid(
    keys: Mapping[int, int],
    beats: list[Beat],
    ppq: int,
    wholes_a_minute: float,
    *,
    heard: bool = False,
) -> Grid:
    """Put onsets (the highest key by tick) on the grids of their beats.

    Where they are not exact, and the beats are not those that were heard in the playing, onsets
    within 30 milliseconds are one, and all may be late or early by as much.
    """
    ticks = sorted(keys)
    starts = [floor(beat.start * 4 * ppq) for beat in beats]
    grid = Grid(beats, exact=False, ppq=ppq, starts=starts)
    tick_ms = 60_000 / (wholes_a_minute * 4 * ppq)
    usual = sum(_on_usual(grid, tick) for tick in ticks)
    grid.exact = usual >= _EXACT_SHARE * len(ticks)
    if grid.exact:
        loose = [Meant(tick, tick, 1) for tick in ticks if not _keep(grid, tick)]
        _fit(grid, loose, tick_ms, 1, 0.0)
        _learn_divisions(grid)
        return grid
    leaders = {tick: tick for tick in ticks} if heard else _leaders(ticks, tick_ms)
    leading = sorted(set(leaders.values()))
    onsets = meant(leading, keys, grid.bounds, grid.starts, tick_ms)
    _fit(grid, onsets, tick_ms, _PASSES, 0.0 if heard else _MOST_SHIFT)
    for tick, leader in leaders.items():
        grid.places[tick] = grid.places[leader]
    return grid


def _fit(
    grid: Grid, onsets: Sequence[Meant], tick_ms: float, passes: int, most_shift: float
) -> None:
    """Put what is not exact on the rhythms of the beats."""
    beats = [(beat.start, beat.length) for beat in grid.beats]
    fitted = fit_onsets(onsets, beats, 4 * grid.ppq, tick_ms, passes=passes, most_shift=most_shift)
    for onset in fitted:
        grid.places[onset.tick] = onset.place
        grid.moved.append(abs(onset.late))
        grid.divisions[onset.beat] = max(grid.divisions.get(onset.beat, 1), onset.parts)


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
