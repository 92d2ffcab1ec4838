"""Sends what is due: the cues of a course as messages to a port, and what then sounds."""

from collections.abc import Callable
from fractions import Fraction

from backing.arranging.arrangement import CHANNELS, Role
from backing.arranging.breathing import BellowsSpan
from backing.live import wire
from backing.live.clock import Clock
from backing.live.cues import ChordNow, Cue, FeltBeat, KeyStrike, Off, Release, Seek
from backing.live.lookahead import Lookahead
from backing.live.notes import Notes, place_of
from backing.live.port import Port
from backing.live.sync import Song
from backing.live.timeline import Timeline
from backing.music.tempo import Tempo
from backing.practice.course import Course
from backing.practice.laying import Target

#: Later than this, the machine stood still: the music goes on from where it was.
_STANDSTILL = 0.5


class Sender:
    """The music as it goes out: which beat of which stretch sounds, which chord.

    `told` is called with the cue of each beat and each chord symbol.  `way` is how the bellows
    of a box go, "" before they do.
    """

    def __init__(
        self, course: Course, port: Port, clock: Clock, told: Callable[[Cue], None], *, sync: bool
    ) -> None:
        self.timeline = Timeline(clock)
        self.ahead = Lookahead(course, self.timeline, sync=sync)
        self.roles = (*(track.role for track in course.pieces[0].arrangement.tracks), Role.CLICK)
        self.channels = tuple(sorted({CHANNELS[role] for role in self.roles}))
        self.notes = Notes(port, clock, self.channels)
        self.stretch = course.start
        self.beat: FeltBeat | None = None
        self.number = 0
        self.chord = self.way = ""
        self._clock, self._course, self._told, self._song = clock, course, told, Song()
        self._port = port

    @property
    def factor(self) -> Fraction:
        """The speed, of the tune's own tempo."""
        return self.stretch.factor * self.timeline.scale

    @property
    def tempo(self) -> Tempo:
        """The tempo now."""
        beat = self.beat
        here = beat is not None and beat.stretch is self.stretch
        tempo = self.stretch.tempo_at(beat.bar.onset) if beat and here else self.stretch.tempo
        return tempo.scaled(self.timeline.scale)

    @property
    def muted(self) -> frozenset[Role]:
        """The tracks that are withheld."""
        own = self.stretch.muted
        return frozenset(r for r in self.roles if self.notes.is_muted(r, own=r in own))

    def turn_track(self, role: Role) -> None:
        """Mute a track, or let it sound again: held basses and chords at once."""
        own = role in self.stretch.muted
        ends = self.notes.turn(role, own=own, lasts=lambda s: self.timeline.left(s.stop) > 0)
        for end in ends:
            self.ahead.insert(end)
        self.notes.send()

    def begin(self, target: Target | None, breath: float) -> None:
        """After a breath, of so many seconds, count in to a target; None for the first."""
        self._end()
        if target is not None:
            self._course.begin(target, self.beat.line if self.beat else Fraction(0))
        self.chord = ""
        self.stretch = self.ahead.begin()
        self.notes.send()
        self.timeline.anchor(self.ahead.next_tick, self._clock.now() + breath)

    def stop(self) -> None:
        """End all that sounds; nothing more comes."""
        self._end()
        self.notes.send()
        self.ahead.clear()
        self.chord = ""

    def _end(self) -> None:
        self.notes.end()
        self.notes.say(*self._song.halt())
        self.notes.forget()

    def silence(self) -> None:
        """End every note by all means, and the song that MIDI clock runs."""
        self.notes.silence(*([wire.STOP] if self._song.running else []))
        self._song.running = False

    def send_tick(self) -> None:
        """Make all that is due at the next tick ready, and send it in time."""
        tick, now = self.ahead.next_tick, self.ahead.take()
        for each in now:
            if isinstance(each.said, KeyStrike):
                self.notes.let_go(place_of(each.said))
        breathes = False
        for each in now:
            if isinstance(each.said, BellowsSpan):
                breathes = each.said.new_breath_after(self.way)
                self.way = each.said.way
            self._do(each)
        due = self.timeline.due(tick)
        moment = self._clock.wait_until(due)
        if moment - due > _STANDSTILL:
            due = moment
            self.timeline.anchor(tick, moment)
        self.notes.send(due)
        if breathes:
            self._port.breathe(due)

    def _do(self, each: Cue) -> None:
        """What a cue says."""
        said = each.said
        if isinstance(said, KeyStrike):
            end = self.notes.strike(each, said)
            if end is not None:
                self.ahead.insert(end)
        elif isinstance(said, Off):
            self.notes.let_go((said.channel, said.key), said.serial)
        elif isinstance(said, bytes):
            self.notes.say(said)
        elif isinstance(said, Release):
            self.notes.release(said)
        elif isinstance(said, Seek):
            self.notes.say(*self._song.seek(said.sixteenths))
        elif isinstance(said, ChordNow):
            self.chord = said.text
            self._told(each)
        elif isinstance(said, FeltBeat):
            self.beat, self.stretch, self.number = said, said.stretch, each.stretch
            self.ahead.sounds(said)
            self._told(each)
