"""The rhythms that a beat may have, and what each costs before any tune was heard.

A rhythm (a cell) is the places at which notes begin in a beat, in 24ths of one that halves and in
36ths of one of three.  What open collections print is as cheap as it is frequent there
(`cell_shares`); any other costs what its places cost, by how finely they divide the beat.
Costs are twice the negative logarithms of likelihoods, as are the squares of deviations.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, gcd, log
from typing import NamedTuple

from backing.parse.midi.cell_shares import SHARES

BeatCell = tuple[int, ...]


class Division(NamedTuple):
    """A way to divide a beat: the places that it has (in parts of the table), and whether
    it is a tuplet."""

    places: BeatCell
    tuplet: bool


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """The divisions of a kind of beat, in `unit` parts, and the price of each place by the
    denominator of its share of the beat."""

    unit: int
    prices: dict[int, float]
    divisions: tuple[Division, ...]


def _evenly(unit: int, parts: int, *, tuplet: bool = False) -> Division:
    return Division(tuple(range(0, unit, unit // parts)), tuplet)


#: Beats that halve; the last two have a triplet in one half only.
HALVING = Table(
    24,
    {1: 0.0, 2: 1.0, 4: 3.0, 3: 3.5, 6: 5.0, 8: 9.0},
    (
        *(_evenly(24, parts) for parts in (1, 2, 4, 8)),
        *(_evenly(24, parts, tuplet=True) for parts in (3, 6)),
        Division((0, 4, 8, 12, 18), tuplet=True),
        Division((0, 6, 12, 16, 20), tuplet=True),
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
#: What a beat pays once for leaving the ordinary divisions, and for a rhythm that is not printed.
_TUPLET, _UNUSUAL = 2.0, 8.0
#: A rhythm that is neither printed nor in the tune costs more.
DEAREST_KNOWN = _UNUSUAL
#: What it costs that two onsets fall on one place.
_COLLISION = 20.0


@lru_cache(maxsize=65536)
def share_of(table: Table, cell: BeatCell, *, tuplet: bool) -> float:
    """How likely a cell is among all, 0 to 1."""
    printed = SHARES[table.unit].get(cell)
    if printed is not None:
        return printed
    cost = _UNUSUAL + (_TUPLET if tuplet else 0.0)
    cost += sum(table.prices[table.unit // gcd(place, table.unit)] for place in cell)
    cost += _COLLISION * (len(cell) - len(set(cell)))
    return exp(-cost / 2)


def price_of(share: float) -> float:
    """What something so likely costs."""
    return -2 * log(share)


@lru_cache(maxsize=256)
def printed_cells(unit: int, count: int) -> tuple[BeatCell, ...]:
    """The cells with so many notes that open collections print."""
    return tuple(cell for cell in SHARES[unit] if len(cell) == count)


def parts_of(unit: int, cell: BeatCell) -> int:
    """Into how many parts a cell divides its beat."""
    return unit // gcd(unit, *cell)
