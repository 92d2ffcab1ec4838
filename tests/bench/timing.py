"""How punctually the player sends its messages, beside mido's `MidiFile.play`, in one run.

    python tests/bench/timing.py [--minutes 10] [--runs 3]

A tune in sixteenths at 120 crotchets a minute, with bass, chords and click, is played to a
port that only notes the time: on the machine as it is, and with a busy process on every
core; by our player with real-time scheduling, the same while a large window (200 columns, 60
lines) shows each moment, by our player as where the system grants none, and by mido from our
file of the same practice.  Each message's lateness is the moment it was sent less the moment
it was due by the file, which starts with the first note due.
Drift is the median lateness of the last hundred less that of the first hundred.  Last,
the tempo is changed a hundred times while it plays, and lost and doubled events are counted.

Goals: p99 at most 0.05 ms idle; busy at most 1 ms and worst 5 ms with real-time
scheduling, p99 3.5 ms without; drift 0.  The machine's load is printed first: on a shared
one, look at the ratios, and at several runs.
"""

import argparse
import fcntl
import os
import struct
import subprocess
import sys
import termios
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, suppress
from io import BytesIO
from queue import SimpleQueue
from statistics import median, quantiles
from threading import Thread, Timer

import mido

from backing.arranging.arrange import arrange
from backing.cli.display import Screen
from backing.files import load_style
from backing.live.actions import Action
from backing.live.clock import Clock, punctual
from backing.live.player import Player
from backing.live.shown import Shown
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

BAR_SECONDS = 2.0
NOTES = '"G"GABcdcBA "D"dcBAGABc|"C"cdefgfed "G"dcBAGFGA|'
CONTROL = 0xB0
#: (moment sent, moment due, message)
Sent = list[tuple[float, float, bytes]]


class Noted:
    """A port that only notes the time."""

    name, gone = "noted", False

    def __init__(self) -> None:
        self.sent: Sent = []

    def send(self, message: bytes, due: float) -> None:
        """Note when a message comes."""
        self.sent.append((time.perf_counter(), due, message))

    def breathe(self, due: float) -> None:
        """Nothing to hear of that."""

    def end(self, messages: Sequence[bytes], due: float) -> None:
        """Note the last messages too."""
        for message in messages:
            self.send(message, due)

    def close(self) -> None:
        """Nothing to let go of."""


def make_tune(seconds: float) -> str:
    """A tune of so many seconds in sixteenths."""
    pairs = max(1, round(seconds / BAR_SECONDS / 2))
    return "X:1\nT:Sixteenths\nM:4/4\nL:1/16\nQ:1/4=120\nK:G\n" + NOTES * pairs + "]\n"


def play_ours(
    text: str,
    changes: int = 0,
    *,
    sync: bool = False,
    show: Callable[[Shown], None] = lambda shown: None,
) -> Sent:
    """Play a tune once; the tempo is changed so many times, there and back."""
    tune = parse_abc(text)
    port = Noted()
    course = Course(arrange(tune, load_style("alternating")), tune, Plan((Step(),)))
    player = Player(course, port, Clock(), sync=sync, show=show)
    inbox: SimpleQueue[Action] = SimpleQueue()
    timers = [
        Timer(1 + 0.1 * place, inbox.put, [(Action.FASTER, Action.SLOWER)[place % 2]])
        for place in range(changes)
    ]
    with punctual():
        for timer in timers:
            timer.start()
        player.run(inbox)
    return port.sent


def play_ours_plainly(text: str) -> Sent:
    """The same where the system grants no real-time scheduling."""
    granted = os.sched_setscheduler

    def refused(*_: object) -> None:
        raise PermissionError("not granted")

    os.sched_setscheduler = refused  # type: ignore[assignment]
    try:
        return play_ours(text)
    finally:
        os.sched_setscheduler = granted


def play_with_clock(text: str) -> Sent:
    """Ours with real-time scheduling and MIDI clock."""
    return play_ours(text, sync=True)


def play_in_window(text: str) -> Sent:
    """Ours with real-time scheduling, shown in a large window."""
    other, own = os.openpty()
    fcntl.ioctl(own, termios.TIOCSWINSZ, struct.pack("HHHH", 60, 200, 0, 0))
    Thread(target=read_all, args=(other,), daemon=True).start()
    with os.fdopen(own, "w", encoding="utf-8") as window, redirect_stderr(window):
        screen = Screen()
        try:
            return play_ours(text, show=screen.show)
        finally:
            screen.close()


def read_all(terminal: int) -> None:
    """Read what is written to a terminal until it is closed."""
    with suppress(OSError):
        while os.read(terminal, 1 << 16):
            pass
    os.close(terminal)


def play_mido(text: str) -> Sent:
    """mido's player on our file of the same practice."""
    tune = parse_abc(text)
    performance = perform(arrange(tune, load_style("alternating")), Plan((Step(),)), tune)
    file = mido.MidiFile(file=BytesIO(render_midi(performance, single_track=True)))
    sent: Sent = []
    due = 0.0
    dues = []
    for message in file:
        due += message.time
        if not message.is_meta:
            dues.append(due)
    start = time.perf_counter()
    for message in file.play(now=time.perf_counter):
        sent.append((time.perf_counter(), 0.0, bytes(message.bytes())))
    return [(now, start + due, message) for (now, _, message), due in zip(sent, dues, strict=True)]


def notes_of(sent: Sent) -> Sent:
    """Without controllers: the opening, and the silencing at the end."""
    return [each for each in sent if not CONTROL <= each[2][0] < 0xF0]


def lateness(sent: Sent) -> list[float]:
    """Milliseconds by which each message came late."""
    return [(now - due) * 1000 for now, due, _ in notes_of(sent)]


@contextmanager
def busy() -> Iterator[None]:
    """A busy process on every core."""
    spin = [sys.executable, "-c", "while True: pass"]
    running = [subprocess.Popen(spin) for _ in range(os.cpu_count() or 1)]
    try:
        time.sleep(0.5)
        yield
    finally:
        for process in running:
            process.kill()
            process.wait()


PLAYERS: dict[str, Callable[[str], Sent]] = {
    "ours, real time": play_ours,
    "ours, real time, MIDI clock": play_with_clock,
    "ours, real time, window": play_in_window,
    "ours, ordinary": play_ours_plainly,
    "mido": play_mido,
}


def measure(text: str) -> None:
    """One line a player."""
    for name, play in PLAYERS.items():
        late = lateness(play(text))
        cuts = quantiles(late, n=100)
        drift = median(late[-100:]) - median(late[:100])
        print(
            f"  {name:28} {len(late):6} events   p50 {cuts[49]:7.3f}   p99 {cuts[98]:7.3f}   "
            f"worst {max(late):7.3f}   drift {drift:+7.3f}   (ms)",
            flush=True,
        )


def count_changes(text: str) -> None:
    """Play with a hundred changes of tempo; count what is lost and what is doubled."""
    plain = Counter(message for *_, message in notes_of(play_ours(text)))
    sent = play_ours(text, changes=100)
    changed = Counter(message for *_, message in notes_of(sent))
    late = lateness(sent)
    print(
        f"  100 changes of tempo: {sum(plain.values())} events, "
        f"{sum((plain - changed).values())} lost, {sum((changed - plain).values())} doubled, "
        f"p99 {quantiles(late, n=100)[98]:.3f}, worst {max(late):.3f} ms late"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=1 / 3, help="length of the tune")
    parser.add_argument("--runs", type=int, default=1, help="how often all is measured")
    arguments = parser.parse_args()
    text = make_tune(arguments.minutes * 60)
    with punctual() as granted:
        pass
    load = ", ".join(f"{each:.2f}" for each in os.getloadavg())
    print(f"{os.cpu_count()} cores, load {load}; real-time scheduling granted: {granted}")
    for run in range(1, arguments.runs + 1):
        print(f"run {run}, the machine as it is")
        measure(text)
        print(f"run {run}, a busy process on every core")
        with busy():
            measure(text)
    count_changes(make_tune(20))


if __name__ == "__main__":
    main()
