"""A stretch of a practice as cues: what is to be sent, and what there is to show, tick by tick.

Cues are made bar by bar, so that a long tune costs no more at once than a short one.
Muted tracks are among them: whether they sound is decided when their time comes.
"""

from collections.abc import Callable, Iterable, Iterator
from enum import IntEnum
from fractions import Fraction
from itertools import count, islice, takewhile
from typing import NamedTuple

from backing.arranging.arrangement import CHANNELS, Event, MappedBar, Role
from backing.arranging.breathing import BellowsSpan
from backing.live import wire
from backing.practice.clicks import clicks
from backing.practice.plan import Ears
from backing.practice.stretch import Kind, Stretch
from backing.render.channels import PAN, pan_of
from backing.render.presses import ROLE_ORDER, key_presses, ticks

_serials = count()


class Order(IntEnum):
    """What comes first at one tick."""

    OFF = 0
    SEEK = 1
    CLOCK = 2
    ON = 3
    SHOW = 9


class KeyStrike(NamedTuple):
    """A key of a track that goes down, and up again at a tick.  `muted`: its stretch has it
    so; `always`: it sounds whatever the player mutes."""

    role: Role
    key: int
    velocity: int
    stop: int
    muted: bool
    always: bool


class FeltBeat(NamedTuple):
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


class ChordNow(NamedTuple):
    """A chord symbol takes over."""

    text: str


class Release(NamedTuple):
    """Notes end, but those of stretch number `keep`: one role's, or with None all."""

    keep: int
    role: Role | None = None


class Seek(NamedTuple):
    """The song runs from here: from a position in sixteenths; with None it stops."""

    sixteenths: int | None


class Off(NamedTuple):
    """The end of the note with this cue's serial number, if it still sounds by then."""

    channel: int
    key: int
    serial: int


Content = KeyStrike | Off | FeltBeat | ChordNow | BellowsSpan | Release | Seek | bytes


class Cue(NamedTuple):
    """Something due at a tick; `stretch` numbers the stretch that it belongs to.

    Cues compare by tick, order and serial number, which no two of them share.
    """

    tick: int
    order: int
    serial: int
    stretch: int
    said: Content


def cue(tick: int, order: int, stretch: int, said: Content) -> Cue:
    """A cue with a serial number of its own."""
    return Cue(tick, order, next(_serials), stretch, said)


def cues(
    stretch: Stretch, number: int, scale: Callable[[], Fraction], first: int = 0
) -> Iterator[tuple[MappedBar, list[Cue]]]:
    """The bars of a stretch from the place `first` on, each with its cues; the first bar's hold
    those of a pickup before it, the last bar's all that is left.  `scale` is how much faster
    than asked it is played."""
    clicked = clicks(stretch, scale, first)
    for at, bar in islice(enumerate(stretch.frame), first, None):
        start = bar.onset if at else None
        stop = bar.stop if at + 1 < len(stretch.frame) else None
        lines = [(Role.CLICK, next(clicked)), *_lines(stretch, start, stop, scale())]
        found = [*_strikes(stretch, lines, number), *_beats(stretch, at, number)]
        found += _chord_symbols(stretch, start, stop, number)
        if stretch.ears and not at:
            found += _pans(stretch, stretch.ears, number)
        for span in stretch.bellows(start, stop):
            found.append(cue(ticks(span.start), Order.OFF, number, span))
        yield bar, found


def _lines(
    stretch: Stretch, start: Fraction | None, stop: Fraction | None, scale: Fraction
) -> Iterator[tuple[Role, Iterable[Event]]]:
    """What each track of the tune begins between two positions."""
    if stretch.sounding is not None:
        for place, track in enumerate(stretch.sounding.piece.tracks):
            yield track.role, stretch.events(place, start, stop, scale)


def _pans(stretch: Stretch, ears: Ears, number: int) -> Iterator[Cue]:
    """Each track goes to its ear."""
    for role in (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK):
        message = wire.controller(CHANNELS[role], PAN, pan_of(role, ears))
        yield cue(ticks(stretch.start), Order.OFF, number, message)


def _strikes(
    stretch: Stretch, lines: Iterable[tuple[Role, Iterable[Event]]], number: int
) -> Iterator[Cue]:
    """The keys that go down."""
    for role, events in lines:
        muted = role in stretch.muted
        always = role is Role.CLICK and stretch.kind is Kind.COUNT_IN
        for onset, end, key, velocity in key_presses(events):
            strike = KeyStrike(role, key, velocity, end, muted, always)
            yield cue(onset, Order.ON + ROLE_ORDER[role], number, strike)


def _beats(stretch: Stretch, at: int, number: int) -> Iterator[Cue]:
    """The beats of a bar; one that begins off the beat has its start as one."""
    bar = stretch.frame[at]
    beats = bar.beats()
    most = max(len(bar.metre.beats), len(beats))
    places = [(onset, place) for onset, _, place in beats]
    if not places or places[0][0] > 0:
        places.insert(0, (Fraction(0), max(most - len(beats) - 1, 0)))
    line = bar.stop
    for following in takewhile(lambda other: other.begins, stretch.frame[at + 1 :]):
        line = following.stop
    for onset, place in places:
        beat = FeltBeat(stretch, bar, place, most, line, stretch.first + at)
        yield cue(ticks(bar.onset + onset), Order.SHOW, number, beat)


def _chord_symbols(
    stretch: Stretch, start: Fraction | None, stop: Fraction | None, number: int
) -> Iterator[Cue]:
    """The chord symbols that begin between two positions, at first the one in force."""
    if start is None:
        yield cue(ticks(stretch.start), Order.SHOW, number, ChordNow(stretch.chord))
    if stretch.sounding is not None:
        for text in stretch.sounding.chords(start, stop):
            yield cue(ticks(text.onset), Order.SHOW, number, ChordNow(text.text))
