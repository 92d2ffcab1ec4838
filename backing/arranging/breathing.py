"""Which way the bellows of a box go, and where they take a new breath.

A direction that is held for two felt beats or more is a new breath; quicker turns belong to the
breath before, or the pressure would pump.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.box_true import Side
from backing.music.played import MappedBar, later

#: A new breath is held for so many felt beats at least.
_HELD = 2


class BellowsSpan(NamedTuple):
    """The bellows of a box go one `way`, "push" or "pull", from `start` to `stop`; `beat` is the
    length of a felt beat where that begins."""

    start: Fraction
    stop: Fraction
    way: str
    beat: Fraction

    def new_breath_after(self, way: str) -> bool:
        """True where the bellows, that went another way before ("" for not yet), take a new
        breath: they hold this way for two felt beats or more, so that nothing pumps."""
        return way not in ("", self.way) and self.stop - self.start >= _HELD * self.beat


def bellows_of(side: Side, bars: Sequence[MappedBar]) -> Iterator[BellowsSpan]:
    """How the bellows go through the bars of a tune as it is played."""
    starts = [bar.onset for bar in bars]

    def placed() -> Iterator[BellowsSpan]:
        for start, stop, way in side.stretches(bars[0].onset, bars[-1].stop):
            bar = bars[max(bisect_right(starts, start) - 1, 0)]
            yield BellowsSpan(start, stop, way, bar.metre.felt_beat)

    return one_way_each(placed())


def bellows_between(
    spans: Sequence[BellowsSpan], start: Fraction, stop: Fraction
) -> Iterator[BellowsSpan]:
    """How the bellows go in the span [start, stop), from spans in order."""
    for span in spans[bisect_right(spans, start, key=_stop) :]:
        if span.start >= stop:
            return
        yield span._replace(start=max(span.start, start), stop=min(span.stop, stop))


def _stop(span: BellowsSpan) -> Fraction:
    return span.stop


def one_way_each(spans: Iterable[BellowsSpan]) -> Iterator[BellowsSpan]:
    """The same bellows, neighbours that go the same way as one span."""
    last: BellowsSpan | None = None
    for span in spans:
        if last is not None and (last.way, last.stop) == (span.way, span.start):
            last = last._replace(stop=span.stop)
            continue
        if last is not None:
            yield last
        last = span
    if last is not None:
        yield last


def bellows_later(spans: Iterable[BellowsSpan], by: Fraction) -> Iterator[BellowsSpan]:
    """The same bellows later by `by`."""
    for start, stop, way, beat in spans:
        yield BellowsSpan(later(start, by), later(stop, by), way, beat)
