"""The pressure of the bellows: one slow curve that all reeds share.

It is the same each time, for chance would make no two files alike.
"""

from functools import lru_cache

import numpy as np

from backing.render.blocks import Wave

#: Seconds until the curve comes again, and how far it goes to either side of the middle, as a
#: share: from highest to lowest about a decibel.  Working values, no source: slower than a
#: phrase is felt, so that nothing pumps.
SECONDS = 20.0
_DEPTH = 0.06
#: How much of the curve goes round once, twice and three times meanwhile: no even wave.
_ONCE, _TWICE, _THRICE = 0.6, 0.25, 0.3
_POINTS = 1000  # are worked out; the rest lies on lines between


def breath(first: int, count: int, cycle: int) -> Wave:
    """What the reeds are multiplied with in `count` frames, from the `first` on.

    `cycle` is how many frames the curve has; 0 stands still.
    """
    if not cycle:
        return np.ones(count, np.float32)
    curve = _curve(cycle)
    begin = first % cycle
    if begin + count <= cycle:
        return curve[begin : begin + count]
    return curve[np.arange(begin, begin + count) % cycle]


def cycle_in(frames: int, rate: int) -> int:
    """Frames of a curve that goes round a whole number of times in a loop (to half a frame each
    time, which nobody hears); 0 where the loop is too short for one.

    >>> cycle_in(48000 * 50, 48000) // 48000, cycle_in(48000 * 9, 48000)
    (25, 0)
    """
    times = round(frames / (SECONDS * rate))
    return round(frames / times) if times else 0


@lru_cache(maxsize=2)
def _curve(cycle: int) -> Wave:
    """All of the curve, frame by frame."""
    turn = np.linspace(0, 2 * np.pi, _POINTS + 1)
    swing = _ONCE * np.cos(turn) + _TWICE * np.cos(2 * turn) + _THRICE * np.cos(3 * turn)
    places = np.arange(cycle) * (_POINTS / cycle)
    return np.asarray(1 + _DEPTH * np.interp(places, np.arange(_POINTS + 1), swing), np.float32)
