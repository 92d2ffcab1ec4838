"""Playing along: a course walked in time, as the player steers it.

However it ends, no note is left sounding.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction
from queue import Empty, SimpleQueue

from backing.errors import PracticeError
from backing.live import wire
from backing.live.actions import OF_STEPS, TRACK_OF, Action
from backing.live.clock import Clock
from backing.live.cues import Cue, FeltBeat
from backing.live.going import goal, step_goal
from backing.live.marks import MarkedBars
from backing.live.port import Port
from backing.live.sender import Sender
from backing.live.shown import Shown, State
from backing.music.tempo import FASTEST, SLOWEST
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.stretch import Kind
from backing.practice.ways import WaysOn
from backing.render.presses import ticks

#: Seconds between two looks at what the player asks for.
_LOOK = 0.004
#: What is shown may be so many seconds old before it is put in between two close notes.
_STALE, _GLIMPSE = 0.1, 0.001
#: Seconds from asking to the first click.
_BREATH = 0.1
#: Less than this before a bar line, a pickup into another place comes too late.
_TOO_LATE = 0.03
#: Per cent of the tune's own tempo that one step is.
_TEMPO_STEP = 5


class Player:
    """Plays a course to a port until it is over or told to end.

    `opening` is sent first, and again to a port that comes back.  `show` is called with
    what there is to see, and should be back in a millisecond.
    """

    def __init__(
        self,
        course: Course,
        port: Port,
        clock: Clock,
        *,
        opening: Iterable[bytes] = (),
        show: Callable[[Shown], None] = lambda shown: None,
        sync: bool = False,
    ) -> None:
        self.course, self.port, self.clock = course, port, clock
        self.sender = Sender(course, port, clock, self._told, sync=sync)
        self._opening, self._show = tuple(opening), show
        self._ways = WaysOn(course)
        self._state = State.STOPPED
        self._here = self._sounds = course.asked(0)
        self._marks = MarkedBars()
        self._landing = self._began = 0
        self._moving = self._away = self._goes_on = False
        self._changed = True
        self._shown_at = 0.0

    def run(self, inbox: "SimpleQueue[Action]") -> None:
        """Play from the count-in, taking what is asked for from `inbox`."""
        try:
            self._begin(self._here)
            while self._state is not State.ENDED:
                self._take(inbox)
                self._look_after_port()
                self._advance()
        finally:
            self._state = State.ENDED
            self.sender.silence()
            self._show(self.shown())

    def _advance(self) -> None:
        """Send what is due, or wait a little for it."""
        ahead, timeline = self.sender.ahead, self.sender.timeline
        if self._state is not State.PLAYING:
            self._show_changes()
            self.clock.sleep(_LOOK)
            return
        if not ahead.cues and not ahead.load():
            self._finish()
            return
        left = timeline.left(ahead.next_tick)
        if ahead.wants_more(left):
            ahead.load()
        elif left > 2 * _LOOK:
            self._show_changes()
            self.clock.sleep(_LOOK)
        else:
            if left > _GLIMPSE and self.clock.now() - self._shown_at > _STALE:
                self._show_changes()
            self.sender.send_tick()

    def _finish(self) -> None:
        """All has been played: wait for the last bar line, then end."""
        self._show_changes()
        timeline, end = self.sender.timeline, self.sender.ahead.ready
        if timeline.left(end) > 2 * _LOOK:
            self.clock.sleep(_LOOK)
        else:
            self.clock.wait_until(timeline.due(end))
            self._state = State.ENDED

    # -- what there is to see ---------------------------------------------------------

    def shown(self) -> Shown:
        """What there is to see now."""
        now = self.sender
        coming, beats = now.ahead.coming(now.chord, now.beat)
        return Shown(
            self._state, now.beat, self._here, now.tempo, now.factor, now.muted, now.chord,
            coming, self._moving, beats, self._ways.bar(self._here), self._marks,
            *self._step_shown(),
        )  # fmt: skip

    def _step_shown(self) -> tuple[int, int, str, float | None, bool]:
        """The step of the practice that it is in, of how many, what for, how many seconds it
        still takes, whether the player stays on it."""
        course, here = self.course, self._here
        number, starts = self._ways.number_of_step(here), course.plan.starts
        left, now = None, self.sender.stretch
        if now.kind is Kind.REST and self._state is State.PLAYING:
            left = self.sender.timeline.left(ticks(now.stop))
        elif len(starts) > 1 and not course.staying:
            stop = starts[number] if number < len(starts) else len(course.plan.steps)
            left = self._seconds_left(here, stop)
        return number, len(starts), course.plan.steps[starts[number - 1]].name, left, course.staying

    def _seconds_left(self, here: Target, stop: int) -> float | None:
        """How long the step takes from here on, which goes up to another; None without an end."""
        left, scale = self.course.seconds_from(here), self.sender.timeline.scale
        if left is None:
            return None
        later = sum(self.course.seconds(step, scale) for step in range(here.step + 1, stop))
        return float((left + later) / scale)

    def _told(self, each: Cue) -> None:
        """A beat or a chord sounds; the place where it is now."""
        self._changed = True
        if not isinstance(each.said, FeltBeat):
            return
        stretch = each.said.stretch
        if stretch.in_tune:
            self._sounds = self._ways.place(stretch, each.said.number)
        if stretch.in_tune and each.stretch >= self._landing:
            self._here, self._moving = self._sounds, False
        elif each.stretch > self._landing:  # a gap, or the count-in of another step
            self._here = self._ways.place(stretch, 0)

    def _show_changes(self) -> None:
        if self._changed:
            self._changed, self._shown_at = False, self.clock.now()
            self._show(self.shown())

    # -- what the player asks for -----------------------------------------------------

    def _take(self, inbox: "SimpleQueue[Action]") -> None:
        """Do what is asked for, as far as there is time for it."""
        ahead = self.sender.ahead
        while self._state is not State.ENDED:
            try:
                self.act(inbox.get_nowait())
            except Empty:
                return
            playing = self._state is State.PLAYING and ahead.cues
            if playing and self.sender.timeline.left(ahead.next_tick) < _LOOK:
                return

    def act(self, action: Action) -> None:
        """Do what is asked for, at once or at the next bar line."""
        if self._state is State.ENDED:
            return
        self._changed = True
        if action in TRACK_OF:
            self.sender.turn_track(TRACK_OF[action])
        elif action in (Action.SLOWER, Action.FASTER):
            self._change_tempo(1 if action is Action.FASTER else -1)
        elif action is Action.END:
            self._state = State.ENDED
        elif action is Action.AGAIN:
            self._begin(self._here._replace(bar=0))
        elif action is Action.STOP_GO:
            if self._state is State.PLAYING:
                self._stop(State.STOPPED)
            else:
                self._begin(self._here)
        elif action in (Action.FROM_HERE, Action.TO_HERE):
            self._mark(action)
        elif action in OF_STEPS:
            self._change_step(action)
        elif action is not Action.KEYS:
            self._go(action)

    def _change_tempo(self, steps: int) -> None:
        """Five per cent of the tune's own tempo slower or faster, at once."""
        per_cent = self.sender.factor * 100 / _TEMPO_STEP
        whole = per_cent.numerator // per_cent.denominator
        if steps < 0 and whole == per_cent:
            whole -= 1
        elif steps > 0:
            whole += 1
        scale = Fraction(whole * _TEMPO_STEP, 100) / self.sender.stretch.factor
        slowest, fastest = (beats * scale for beats in self.course.beats)
        if fastest <= FASTEST if steps > 0 else slowest >= SLOWEST:
            self.sender.timeline.rescale(scale)
            self.sender.ahead.make_anew()

    def _begin(self, target: Target) -> None:
        """Count in at once, and play from there; where the port is gone, when it is back."""
        self._here = target
        if self._away:
            self._goes_on = True
            return
        if not self._began:
            self.sender.notes.say(*self._opening)
        first = not self._began and target == self.course.asked(0)
        self.sender.begin(None if first else target, _BREATH)
        self._moving = False
        self._landing = self._began = self.sender.ahead.number
        self._state = State.PLAYING

    def _stop(self, state: State) -> None:
        self._state = state
        self.sender.stop()

    def _go(self, action: Action) -> None:
        """Where an action leads."""
        if action is Action.ASKED:
            self._marks = MarkedBars()
        waits = self._moving or self._clicks_only or self._state is not State.PLAYING
        self._head_for(goal(self._ways, action, self._here, waits=waits))

    def _mark(self, action: Action) -> None:
        """Mark the bar that sounds, else the one that comes; between two marks it goes round."""
        sounds = self._state is State.PLAYING and not self._clicks_only
        number = self._ways.number(self._sounds if sounds else self._here)
        self._marks = self._marks.put(action, number)
        if span := self._marks.span:
            self._marks = MarkedBars()
            self._head_for(Target(span, step=self._here.step))

    def _change_step(self, action: Action) -> None:
        """Count in to another step of the practice; while it is silent, begin there later."""
        if action is Action.STAY:
            self._stay()
            return
        target = step_goal(self._ways, action, self._here)
        if target and self._state is State.PLAYING:
            self._begin(target)
        elif target:
            self._here, self._moving = target, True

    def _stay(self) -> None:
        """Stay on the step, or go on after this time through; where another step is ready already,
        what is left of this one is laid anew."""
        self.course.staying = not self.course.staying
        if self.course.staying and self.sender.ahead.step != self._here.step:
            self._head_for(self._ways.following(self._here))

    def _head_for(self, target: Target) -> None:
        """Go on elsewhere at the next bar line; while it is silent, begin there later."""
        try:
            self.course.round(target)
        except PracticeError:  # bars that the tune's order leaves out
            return
        clicks, beat = self._clicks_only, self.sender.beat
        if self._state is not State.PLAYING:
            self._here, self._moving = target, True
        elif beat is None or (clicks and self.sender.stretch.kind is not Kind.GAP):
            self._begin(target)
        else:
            self.sender.ahead.turn(target, beat, self._room(target, beat), self.sender.number)
            self._landing = self.sender.ahead.number
            self._here, self._moving = target, True

    @property
    def _clicks_only(self) -> bool:
        """True while nothing but clicks sounds: in a gap, and until a count-in, or the breath
        where there is none, is over."""
        now = self.sender
        return now.beat is None or now.number < self._began or not now.stretch.in_tune

    def _room(self, target: Target, beat: FeltBeat) -> Fraction:
        """Room for the target's pickup before the bar line, none where it comes too late."""
        pickup = self.course.pickup(target)
        fits = self.sender.timeline.left(ticks(beat.line - pickup)) > _TOO_LATE
        return pickup if fits else Fraction(0)

    # -- a port that vanishes -----------------------------------------------------------

    def _look_after_port(self) -> None:
        """Pause while the port is gone; when it is back set it up anew, and go on with a
        count-in if it played."""
        if self.port.gone == self._away:
            return
        self._away = self.port.gone
        self._changed = True
        if self._away:
            self._goes_on = self._state is State.PLAYING
            self._stop(State.GONE)
            return
        notes = self.sender.notes
        notes.say(*wire.quiet(self.sender.channels), *self._opening)
        if self._goes_on:
            self._begin(self._here)
        else:
            self._state = State.STOPPED
            notes.send()
