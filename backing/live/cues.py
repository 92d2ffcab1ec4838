"""A leg of a practice as cues: what is to be sent, and what there is to show, tick by tick.

Cues are made bar by bar, so that a long tune costs no more at once than a short one.
Muted tracks are among them: whether they sound is decided when their time comes.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import replace
from enum import IntEnum
from fractions import Fraction
from itertools import count, takewhile
from typing import NamedTuple

from backing.arranging.arrangement import (
    LEFT_HAND,
    Event,
    MappedBar,
    PlacedText,
    Role,
    Track,
    move_events,
)
from backing.practice.course import Leg
from backing.practice.performance import clicks
from backing.practice.route import Kind, Stretch
from backing.render.presses import ROLE_ORDER, presses, ticks

_serials = count()


class Order(IntEnum):
    """What comes first at one tick."""

    OFF = 0
    SEEK = 1
    CLOCK = 2
    ON = 3
    SHOW = 9


class Note(NamedTuple):
    """A key of a track that goes down, and up again at a tick.  `always`: even if muted."""

    role: Role
    key: int
    velocity: int
    stop: int
    always: bool


class Beat(NamedTuple):
    """A felt beat begins: number `place` (from 0) of `beats` in a bar of a stretch.

    `line` is where the next bar line comes: a short bar and the pickup that completes it
    are one.  `number` is the bar's place in the span that it goes round in (0: the first
    full bar, negative before).
    """

    stretch: Stretch
    bar: MappedBar
    place: int
    beats: int
    line: Fraction
    number: int


class Chord(NamedTuple):
    """A chord symbol takes over."""

    text: str


class Release(NamedTuple):
    """Notes end, but those of stretch number `keep`: one role's, or with None all."""

    keep: int
    role: Role | None = None


class Seek(NamedTuple):
    """The song runs from here: from a position in sixteenths."""

    sixteenths: int


class Off(NamedTuple):
    """The end of the note with this cue's serial number, if it still sounds by then."""

    channel: int
    key: int
    serial: int


Said = Note | Off | Beat | Chord | Release | Seek | bytes


class Cue(NamedTuple):
    """Something due at a tick; `stretch` numbers the stretch that it belongs to.

    Cues compare by tick, order and serial number, which no two of them share.
    """

    tick: int
    order: int
    serial: int
    stretch: int
    said: Said


def cue(tick: int, order: int, stretch: int, said: Said) -> Cue:
    """A cue with a serial number of its own."""
    return Cue(tick, order, next(_serials), stretch, said)


def cues(leg: Leg, number: int) -> Iterator[tuple[MappedBar, list[Cue]]]:
    """The bars of a leg, each with its cues; the first bar's hold those of a pickup before
    it, the last bar's all that is left."""
    frame = leg.stretch.frame
    for at, bar in enumerate(frame):
        start = bar.onset if at else None
        stop = bar.stop if at + 1 < len(frame) else None
        found = [*_notes(leg, bar, start, stop, number), *_beats(leg, at, number)]
        found += _chords(leg.stretch, start, stop, number)
        yield bar, found


Position = Fraction | None


def _notes(leg: Leg, bar: MappedBar, start: Position, stop: Position, number: int) -> Iterator[Cue]:
    counting = leg.stretch.kind is Kind.COUNT_IN
    lines = [(track.role, _events(leg, track, start, stop)) for track in leg.tracks]
    lines.append((Role.CLICK, _clicks(leg.stretch, bar)))
    for role, events in lines:
        always = role is Role.CLICK and counting
        for onset, end, key, velocity in presses(events):
            note = Note(role, key, velocity, end, always)
            yield cue(onset, Order.ON + ROLE_ORDER[role], number, note)


def _events(leg: Leg, track: Track, start: Position, stop: Position) -> Iterable[Event]:
    """A track's events that begin in a span, in their places; None leaves it open.

    Held bass and chords are struck again where the leg begins.
    """
    events = track.events
    first, last = 0, len(events)
    held: list[Event] = []
    begin = leg.left if track.role in LEFT_HAND else leg.begin
    if start is not None:
        first = bisect_left(events, start - leg.by, key=_onset)
    elif begin is not None:
        first = bisect_left(events, begin, key=_onset)
        if track.role in LEFT_HAND:
            held = [
                event._replace(onset=begin, length=event.stop - begin)
                for event in events[:first]
                if event.stop > begin
            ]
    if stop is not None:
        last = bisect_left(events, stop - leg.by, key=_onset)
    return move_events((*held, *events[first:last]), leg.by)


def _onset(placed: Event | PlacedText) -> Fraction:
    return placed.onset


def _clicks(stretch: Stretch, bar: MappedBar) -> Iterable[Event]:
    """The clicks of one bar, softer where a pickup sounds over the end of the stretch."""
    pickup = max(stretch.pickup - (stretch.stop - bar.stop), Fraction(0))
    return clicks(replace(stretch, frame=(bar,), pickup=pickup))


def _beats(leg: Leg, at: int, number: int) -> Iterator[Cue]:
    """The beats of a bar; one that begins off the beat has its start as one."""
    bar = leg.stretch.frame[at]
    beats = bar.beats()
    most = max(len(bar.metre.beats), len(beats))
    places = [(onset, place) for onset, _, place in beats]
    if not places or places[0][0] > 0:
        places.insert(0, (Fraction(0), max(most - len(beats) - 1, 0)))
    line = bar.stop
    for following in takewhile(lambda other: other.begins, leg.stretch.frame[at + 1 :]):
        line = following.stop
    for onset, place in places:
        beat = Beat(leg.stretch, bar, place, most, line, leg.place + at)
        yield cue(ticks(bar.onset + onset), Order.SHOW, number, beat)


def _chords(stretch: Stretch, start: Position, stop: Position, number: int) -> Iterator[Cue]:
    chords = stretch.piece.chords if stretch.piece else ()
    first = 0 if start is None else bisect_left(chords, start, key=_onset)
    last = len(chords) if stop is None else bisect_left(chords, stop, key=_onset)
    for text in chords[first:last]:
        yield cue(ticks(text.onset), Order.SHOW, number, Chord(text.text))
