"""A stream of moments followed through a tune: a line through the last notes tells where
the next pulse is due, so that a slow drift is followed too.
"""

from collections.abc import Iterator, Sequence

from backing.parse.midi.pulse_streams import PulseShares, PulseStream

#: Places are counted in sixths of a pulse.
SIXTHS = 6
#: Notes that a line counts at most and at least, and the seconds that more may lie in.
LINE, FEW, _SPAN = 18, 8, 4.0
#: Seconds: how far onsets lie from where they were meant, how far at most.
_DEVIATION, _GATE = 0.012, 0.045


def follow(onsets: Sequence[float], stream: PulseStream) -> list[int | None]:
    """The place of each onset (sixths of a pulse), the stream followed from its piece to both
    ends."""
    later = list(_walk(onsets[stream.index :], stream.first, stream.period, stream.shares))
    known = [
        (t, place)
        for t, place in zip(onsets[stream.index :], later, strict=True)
        if place is not None
    ][:LINE]
    back = [-t for t in reversed(onsets[: stream.index])]
    seed = [(-t, -place / SIXTHS) for t, place in reversed(known)]
    period, first = stream.period, -stream.first
    if len(seed) >= FEW:
        first, period = _line(seed)
    earlier = [None if p is None else -p for p in _walk(back, first, period, stream.shares, seed)]
    return _settled(onsets, [*reversed(earlier), *later], stream.shares)


def _settled(
    onsets: Sequence[float], places: list[int | None], shares: PulseShares
) -> list[int | None]:
    """The places once more, each by the notes before and after it."""
    points = [(t, k / SIXTHS) for t, k in zip(onsets, places, strict=True) if k is not None]
    if len(points) < LINE:
        return places
    found: list[int | None] = []
    count = 0
    last: int | None = None
    for time, place in zip(onsets, places, strict=True):
        around = points[_around(points, count)]
        count += place is not None
        now, error = _nearest(time, *_line(around), shares)
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
    shares: PulseShares,
    seed: Sequence[tuple[float, float]] = (),
) -> Iterator[int | None]:
    """The place of each moment; `first` is when pulse 0 falls, `seed` are (second, pulse) pairs
    before the first."""
    recent = list(seed)
    last: int | None = None
    usual = period
    for time in times:
        place, error = _nearest(time, first, period, shares)
        if abs(error) > _GATE or (last is not None and place <= last):
            yield None
            continue
        last = place
        yield place
        recent.append((time, place / SIXTHS))
        del recent[: -_most(recent)]
        if len(recent) >= FEW:
            first, period = _line(recent)
            if not 0.85 < period / usual < 1.18:
                first, period = _level(recent, usual), usual
        else:
            first = _level([*recent, (first, 0.0)], period)


def _most(recent: Sequence[tuple[float, float]]) -> int:
    """How many of the last points a line counts."""
    now, count = recent[-1][0], min(len(recent), LINE)
    while count > FEW and now - recent[-count][0] > _SPAN:
        count -= 1
    return count


def _around(points: Sequence[tuple[float, float]], index: int) -> slice:
    """Which points the line around one counts, before and after it."""
    now = points[min(index, len(points) - 1)][0]
    low = max(0, min(index - LINE // 2, len(points) - LINE))
    high = min(low + LINE, len(points))
    while high - low > FEW and max(now - points[low][0], points[high - 1][0] - now) > _SPAN / 2:
        if now - points[low][0] > points[high - 1][0] - now:
            low += 1
        else:
            high -= 1
    return slice(low, high)


def _nearest(time: float, first: float, period: float, shares: PulseShares) -> tuple[int, float]:
    """The place that a moment is meant for (sixths of a pulse), and how many seconds it lies
    after it."""
    at = (time - first) / period
    whole, best, least, error = 0, 0.0, float("inf"), 0.0
    for share, price in shares:
        pulse = round(at - share)
        off = (at - pulse - share) * period
        cost = (off / _DEVIATION) ** 2 + price
        if cost < least:
            whole, best, least, error = pulse, share, cost, off
    return whole * SIXTHS + round(best * SIXTHS), error


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


def knots_of(
    onsets: Sequence[float], places: Sequence[int | None]
) -> list[tuple[float, float, float]]:
    """(second as played, smoothed second, pulse) of the onsets on pulses."""
    points = [(t, k / SIXTHS) for t, k in zip(onsets, places, strict=True) if k is not None]
    found = []
    for index, (time, place) in enumerate(points):
        first, period = _line(points[_around(points, index)])
        found.append((time, first + period * place, place))
    return found
