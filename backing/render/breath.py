"""The pressure of the bellows, that all reeds share: one slow curve, and a dip before each new
breath.

It is the same each time, for chance would make no two files alike.
"""

from functools import lru_cache

import numpy as np

from backing.render.blocks import Wave
from backing.render.sound_laws import BREATH_CURVE, BREATH_SECONDS, DIP_DB, DIP_SECONDS

_POINTS = 1000  # are worked out; the rest lies on lines between


class Pressure:
    """What the reeds are multiplied with, frame by frame.

    `cycle` is how many frames the slow curve has; 0 stands still.  A dip ends where the new
    breath's first note begins, so that no onset is moved by it.
    """

    def __init__(self, rate: int, cycle: int) -> None:
        self._cycle = cycle
        self._dip = _dip(rate)
        self._dips: list[int] = []  # the first frame of each

    @property
    def lead(self) -> int:
        """Frames that a dip begins ahead of its breath."""
        return len(self._dip)

    def breathe(self, frame: int, earliest: int | None = None) -> None:
        """The bellows take a new breath at a frame; nothing changes before the `earliest`."""
        start = frame - len(self._dip)
        self._dips.append(start if earliest is None else max(start, earliest))

    def over(self, first: int, count: int) -> Wave:
        """The factors of `count` frames, from the `first` on; those before are over."""
        stop = first + count
        self._dips = [start for start in self._dips if start + len(self._dip) > first]
        factors = self._slow(first, count)
        for start in self._dips:
            begin, end = max(start, first), min(start + len(self._dip), stop)
            if begin < end:
                if not factors.flags.owndata:
                    factors = factors.copy()
                factors[begin - first : end - first] *= self._dip[begin - start : end - start]
        return factors

    def _slow(self, first: int, count: int) -> Wave:
        if not self._cycle:
            return np.ones(count, np.float32)
        curve = _curve(self._cycle)
        begin = first % self._cycle
        if begin + count <= self._cycle:
            return curve[begin : begin + count]
        return curve[np.arange(begin, begin + count) % self._cycle]


def cycle_in(frames: int, rate: int) -> int:
    """Frames of a curve that goes round a whole number of times in a loop (to half a frame each
    time, which nobody hears); 0 where the loop is too short for one.

    >>> cycle_in(48000 * 50, 48000) // 48000, cycle_in(48000 * 9, 48000)
    (25, 0)
    """
    times = round(frames / (BREATH_SECONDS * rate))
    return round(frames / times) if times else 0


@lru_cache(maxsize=4)
def _dip(rate: int) -> Wave:
    """A dip, frame by frame: a cosine in decibels, which begins and ends softly."""
    turn = np.linspace(0, 2 * np.pi, round(DIP_SECONDS * rate), endpoint=False)
    return np.asarray(10 ** (-DIP_DB / 40 * (1 - np.cos(turn))), np.float32)


@lru_cache(maxsize=2)
def _curve(cycle: int) -> Wave:
    """All of the curve, frame by frame."""
    turn = np.linspace(0, 2 * np.pi, _POINTS + 1)
    swing = sum(share * np.cos(n * turn) for n, share in enumerate(BREATH_CURVE, 1))
    places = np.arange(cycle) * (_POINTS / cycle)
    return np.asarray(1 + np.interp(places, np.arange(_POINTS + 1), swing), np.float32)
