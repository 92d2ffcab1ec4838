"""A whole tune unfolded once: every track's events at absolute musical positions.

Positions are `Fraction`s of a whole note; the first full bar starts at 0, a pickup
before it is negative.  Spans are half-open.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.breathing import BellowsSpan, bellows_between, bellows_later, one_way_each
from backing.music.played import BarShape, MappedBar, later
from backing.music.tempo import Tempo

__all__ = [
    "BASS", "CHANNELS", "CUT", "LEFT_HAND", "LEVELS", "PROGRAMS", "TRILL", "Arrangement",
    "BarShape", "Event", "MappedBar", "Origin", "PlacedTempo", "PlacedText", "Role", "TimeLimit",
    "Track", "cut", "join", "move_events", "shifted",
]  # fmt: skip


class Role(StrEnum):
    """What a track is for."""

    MELODY = "melody"
    BASS = "bass"
    CHORDS = "chords"
    SECOND = "second"
    CLICK = "click"


#: Channels as players count them, 1 to 16; 10 is percussion in General MIDI.
CHANNELS = {Role.MELODY: 1, Role.BASS: 2, Role.CHORDS: 3, Role.SECOND: 4, Role.CLICK: 10}
#: General MIDI programs as printed, 1 to 128: 22 accordion, 24 tango accordion (a dry
#: box, for the left hand); percussion has none.
PROGRAMS = {Role.MELODY: 22, Role.BASS: 24, Role.CHORDS: 24, Role.SECOND: 22, Role.CLICK: 1}
#: Balance, as channel volume 0 to 127: the tune in front; styles set the left hand's own.
LEVELS = {Role.MELODY: 110, Role.BASS: 88, Role.CHORDS: 88, Role.SECOND: 90, Role.CLICK: 90}
#: Roles whose held notes are struck again where a cut begins.
LEFT_HAND = frozenset({Role.BASS, Role.CHORDS})


class Origin(NamedTuple):
    """Where an event comes from: voice, index of the bar, index of the note in it.

    Voice and note are -1 for what the tune does not write: left hand and click.
    """

    voice: int
    bar: int
    note: int


class TimeLimit(NamedTuple):
    """How long a note lasts at any tempo: `least` and `most` seconds; None for no limit.

    Where a note is ended early, what follows it at once begins early.
    """

    least: Fraction = Fraction(0)
    most: Fraction | None = None


#: A cut is a flick of the finger, however slow the practice (a working value).
CUT = TimeLimit(most=Fraction(60, 1000))
#: A trill has at most eleven notes a second: where its own are quicker it has fewer (a working
#: value).
TRILL = TimeLimit(least=Fraction(1, 11))
#: A bass reed needs so long to speak (a working value).
BASS = TimeLimit(least=Fraction(110, 1000))


class Event(NamedTuple):
    """Pitches (MIDI key numbers) struck together; velocity 1 to 127; a limit in seconds, which
    is kept where the tempo is known."""

    onset: Fraction
    length: Fraction
    pitches: tuple[int, ...]
    velocity: int
    origin: Origin
    limit: TimeLimit | None = None

    @property
    def stop(self) -> Fraction:
        """Where it ends."""
        return later(self.onset, self.length)


class Track(NamedTuple):
    """A line of events in the order of their onsets; muted ones keep their events."""

    role: Role
    channel: int
    program: int
    level: int
    muted: bool = False
    events: tuple[Event, ...] = ()


class PlacedTempo(NamedTuple):
    """A tempo that begins at a position; `held` marks one that a fermata slows down."""

    onset: Fraction
    tempo: Tempo
    held: bool = False


class PlacedText(NamedTuple):
    """A chord symbol's text at a position."""

    onset: Fraction
    text: str


class Arrangement(NamedTuple):
    """A tune with its backing, unfolded once, or a piece cut from it.

    `bars` follow each other without a gap from `start` to `stop`, in whole notes, the first
    full bar at 0.  `tempos` begin with the one at the start.  `bellows` are the ways that a
    box's go, without gaps; none without a box.
    """

    title: str
    bars: tuple[MappedBar, ...]
    tracks: tuple[Track, ...]
    tempos: tuple[PlacedTempo, ...]
    chords: tuple[PlacedText, ...] = ()
    bellows: tuple[BellowsSpan, ...] = ()

    @property
    def start(self) -> Fraction:
        """Where the first bar begins; negative for a pickup."""
        return self.bars[0].onset

    @property
    def stop(self) -> Fraction:
        """Where the last bar ends."""
        return self.bars[-1].stop

    def tempo_at(self, position: Fraction) -> Tempo:
        """The tempo in force at a position, fermatas left aside."""
        steady = [p for p in self.tempos if not p.held]
        return next((p.tempo for p in reversed(steady) if p.onset <= position), steady[0].tempo)


def cut(arrangement: Arrangement, start: Fraction, stop: Fraction) -> Arrangement:
    """What sounds in the span [start, stop), with the bars that lie in it.

    A melody note that began before the span is not struck again; held bass and chords
    are.  What reaches past the end is ended there.  Positions stay as they are.
    """
    if start <= arrangement.start and stop >= arrangement.stop:
        return arrangement
    return arrangement._replace(
        bars=tuple(bar for bar in arrangement.bars if start <= bar.onset < stop),
        tracks=tuple(
            track._replace(events=_cut_events(track, start, stop)) for track in arrangement.tracks
        ),
        tempos=(
            PlacedTempo(start, arrangement.tempo_at(start)),
            *(placed for placed in arrangement.tempos if start <= placed.onset < stop),
        ),
        chords=tuple(text for text in arrangement.chords if start <= text.onset < stop),
        bellows=tuple(bellows_between(arrangement.bellows, start, stop)),
    )


def _cut_events(track: Track, start: Fraction, stop: Fraction) -> tuple[Event, ...]:
    events = track.events
    first, last = (bisect_left(events, at, key=_onset) for at in (start, stop))
    held = []
    if track.role in LEFT_HAND and first:
        longest = max(event.length for event in events[:first])
        since = bisect_right(events, start - longest, key=_onset)
        held = [event for event in events[since:first] if event.stop > start]
    return (
        *(e._replace(onset=start, length=min(e.stop, stop) - start) for e in held),
        *(
            event if event.stop <= stop else event._replace(length=stop - event.onset)
            for event in events[first:last]
        ),
    )


def _onset(event: Event) -> Fraction:
    return event.onset


def shifted(arrangement: Arrangement, by: Fraction) -> Arrangement:
    """The same at positions later by `by` (earlier where it is negative)."""
    if not by:
        return arrangement
    return arrangement._replace(
        bars=tuple(replace(bar, onset=bar.onset + by) for bar in arrangement.bars),
        tracks=tuple(
            track._replace(events=tuple(move_events(track.events, by)))
            for track in arrangement.tracks
        ),
        tempos=tuple(PlacedTempo(p.onset + by, p.tempo, p.held) for p in arrangement.tempos),
        chords=tuple(PlacedText(p.onset + by, p.text) for p in arrangement.chords),
        bellows=tuple(bellows_later(arrangement.bellows, by)),
    )


def move_events(events: Iterable[Event], by: Fraction) -> Iterable[Event]:
    """The same events later by `by`."""
    if not by:
        return events
    return [
        Event(later(onset, by), length, pitches, velocity, origin, limit)
        for onset, length, pitches, velocity, origin, limit in events
    ]


def join(pieces: list[Arrangement]) -> Arrangement:
    """Pieces one after the other, the first where it is, each next at the end of the last."""
    joined = pieces[0]
    for following in pieces[1:]:
        piece = shifted(following, joined.stop - following.start)
        joined = joined._replace(
            bars=joined.bars + piece.bars,
            tracks=tuple(
                track._replace(events=track.events + other.events)
                for track, other in zip(joined.tracks, piece.tracks, strict=True)
            ),
            tempos=joined.tempos + piece.tempos,
            chords=joined.chords + piece.chords,
            bellows=tuple(one_way_each(joined.bellows + piece.bellows)),
        )
    return joined
