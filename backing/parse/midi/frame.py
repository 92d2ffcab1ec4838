"""The bars of a MIDI file: from the markers of our own files, else from time signatures."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from backing.errors import TuneError
from backing.music.metre import Metre, make_metre
from backing.music.unfold import MOST_BARS
from backing.parse.midi.events import MetreEvent, Said
from backing.parse.midi.told import in_force, told_metres

_CLOCKS_A_WHOLE = 96
_BAR = re.compile(r"bar \d{1,6}")
_PART = re.compile(r"(.{1,80}) part(?:, time \d{1,4})?")
_CLICKS = ("count-in", "gap")
_DEFAULT = MetreEvent(0, 4, 4, 24)
#: A time signature so near to a bar line stands on it.
_NEAR = Fraction(1, 32)
#: More sections than this are not told apart.
_MOST_LABELS = 500


@dataclass(slots=True)
class Span:
    """A bar in the making; `start` counts in whole notes from the start of the file."""

    start: Fraction
    length: Fraction
    metre: Metre
    label: str = ""

    @property
    def stop(self) -> Fraction:
        """Where it ends."""
        return self.start + self.length


def full_bar(metre: Metre) -> Fraction:
    """Length of a full bar; four crotchets in free metre."""
    return metre.length or Fraction(1)


def near(ticks: int, ppq: int) -> Fraction:
    """So many ticks as a length: the simplest of those that may be meant.

    A length lies between two places that were rounded, so it may be a tick off.

    >>> near(1280, 960), near(320, 960), near(137, 960)
    (Fraction(1, 3), Fraction(1, 12), Fraction(1, 28))
    """
    exact = Fraction(ticks, 4 * ppq)
    if plain(exact) or ticks <= 1:
        return exact
    return simplest(Fraction(ticks - 1, 4 * ppq), Fraction(ticks + 1, 4 * ppq))


def plain(length: Fraction) -> bool:
    """True for what notes without tuplets add up to.

    >>> plain(Fraction(7, 8)), plain(Fraction(1, 12))
    (True, False)
    """
    return length.denominator & (length.denominator - 1) == 0


def simplest(low: Fraction, high: Fraction) -> Fraction:
    """The fraction with the smallest denominator between two bounds, both counted in.

    >>> simplest(Fraction(311, 1000), Fraction(339, 1000))
    Fraction(1, 3)
    """
    floor = low.numerator // low.denominator
    if floor == low:
        return low
    if floor + 1 <= high:
        return Fraction(floor + 1)
    return floor + 1 / simplest(1 / (high - floor), 1 / (low - floor))


# -- time signatures ------------------------------------------------------------


def metre_of(event: MetreEvent) -> Metre:
    """The metre of a time signature, felt in the beats of its click where they are longer.

    >>> metre_of(MetreEvent(0, 4, 4, 48)).feel
    '2/2'
    """
    metre = make_metre(event.upper, event.lower)
    beat = Fraction(event.clocks, _CLOCKS_A_WHOLE)
    count = metre.length / beat if beat else Fraction(0)
    if beat.numerator == 1 and count.denominator == 1 and 2 <= count < len(metre.beats):
        return metre.with_beats(*[beat] * int(count))
    return metre


def signatures(said: Said) -> list[MetreEvent]:
    """The time signatures, one at a tick, each where it changes; 4/4 before the first."""
    found: list[MetreEvent] = []
    for event in said.metres:
        if found and found[-1].tick == event.tick:
            found.pop()
        if not found or found[-1][1:] != event[1:]:
            found.append(event)
    if not found or found[0].tick > 0:
        found.insert(0, _DEFAULT)
    return found


def signature_frame(events: Sequence[MetreEvent], ppq: int, stop: Fraction) -> list[Span]:
    """The bars that time signatures make, from the start of the file to `stop` or past it.

    A signature inside a bar ends that bar.  Raises TuneError past 20,000 bars.
    """
    spans: list[Span] = []
    at = Fraction(0)
    for index, event in enumerate(events):
        metre = metre_of(event)
        until = near(events[index + 1].tick, ppq) if index + 1 < len(events) else stop
        last = index + 1 == len(events)
        while at < until and (last or until - at > _NEAR or not spans):
            length = metre.length if last else min(metre.length, until - at)
            if not last and 0 < until - at - length < _NEAR:
                length = until - at
            spans.append(Span(at, length, metre))
            at += length
            if len(spans) > MOST_BARS:
                raise too_long()
    return spans


def even_frame(metre: Metre, first: Fraction, stop: Fraction) -> list[Span]:
    """Bars of one metre from 0 to `stop` or past it, one of them beginning at `first`; the
    first is cut where it would begin before 0."""
    at = first - metre.length * -(-first // metre.length)
    spans: list[Span] = []
    while not spans or at < stop:
        start = max(at, Fraction(0))
        at += metre.length
        spans.append(Span(start, at - start, metre))
        if len(spans) > MOST_BARS:
            raise too_long()
    return spans


def too_long() -> TuneError:
    """The error for a tune past 20,000 bars."""
    return TuneError(
        f"the tune would have more than {MOST_BARS:,} bars",
        "the last notes may stand far behind the others, or the metre may be wrong",
    )


# -- our own markers ------------------------------------------------------------


def own_frame(said: Said, ppq: int, stop: int) -> list[Span] | None:
    """The bars that the markers of one of our own files name, from the first of the tune.

    Markers name each bar, each section where it begins, and the end; texts name the
    metres.  Bars of clicks that stand between are kept as bars.  None where one of them
    is missing, where metres and signatures do not agree, or where a note ends after the
    end (`stop`, a tick).  Raises TuneError past 20,000 bars.
    """
    labels = {e.tick: match[1] for e in said.markers if (match := _PART.fullmatch(e.text))}
    if len(labels) > _MOST_LABELS:
        labels = {min(labels): labels[min(labels)]}
    bars = {event.tick for event in said.markers if _BAR.fullmatch(event.text)}
    end = max((event.tick for event in said.markers if event.text == "end"), default=0)
    if not bars or min(bars) not in labels or end <= max(bars) or end + 1 < stop:
        return None
    clicks = {e.tick for e in said.markers if e.text in _CLICKS and min(bars) < e.tick < end}
    ticks = sorted(bars | clicks)
    if len(ticks) > MOST_BARS:
        raise too_long()
    lengths = [near(b - a, ppq) for a, b in pairwise([*ticks, end])]
    metres = _own_metres(said, ticks, lengths)
    if metres is None:
        return None
    full = (length / full_bar(metre) for length, metre in zip(lengths, metres, strict=True))
    if sum(full) > MOST_BARS:
        raise too_long()
    spans: list[Span] = []
    at = near(ticks[0], ppq)
    for tick, length, metre in zip(ticks, lengths, metres, strict=True):
        pieces = list(_pieces(length, metre)) if tick in clicks - bars else [length]
        for piece in pieces:
            spans.append(Span(at, piece, metre))
            at += piece
        spans[-len(pieces)].label = labels.get(tick, "")
    return spans


def _pieces(length: Fraction, metre: Metre) -> Iterator[Fraction]:
    """A stretch of clicks as bars."""
    full = full_bar(metre)
    count = min(length // full, 64)
    yield from [full] * (count - 1)
    yield length - full * max(count - 1, 0)


def _own_metres(
    said: Said, ticks: Sequence[int], lengths: Sequence[Fraction]
) -> list[Metre] | None:
    """The metre of each bar, as the texts name it; None where a full bar's time signature
    is another."""
    told = told_metres(said)
    events = [(event.tick, (event.upper, event.lower)) for event in signatures(said)]
    metres = []
    for tick, length in zip(ticks, lengths, strict=True):
        metre = in_force(told, tick)
        if metre is None:
            return None
        if length == metre.length and in_force(events, tick) != (metre.count, metre.unit):
            return None
        metres.append(metre)
    return metres
