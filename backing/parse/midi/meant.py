"""When notes were meant to be struck, as far as what is played again tells it.

A player's hand is uneven by chance; where the same keys come again at the same place in
the beat, the mean of all is nearer to what was meant than each of them.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

#: Notes before and after that must be the same, milliseconds that the places in the beat may
#: differ by, and how many players one that comes again counts for at most.
_BEFORE, _AFTER, _NEAR_MS, _MOST_WEIGHT = 3, 4, 40.0, 6


class Meant(NamedTuple):
    """An onset: its tick in the file, where it was meant, how many onsets tell it."""

    tick: int
    at: float
    weight: int


def meant(
    ticks: Sequence[int],
    keys: Mapping[int, int],
    beats: Sequence[tuple[float, float]],
    starts: Sequence[int],
    tick_ms: float,
) -> list[Meant]:
    """Where each onset was meant to be.

    `ticks` rise; `keys` are the highest keys struck at them; `beats` are (start, length) pairs
    in ticks, `starts` their starts.
    """
    groups: dict[tuple[int, ...], list[tuple[int, float, float]]] = {}
    row = [keys[tick] for tick in ticks]
    for index, tick in enumerate(ticks):
        start, size = beats[max(bisect_right(starts, tick) - 1, 0)]
        around = tuple(row[max(index - _BEFORE, 0) : index + _AFTER])
        groups.setdefault((int(size), *around), []).append((index, tick - start, size))
    found = [Meant(tick, tick, 1) for tick in ticks]
    for group in groups.values():
        if len(group) > 1:
            for index, moved, weight in _pooled(group, _NEAR_MS / tick_ms):
                found[index] = Meant(ticks[index], ticks[index] + moved, weight)
    for low, (a, b) in enumerate(pairwise(found)):
        if a.at >= b.at:
            found[low], found[low + 1] = (Meant(one.tick, one.tick, 1) for one in (a, b))
    return found


def _pooled(group: list[tuple[int, float, float]], most: float) -> list[tuple[int, float, int]]:
    """The index of each, how far it lies from the mean of those near it, how many these are."""
    left, found = group, []
    while left:
        _, first, size = left[0]
        near: list[tuple[tuple[int, float, float], float]] = []
        others: list[tuple[tuple[int, float, float], float]] = []
        for row in left:
            off = (row[1] - first + size / 2) % size - size / 2
            (near if abs(off) <= most else others).append((row, off))
        mean = sum(off for _, off in near) / len(near)
        weight = min(len(near), _MOST_WEIGHT)
        found += [(row[0], mean - off, weight) for row, off in near]
        left = [row for row, _ in others]
    return found
