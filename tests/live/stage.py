"""A stage for the player: a clock that is turned by hand, and a port that writes down."""

from dataclasses import dataclass, field
from itertools import groupby
from queue import Empty

from backing.arranging.arrange import arrange
from backing.files import load_style
from backing.live.clock import Clock
from backing.live.player import Player
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.presses import ROLE_ORDER, Seconds, key_presses, ticks

#: What each look at the clock takes, in seconds.
HAIR = 2e-5
TUNE = """X:1
T:Stage
M:4/4
L:1/8
Q:1/4=120
K:G
|:D2|"G"G2AB cdcB|"D"d4 c2B2|"C"e2dc BAGA|"D"A4 F2:|
|:B2|"Em"e2ef gfed|"A7"c4 e2A2|"D"f2ed cABc|"G"B4 G2:|
"""
OFF, ON, CONTROL = 0x80, 0x90, 0xB0


def arranged(text=TUNE, style="sustained"):
    """A tune and its arrangement."""
    tune = parse_abc(text)
    return arrange(tune, load_style(style)), tune


@dataclass
class Time:
    """A clock that goes on by a hair at each look, and by what is slept."""

    at: float = 100.0
    fault_at: float = float("inf")
    fault: BaseException = field(default_factory=KeyboardInterrupt)

    def now(self):
        self.go(HAIR)
        return self.at

    def go(self, seconds):
        """So much time passes; once, a fault strikes on the way."""
        self.at += seconds
        if self.at >= self.fault_at:
            self.fault_at = float("inf")
            raise self.fault


@dataclass
class Heard:
    """A port that keeps every message with the moment that it was due and the one it came."""

    time: Time
    away: tuple = (0.0, 0.0)
    name: str = "heard"
    messages: list = field(default_factory=list)
    breaths: list = field(default_factory=list)

    @property
    def gone(self):
        return self.away[0] <= self.time.at < self.away[1]

    def send(self, message, due):
        self.messages.append((due, self.time.at, message))
        self.time.go(HAIR)

    def breathe(self, due):
        self.breaths.append(due)

    def end(self, messages, due):
        for message in messages:
            self.send(message, due)

    def close(self):
        """Nothing to let go of."""


@dataclass
class Script:
    """Actions at moments of the clock, in order; a queue as far as the player sees."""

    time: Time
    actions: list

    def get_nowait(self):
        if self.actions and self.actions[0][0] <= self.time.at:
            return self.actions.pop(0)[1]
        raise Empty


class Stage:
    """One practice played from a script: `actions` are (seconds from the start, action).

    The start is where the first message of the music is due.
    """

    def __init__(
        self,
        music=None,
        step=None,
        actions=(),
        *,
        endless=False,
        away=None,
        muted=(),
        others=(),
        **options,
    ):
        arrangement, tune = music or arranged()
        self.time = Time()
        self.port = Heard(self.time)
        self.start = self.time.at + HAIR + 0.1
        if away:
            self.port.away = tuple(self.start + moment for moment in away)
        self.script = Script(self.time, [(self.start + at, action) for at, action in actions])
        self.shown = []
        if not isinstance(step, Plan):
            step = step or Step()
            step = Plan((step._replace(muted=step.muted | set(muted)),))
        course = Course(arrangement, tune, step, others=others, endless=endless)
        self.player = Player(
            course, self.port, Clock(self.time.now, self.time.go), show=self.show, **options
        )

    def show(self, shown):
        self.shown.append((self.time.at - self.start, shown))

    def play(self):
        """Play to the end; the stage again."""
        self.player.run(self.script)
        return self

    def messages(self):
        """(seconds from the start, bytes), as they were due, but for the last silencing."""
        return [(due - self.start, message) for due, _, message in self.port.messages]

    def notes(self, channel=None):
        """(seconds, status without channel, key) of note messages, of one channel or all."""
        return [
            (due, message[0] & 0xF0, message[1])
            for due, message in self.messages()
            if message[0] & 0xF0 in (ON, OFF) and channel in (None, (message[0] & 0xF) + 1)
        ]

    def onsets(self, channel):
        """(seconds, key) of the notes struck on a channel."""
        return [(round(due, 3), key) for due, kind, key in self.notes(channel) if kind == ON]


def written(music, step, others=()):
    """(seconds, status, key, velocity) of every note that a file of this step (or plan) has, in
    order: by tick, offs first, then click, melody, left hand."""
    arrangement, tune = music
    plan = step if isinstance(step, Plan) else Plan((step,))
    performance = perform(arrangement, plan, tune, others)
    seconds = Seconds(performance.tempos, performance.start)
    found = []
    for track in performance.tracks:
        channel = track.channel - 1
        order = 1 + ROLE_ORDER[track.role]
        for onset, stop, key, velocity in () if track.muted else key_presses(track.events):
            found.append((onset, order, ON | channel, key, velocity))
            found.append((stop, 0, OFF | channel, key, 0))
    found.sort(key=lambda each: each[:2])
    start = ticks(performance.start)
    assert seconds.at(start) == 0.0
    return [(seconds.at(tick), *said) for tick, _, *said in found], performance.seconds


def in_order(messages):
    """The same with the offs of one moment sorted: which comes first does not matter."""
    found = []
    for _, group in groupby(messages, key=lambda each: (round(each[0], 6), each[1] & 0xF0 == OFF)):
        rows = list(group)
        off = rows[0][1] & 0xF0 == OFF
        found += sorted(rows, key=lambda each: each[1:]) if off else rows
    return found


def still_sounding(messages):
    """The notes that are on after all messages; asserts that none is struck twice."""
    sounding = set()
    for _, message in messages:
        kind, place = message[0] & 0xF0, (message[0] & 0xF, message[1:2])
        if kind == ON:
            assert place not in sounding, f"{place} struck twice"
            sounding.add(place)
        elif kind == OFF:
            sounding.discard(place)
    return sounding
