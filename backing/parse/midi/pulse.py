"""The pulse of a tune that was played without a click: found from seconds alone.

A pulse is an even stream of moments, mostly the quavers, that nearly all onsets fall on.
Pieces of the tune tell which streams there may be (`pulse_streams`); each is followed through the
tune (`pulse_walk`).  The
stream that tells the onsets in the fewest bits is taken: what is left between notes and pulses,
and how many different lengths it makes of the notes, both count.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import log, pi, sqrt
from typing import NamedTuple

from backing.parse.midi.pulse_streams import HALVES, LONGEST, THIRDS, PulseStream, streams_of
from backing.parse.midi.pulse_walk import FEW, LINE, SIXTHS, follow, knots_of

#: How many onsets a stream is judged by.
_JUDGED = 800
#: Seconds that onsets lie off at least; what a place that is a share of a pulse costs.
_LEAST_DEVIATION, _BROKEN_PRICE = 0.003, 0.2
#: The share of onsets that fall on every other pulse where this is the pulse.
_EVERY_OTHER = 0.97


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


def find_pulse(onsets: Sequence[float], periods: Sequence[float] = ()) -> Pulse | None:
    """The pulse of onsets (seconds, rising), None where there is none.

    `periods` are seconds that a pulse may last, where they are known (to 8 per cent); else
    every pulse between 85 and 750 milliseconds is looked for.
    """
    streams = streams_of(onsets, periods)
    tried = [replace(one, shares=shares) for one in streams for shares in (HALVES, THIRDS)]
    found = [judged for stream in tried if (judged := _judged(onsets, stream))]
    if not found:
        return None
    _, stream = min(found, key=lambda one: one[0])
    return _smoothed(onsets, follow(onsets, stream), stream)


def _judged(onsets: Sequence[float], stream: PulseStream) -> tuple[float, PulseStream] | None:
    """The bits a note that a stream costs, by the onsets around its piece."""
    low = max(0, stream.index - _JUDGED // 2)
    some = onsets[low : low + _JUDGED]
    places = follow(some, replace(stream, index=stream.index - low))
    if sum(place is not None for place in places) < FEW:
        return None
    bits = _bits(places, knots_of(some, places))
    return None if bits is None else (bits, stream)


def _bits(places: Sequence[int | None], rows: Sequence[tuple[float, float, float]]) -> float | None:
    """What a note costs to tell: its length in pulses by how often such lengths are, and how
    far off the pulse it is; one on no pulse costs a second at large."""
    kept = [place for place in places if place is not None]
    if len(kept) < max(FEW, len(places) // 2):
        return None
    errors = [time - smooth for time, smooth, _ in rows]
    deviation = max(sqrt(sum(e * e for e in errors) / len(errors)), _LEAST_DEVIATION)
    steps = Counter(b - a for a, b in pairwise(kept))
    total = sum(steps.values()) + len(steps) / 2
    bits = sum(-n * log((n + 0.5) / total) for n in steps.values()) + 1.5 * len(steps)
    bits += len(kept) * log(deviation * sqrt(2 * pi * 2.72))
    bits += _BROKEN_PRICE * sum(place % SIXTHS > 0 for place in kept)
    lost = len(places) - len(kept)
    share = (lost + 0.5) / (len(places) + 1)
    bits += -lost * log(share) - len(kept) * log(1 - share)
    return bits / len(places)


def _smoothed(onsets: Sequence[float], places: Sequence[int | None], stream: PulseStream) -> Pulse:
    """The pulse from its places."""
    rows = knots_of(onsets, places)
    knots: list[tuple[float, float]] = []
    for _, second, place in rows:
        if not knots or (second > knots[-1][0] and place > knots[-1][1]):
            knots.append((second, place))
    kept = [place for place in places if place is not None]
    ((phase, _),) = Counter(place % SIXTHS for place in kept).most_common(1)
    first = kept[0] - (kept[0] - phase) % SIXTHS
    unit = _coarsest([place - first for place in kept], stream.period)
    periods = [
        (b[0] - a[0]) / (b[1] - a[1]) for a, b in zip(knots, knots[LINE:], strict=False)
    ] or [stream.period]
    errors = [time - second for time, second, _ in rows]
    return Pulse(
        tuple(None if place is None else Fraction(place - first, unit) for place in places),
        tuple((second, (place * SIXTHS - first) / unit) for second, place in knots),
        (knots[-1][0] - knots[0][0]) / (knots[-1][1] - knots[0][1]) * unit / SIXTHS,
        sqrt(sum(e * e for e in errors) / len(errors)),
        max(periods) / min(periods) - 1,
        _bits(places, rows) or 0.0,
    )


def _coarsest(places: Sequence[int], period: float) -> int:
    """How many sixths make a pulse: twice as many while all but few onsets fall on every
    other one."""
    unit = SIXTHS
    while period * unit / SIXTHS * 2 <= LONGEST:
        counts = Counter(place % (2 * unit) for place in places)
        if max(counts[0], counts[unit]) < _EVERY_OTHER * len(places):
            break
        unit *= 2
    return unit
