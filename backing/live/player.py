"""Playing along: a course walked in time, cue by cue, as the player steers it.

Every deadline is worked out from one anchor, a moment on the clock at which a second of
the tune's own time sounds; a change of tempo, a stop or a jump sets a new one.  So nothing
drifts, and a late event makes no other late.  However it ends, no note is left sounding.
"""

from bisect import insort
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from fractions import Fraction
from queue import Empty, SimpleQueue

from backing.arranging.arrangement import CHANNELS, MappedBar, Role
from backing.errors import PracticeError
from backing.live import wire
from backing.live.actions import TRACK_OF, Action
from backing.live.clock import Clock
from backing.live.cues import Beat, Chord, Cue, Note, Off, Order, Release, Seek, cue, cues
from backing.live.notes import Notes, place_of
from backing.live.port import Port
from backing.live.shown import Shown, State
from backing.live.sync import clock_cues, seek
from backing.music.tempo import FASTEST, SLOWEST, Tempo
from backing.practice.course import Course, Leg, Target
from backing.practice.performance import tempos_of
from backing.practice.route import Kind, full_bar
from backing.render.presses import Seconds, ticks

#: Seconds between two looks at what the player asks for.
_LOOK = 0.004
#: A bar is made ready where nothing is due for so many seconds, until so many bars wait;
#: where fewer than the least wait, at once.
_SPARE, _MOST_READY, _LEAST_READY = 0.006, 4, 2
#: What is shown may be so many seconds old before it is put in between two close notes.
_STALE, _GLIMPSE = 0.1, 0.001
#: Seconds from asking to the first click.
_BREATH = 0.1
#: Less than this before a bar line, a pickup into another place comes too late.
_TOO_LATE = 0.03
#: Later than this, the machine stood still: the music goes on from where it was.
_STANDSTILL = 0.5
#: Per cent of the tune's own tempo that one step is.
_TEMPO_STEP = 5


class Player:
    """Plays a course to a port until it is over or told to end.

    `opening` is sent first, and again to a port that comes back.  `show` is called with
    what there is to see, and should be back in a millisecond; `factor` is the speed, of
    the tune's own tempo.
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
        self._opening, self._show, self._sync = tuple(opening), show, sync
        roles = [track.role for track in course.arrangement.tracks]
        self._channels = sorted({CHANNELS[role] for role in (*roles, Role.CLICK)})
        self.notes = Notes(port, clock, self._channels, muted)
        self._state = State.STOPPED
        self._seconds = Seconds((), Fraction(0))
        self._anchor = (0.0, 0.0)
        self._cues: list[Cue] = []
        self._leg: Leg | None = None
        self._bars: Iterator[tuple[MappedBar, list[Cue]]] = iter(())
        self._ready = self._until = self._full = 0
        self._number = 0
        self._over = False
        self._song = False
        self._beat: Beat | None = None
        self._current = self._landing = self._began = 0
        self._here = course.asked
        self._moving = self._away = self._goes_on = False
        self._chord = ""
        self._changed = True
        self._shown_at = 0.0

    def run(self, inbox: "SimpleQueue[Action]") -> None:
        """Play from the count-in, taking what is asked for from `inbox`."""
        try:
            self._begin(self.course.asked)
            while self._state is not State.ENDED:
                self._take(inbox)
                self._look_after_port()
                self._advance()
        finally:
            self._state = State.ENDED
            self.silence()
            self._show(self.shown())

    def shown(self) -> Shown:
        """What there is to see now."""
        texts = (each.said.text for each in self._cues if isinstance(each.said, Chord))
        coming = next((text for text in texts if text not in ("", self._chord)), "")
        return Shown(
            self._state, self._beat, self._here, self._own_tempo().scaled(self.factor),
            self.factor, frozenset(self.notes.muted), self._chord, coming, self._moving,
        )  # fmt: skip

    def _own_tempo(self) -> Tempo:
        """The tune's own tempo in the bar that sounds."""
        if self._beat is None:
            return (self._leg.stretch if self._leg else self.course.start).tempo
        stretch = self._beat.stretch
        return stretch.piece.tempo_at(self._beat.bar.onset) if stretch.piece else stretch.tempo

    def silence(self) -> None:
        """End every note, and the song that MIDI clock runs."""
        self.notes.silence(*([wire.STOP] if self._song else []))
        self._song = False

    # -- time -----------------------------------------------------------------------

    def _due(self, tick: int) -> float:
        """The moment of a tick."""
        moment, second = self._anchor
        return moment + (self._seconds.at(tick) - second) / float(self.factor)

    def _left(self, tick: int) -> float:
        """Seconds from now to a tick."""
        return self._due(tick) - self.clock.now()

    def _advance(self) -> None:
        """Send what is due, or wait a little for it."""
        if self._state is not State.PLAYING:
            self._show_changes()
            self.clock.sleep(_LOOK)
            return
        if not self._cues and not self._load():
            self._finish()
            return
        left = self._left(self._cues[0].tick)
        waiting = self._ready - self._until
        if self._wants_more(waiting, left):
            self._load()
        elif left > 2 * _LOOK:
            self._show_changes()
            self.clock.sleep(_LOOK)
        else:
            if left > _GLIMPSE and self.clock.now() - self._shown_at > _STALE:
                self._show_changes()
            self._send_tick()

    def _wants_more(self, waiting: int, left: float) -> bool:
        """True where another bar is to be made ready now: `waiting` ticks are."""
        if self._over or waiting >= _MOST_READY * self._full:
            return False
        return left > _SPARE or waiting < _LEAST_READY * self._full

    def _finish(self) -> None:
        """All has been played: wait for the last bar line, then end."""
        self._show_changes()
        if self._left(self._ready) > 2 * _LOOK:
            self.clock.sleep(_LOOK)
        else:
            self.clock.wait_until(self._due(self._ready))
            self._state = State.ENDED

    def _load(self) -> bool:
        """Make the next bar ready; False where there is none."""
        following = next(self._bars, None)
        if following is None:
            leg = None if self._over else self.course.next(self.factor)
            if leg is None:
                self._over = True
                return False
            following = self._enter(leg)
        assert self._leg is not None
        bar, found = following
        if self._sync:
            found += clock_cues(self._leg, bar, self._number)
        self._cues = sorted(self._cues + found)
        self._ready = ticks(bar.stop)
        return True

    def _enter(self, leg: Leg) -> tuple[MappedBar, list[Cue]]:
        """Go on with a leg; its first bar."""
        self._number += 1
        if self._beat is not None:
            self._seconds.forget(ticks(self._beat.bar.onset))
        for placed in tempos_of([leg.stretch]):
            self._seconds.add(placed)
        self._leg, self._bars = leg, cues(leg, self._number)
        return next(self._bars)

    # -- sending --------------------------------------------------------------------

    def _send_tick(self) -> None:
        """Make all that is due at the next tick ready, and send it in time."""
        tick = self._cues[0].tick
        ready = 0
        while ready < len(self._cues) and self._cues[ready].tick == tick:
            ready += 1
        now, self._cues = self._cues[:ready], self._cues[ready:]
        for each in now:
            if isinstance(each.said, Note):
                self.notes.let_go(place_of(each.said))
        for each in now:
            self._do(each)
        due = self._due(tick)
        moment = self.clock.wait_until(due)
        if moment - due > _STANDSTILL:
            due, self._anchor = moment, (moment, self._seconds.at(tick))
        self.notes.send(due)

    def _do(self, each: Cue) -> None:
        """What a cue says."""
        said = each.said
        if isinstance(said, Note):
            end = self.notes.strike(each, said)
            if end is not None:
                insort(self._cues, end)
        elif isinstance(said, Off):
            self.notes.let_go((said.channel, said.key), said.serial)
        elif isinstance(said, bytes):
            self.notes.say(said)
        elif isinstance(said, Release):
            self.notes.release(said)
        elif isinstance(said, Seek):
            self.notes.say(*seek(said.sixteenths, running=self._song))
            self._song = True
        elif isinstance(said, Beat):
            self._at_beat(each, said)
        else:
            self._chord, self._changed = said.text, True

    def _halt_song(self) -> None:
        if self._song:
            self.notes.say(wire.STOP)
            self._song = False

    def _at_beat(self, at: Cue, beat: Beat) -> None:
        self._beat, self._current, self._changed = beat, at.stretch, True
        self._until, self._full = ticks(beat.line), ticks(full_bar(beat.bar))
        if beat.stretch.kind is not Kind.COUNT_IN and at.stretch >= self._landing:
            self._here, self._moving = self.course.place(beat.number), False

    def _show_changes(self) -> None:
        if self._changed:
            self._changed, self._shown_at = False, self.clock.now()
            self._show(self.shown())

    # -- what the player asks for -----------------------------------------------------

    def _take(self, inbox: "SimpleQueue[Action]") -> None:
        """Do what is asked for, as far as there is time for it."""
        while self._state is not State.ENDED:
            try:
                self.act(inbox.get_nowait())
            except Empty:
                return
            playing = self._state is State.PLAYING and self._cues
            if playing and self._left(self._cues[0].tick) < _LOOK:
                return

    def act(self, action: Action) -> None:
        """Do what is asked for, at once or at the next bar line."""
        if self._state is State.ENDED:
            return
        self._changed = True
        if action in TRACK_OF:
            self._turn_track(TRACK_OF[action])
            self.notes.send()
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
            with suppress(PracticeError):  # bars that the tune's order leaves out
                target = self._target(action)
                self.course.loop(target.span)
                self._jump(target)

    def _target(self, action: Action) -> Target:
        course, here = self.course, self._here
        bar = course.loop(here.span).frame[here.bar]
        if action is Action.ASKED:
            return course.asked
        if action in (Action.THIS_BAR, Action.THIS_SECTION):
            alone = course.bar_alone if action is Action.THIS_BAR else course.section_alone
            return alone(bar)
        waiting = self._moving or self._state is not State.PLAYING or self._counting_in
        if action is Action.WHOLE:
            whole = course.whole(here)
            return whole if waiting else course.following(whole)
        if action is Action.BAR_BACK:
            return course.step_bars(here, -1)
        if action is Action.BAR_ON:  # the next bar comes by itself
            return course.step_bars(here if waiting else course.following(here), 1)
        return course.step_sections(here, 1 if action is Action.SECTION_ON else -1)

    @property
    def _counting_in(self) -> bool:
        """True until the count-in, or the breath where there is none, is over."""
        beat = self._beat
        return beat is None or self._current < self._began or beat.stretch.kind is Kind.COUNT_IN

    def _begin(self, target: Target) -> None:
        """Count in at once, and play from there; where the port is gone, when it is back."""
        if self._away:
            self._here, self._goes_on = target, True
            return
        self.notes.end()
        self._halt_song()
        if self._leg is None:
            self.notes.say(*self._opening)
        else:
            self.course.begin(target, self._beat.line if self._beat else Fraction(0))
        self._clear()
        self._here, self._moving = target, False
        self._load()
        self._landing = self._began = self._number
        self._state = State.PLAYING
        assert self._leg is not None
        bar = self._leg.stretch.frame[0]
        self._until, self._full = ticks(bar.onset), ticks(full_bar(bar))
        first = self._cues[0].tick
        self.notes.send()
        self._anchor = (self.clock.now() + _BREATH, self._seconds.at(first))

    def _clear(self) -> None:
        self._cues, self._bars, self._over = [], iter(()), False
        self._chord = ""
        self.notes.forget()

    def _stop(self, state: State) -> None:
        self._state = state
        self.notes.end()
        self._halt_song()
        self.notes.send()
        self._clear()

    def _jump(self, target: Target) -> None:
        """Go on elsewhere at the next bar line; while it is silent, begin there later."""
        if self._state is not State.PLAYING:
            self._here, self._moving = target, True
            return
        beat = self._beat
        if beat is None or self._counting_in:
            self._begin(target)
            return
        self.course.turn(target, beat.line, self._room(target, beat))
        line = ticks(beat.line)
        keep = [
            each for each in self._cues
            if each.tick < line
            and (isinstance(each.said, Off) or each.stretch == self._current)
            and not isinstance(each.said, Release)
        ]  # fmt: skip
        self._cues, self._bars, self._over = [], iter(()), False
        self._load()
        self._landing = self._number
        lead = min(line, self._cues[0].tick)
        pickup = min(lead, ticks(beat.bar.stop))  # the one that is left out, if there was one
        keep = [each for each in keep if not _melody_from(each, pickup)]
        keep.append(cue(lead, Order.OFF, self._number, Release(self._number, Role.MELODY)))
        keep.append(cue(line, Order.OFF, self._number, Release(self._number)))
        self._cues = sorted([*self._cues, *keep])
        self._here, self._moving = target, True

    def _room(self, target: Target, beat: Beat) -> Fraction:
        """Room for the target's pickup before the bar line, none where it comes too late."""
        pickup = self.course.pickup(target)
        fits = self._left(ticks(beat.line - pickup)) > _TOO_LATE
        return pickup if fits else Fraction(0)

    def _turn_track(self, role: Role) -> None:
        """Mute a track, or let it sound again: held basses and chords at once."""
        if role not in self.notes.muted:
            self.notes.mute(role)
            return
        for end in self.notes.unmute(role, lambda note: self._left(note.stop) > 0):
            insort(self._cues, end)

    def _change_tempo(self, steps: int) -> None:
        """Five per cent of the tune's own tempo slower or faster, at once."""
        per_cent = self.factor * 100 / _TEMPO_STEP
        whole = per_cent.numerator // per_cent.denominator
        if steps < 0 and whole == per_cent:
            whole -= 1
        elif steps > 0:
            whole += 1
        factor = Fraction(whole * _TEMPO_STEP, 100)
        own = [placed.tempo.beats for placed in self.course.arrangement.tempos]
        if max(own) * factor <= FASTEST if steps > 0 else min(own) * factor >= SLOWEST:
            moment, second = self._anchor
            now = self.clock.now()
            self._anchor = (now, second + (now - moment) * float(self.factor))
            self.factor = factor

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
        self.notes.say(*wire.quiet(self._channels), *self._opening)
        if self._goes_on:
            self._begin(self._here)
        else:
            self._state = State.STOPPED
            self.notes.send()


def _melody_from(each: Cue, tick: int) -> bool:
    said = each.said
    return isinstance(said, Note) and said.role is Role.MELODY and each.tick >= tick
