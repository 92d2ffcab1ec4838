"""How a melody is stressed by rule: the felt beats of the metre, the pickup, the phrase.

Shares are in per cent of the level in force, working values (common practice, no source); all
together they stay within 12.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from backing.music.metre import Metre
from backing.music.played import MappedBar

#: Strong beats, other felt beats, what falls between them, a pickup.
STRONG, BEAT, BETWEEN, PICKUP = 5, 1, -4, -7
#: How much a phrase gains up to its middle, and has lost by its end.
SWELL, FALL = 3, 5

#: A place in a bar, from its start: numerator and denominator, whose hash is quick.
_At = tuple[int, int]


class Stress(NamedTuple):
    """The stress of a bar, in per cent: at its beats, between them, and what the phrase adds
    at its start and gains by the whole note."""

    beats: Mapping[_At, int]
    between: int
    start: float = 0.0
    slope: float = 0.0

    def on(self, level: int, at: _At) -> int:
        """The velocity of a note struck at a place in the bar, where `level` is in force.

        >>> Stress({(0, 1): 6}, -2).on(90, (0, 1)), Stress({(0, 1): 6}, -2).on(90, (1, 8))
        (95, 88)
        """
        share = self.beats.get(at, self.between) + self.start + self.slope * at[0] / at[1]
        return max(1, min(round(level * (100 + share) / 100), 127))


#: No stress at all: plain playing, and free metre, which has no beats.
EVEN = Stress({}, 0)
_LEADING_IN = Stress({}, PICKUP)


def stress_of(bar: MappedBar) -> Stress:
    """The stress of a bar as it is played."""
    if bar.metre.free:
        return EVEN
    if bar.pickup:
        return _LEADING_IN
    start, stop = bar.phrase
    beats = tuple((at.as_integer_ratio(), place) for at, _, place in bar.beats())
    return _in_phrase(bar.metre, beats, bar.position - start, stop - start)


@lru_cache(maxsize=512)
def _in_phrase(metre: Metre, beats: tuple[tuple[_At, int], ...], number: int, count: int) -> Stress:
    """The stress of the bar of this number, from 0, in a phrase of so many."""
    strong = metre.strong
    start, stop = _swell(number / count), _swell((number + 1) / count)
    return Stress(
        {at: STRONG if place in strong else BEAT for at, place in beats},
        BETWEEN, start, (stop - start) / float(metre.length),
    )  # fmt: skip


def _swell(at: float) -> float:
    """What a phrase has gained at a share of its length.

    >>> [_swell(quarter / 4) for quarter in range(5)]
    [0.0, 1.5, 3.0, -1.0, -5.0]
    """
    return SWELL * min(2 * at, 1.0) - (SWELL + FALL) * max(2 * at - 1, 0.0)
