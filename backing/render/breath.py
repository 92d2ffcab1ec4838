"""The pressure of the bellows: one slow curve that all reeds share.

It is the same each time, for chance would make no two files alike.
"""

import numpy as np

from backing.render.blocks import Wave

#: Seconds until the curve comes again, and how far it goes to either side of the middle, as a
#: share: from highest to lowest about a decibel.  Working values, no source: slower than a
#: phrase is felt, so that nothing pumps.
SECONDS = 20.0
_DEPTH = 0.06
#: How much of the curve goes round once, twice and three times meanwhile: no even wave.
_ONCE, _TWICE, _THRICE = 0.6, 0.25, 0.3
_GRID = 1024  # frames between the points that are worked out; the rest lies on lines


def breath(first: int, count: int, cycle: float) -> Wave:
    """What the reeds are multiplied with in `count` frames, from the `first` on.

    `cycle` is how many frames the curve has; 0 stands still.
    """
    if not cycle:
        return np.ones(count, np.float32)
    points = np.arange(first // _GRID, (first + count) // _GRID + 2)
    turn = points * (2 * np.pi * _GRID / cycle)
    curve = _ONCE * np.cos(turn) + _TWICE * np.cos(2 * turn) + _THRICE * np.cos(3 * turn)
    places = np.arange(first, first + count)
    return np.asarray(1 + _DEPTH * np.interp(places, points * _GRID, curve), np.float32)


def cycle_in(frames: int, rate: int) -> float:
    """Frames of a curve that goes round a whole number of times in a loop; 0 where the loop is
    too short for one.

    >>> cycle_in(48000 * 50, 48000) / 48000, cycle_in(48000 * 9, 48000)
    (25.0, 0.0)
    """
    times = round(frames / (SECONDS * rate))
    return frames / times if times else 0.0
