"""What comes next in a course, made ready as cues some bars ahead of what sounds."""

from bisect import insort
from collections.abc import Iterator
from fractions import Fraction

from backing.arranging.arrangement import MappedBar, Role
from backing.live.cues import ChordNow, Cue, FeltBeat, KeyStrike, Off, Order, Release, cue, cues
from backing.live.sync import clock_cues
from backing.live.timeline import Timeline
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.stretch import Stretch, full_length, tempos_of
from backing.render.presses import ticks

#: A bar is made ready where nothing is due for so many seconds, until so many bars wait;
#: where fewer than the least wait, at once.
_SPARE, _MOST_READY, _LEAST_READY = 0.006, 4, 2


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
        self._bars: Iterator[tuple[MappedBar, list[Cue]]] = iter(())
        self._until = self._full = 0
        self._over = False

    @property
    def next_tick(self) -> int:
        """Where the next cue is due."""
        return self.cues[0].tick

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
            stretch = None if self._over else self._course.next(self._timeline.scale)
            if stretch is None:
                self._over = True
                return False
            following = self._enter(stretch)
        bar, found = following
        if self._sync:
            found += clock_cues(self._stretch, bar, self.number)
        self.cues = sorted(self.cues + found)
        self.ready = ticks(bar.stop)
        return True

    def _enter(self, stretch: Stretch) -> tuple[MappedBar, list[Cue]]:
        """Go on with a stretch; its first bar."""
        self.number += 1
        self._timeline.add(tempos_of([stretch]))
        self._stretch = stretch
        self._bars = cues(stretch, self.number, lambda: self._timeline.scale)
        return next(self._bars)

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
        self._timeline.forget(ticks(beat.bar.onset))

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
        keep = [each for each in keep if not _melody_from(each, pickup)]
        keep.append(cue(lead, Order.OFF, self.number, Release(self.number, Role.MELODY)))
        keep.append(cue(line, Order.OFF, self.number, Release(self.number)))
        self.cues = sorted([*self.cues, *keep])


def _melody_from(each: Cue, tick: int) -> bool:
    said = each.said
    return isinstance(said, KeyStrike) and said.role is Role.MELODY and each.tick >= tick
