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
PowerSteps = npt.NDArray[np.float64]
#: Blocks of frames of each channel.
Sides = npt.NDArray[np.float32]
#: What a filter remembers, or how that goes on.
_FilterState = npt.NDArray[np.float64]

STEPS_A_SECOND = 100
#: Steps of a gating block (400 ms), and from one to the next (overlap 75 %).
_BLOCK, _HOP = 40, 10
_ABSOLUTE_GATE, _RELATIVE_GATE = -70.0, -10.0
_OFFSET = -0.691
_LOUDEST_SILENCE = 1e-15
#: Frames that a filter takes at once, and blocks of them in a product of matrices: few
#: enough that no library spreads it over processors, which takes longer on a busy machine.
_AT_ONCE, _BLOCKS = 32, 250
_CHUNK = _AT_ONCE * _BLOCKS


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


class _Weighting:
    """Both stages as one filter that takes many blocks of frames at once.

    A filter is a state of four numbers and what it makes of the next sample.  What a block
    answers to itself is one matrix, what it answers to the state before it another, and
    the state after it is linear in both.  Only the states depend on the block before.
    """

    def __init__(self, rate: int) -> None:
        step, push, read, through = _in_series(at_rate(SHELF, rate), at_rate(HIGH_PASS, rate))
        powers = [np.eye(len(step))]
        for _ in range(_AT_ONCE):
            powers.append(powers[-1] @ step)
        answer = np.array([through, *(read @ power @ push for power in powers[:-2])])
        lag = np.subtract.outer(np.arange(_AT_ONCE), np.arange(_AT_ONCE))
        self._own = np.where(lag >= 0, answer[lag], 0.0).T.astype(np.float32)
        self._read = np.array([read @ power for power in powers[:-1]]).T.astype(np.float32)
        self._push = np.array([power @ push for power in powers[-2::-1]]).astype(np.float32)
        self._step = powers[-1].T

    def over(self, wave: Sides, state: _FilterState) -> tuple[Sides, _FilterState]:
        """Blocks filtered, of the shape (channels, blocks, frames), after a state; and the
        state after them."""
        pieces = wave.reshape(-1, _BLOCKS, _AT_ONCE)
        out = (pieces @ self._own).reshape(wave.shape)
        states = (pieces @ self._push).reshape(*wave.shape[:2], -1).astype(np.float64)
        states[:, 0] += state @ self._step
        reach, power = 1, self._step
        while reach < states.shape[1]:  # each state gets those of twice as many blocks before
            states[:, reach:] += states[:, :-reach] @ power
            power = power @ power
            reach *= 2
        before = np.concatenate((state[:, np.newaxis], states[:, :-1]), axis=1)
        out += before.astype(np.float32) @ self._read
        return out, states[:, -1]


def _in_series(
    first: Biquad, second: Biquad
) -> tuple[_FilterState, _FilterState, _FilterState, float]:
    """Two filters, one after the other, as how a state goes on, what a sample adds to it,
    what is heard of it, and what of the sample (transposed direct form II)."""
    (step_1, push_1, through_1), (step_2, push_2, through_2) = map(_as_state, (first, second))
    read = np.array([1.0, 0.0])
    step = np.zeros((4, 4))
    step[:2, :2], step[2:, 2:], step[2:, :2] = step_1, step_2, np.outer(push_2, read)
    push = np.concatenate((push_1, push_2 * through_1))
    return step, push, np.concatenate((through_2 * read, read)), through_1 * through_2


def _as_state(stage: Biquad) -> tuple[_FilterState, _FilterState, float]:
    (b0, b1, b2), (_, a1, a2) = stage.b, stage.a
    return np.array([[-a1, 1.0], [-a2, 0.0]]), np.array([b1 - a1 * b0, b2 - a2 * b0]), b0


class Meter:
    """Measures sound that comes in blocks of any size; the sizes do not matter."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._edges = step_edges(0, rate - 1, rate)
        self._waiting = np.zeros((0, 2), np.float32)
        self._weighting = _weighting(rate)
        self._state = np.zeros((2, 4))
        self._weighed = np.zeros(0, np.float32)
        self._steps: list[PowerSteps] = []

    def add(self, block: npt.NDArray[np.float32]) -> None:
        """More sound: frames of two channels."""
        waiting = np.concatenate((self._waiting, block)) if len(self._waiting) else block
        ready = len(waiting) - len(waiting) % _CHUNK
        if ready:
            power, self._state = self._weigh(waiting[:ready])
            self._weighed = np.concatenate((self._weighed, power))
        self._waiting = waiting[ready:]
        while len(self._weighed) >= self._rate:
            self._steps.append(self._means(self._weighed[: self._rate]))
            self._weighed = self._weighed[self._rate :]

    def powers(self) -> PowerSteps:
        """The weighted power of all that came, both channels together, for each 10 ms."""
        rest = np.pad(self._waiting, ((0, -len(self._waiting) % _CHUNK), (0, 0)))
        power = np.concatenate((self._weighed, self._weigh(rest)[0]))
        begun = len(self._weighed) + len(self._waiting)
        steps = list(self._steps)
        for first in range(0, begun, self._rate):
            second = power[first : first + self._rate]
            means = self._means(np.pad(second, (0, self._rate - len(second))))
            whole = np.searchsorted(self._edges, begun - first, side="right") - 1
            steps.append(means if begun - first >= self._rate else means[:whole])
        return np.concatenate(steps) if steps else np.zeros(0)

    def loudness(self) -> float:
        """Integrated loudness in LUFS; minus infinity for silence."""
        return loudness(self.powers())

    def _weigh(self, frames: npt.NDArray[np.float32]) -> tuple[Sides, _FilterState]:
        """The power of weighted frames, a number of chunks of them; the state after them."""
        if not len(frames):
            return np.zeros(0, np.float32), self._state
        wave = np.ascontiguousarray(frames.T).reshape(2, -1, _AT_ONCE)
        out, state = self._weighting.over(wave, self._state)
        flat = out.reshape(2, -1)
        np.square(flat, out=flat)
        return flat[0] + flat[1], state

    def _means(self, second: Sides) -> PowerSteps:
        """The mean power of each step of a second."""
        if self._rate % STEPS_A_SECOND == 0:
            means: PowerSteps = second.reshape(STEPS_A_SECOND, -1).mean(axis=1, dtype=np.float64)
            return means
        sums = np.add.reduceat(second, self._edges, dtype=np.float64)
        return sums / np.diff(self._edges, append=self._rate)


def step_edges(first: int, end: int, rate: int) -> npt.NDArray[np.int64]:
    """The frames from `first` to `end`, both included, at which a step of 10 ms begins.

    >>> step_edges(0, 1000, 44100)
    array([  0, 441, 882])
    """
    numbers = np.arange(first * STEPS_A_SECOND // rate, end * STEPS_A_SECOND // rate + 2)
    edges = (2 * numbers * rate + STEPS_A_SECOND) // (2 * STEPS_A_SECOND)
    return edges[(edges >= first) & (edges <= end)]


def loudness(powers: PowerSteps) -> float:
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
def _weighting(rate: int) -> _Weighting:
    """The weighting at a sample rate."""
    return _Weighting(rate)
