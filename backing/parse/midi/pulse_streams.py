"""Which even streams of moments there may be in a tune that was played without a click.

Pieces of the tune tell: how far their onsets go round together with a stream, as circular means
tell it.
"""

from cmath import exp as turn_by
from cmath import phase as angle
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import tau

#: Pulses from the shortest to the longest, in seconds.
SHORTEST, LONGEST = 0.085, 0.75
#: Shares of a pulse that are places too, and what they cost; thirds are tried apart.
PulseShares = tuple[tuple[float, float], ...]
HALVES: PulseShares = ((0, 0.0), (1 / 2, 4.0))
THIRDS: PulseShares = (*HALVES, (1 / 3, 5.0), (2 / 3, 5.0))
#: Onsets in a piece, pieces looked at, streams tried, and how much of a circular mean (0 to 1)
#: makes one worth a try.
_PIECE, _MOST_PIECES, _MOST_STREAMS, _LEAST_MEAN = 32, 12, 7, 0.3
#: Seconds of a piece, and onsets that are a piece however long.
_PIECE_SPAN, _LEAST_PIECE = 10.0, 12
#: Streams whose periods lie no further apart are alike.
_ALIKE = 1.04


@dataclass(frozen=True, slots=True)
class PulseStream:
    """A stream to be tried: from which onset on, its period, its first moment, how much it
    goes with the piece that it was found in."""

    index: int
    period: float
    first: float
    mean: float
    shares: PulseShares = HALVES


def streams_of(onsets: Sequence[float], periods: Sequence[float]) -> list[PulseStream]:
    """The streams worth a try, the best of those that are alike."""
    found = sorted(
        (stream for start in _starts(len(onsets)) for stream in _peaks(onsets, start, periods)),
        key=lambda stream: -stream.mean,
    )
    kept: list[PulseStream] = []
    for stream in found:
        if all(not 1 / _ALIKE < stream.period / other.period < _ALIKE for other in kept):
            kept.append(stream)
    return kept[:_MOST_STREAMS]


def _starts(count: int) -> Iterator[int]:
    """Where the pieces begin."""
    last = max(count - _PIECE, 0)
    pieces = min(last // _PIECE + 1, _MOST_PIECES)
    for n in range(pieces):
        yield last * n // max(pieces - 1, 1)


def _peaks(onsets: Sequence[float], start: int, periods: Sequence[float]) -> Iterator[PulseStream]:
    """The streams that a piece goes with."""
    piece = onsets[start : start + _PIECE]
    while len(piece) > _LEAST_PIECE and piece[-1] - piece[0] > _PIECE_SPAN:
        piece = piece[:-1]
    span = piece[-1] - piece[0]
    if span <= 0:
        return
    step = 1 / (5 * span)
    count = int((1 / SHORTEST - 1 / LONGEST) / step) + 2
    if count > 4000:
        return
    rates = [1 / LONGEST + step * n for n in range(count)]
    means = [sum(turn_by(-1j * tau * rate * (t - piece[0])) for t in piece) for rate in rates]
    sizes = [abs(mean) / len(piece) for mean in means]
    for n in range(1, count - 1):
        if sizes[n] < _LEAST_MEAN or sizes[n] < max(sizes[n - 1], sizes[n + 1]):
            continue
        period = 1 / rates[n]
        if periods and not any(0.92 < period / told < 1.08 for told in periods):
            continue
        first = piece[0] - angle(means[n]) / tau * period
        yield PulseStream(start, period, first, sizes[n])
