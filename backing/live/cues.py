"""A stretch of a practice as cues: what is to be sent, and what there is to show, tick by
tick.

Muted tracks are among them: whether they sound is decided when their time comes.
"""

from collections.abc import Iterator
from enum import IntEnum
from itertools import count
from typing import NamedTuple

from backing.arranging.arrangement import MappedBar, PlacedText, Role
from backing.practice.performance import clicks
from backing.practice.route import Kind, Stretch
from backing.render.presses import ROLE_ORDER, Press, presses, ticks

_serials = count()


class Order(IntEnum):
    """What comes first at one tick."""

    OFF = 0
    CLOCK = 1
    ON = 2
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

    `start` and `stop` are the ticks of the bar.
    """

    stretch: Stretch
    bar: MappedBar
    place: int
    beats: int
    start: int
    stop: int


class Chord(NamedTuple):
    """A chord symbol takes over."""

    text: str


class Release(NamedTuple):
    """All notes end but those of stretch number `keep`."""

    keep: int


class Off(NamedTuple):
    """The end of the note with this cue's serial number, if it still sounds by then."""

    channel: int
    key: int
    serial: int


Said = Note | Off | Beat | Chord | Release | bytes


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


def cues(stretch: Stretch, number: int) -> list[Cue]:
    """All cues of a stretch, in order; a pickup's lie before its start."""
    found = [*_notes(stretch, number), *_beats(stretch, number)]
    if stretch.piece is not None:
        found += (_chord(text, number) for text in stretch.piece.chords)
    found.sort()
    return found


def _notes(stretch: Stretch, number: int) -> Iterator[Cue]:
    for role, press in _presses(stretch):
        always = role is Role.CLICK and stretch.kind is Kind.COUNT_IN
        note = Note(role, press.key, press.velocity, press.stop, always)
        yield cue(press.onset, Order.ON + ROLE_ORDER[role], number, note)


def _presses(stretch: Stretch) -> Iterator[tuple[Role, Press]]:
    if stretch.piece is not None:
        for track in stretch.piece.tracks:
            yield from ((track.role, press) for press in presses(track.events))
    yield from ((Role.CLICK, press) for press in presses(clicks(stretch)))


def _beats(stretch: Stretch, number: int) -> Iterator[Cue]:
    """The beats of every bar; a bar that begins off the beat has its start as one."""
    for bar in stretch.frame:
        start, stop = ticks(bar.onset), ticks(bar.stop)
        beats = bar.beats()
        most = max(len(bar.metre.beats), len(beats))
        places = [(at, place) for at, _, place in beats]
        if not places or places[0][0] > 0:
            places.insert(0, (bar.onset - bar.onset, max(most - len(beats) - 1, 0)))
        for at, place in places:
            beat = Beat(stretch, bar, place, most, start, stop)
            yield cue(ticks(bar.onset + at), Order.SHOW, number, beat)


def _chord(text: PlacedText, number: int) -> Cue:
    return cue(ticks(text.onset), Order.SHOW, number, Chord(text.text))
