"""Musical time in whole numbers: positions as steps of a grid, so that a page reckons exactly."""

from collections.abc import Iterable
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from backing.practice.limits import WHOLE_TICKS

#: What the walk makes of positions: ticks of limits, clicks between beats, two thirds of a beat.
_PARTS = 12 * WHOLE_TICKS
#: A grid so fine that 50,000 whole notes of it, in ticks, are still exact in a browser (2^53).
_FINEST = 10_000_000
#: The grid where none would be exact: tuplets of 3, 5, 7 and 9 are; others are rounded, to a
#: thousandth of a millisecond.
_USUAL = 63 * _PARTS


class PageGrid(NamedTuple):
    """`steps` a whole note."""

    steps: int

    def at(self, position: Fraction) -> int:
        """The step nearest to a position, in whole notes.

        >>> PageGrid(48).at(Fraction(1, 12)), PageGrid(48).at(Fraction(-3, 8))
        (4, -18)
        """
        over, below = position.as_integer_ratio()
        return (2 * over * self.steps + below) // (2 * below)


def grid_for(positions: Iterable[Fraction]) -> PageGrid:
    """The coarsest grid on which all these positions lie, and what is made of them; a usual one
    where that would be too fine.

    >>> grid_for([Fraction(1, 7)]).steps == 7 * grid_for([]).steps
    True
    """
    steps = _PARTS
    for below in {position.denominator for position in positions}:
        steps = lcm(steps, below)
        if steps > _FINEST:
            return PageGrid(_USUAL)
    return PageGrid(steps)
