"""What comes next in a course, made ready as cues some bars ahead of what sounds."""

from bisect import insort
from collections import deque
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import MappedBar, Role
from backing.arranging.breathing import BellowsSpan
from backing.live.cues import ChordNow, Cue, FeltBeat, KeyStrike, Off, Order, Release, cue, cues
from backing.live.sync import clock_cues
from backing.live.timeline import Timeline
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.stretch import Stretch, full_length, tempos_of
from backing.render.presses import ticks

#: What begins within so many seconds is not made anew.
_TOO_SOON = 0.03
#: A bar is made ready where nothing is due for so many seconds, until so many bars wait;
#: where fewer than the least wait, at once.
_SPARE, _MOST_READY, _LEAST_READY = 0.006, 4, 2


class _MadeBar(NamedTuple):
    """A bar that is ready: its stretch, its place in that, and the tick of its first cue."""

    number: int
    stretch: Stretch
    place: int
    tick: int


class Lookahead:
    """The cues that wait, in order; those of a bar are made in one go.

    `number` is that of the stretch that is being made ready; all is ready up to the tick
    `ready`.  With `sync` there is MIDI clock among them.
    """

    def __init__(self, course: Course, timeline: Timeline, *, sync: bool = False) -> None:
        self.number = self.ready = 0
        self.cues: list[Cue] = []
        self._course, self._timeline, self._sync = course, timeline, sync
        self._stretch = course.start
        self._made: deque[_MadeBar] = deque()
        self._again: deque[tuple[int, Stretch]] = deque()
        self._at = 0
        self._bars: Iterator[tuple[MappedBar, list[Cue]]] = iter(())
        self._until = self._full = 0
        self._over = False

    @property
    def next_tick(self) -> int:
        """Where the next cue is due."""
        return self.cues[0].tick

    @property
    def step(self) -> int:
        """The step of the plan that is being made ready."""
        return self._stretch.step

    def wants_more(self, left: float) -> bool:
        """True where another bar is to be made ready now: nothing is due for `left` seconds."""
        waiting = self.ready - self._until
        if self._over or waiting >= _MOST_READY * self._full:
            return False
        return left > _SPARE or waiting < _LEAST_READY * self._full

    def load(self) -> bool:
        """Make the next bar ready; False where there is none."""
        following = next(self._bars, None)
        if following is None:
            if not self._enter():
                return False
            following = next(self._bars)
        bar, found = following
        if self._sync:
            found += clock_cues(self._stretch, bar, self.number)
        self.cues = sorted(self.cues + found)
        self._made.append(_MadeBar(self.number, self._stretch, self._at, min(found).tick))
        self._at += 1
        self.ready = ticks(bar.stop)
        return True

    def _enter(self) -> bool:
        """Go on with the next stretch; False where there is none."""
        if self._again:
            self._go_through(*self._again.popleft())
            return True
        stretch = None if self._over else self._course.next(self._timeline.scale)
        if stretch is None:
            self._over = True
            return False
        self._timeline.add(tempos_of([stretch]))
        self._go_through(self.number + 1, stretch)
        return True

    def _go_through(self, number: int, stretch: Stretch, first: int = 0) -> None:
        """Make a stretch ready, from a bar on."""
        self.number, self._stretch, self._at = number, stretch, first
        self._bars = cues(stretch, number, lambda: self._timeline.scale, first)

    def make_anew(self) -> None:
        """The speed is another one: make anew what has not begun, for limits in seconds and
        clicks depend on it.  What begins too soon stays as it is."""
        while self._made and self._timeline.left(self._made[0].tick) < _TOO_SOON:
            self._made.popleft()
        if not self._made:
            return
        number, stretch, first, _ = self._made[0]
        start = ticks(stretch.frame[first].onset) if first else None
        entered = {bar.number: bar.stretch for bar in self._made if bar.number > number}
        self._again.extendleft(reversed(entered.items()))
        self._made.clear()
        self.cues = [each for each in self.cues if not _goes(each, number, start)]
        self._go_through(number, stretch, first)
        self.load()

    def take(self) -> list[Cue]:
        """All cues of the next tick, which wait no more."""
        tick, ready = self.next_tick, 0
        while ready < len(self.cues) and self.cues[ready].tick == tick:
            ready += 1
        taken, self.cues = self.cues[:ready], self.cues[ready:]
        return taken

    def insert(self, each: Cue) -> None:
        """Let one more cue wait."""
        insort(self.cues, each)

    def sounds(self, beat: FeltBeat) -> None:
        """A beat sounds now: what lies before it is over."""
        self._until, self._full = ticks(beat.line), ticks(full_length(beat.bar))
        start = ticks(beat.bar.onset)
        self._timeline.forget(start)
        while self._made and self._made[0].tick < start:
            self._made.popleft()

    def coming(self, chord: str, beat: FeltBeat | None) -> tuple[str, int]:
        """The next chord symbol that is another one than this, and how many felt beats begin
        up to it after the one that sounds; "" where none is known yet."""
        beats, place = 0, beat.place if beat else -1
        for each in self.cues:
            said = each.said
            if isinstance(said, FeltBeat):
                # a short bar that begins inside a beat goes on with it
                beats += not (said.bar.begins and said.place == place)
                place = said.place
            elif isinstance(said, ChordNow) and said.text not in ("", chord):
                return said.text, beats
        return "", 0

    # -- elsewhere ------------------------------------------------------------------------

    def clear(self) -> None:
        """Nothing waits any more."""
        self.cues, self._bars, self._over = [], iter(()), False
        self._made.clear()
        self._again.clear()

    def begin(self) -> Stretch:
        """Make the first bar ready of what comes now; its stretch."""
        self.clear()
        self.load()
        first = self._stretch.frame[0]
        self._until, self._full = ticks(first.onset), ticks(full_length(first))
        return self._stretch

    def turn(self, target: Target, beat: FeltBeat, room: Fraction, current: int) -> None:
        """Go on elsewhere at the next bar line; of stretch number `current` the rest of the
        bar stays, and what the old place still sounds ends there."""
        self._course.turn(target, beat.line, room)
        line = ticks(beat.line)
        keep = [
            each for each in self.cues
            if each.tick < line
            and (isinstance(each.said, Off) or each.stretch == current)
            and not isinstance(each.said, Release)
        ]  # fmt: skip
        self.clear()
        self.load()
        lead = min(line, self.next_tick)
        pickup = min(lead, ticks(beat.bar.stop))  # the one that is left out, if there was one
        keep = [each for each in keep if not _tune_from(each, pickup)]
        keep.append(cue(lead, Order.OFF, self.number, Release(self.number, Role.MELODY)))
        keep.append(cue(line, Order.OFF, self.number, Release(self.number)))
        self.cues = sorted([*self.cues, *keep])


def _goes(each: Cue, number: int, start: int | None) -> bool:
    """True for what belongs to later stretches than one of this number, or to that from a tick
    on (None: all of it); the ends of notes that sound, and of those of an old place, stay."""
    if isinstance(each.said, (Off, Release)):
        return False
    own = each.stretch == number and (start is None or each.tick >= start)
    return own or each.stretch > number


def _tune_from(each: Cue, tick: int) -> bool:
    """True for the melody, and the bellows that it moves, from a tick on."""
    said = each.said
    tune = isinstance(said, KeyStrike) and said.role is Role.MELODY
    return (tune or isinstance(said, BellowsSpan)) and each.tick >= tick
