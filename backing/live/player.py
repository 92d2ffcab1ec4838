"""Playing along: a course walked in time, cue by cue, as the player steers it.

Every deadline is worked out from one anchor, a moment on the clock at which a second of
the tune's own time sounds; a change of tempo, a stop or a jump sets a new one.  So nothing
drifts, and a late event makes no other late.  However it ends, no note is left sounding.
"""

from bisect import insort
from collections.abc import Callable, Iterable
from fractions import Fraction
from queue import Empty, SimpleQueue
from typing import NamedTuple

from backing.arranging.arrangement import CHANNELS, LEFT_HAND, Role
from backing.live import wire
from backing.live.actions import TRACK_OF, Action
from backing.live.clock import Clock
from backing.live.cues import Beat, Chord, Cue, Note, Off, Order, Release, cue, cues
from backing.live.port import Port
from backing.live.shown import Shown, State
from backing.live.sync import clock_cues
from backing.music.tempo import FASTEST, SLOWEST
from backing.practice.course import Course, Target
from backing.practice.performance import tempos_of
from backing.practice.route import Kind, Stretch
from backing.render.presses import Seconds, ticks

#: Seconds between two looks at what the player asks for.
_LOOK = 0.004
#: What follows is made ready where nothing is due for so long; at the latest so long
#: before it begins.
_SPARE, _AT_LATEST = 0.05, 1.0
#: Seconds from asking to the first click.
_BREATH = 0.1
#: Less than this before a bar line, a pickup into another place comes too late.
_TOO_LATE = 0.03
#: Per cent of the tune's own tempo that one step is.
_TEMPO_STEP = 5


class Sounding(NamedTuple):
    """A note that sounds: the serial number of its cue, and of its stretch."""

    serial: int
    stretch: int


class Player:
    """Plays a course to a port until it is over or told to end.

    `opening` is sent first, and again to a port that comes back.  `show` is called with
    what there is to see; `factor` is the speed, of the tune's own tempo.
    """

    def __init__(
        self,
        course: Course,
        port: Port,
        clock: Clock,
        *,
        opening: Iterable[bytes] = (),
        muted: Iterable[Role] = (),
        show: Callable[[Shown], None] = lambda shown: None,
        sync: bool = False,
    ) -> None:
        self.course, self.port, self.clock = course, port, clock
        self.factor = course.factor
        self.muted = set(muted)
        self._opening, self._show, self._sync = tuple(opening), show, sync
        self._channels = sorted({CHANNELS[track.role] for track in course.arrangement.tracks})
        self._channels.append(CHANNELS[Role.CLICK])
        self._state = State.STOPPED
        self._seconds = Seconds((), Fraction(0))
        self._anchor = (0.0, 0.0)
        self._cues: list[Cue] = []
        self._loaded: Stretch | None = None
        self._number = 0
        self._over = False
        self._sounding: dict[tuple[int, int], Sounding] = {}
        self._withheld: dict[tuple[int, int], Cue] = {}
        self._beat: Beat | None = None
        self._current = self._landing = 0
        self._here = course.asked
        self._moving = False
        self._chord = ""
        self._changed = True

    def run(self, inbox: "SimpleQueue[Action]") -> None:
        """Play from the count-in, taking what is asked for from `inbox`."""
        try:
            self._begin(self.course.asked)
            while self._state is not State.ENDED:
                self._take(inbox)
                self._look_after_port()
                self._advance()
        finally:
            self.silence()
            self._state = State.ENDED
            self._show(self.shown())

    def shown(self) -> Shown:
        """What there is to see now."""
        stretch = self._beat.stretch if self._beat else self._loaded
        assert stretch is not None
        coming = next((c.said.text for c in self._cues if isinstance(c.said, Chord)), "")
        return Shown(
            self._state, self._beat, self._here, stretch.tempo.scaled(self.factor), self.factor,
            frozenset(self.muted), self._chord, coming, self._moving,
        )  # fmt: skip

    def silence(self) -> None:
        """End every note, one by one and then by all means that receivers may know."""
        self._end_notes()
        if self._sync:
            self._send(wire.STOP)
        for message in wire.quiet(self._channels):
            self._send(message)

    # -- time -----------------------------------------------------------------------

    def _due(self, tick: int) -> float:
        """The moment of a tick."""
        moment, second = self._anchor
        return moment + (self._seconds.at(tick) - second) / float(self.factor)

    def _second(self) -> float:
        """The second of the tune's own time that sounds now."""
        moment, second = self._anchor
        return second + (self.clock.now() - moment) * float(self.factor)

    def _advance(self) -> None:
        """Send what is due, or wait a little for it."""
        if self._state is not State.PLAYING:
            self._show_changes()
            self.clock.sleep(_LOOK)
            return
        if not self._cues and not self._load():
            self._finish()
            return
        left = self._due(self._cues[0].tick) - self.clock.now()
        if self._wants_more(left):
            self._load()
        elif left > 2 * _LOOK:
            self._show_changes()
            self.clock.sleep(_LOOK)
        else:
            self._send_tick()

    def _wants_more(self, left: float) -> bool:
        """True where what follows is to be made ready now."""
        if self._over or self._loaded is None or self._current < self._number:
            return False
        late = self._due(ticks(self._loaded.stop)) - self.clock.now() < _AT_LATEST
        return left > _SPARE or late

    def _finish(self) -> None:
        """All has been played: wait for the last bar line, then end."""
        assert self._loaded is not None
        left = self._due(ticks(self._loaded.stop)) - self.clock.now()
        if left > _LOOK:
            self.clock.sleep(_LOOK)
        else:
            self._state = State.ENDED

    def _load(self) -> bool:
        """Make the next stretch ready; False where there is none."""
        stretch = None if self._over else self.course.next(self.factor)
        if stretch is None:
            self._over = True
            return False
        self._number += 1
        for placed in tempos_of([stretch]):
            self._seconds.add(placed)
        more = cues(stretch, self._number)
        if self._sync:
            after = self._loaded if self._cues else None
            more += clock_cues(stretch, self._number, after, self.course.arrangement)
        self._loaded = stretch
        self._cues = sorted(self._cues + more)
        return True

    # -- sending --------------------------------------------------------------------

    def _send(self, message: bytes, due: float | None = None) -> None:
        self.port.send(message, self.clock.now() if due is None else due)

    def _send_tick(self) -> None:
        """Wait for the next tick and send all that is due there."""
        tick = self._cues[0].tick
        due = self._due(tick)
        self.clock.wait_until(due)
        ready = 0
        while ready < len(self._cues) and self._cues[ready].tick == tick:
            ready += 1
        now, self._cues = self._cues[:ready], self._cues[ready:]
        for each in now:
            said = each.said
            if isinstance(said, Note):
                self._strike(each, said, due)
            elif isinstance(said, Off):
                self._let_go(said, due)
            elif isinstance(said, bytes):
                self._send(said, due)
            elif isinstance(said, Release):
                self._end_notes(due, keep=said.keep)
            elif isinstance(said, Beat):
                self._at_beat(each, said)
            else:
                self._chord, self._changed = said.text, True

    def _strike(self, at: Cue, note: Note, due: float) -> None:
        """A key goes down, unless its track is muted."""
        place = (CHANNELS[note.role], note.key)
        if note.role in self.muted and not note.always:
            self._withheld[place] = at
            return
        if place in self._sounding:
            self._send(wire.note_off(*place), due)
        self._send(wire.note_on(*place, note.velocity), due)
        self._sounding[place] = Sounding(at.serial, at.stretch)
        insort(self._cues, cue(note.stop, Order.OFF, at.stretch, Off(*place, at.serial)))

    def _let_go(self, off: Off, due: float) -> None:
        place = (off.channel, off.key)
        sounding = self._sounding.get(place)
        if sounding is not None and sounding.serial == off.serial:
            del self._sounding[place]
            self._send(wire.note_off(*place), due)

    def _end_notes(self, due: float | None = None, *, keep: int = -1) -> None:
        """End the notes that sound, but those of stretch number `keep`."""
        for place, note in list(self._sounding.items()):
            if note.stretch != keep:
                self._send(wire.note_off(*place), due)
                del self._sounding[place]

    def _at_beat(self, at: Cue, beat: Beat) -> None:
        self._beat, self._current, self._changed = beat, at.stretch, True
        if beat.stretch.kind is not Kind.COUNT_IN and at.stretch >= self._landing:
            self._here, self._moving = self.course.place(beat.bar), False

    def _show_changes(self) -> None:
        if self._changed:
            self._changed = False
            self._show(self.shown())

    # -- what the player asks for -----------------------------------------------------

    def _take(self, inbox: "SimpleQueue[Action]") -> None:
        while True:
            try:
                action = inbox.get_nowait()
            except Empty:
                return
            self.act(action)

    def act(self, action: Action) -> None:
        """Do what is asked for, at once or at the next bar line."""
        self._changed = True
        if action in TRACK_OF:
            self._turn_track(TRACK_OF[action])
        elif action in (Action.SLOWER, Action.FASTER):
            self._change_tempo(1 if action is Action.FASTER else -1)
        elif action is Action.END:
            self._state = State.ENDED
        elif action is Action.AGAIN:
            self._begin(Target(self._here.span))
        elif action is Action.STOP_GO:
            if self._state is State.PLAYING:
                self._stop(State.STOPPED)
            else:
                self._begin(self._here)
        elif action is not Action.KEYS:
            self._jump(self._target(action))

    def _target(self, action: Action) -> Target:
        course, here = self.course, self._here
        bar = course.loop(here.span).frame[here.bar]
        if action is Action.ASKED:
            return course.asked
        if action in (Action.THIS_BAR, Action.THIS_SECTION):
            alone = course.bar_alone if action is Action.THIS_BAR else course.section_alone
            return alone(bar)
        waiting = self._moving or self._state is not State.PLAYING
        if action is Action.WHOLE:
            whole = course.whole(bar)
            return course.step_bars(whole, -1) if waiting else whole
        coming = here if waiting else course.following(bar)
        if action in (Action.BAR_BACK, Action.BAR_ON):
            return course.step_bars(coming, 1 if action is Action.BAR_ON else -1)
        return course.step_sections(coming, 1 if action is Action.SECTION_ON else -1)

    def _begin(self, target: Target) -> None:
        """Count in at once, and play from there."""
        self._end_notes()
        if self._state is State.STOPPED and self._loaded is None:
            for message in self._opening:
                self._send(message)
        else:
            self.course.begin(target, self._beat.bar.stop if self._beat else Fraction(0))
        self._clear()
        self._here, self._moving = target, False
        self._load()
        self._landing = self._number
        assert self._loaded is not None
        self._state = State.PLAYING
        first = self._cues[0].tick
        self._anchor = (self.clock.now() + _BREATH, self._seconds.at(first))

    def _clear(self) -> None:
        self._cues, self._withheld, self._over = [], {}, False
        self._chord = ""

    def _stop(self, state: State) -> None:
        self._state = state
        self._end_notes()
        if self._sync:
            self._send(wire.STOP)
        self._clear()

    def _jump(self, target: Target) -> None:
        """Go on elsewhere at the next bar line; while it is silent, begin there later."""
        if self._state is not State.PLAYING:
            self._here, self._moving = target, True
            return
        beat = self._beat
        if beat is None or beat.stretch.kind is Kind.COUNT_IN:
            self._begin(target)
            return
        left = self._due(beat.stop) - self.clock.now() - _TOO_LATE
        room = Fraction(max(0.0, left * float(self.factor))) / 60 * beat.stretch.tempo.wholes
        self.course.turn(target, beat.bar.stop, room)
        keep = [
            each for each in self._cues
            if each.tick < beat.stop and (each.stretch == self._current or each.order == Order.OFF)
        ]  # fmt: skip
        self._cues, self._over = [], False
        self._load()
        self._landing = self._number
        lead = self._cues[0].tick
        if lead < beat.stop:
            keep = [each for each in keep if not _melody_from(each, lead)]
        release = cue(beat.stop, Order.OFF, self._number, Release(self._number))
        self._cues = sorted([*self._cues, *keep, release])
        self._here, self._moving = target, True

    def _turn_track(self, role: Role) -> None:
        """Mute a track, or let it sound again: held basses and chords at once."""
        channel = CHANNELS[role]
        if role not in self.muted:
            self.muted.add(role)
            for place in [place for place in self._sounding if place[0] == channel]:
                del self._sounding[place]
                self._send(wire.note_off(*place))
            return
        self.muted.discard(role)
        tick = self._beat.start if self._beat else 0
        for place, at in list(self._withheld.items()):
            if place[0] == channel:
                del self._withheld[place]
                note = at.said
                assert isinstance(note, Note)
                still = note.stop > tick and self._due(note.stop) > self.clock.now()
                if role in LEFT_HAND and still and self._state is State.PLAYING:
                    self._strike(at, note, self.clock.now())

    def _change_tempo(self, steps: int) -> None:
        """Five per cent of the tune's own tempo slower or faster, at once."""
        per_cent = self.factor * 100 / _TEMPO_STEP
        whole = per_cent.numerator // per_cent.denominator
        if steps < 0 and whole == per_cent:
            whole -= 1
        elif steps > 0:
            whole += 1
        factor = Fraction(whole * _TEMPO_STEP, 100)
        own = self.shown().tempo.beats / self.factor
        if SLOWEST <= own * factor <= FASTEST:
            self._anchor = (self.clock.now(), self._second())
            self.factor = factor

    # -- a port that vanishes -----------------------------------------------------------

    def _look_after_port(self) -> None:
        """Pause while the port is gone; go on with a count-in when it is back."""
        if self.port.gone:
            if self._state is State.PLAYING:
                self._stop(State.GONE)
                self._changed = True
        elif self._state is State.GONE:
            for message in (*wire.quiet(self._channels), *self._opening):
                self._send(message)
            self._begin(self._here)
            self._changed = True


def _melody_from(each: Cue, tick: int) -> bool:
    said = each.said
    return isinstance(said, Note) and said.role is Role.MELODY and each.tick >= tick
