"""A drawn line of music: its drawing, and where on it things stand."""

from fractions import Fraction
from typing import NamedTuple

#: Verovio's units to a staff space and a staff.
UNIT = 9
STAFF = 8 * UNIT
#: Room left and right of the lines, in those units: the names of rows stand out to the left.
LEFT, RIGHT = 54, 6
#: Room above and below them.
TOP, BELOW = 12, 12
#: Verovio draws in tenths of its units.
TENTHS = 10


class DrawnBar(NamedTuple):
    """Where a bar of the tune stands on a line: its index, its left and right edge; where in it,
    in whole notes from its start, each note of the melody begins that is drawn, None for a grace
    note."""

    bar: int
    left: float
    right: float
    heads: tuple[Fraction | None, ...] = ()


class System(NamedTuple):
    """A line of music: its drawing, and its size in `STAFF`ths of a staff's height; whether a
    part begins with it; its bars, or pieces of bars that are cut; the room left of the music."""

    svg: str
    width: int
    height: int
    part: bool
    bars: tuple[DrawnBar, ...] = ()
    left: int = LEFT


def place_on_line(drawn: int, left: int) -> float:
    """How far from a line's left edge something stands, from what its drawing says and the room
    that is left of the music."""
    return left + drawn / TENTHS


def height_on_line(drawn: int) -> float:
    """How far from a line's upper edge something stands, from what its drawing says."""
    return TOP + drawn / TENTHS
