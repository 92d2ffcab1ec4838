"""Ways to take hold of what sounds at a moment: buttons, a direction, places for the hand.

The hand lies over four buttons next to each other, on both rows; `hand` is the lowest of
them.  A finger can reach one button beyond the four (a hop).  Common practice, no source.
"""

from collections import Counter
from itertools import product
from typing import NamedTuple

from backing.box.layout import Button, Direction, Layout, Press

#: Fingers of the hand, and how far apart the buttons of a double stop may lie.
FINGERS, WIDEST = 4, 4


class Grip(NamedTuple):
    """Buttons held in one direction, for the lowest pitch first.

    `row`, `number` and `pitch` are those of the lead: of the highest note struck.
    `hands` are places of the hand with all buttons under it, `reaches` those from which
    a finger hops.  `first` counts 1 where a button 1 is struck.
    """

    presses: tuple[Press, ...]
    direction: Direction
    row: int
    number: int
    pitch: int
    spread: int
    first: bool
    hands: tuple[int, ...]
    reaches: tuple[int, ...]

    def button_of(self, pitch: int) -> Button | None:
        """The button that sounds a pitch, None where it is not held."""
        return next((press.button for press in self.presses if press.midi == pitch), None)


def grips_of(layout: Layout, struck: tuple[int, ...], held: tuple[int, ...]) -> tuple[Grip, ...]:
    """Every way to take hold of notes; () where the box has none of those struck.

    Notes that the box lacks are left out; of stops that no hand reaches the lowest notes.
    """
    struck = tuple(sorted(pitch for pitch in struck if layout.presses(pitch)))
    held = tuple(pitch for pitch in held if layout.presses(pitch))
    while struck:
        grips = _together(layout, struck, held)
        if grips:
            return grips
        if held:
            held = ()
        else:
            struck = struck[1:]
    return ()


def _together(layout: Layout, struck: tuple[int, ...], held: tuple[int, ...]) -> tuple[Grip, ...]:
    last = max(1, max(button.number for row in layout.rows for button in row) - FINGERS + 1)
    pitches = sorted({*struck, *held})
    found = []
    for presses in product(*(layout.presses(pitch) for pitch in pitches)):
        numbers = [press.button.number for press in presses]
        low, high = min(numbers), max(numbers)
        one_way = len({press.direction for press in presses}) == 1
        if one_way and high - low <= WIDEST and len({p.button for p in presses}) == len(presses):
            found.append(_grip(presses, struck, low, high, last))
    return tuple(found)


def _grip(
    presses: tuple[Press, ...], struck: tuple[int, ...], low: int, high: int, last: int
) -> Grip:
    lead = next(press for press in presses if press.midi == struck[-1])
    number = lead.button.number
    if high - low < FINGERS:
        hands = range(max(1, high - FINGERS + 1), min(low, last) + 1)
    else:
        hands = range(min(low, last), min(low, last) + 1)
    reaches = (number + 1, number - FINGERS) if len(presses) == 1 else ()
    return Grip(
        presses,
        lead.direction,
        lead.button.row,
        number,
        lead.midi,
        high - low,
        any(press.button.number == 1 and press.midi in struck for press in presses),
        tuple(hands),
        tuple(hand for hand in reaches if 1 <= hand <= last),
    )


def tonic_of(row: tuple[Button, ...]) -> int:
    """Pitch class of a row's key note: its push notes are the triad on it."""
    pushed = Counter(button.push % 12 for button in row if not button.accidental)
    return max(range(12), key=lambda tone: sum(pushed[(tone + step) % 12] for step in (0, 4, 7)))
