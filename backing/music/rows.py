"""Which bars of a tune stand in a row where it is drawn: phrases, and endings under each other."""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from backing.music.form import begins_strain
from backing.music.played import phrase_at
from backing.music.tune import Bar, Section


class BarRow(NamedTuple):
    """Bars of a row, by index; the first full one stands in this column, from 0."""

    column: int
    bars: tuple[int, ...]


def phrase_rows(
    bars: Sequence[Bar], section: Section, drawn: Callable[[Bar], bool]
) -> Iterator[BarRow]:
    """The rows of a section: a phrase of four full bars each, one bar left over with it.

    A strain begins a row; a second-time bar does too, under the first-time one.  Only pickups
    that are `drawn` stand in it, at the bar that they lead into; they take no column.
    """
    under_first = 0
    for run in _runs(bars, section, drawn):
        column = under_first if later_ending(bars[run[0]]) else 0
        row: list[int] = []
        position, start, full = 0, 0, sum(not bars[index].pickup for index in run)
        for index in run:
            row.append(index)
            bar = bars[index]
            if bar.ending and bar.ending.first and not later_ending(bar):
                under_first = column + position - start
            position += not bar.pickup
            if not bar.pickup and position == phrase_at(position - 1, full).stop:
                yield BarRow(column, tuple(row))
                row, start = [], position
        if row:
            yield BarRow(column, tuple(row))


def later_ending(bar: Bar) -> bool:
    """True where a second-time bar begins, or a later one."""
    return bar.ending is not None and bar.ending.first and min(bar.ending.numbers) > 1


def _runs(bars: Sequence[Bar], section: Section, drawn: Callable[[Bar], bool]) -> list[list[int]]:
    """The bars of a section that are drawn, strain by strain, each later ending apart."""
    runs: list[list[int]] = []
    for index in range(section.start, section.stop):
        bar = bars[index]
        begins = later_ending(bar) or begins_strain(bars, index)
        led = bool(runs) and all(bars[one].pickup for one in runs[-1])
        if not runs or (begins and not led):
            runs.append([])
        if not bar.pickup or drawn(bar):
            runs[-1].append(index)
    return [run for run in runs if run]
