"""The gain of a mix: as loud as music on a phone should be, and never clipped.

The loudness of the whole mix sets the gain, so that a version without the melody is as
loud as the one with it.  Where peaks would stand out above the ceiling the gain is a
little lower; where that is not enough, it dips for the peaks: in steps of ten
milliseconds, falling before a peak and rising after it too slowly to be heard.
"""

from math import inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from backing.render.blocks import Block
from backing.render.loudness import STEPS_A_SECOND, Meter, PowerSteps, loudness, step_edges

#: LUFS of the whole mix.  Source: AES TD1008 (2021), music, per track.
TARGET = -16.0
#: How far from it a mix may be, in LU.
WINDOW = 1.0
#: No sample is higher, in dBFS.  EBU R 128 (2020) permits so much of the true peak, between the
#: samples too; samples are measured here, for a mix of our reeds comes at most 0.2 dB higher
#: between them, and oversampling would take longer than making the mix.
CEILING = -1.0
#: How fast a dip begins and ends, in decibels a step.
_FALL, _RISE = 2.0, 0.5
#: No dip is deeper, in dB: sooner the mix is quieter than others.
_DEEPEST = 12.0
#: A dip is aimed so far below its ceiling, in dB: its steps are not whole frames.
_SPARE = 0.05
#: Dips lower the loudness; the gain is raised for that, no more often than this.
_ROUNDS = 8
_NEAR = 0.1  # LU
_SILENCE = 1e-9


class Levels(NamedTuple):
    """What was measured, for every ten milliseconds: the weighted power of the whole mix,
    and the highest sample of the whole and the wanted one."""

    powers: PowerSteps
    peaks: PowerSteps


class Gain(NamedTuple):
    """A factor, and what it is multiplied with at the edges of the steps (None: nowhere).

    `loudness` is that of the whole mix with it, in LUFS.
    """

    factor: float
    dips: PowerSteps | None
    loudness: float

    def over(self, first: int, count: int, rate: int) -> npt.NDArray[np.float32]:
        """What frames are multiplied with, from the `first` of them on."""
        if self.dips is None:
            return np.array([[self.factor]], np.float32)
        places = np.arange(first, first + count) * (STEPS_A_SECOND / rate)
        gains = self.factor * np.interp(places, np.arange(len(self.dips)), self.dips)
        return np.asarray(gains, np.float32)[:, np.newaxis]


class LevelMeter:
    """Measures the levels of a mix that comes in blocks of whole seconds."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._meter = Meter(rate)
        self._peaks: list[PowerSteps] = []

    def add(self, block: Block) -> None:
        """More of it; only the last block may be no whole number of seconds."""
        self._meter.add(block.whole)
        peaks = np.abs(block.whole)
        if block.wanted is not block.whole:
            peaks = np.maximum(peaks, np.abs(block.wanted))
        flat = peaks.ravel()  # both channels in turn
        if len(peaks) == self._rate and self._rate % STEPS_A_SECOND == 0:
            highest = flat.reshape(STEPS_A_SECOND, -1).max(axis=1)
        else:
            highest = np.maximum.reduceat(flat, 2 * step_edges(0, len(peaks) - 1, self._rate))
        self._peaks.append(highest.astype(np.float64))

    def levels(self) -> Levels:
        """What was measured."""
        peaks = np.concatenate(self._peaks) if self._peaks else np.zeros(0)
        return Levels(self._meter.powers(), peaks)


def gain_for(levels: Levels, ceiling: float = CEILING) -> Gain:
    """The gain that brings a mix to its loudness, with no peak above `ceiling` (dBFS).

    Silence has none.
    """
    loud = loudness(levels.powers)
    if loud == -inf:
        return Gain(1.0, None, loud)
    room = ceiling - decibels(levels.peaks.max())
    gain = TARGET - loud
    if gain - WINDOW <= room:
        gain = min(gain, float(room))
        return Gain(10 ** (gain / 20), None, loud + gain)
    return _with_dips(levels, gain, ceiling)


def _with_dips(levels: Levels, gain: float, ceiling: float) -> Gain:
    """A gain that dips for peaks, raised until the mix is in the middle of what is allowed
    below its target."""
    aim = TARGET - WINDOW / 2
    most = ceiling - float(decibels(levels.peaks.max())) + _DEEPEST
    gain = min(gain, most)
    for _ in range(_ROUNDS):
        dips = _dips(ceiling - _SPARE - gain - decibels(levels.peaks))
        steps = (dips[:-1] + dips[1:]) / 2
        loud = gain + loudness(levels.powers * steps[: len(levels.powers)] ** 2)
        if abs(loud - aim) < _NEAR or (loud < aim and gain == most):
            break
        gain = min(gain + aim - loud, most)
    return Gain(10 ** (gain / 20), dips, loud)


def _dips(room: PowerSteps) -> PowerSteps:
    """Factors at the edges of steps that have so much room, in dB (below 0: too little).

    The end is taken to go on at the beginning, so that a loop has no seam.
    """
    need = np.minimum(room, 0.0)
    edges = np.minimum(need, np.roll(need, 1))
    round_thrice = np.tile(edges, 3)
    places = np.arange(len(round_thrice))
    risen = np.minimum.accumulate(round_thrice - _RISE * places) + _RISE * places
    fallen = np.minimum.accumulate((risen + _FALL * places)[::-1])[::-1] - _FALL * places
    once = fallen[len(edges) : 2 * len(edges) + 1]
    return np.asarray(10 ** (once / 20), np.float64)


def decibels(amplitude: float | PowerSteps) -> PowerSteps:
    """Amplitude in dBFS.

    >>> float(decibels(0.5).round(2))
    -6.02
    """
    return np.asarray(20 * np.log10(np.maximum(amplitude, _SILENCE)))
