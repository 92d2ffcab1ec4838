"""How loud sound is, by Recommendation ITU-R BS.1770-4: integrated loudness in LUFS.

Sound is weighted as ears weigh it, its power taken over 400 ms again and again, and what
is near silence left out.  Here powers are kept for every ten milliseconds, so that a gain
which changes as slowly can be weighed without hearing the sound again.
"""

from functools import lru_cache
from math import inf, pi, tan
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

#: Powers (or peaks, or gains), one every ten milliseconds.
Steps = npt.NDArray[np.float64]
#: Blocks of frames of each channel.
Sides = npt.NDArray[np.float32]
#: Two samples of each channel, the last first.
_Pair = npt.NDArray[np.float64]

STEPS_A_SECOND = 100
#: Steps of a gating block (400 ms), and from one to the next (overlap 75 %).
_BLOCK, _HOP = 40, 10
_ABSOLUTE_GATE, _RELATIVE_GATE = -70.0, -10.0
_OFFSET = -0.691
_LOUDEST_SILENCE = 1e-15
#: Frames that a filter takes at once, and blocks of them in a product of matrices: few
#: enough that no library spreads it over processors, which takes longer on a busy machine.
_AT_ONCE, _BLOCKS = 32, 250


class Biquad(NamedTuple):
    """A filter of second order: numerator and denominator in powers of z ** -1; and the
    frequency at which it is exact at every sample rate."""

    b: tuple[float, float, float]
    a: tuple[float, float, float]
    hertz: float


_STANDARD_RATE = 48000
#: The two stages at 48 kHz, as printed: BS.1770-4, annex 1, tables 1 and 2.  The first is
#: exact at 997 Hz, where the standard is checked, the other where it begins to cut.
SHELF = Biquad(
    (1.53512485958697, -2.69169618940638, 1.19839281085285),
    (1.0, -1.69065929318241, 0.73248077421585),
    997.0,
)
HIGH_PASS = Biquad((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621), 38.0)


def at_rate(stage: Biquad, rate: int) -> Biquad:
    """A filter of 48 kHz as one with its response at another sample rate.

    The bilinear transform is undone, and done again for the other rate.
    """
    if rate == _STANDARD_RATE:
        return stage
    scale = tan(pi * stage.hertz / _STANDARD_RATE) / tan(pi * stage.hertz / rate)
    b, a = (
        _turned((constant, linear * scale, square * scale**2))
        for constant, linear, square in (_turned(stage.b), _turned(stage.a))
    )
    return Biquad(
        (b[0] / a[0], b[1] / a[0], b[2] / a[0]), (1.0, a[1] / a[0], a[2] / a[0]), stage.hertz
    )


def _turned(c: tuple[float, float, float]) -> tuple[float, float, float]:
    """A polynomial in z ** -1 as one in (1 - z ** -1) / (1 + z ** -1), or back: the transform
    is its own inverse, but for a factor that cancels in a filter."""
    return c[0] + c[1] + c[2], 2 * (c[0] - c[2]), c[0] - c[1] + c[2]


class _Filter:
    """A biquad that takes many blocks of frames at once.

    What a block answers to itself is one matrix, what it answers to the two samples before
    it, of what came in and of what went out, are two more.  Only the last two samples that
    go out of each block depend on those of the block before.
    """

    def __init__(self, stage: Biquad) -> None:
        answer = _answer(stage, (1.0,), (0.0, 0.0), (0.0, 0.0))
        lag = np.subtract.outer(np.arange(_AT_ONCE), np.arange(_AT_ONCE))
        own = np.where(lag >= 0, answer[lag], 0.0)
        self._own = own.T.astype(np.float32)
        units = ((1.0, 0.0), (0.0, 1.0))
        self._came = np.array([_answer(stage, (), unit, (0.0, 0.0)) for unit in units])
        self._went = np.array([_answer(stage, (), (0.0, 0.0), unit) for unit in units])

    def over(self, wave: Sides, came: _Pair, went: _Pair) -> Sides:
        """Blocks filtered, of the shape (channels, blocks, frames); `came` and `went` are the
        two samples before them, the last first, of each channel."""
        out = (wave.reshape(-1, _BLOCKS, _AT_ONCE) @ self._own).reshape(wave.shape)
        before = np.concatenate((came[:, np.newaxis], wave[:, :-1, :-3:-1]), axis=1)
        out += before.astype(np.float32) @ self._came.astype(np.float32)
        ends = out[:, :, :-3:-1].astype(np.float64)
        power = self._went[:, :-3:-1]
        ends[:, 0] += went @ power
        step = 1
        while step < ends.shape[1]:  # each end gets those of twice as many blocks before it
            ends[:, step:] += ends[:, :-step] @ power
            power = power @ power
            step *= 2
        before = np.concatenate((went[:, np.newaxis], ends[:, :-1]), axis=1)
        out += before.astype(np.float32) @ self._went.astype(np.float32)
        return out


def _answer(
    stage: Biquad,
    wave: tuple[float, ...],
    came: tuple[float, float],
    went: tuple[float, float],
) -> npt.NDArray[np.float64]:
    """What a filter makes of a wave, after these samples, the last first."""
    inward, outward = [*came[::-1], *wave], list(went[::-1])
    inward += [0.0] * (_AT_ONCE - len(wave))
    for place in range(2, _AT_ONCE + 2):
        heard = sum(stage.b[lag] * inward[place - lag] for lag in range(3))
        outward.append(heard - sum(stage.a[lag] * outward[place - lag] for lag in (1, 2)))
    return np.array(outward[2:])


class Meter:
    """Measures sound that comes in blocks of any size; the sizes do not matter."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._edges = step_edges(0, rate - 1, rate)
        self._waiting = np.zeros((0, 2), np.float32)
        self._filters = _weighting(rate)
        self._pasts = [np.zeros((2, 2)) for _ in range(len(self._filters) + 1)]
        self._steps: list[Steps] = []

    def add(self, block: npt.NDArray[np.float32]) -> None:
        """More sound: frames of two channels."""
        waiting = np.concatenate((self._waiting, block))
        while len(waiting) >= self._rate:
            second, waiting = waiting[: self._rate], waiting[self._rate :]
            powers, self._pasts = self._weigh(second)
            self._steps.append(powers)
        self._waiting = waiting

    def powers(self) -> Steps:
        """The weighted power of all that came, both channels together, for each 10 ms."""
        begun = len(self._waiting)
        second = np.pad(self._waiting, ((0, self._rate - begun), (0, 0)))
        powers, _ = self._weigh(second)
        whole = np.searchsorted(self._edges, begun, side="right") - 1
        return np.concatenate((*self._steps, powers[:whole]))

    def loudness(self) -> float:
        """Integrated loudness in LUFS; minus infinity for silence."""
        return loudness(self.powers())

    def _weigh(self, second: npt.NDArray[np.float32]) -> tuple[Steps, list[_Pair]]:
        """The powers of a second, and the last two samples of all stages after it."""
        room = -self._rate % (_AT_ONCE * _BLOCKS)
        wave = np.pad(second.T, ((0, 0), (0, room))).reshape(2, -1, _AT_ONCE)
        pasts = [_last(wave, self._rate)]
        for place, filter_ in enumerate(self._filters):
            wave = filter_.over(wave, self._pasts[place], self._pasts[place + 1])
            pasts.append(_last(wave, self._rate))
        flat = wave.reshape(2, -1)[:, : self._rate]
        power = flat[0] ** 2 + flat[1] ** 2
        sums = np.add.reduceat(power, self._edges, dtype=np.float64)
        return sums / np.diff(self._edges, append=self._rate), pasts


def _last(wave: Sides, frames: int) -> _Pair:
    """The last two samples of so many frames, the last first, of each channel."""
    return wave.reshape(2, -1)[:, frames - 2 : frames][:, ::-1].astype(np.float64)


def step_edges(first: int, end: int, rate: int) -> npt.NDArray[np.int64]:
    """The frames from `first` to `end`, both included, at which a step of 10 ms begins.

    >>> step_edges(0, 1000, 44100)
    array([  0, 441, 882])
    """
    numbers = np.arange(first * STEPS_A_SECOND // rate, end * STEPS_A_SECOND // rate + 2)
    edges = (2 * numbers * rate + STEPS_A_SECOND) // (2 * STEPS_A_SECOND)
    return edges[(edges >= first) & (edges <= end)]


def loudness(powers: Steps) -> float:
    """Integrated loudness in LUFS of weighted powers; minus infinity for silence.

    Gated twice (BS.1770-4, annex 1): blocks below -70 LUFS are left out, then those more
    than 10 LU below the rest.  Sound shorter than a block is one block.

    >>> round(loudness(np.full(100, 10 ** (0.0691 - 2.3))), 3)
    -23.0
    """
    if not len(powers):
        return -inf
    length = min(_BLOCK, len(powers))
    sums = np.concatenate(([0.0], np.cumsum(powers)))
    starts = np.arange(0, len(powers) - length + 1, _HOP)
    blocks = (sums[starts + length] - sums[starts]) / length
    blocks = blocks[_lufs(blocks) > _ABSOLUTE_GATE]
    if not len(blocks):
        return -inf
    gate = _lufs(blocks.mean()) + _RELATIVE_GATE
    return float(_lufs(blocks[_lufs(blocks) > gate].mean()))


def _lufs(power: Any) -> Any:
    return _OFFSET + 10 * np.log10(np.maximum(power, _LOUDEST_SILENCE))


@lru_cache(maxsize=4)
def _weighting(rate: int) -> tuple[_Filter, _Filter]:
    """The two stages at a sample rate."""
    return _Filter(at_rate(SHELF, rate)), _Filter(at_rate(HIGH_PASS, rate))
