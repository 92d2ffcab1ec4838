"""Whether the notes of a MIDI file follow the beats of the file, and when they sound."""

from bisect import bisect_right
from cmath import exp as turn_by
from cmath import phase as angle
from collections.abc import Callable, Sequence
from math import tau

from backing.parse.midi.events import HeldKey, Said

#: Microseconds of a crotchet where the file says nothing.
USUAL_TEMPO = 500_000
#: So few notes tell nothing of a beat.
_LEAST_NOTES = 16
#: Onsets that go together with the file's beats, or a part of them, no more than so much
#: (circular mean, 0 to 1) lie there by chance.
_BY_CHANCE = 0.55
#: Milliseconds that a piece of so many notes may be late, or early.
_PIECE, _MOST_LATE_MS = 32, 35.0
_PARTS = (1, 2, 3, 4, 6)
_MOST_NOTES = 4096


def off_the_beat(presses: Sequence[HeldKey], ppq: int, said: Said) -> bool:
    """True where the notes of a line lie off the file's beats, as if by chance, or move along
    them slowly."""
    ticks = sorted({press.start for press in presses})[:_MOST_NOTES]
    if len(ticks) < _LEAST_NOTES:
        return False
    slowest = max((us for _, us in said.tempos), default=USUAL_TEMPO)
    return all(_off(ticks, ppq / n, slowest / 1000 / ppq) for n in _PARTS)


def _off(ticks: Sequence[int], part: float, tick_ms: float) -> bool:
    """True where onsets do not go together with parts of a beat (ticks)."""
    turns = [turn_by(1j * tau * tick / part) for tick in ticks]
    if abs(sum(turns)) < _BY_CHANCE * len(ticks):
        return True
    sums = [sum(turns[at : at + _PIECE]) for at in range(0, len(turns) - _LEAST_NOTES, _PIECE)]
    steady = [angle(one) for one in sums if abs(one) > _PIECE / 2]
    return any(abs(turn) / tau * part * tick_ms > _MOST_LATE_MS for turn in steady)


def seconds_by_tick(said: Said, ppq: int) -> Callable[[int], float]:
    """The second of a tick, by the tempi of the file."""
    ticks, starts, rates = [0], [0.0], [USUAL_TEMPO / 1e6 / ppq]
    for tick, microseconds in said.tempos:
        rate = microseconds / 1e6 / ppq
        if tick == ticks[-1]:
            rates[-1] = rate
        else:
            starts.append(starts[-1] + (tick - ticks[-1]) * rates[-1])
            ticks.append(tick)
            rates.append(rate)

    def second(tick: int) -> float:
        index = max(bisect_right(ticks, tick) - 1, 0)
        return starts[index] + (tick - ticks[index]) * rates[index]

    return second
