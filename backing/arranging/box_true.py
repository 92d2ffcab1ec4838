"""A left hand that a box can really play: only what it has in the direction of the bellows.

Both hands share one direction at every moment.  At a reversal a left-hand note ends; where
it was to go on it is struck again on the next beat, with what the other direction has.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from typing import Protocol, TypeVar

from backing.arranging.figures import SHORTEST, HandPress
from backing.music.chord import Chord
from backing.music.played import MappedBar, later

#: From one position to another the bellows go one way, "push" or "pull".
BellowsStretch = tuple[Fraction, Fraction, str]


Sounds = TypeVar("Sounds", tuple[int, ...], Chord)


class Side(Protocol):
    """The bass side of a box under a melody's bellows."""

    @property
    def thirds(self) -> bool:
        """False where its chords sound root and fifth."""

    @property
    def lowest_bass(self) -> int:
        """The lowest MIDI key of its bass reeds."""

    @property
    def lowest_chord(self) -> int:
        """The lowest MIDI key of its chord reeds."""

    def stretches(self, start: Fraction, stop: Fraction) -> Sequence[BellowsStretch]:
        """Which way the bellows go from one position to another, without gaps."""

    def chord(self, wanted: Chord, way: str) -> Chord | None:
        """The chord button for a chord, or what stands for it; None: rest."""

    def bass(self, wanted: Chord, tone: int, way: str) -> int | None:
        """The bass button for a pitch class under a chord, or what stands for it."""

    def melody_has(self, key: int, position: Fraction) -> bool:
        """True where the right hand has a MIDI key as the bellows go at a position."""


def on_side(
    found: Sequence[HandPress],
    bars: Sequence[MappedBar],
    side: Side,
    sounds: Callable[[int, str], Sounds | None],
) -> Iterator[tuple[HandPress, Sounds]]:
    """The presses of one hand as a box can play them, each with what sounds.

    `sounds` gives that for the press of this number in a direction: MIDI keys, a chord, None or
    no keys where the box has nothing.
    """
    next_beat = partial(_next_beat, bars, [bar.onset for bar in bars])
    for number, press in enumerate(found):
        ends = found[number + 1].onset if number + 1 < len(found) else None
        for onset, length, way in _pieces(press, ends, next_beat, side):
            sounding = sounds(number, way)
            if sounding:
                whole = onset is press.onset and length is press.length
                yield press if whole else press._replace(onset=onset, length=length), sounding


def _pieces(
    press: HandPress,
    ends: Fraction | None,
    next_beat: Callable[[Fraction], Fraction | None],
    side: Side,
) -> Iterator[tuple[Fraction, Fraction, str]]:
    """Where a press sounds in one direction: from its onset, and from the first beat after
    each reversal in it."""
    stop = later(press.onset, press.length)
    cut = ends is not None and ends < stop
    stretches = side.stretches(press.onset, ends if cut and ends is not None else stop)
    if len(stretches) == 1 and not cut:
        yield press.onset, press.length, stretches[0][2]
        return
    for number, (start, end, way) in enumerate(stretches):
        onset = next_beat(start) if number else start
        if onset is None:
            return
        length = end - onset
        if length >= SHORTEST or (length > 0 and length == press.length):
            yield onset, length, way


def _next_beat(
    bars: Sequence[MappedBar], starts: Sequence[Fraction], position: Fraction
) -> Fraction | None:
    """The first beat at a position or after it; None after the last.  `starts` are the onsets of
    the bars."""
    for bar in bars[max(bisect_right(starts, position) - 1, 0) :]:
        for at, _, _ in bar.beats():
            if bar.onset + at >= position:
                return bar.onset + at
    return None
