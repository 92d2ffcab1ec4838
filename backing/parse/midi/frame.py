"""The bars of a MIDI file: from the markers of our own files, else from time signatures."""

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from backing.errors import TuneError
from backing.music.metre import Metre, make_metre
from backing.parse.midi.events import MetreEvent, Said

MOST_BARS = 20_000
#: The longest file, in whole notes: the most bars of ten crotchets.
MOST_WHOLES = 50_000
_CLOCKS_A_WHOLE = 96
_BAR = re.compile(r"bar \d{1,6}")
_PART = re.compile(r"(.{1,80}) part(?:, time \d{1,4})?")
_CLICKS = ("count-in", "gap")
_DEFAULT = MetreEvent(0, 4, 4, 24)
#: A time signature so near to a bar line stands on it.
_NEAR = Fraction(1, 32)
#: More sections than this are not told apart.
_MOST_LABELS = 500
#: So many bars in a row have a metre of their own; fewer may be too long or too short.
_LEAST_RUN = 4


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


def _is_native(event: MetreEvent) -> bool:
    """True where the click is the felt beat of the metre, as in a signature that is meant:
    one that only measures a short bar keeps the click of the tune's metre."""
    clocks = [int(beat * _CLOCKS_A_WHOLE) for beat in metre_of(event).beats]
    if len(set(clocks)) == 1:
        return event.clocks == clocks[0]
    return event.clocks < min(clocks)


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


@dataclass(frozen=True, slots=True)
class OwnFrame:
    """The bars that the markers of one of our own files name; the first is the first of
    the tune, but for a pickup over a count-in, which ends where it begins."""

    spans: list[Span]
    counted_in: bool


def own_frame(said: Said, ppq: int) -> OwnFrame | None:
    """The bars that our own markers name; None where the file has none.

    Markers name each bar, and each section where it begins.  Bars of clicks that stand
    between are kept as bars.  Raises TuneError past 20,000 bars.
    """
    labels = {e.tick: match[1] for e in said.markers if (match := _PART.fullmatch(e.text))}
    if len(labels) > _MOST_LABELS:
        labels = {min(labels): labels[min(labels)]}
    bars = {event.tick for event in said.markers if _BAR.fullmatch(event.text)}
    if not bars or min(bars) not in labels:
        return None
    first = min(bars)
    clicks = {e.tick for e in said.markers if e.text in _CLICKS and e.tick > first} - bars
    ticks = sorted(bars | clicks)
    if len(ticks) > MOST_BARS:
        raise too_long()
    bounds = [*ticks[1:], max(said.end, ticks[-1] + 1)]
    lengths = [near(b - a, ppq) for a, b in zip(ticks, bounds, strict=True)]
    metres = _own_metres(signatures(said), ticks, lengths)
    spans: list[Span] = []
    at = near(first, ppq)
    for tick, length, metre in zip(ticks, lengths, metres, strict=True):
        pieces = list(_pieces(length, metre)) if tick in clicks else [length]
        for piece in pieces:
            spans.append(Span(at, piece, metre))
            at += piece
        spans[-len(pieces)].label = labels.get(tick, "")
    return OwnFrame(spans, counted_in=first > 0)


def _pieces(length: Fraction, metre: Metre) -> Iterator[Fraction]:
    """A stretch of clicks as bars."""
    count = min(length // metre.length, 64)
    yield from [metre.length] * (count - 1)
    yield length - metre.length * max(count - 1, 0)


def _own_metres(events: list[MetreEvent], ticks: list[int], lengths: list[Fraction]) -> list[Metre]:
    """The metre of each bar.  A signature of our own files may only say how long a bar is
    that is longer or shorter than its metre: the metre before it is meant then."""
    starts = [event.tick for event in events]
    owners = [bisect_right(starts, tick) - 1 for tick in ticks]
    counts: dict[int, int] = {}
    for owner, length in zip(owners, lengths, strict=True):
        full = length >= metre_of(events[owner]).length
        counts[owner] = counts.get(owner, 0) + (2 if full else 1)
    counted_in = {0} if ticks[0] > 0 else set()
    meant = {
        owner
        for owner, count in counts.items()
        if owner in counted_in or (count >= 2 * _LEAST_RUN and _is_native(events[owner]))
    } or {max(counts, key=lambda owner: (counts[owner], -owner))}
    first = next(owner for owner in owners if owner in meant)
    current = metre_of(events[0 if counted_in else first])
    metres = []
    for owner in owners:
        if owner in meant:
            current = metre_of(events[owner])
        metres.append(current)
    return metres
