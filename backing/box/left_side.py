"""The bass side under a melody's fingering: which way the bellows go, and what is there."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.box.at_hand import AtHand, Found, at_hand
from backing.box.fingering import DirectionSpan, Fingering
from backing.box.layout import Direction, Layout
from backing.music.chord import Chord


class ChordSpan(NamedTuple):
    """A chord that is wanted from `start` to `stop`."""

    start: Fraction
    stop: Fraction
    chord: Chord


class LeftSide:
    """A box's bass side.  Where the melody rests the bellows are free: they go on as they
    went, and turn where only the other way has the chord."""

    def __init__(self, fingering: Fingering, wanted: Sequence[ChordSpan]) -> None:
        self._layout = fingering.layout
        self._spans = list(_without_gaps(fingering.spans, wanted, fingering.layout))
        self._starts = [span.start for span in self._spans]
        #: The number of the span that was asked for last: the next is mostly there or near.
        self._last = 0
        #: What is at hand for a chord, and for a bass under it: the same ones come again all
        #: through a tune.
        self._at_hand: dict[tuple[Chord, str], AtHand] = {}
        self._basses = {way.value: frozenset(self._layout.basses(way)) for way in Direction}

    @property
    def thirds(self) -> bool:
        """False where the thirds are out."""
        return self._layout.thirds

    @property
    def lowest_bass(self) -> int:
        """The lowest MIDI key of the bass reeds."""
        return self._layout.lowest_bass

    @property
    def lowest_chord(self) -> int:
        """The lowest MIDI key of the chord reeds."""
        return self._layout.lowest_chord

    def stretches(self, start: Fraction, stop: Fraction) -> list[tuple[Fraction, Fraction, str]]:
        """Which way the bellows go from one position to another."""
        at, starts = self._number_at(start), self._starts
        if start < stop and (at + 1 >= len(starts) or starts[at + 1] >= stop):
            return [(start, stop, self._spans[at].direction.value)]
        found: list[tuple[Fraction, Fraction, str]] = []
        position = start
        while position < stop:
            last = at + 1 >= len(starts)
            until = stop if last or starts[at + 1] >= stop else starts[at + 1]
            if until > position:
                found.append((position, until, self._spans[at].direction.value))
                position = until
            at += 0 if last else 1
        return found

    def _number_at(self, position: Fraction) -> int:
        """The number of the span at a position, or of the first before all of them."""
        starts, at = self._starts, self._last
        if starts[at] > position or (at + 1 < len(starts) and starts[at + 1] <= position):
            at = self._last = max(bisect_right(starts, position) - 1, 0)
        return at

    def way_at(self, position: Fraction) -> Direction:
        """Which way the bellows go at a position."""
        return self._spans[self._number_at(position)].direction

    def melody_has(self, key: int, position: Fraction) -> bool:
        """True where the right hand has a MIDI key as the bellows go at a position."""
        return self.way_at(position) in self._layout.directions(key)

    def chord(self, wanted: Chord, way: str) -> Chord | None:
        """The chord button for a chord in a direction, or what stands for it."""
        return self._for(wanted, way).chord

    def bass(self, wanted: Chord, tone: int, way: str) -> int | None:
        """The bass button for a pitch class under a chord, or what stands for it."""
        return tone if tone in self._basses[way] else self._for(wanted, way).bass

    def _for(self, wanted: Chord, way: str) -> AtHand:
        known = wanted, way
        if known not in self._at_hand:
            self._at_hand[known] = at_hand(self._layout, wanted, Direction(way))
        return self._at_hand[known]


def _without_gaps(
    spans: Sequence[DirectionSpan], wanted: Sequence[ChordSpan], layout: Layout
) -> Iterable[DirectionSpan]:
    """The melody's directions with those of the gaps between, which follow the chords."""
    before: DirectionSpan | None = None
    starts = [span.start for span in wanted]
    for span in spans:
        if before is not None and before.stop < span.start:
            yield from _in_gap(before.stop, span.start, before.direction, wanted, starts, layout)
        yield span
        before = span
    if before is not None:
        stop = max([before.stop, *(span.stop for span in wanted[-1:])])
        yield from _in_gap(before.stop, stop, before.direction, wanted, starts, layout)


def _in_gap(
    start: Fraction,
    stop: Fraction,
    direction: Direction,
    wanted: Sequence[ChordSpan],
    starts: Sequence[Fraction],
    layout: Layout,
) -> Iterable[DirectionSpan]:
    at = max(bisect_right(starts, start) - 1, 0)
    while start < stop:
        chord = wanted[at].chord if at < len(wanted) else None
        until = min(wanted[at + 1].start, stop) if at + 1 < len(wanted) else stop
        if until > start:
            if chord is not None and _better(layout, chord, direction.other, direction):
                direction = direction.other
            yield DirectionSpan(start, until, direction)
            start = until
        at += 1


def _better(layout: Layout, chord: Chord, one: Direction, other: Direction) -> bool:
    ranks = list(Found)
    return ranks.index(at_hand(layout, chord, one).found) < ranks.index(
        at_hand(layout, chord, other).found
    )
