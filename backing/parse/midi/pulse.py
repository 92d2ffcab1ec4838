"""The pulse of a tune that was played without a click: found from seconds alone.

A pulse is an even stream of moments, mostly the quavers, that nearly all onsets fall on.
Pieces of the tune tell which streams there may be (how far the onsets go round together with
each, as circular means tell it); each is followed through the tune, a line through the
last notes telling where the next pulse is due, so that a slow drift is followed too.  The
stream that tells the onsets in the fewest bits is taken: what is left between notes and pulses,
and how many different lengths it makes of the notes, both count.
"""

from bisect import bisect_right
from cmath import exp as turn_by
from cmath import phase as angle
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import log, pi, sqrt, tau
from typing import NamedTuple

#: Pulses from the shortest to the longest, in seconds.
SHORTEST, LONGEST = 0.085, 0.75
#: Onsets in a piece, pieces looked at, streams tried, and how much of a circular mean (0 to 1)
#: makes one worth a try.
_PIECE, _MOST_PIECES, _MOST_STREAMS, _LEAST_MEAN = 32, 12, 7, 0.3
_ALIKE = 1.04
#: How many onsets a stream is judged by.
_JUDGED = 1200
#: Notes that the line through the last ones counts, and from how many on it may turn.
_LINE, _FEW = 18, 12
#: Seconds: how far onsets lie from where they were meant, how far at most.
_DEVIATION, _GATE = 0.012, 0.045
_LEAST_DEVIATION = 0.003
#: Shares of a pulse that are places too, and what they cost; thirds are tried apart.
_Shares = tuple[tuple[Fraction, float], ...]
_HALVES: _Shares = ((Fraction(0), 0.0), (Fraction(1, 2), 2.0))
_THIRDS: _Shares = (*_HALVES, (Fraction(1, 3), 4.0), (Fraction(2, 3), 4.0))
_BROKEN_PRICE = 0.2


class Pulse(NamedTuple):
    """A pulse through a tune.

    `places` are onsets in pulses (None: on no pulse), counted from the first that is on one;
    `knots` are (second, pulse) pairs of the smoothed way through them; `period` is the mean
    seconds of a pulse, `deviation` the seconds that onsets lie off it (root mean square), `drift`
    the share by which the quickest and the slowest stretch differ, `bits` what a note costs to
    tell.
    """

    places: tuple[Fraction | None, ...]
    knots: tuple[tuple[float, float], ...]
    period: float
    deviation: float
    drift: float
    bits: float

    @property
    def kept(self) -> float:
        """The share of onsets that are on the pulse."""
        return len(self.knots) / len(self.places)

    def at(self, second: float) -> float:
        """Where a moment lies, in pulses."""
        knots = self.knots
        index = bisect_right(knots, (second, float("inf")))
        if index in (0, len(knots)):
            edge, place = knots[0] if not index else knots[-1]
            return place + (second - edge) / self.period
        (t0, k0), (t1, k1) = knots[index - 1], knots[index]
        return k0 + (k1 - k0) * (second - t0) / (t1 - t0)


@dataclass(frozen=True, slots=True)
class _Stream:
    """A stream to be tried: from which onset on, its period, its first moment, how much it
    goes with the piece that it was found in."""

    index: int
    period: float
    first: float
    mean: float
    shares: _Shares = _HALVES


def find_pulse(onsets: Sequence[float], periods: Sequence[float] = ()) -> Pulse | None:
    """The pulse of onsets (seconds, rising), None where there is none.

    `periods` are seconds that a pulse may last, where they are known (to 8 per cent); else
    every pulse between 85 and 750 milliseconds is looked for.
    """
    streams = _streams(onsets, periods)
    tried = [replace(one, shares=shares) for one in streams for shares in (_HALVES, _THIRDS)]
    found = [judged for stream in tried if (judged := _judged(onsets, stream))]
    if not found:
        return None
    _, stream = min(found, key=lambda one: one[0])
    return _coarsest(_smoothed(onsets, _followed(onsets, stream), stream))


# -- which streams there may be ---------------------------------------------------


def _streams(onsets: Sequence[float], periods: Sequence[float]) -> list[_Stream]:
    """The streams worth a try, the best of those that are alike."""
    found = sorted(
        (stream for start in _starts(len(onsets)) for stream in _peaks(onsets, start, periods)),
        key=lambda stream: -stream.mean,
    )
    kept: list[_Stream] = []
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


def _peaks(onsets: Sequence[float], start: int, periods: Sequence[float]) -> Iterator[_Stream]:
    """The streams that a piece goes with."""
    piece = onsets[start : start + _PIECE]
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
        yield _Stream(start, period, first, sizes[n])


# -- following one ----------------------------------------------------------------


def _judged(onsets: Sequence[float], stream: _Stream) -> tuple[float, _Stream] | None:
    """The bits a note that a stream costs, by the onsets around its piece."""
    low = max(0, stream.index - _JUDGED // 2)
    some = onsets[low : low + _JUDGED]
    places = _followed(some, replace(stream, index=stream.index - low))
    bits = _bits(places, _knots(some, places))
    return None if bits is None else (bits, stream)


def _followed(onsets: Sequence[float], stream: _Stream) -> list[Fraction | None]:
    """The place of each onset, the stream followed from its piece to both ends."""
    later = list(_walk(onsets[stream.index :], stream.first, stream.period, stream.shares))
    known = [
        (t, place)
        for t, place in zip(onsets[stream.index :], later, strict=True)
        if place is not None
    ][:_LINE]
    back = [-t for t in reversed(onsets[: stream.index])]
    seed = [(-t, -float(place)) for t, place in reversed(known)]
    period, first = stream.period, -stream.first
    if len(seed) >= _FEW:
        first, period = _line(seed)
    earlier = [None if p is None else -p for p in _walk(back, first, period, stream.shares, seed)]
    return _settled(onsets, [*reversed(earlier), *later], stream.shares)


def _settled(
    onsets: Sequence[float], places: list[Fraction | None], shares: _Shares
) -> list[Fraction | None]:
    """The places once more, each by the notes before and after it."""
    points = [(t, float(k)) for t, k in zip(onsets, places, strict=True) if k is not None]
    if len(points) < _LINE:
        return places
    found: list[Fraction | None] = []
    count = 0
    last: Fraction | None = None
    for time, place in zip(onsets, places, strict=True):
        low = max(0, min(count - _LINE // 2, len(points) - _LINE))
        count += place is not None
        now, error = _nearest(time, *_line(points[low : low + _LINE]), shares)
        if abs(error) > _GATE or (last is not None and now <= last):
            found.append(None)
        else:
            found.append(now)
            last = now
    return found


def _walk(
    times: Sequence[float],
    first: float,
    period: float,
    shares: _Shares,
    seed: Sequence[tuple[float, float]] = (),
) -> Iterator[Fraction | None]:
    """The place of each moment; `first` is when pulse 0 falls, `seed` are (second, pulse) pairs
    before the first."""
    recent = list(seed)
    last: Fraction | None = None
    usual = period
    for time in times:
        place, error = _nearest(time, first, period, shares)
        if abs(error) > _GATE or (last is not None and place <= last):
            yield None
            continue
        last = place
        yield place
        recent.append((time, float(place)))
        del recent[:-_LINE]
        if len(recent) >= _FEW:
            first, period = _line(recent)
            if not 0.85 < period / usual < 1.18:
                first, period = _level(recent, usual), usual
        else:
            first = _level([*recent, (first, 0.0)], period)


def _nearest(time: float, first: float, period: float, shares: _Shares) -> tuple[Fraction, float]:
    """The place that a moment is meant for, and how many seconds it lies after it."""
    at = (time - first) / period
    best, least, error = Fraction(0), float("inf"), 0.0
    for share, price in shares:
        whole = round(at - float(share))
        off = (at - whole - float(share)) * period
        cost = (off / _DEVIATION) ** 2 + price
        if cost < least:
            best, least, error = whole + share, cost, off
    return best, error


def _line(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """When pulse 0 falls and how long a pulse lasts, by the line that fits best."""
    count, (start, begun) = len(points), points[0]
    sum_t = sum_k = sum_tk = sum_kk = 0.0
    for time, place in points:
        t, k = time - start, place - begun
        sum_t += t
        sum_k += k
        sum_tk += t * k
        sum_kk += k * k
    period = (sum_tk - sum_t * sum_k / count) / (sum_kk - sum_k * sum_k / count)
    return start + sum_t / count - period * (begun + sum_k / count), period


def _level(points: Sequence[tuple[float, float]], period: float) -> float:
    """When pulse 0 falls, where the period is known."""
    return sum(t - period * k for t, k in points) / len(points)


# -- what a stream costs, and its way through the tune -------------------------------


def _knots(
    onsets: Sequence[float], places: Sequence[Fraction | None]
) -> list[tuple[float, float, float]]:
    """(second as played, smoothed second, place) of the onsets on pulses."""
    points = [(t, float(k)) for t, k in zip(onsets, places, strict=True) if k is not None]
    found = []
    for index, (time, place) in enumerate(points):
        low = max(0, min(index - _LINE // 2, len(points) - _LINE))
        first, period = _line(points[low : low + _LINE])
        found.append((time, first + period * place, place))
    return found


def _bits(
    places: Sequence[Fraction | None], rows: Sequence[tuple[float, float, float]]
) -> float | None:
    """What a note costs to tell: its length in pulses by how often such lengths are, and how
    far off the pulse it is; one on no pulse costs a second at large."""
    kept = [place for place in places if place is not None]
    if len(kept) < max(_FEW, len(places) // 2):
        return None
    errors = [time - smooth for time, smooth, _ in rows]
    deviation = max(sqrt(sum(e * e for e in errors) / len(errors)), _LEAST_DEVIATION)
    steps = Counter(b - a for a, b in pairwise(kept))
    total = sum(steps.values()) + len(steps) / 2
    bits = sum(-n * log((n + 0.5) / total) for n in steps.values()) + 1.5 * len(steps)
    bits += len(kept) * log(deviation * sqrt(2 * pi * 2.72))
    bits += _BROKEN_PRICE * sum(place.denominator > 1 for place in kept)
    lost = len(places) - len(kept)
    share = (lost + 0.5) / (len(places) + 1)
    bits += -lost * log(share) - len(kept) * log(1 - share)
    return bits / len(places)


def _smoothed(onsets: Sequence[float], places: Sequence[Fraction | None], stream: _Stream) -> Pulse:
    """The pulse from its places."""
    rows = _knots(onsets, places)
    knots: list[tuple[float, float]] = []
    for _, second, place in rows:
        if not knots or (second > knots[-1][0] and place > knots[-1][1]):
            knots.append((second, place))
    first = next(place for place in places if place is not None)
    periods = [
        (b[0] - a[0]) / (b[1] - a[1]) for a, b in zip(knots, knots[_LINE:], strict=False)
    ] or [stream.period]
    errors = [time - second for time, second, _ in rows]
    return Pulse(
        tuple(None if place is None else place - first for place in places),
        tuple((second, place - float(first)) for second, place in knots),
        (knots[-1][0] - knots[0][0]) / (knots[-1][1] - knots[0][1]),
        sqrt(sum(e * e for e in errors) / len(errors)),
        max(periods) / min(periods) - 1,
        _bits(places, rows) or 0.0,
    )


def _coarsest(pulse: Pulse) -> Pulse:
    """The pulse of twice the length while all but few onsets fall on every other one."""
    kept = [place for place in pulse.places if place is not None]
    for odd in (0, 1):
        on = sum((place - odd) % 2 == 0 for place in kept)
        if on >= 0.97 * len(kept) and pulse.period * 2 <= LONGEST:
            return _coarsest(
                pulse._replace(
                    places=tuple(None if p is None else p / 2 for p in pulse.places),
                    knots=tuple((second, place / 2) for second, place in pulse.knots),
                    period=pulse.period * 2,
                )
            )
    return pulse
