"""Whether `backing play` leaves a note sounding, however and whenever it is ended.

    python tests/bench/leaving.py [--runs 10] [--periods 64 256 1024 4096] [--seed 7]

A JACK server is started as our own hint says, without real-time scheduling, at each of the
periods; with `busy`, a program that only counts runs on every core meanwhile.  Another program
listens.  `backing play` plays a tune with held chords to it and is ended at a random moment by
a random signal, or by one and another 3 to 90 ms later.  Counted are the runs after which a note
sounds on: it has no note-off, and its channel was told neither All Notes Off nor All Sound Off
after it.  The ending is sent three times; how often all came, some, or none is counted too, and
how often the exit code was not the signal's.  Last, the longest time from the signal to the end
of the program.
"""

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from random import Random
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1] / "live"))
from conftest import Capture, serves, until

TUNE = """X:1
T:Leaving
M:2/4
L:1/8
Q:1/4=360
K:G
|:"G"G2B2|"D"d2A2|"G"BGdB|"D"A4:|
"""
SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGUSR1", "SIGALRM")
NOTE_OFF, NOTE_ON, CONTROL = 0x80, 0x90, 0xB0
ALL_SOUND_OFF, ALL_NOTES_OFF = 120, 123
#: How often the ending is sent.
SENT = 3
#: Seconds after which nothing more comes from a program that has ended.
SETTLED = 0.5
PATIENCE = 30.0


class Left(NamedTuple):
    """How one run ended."""

    hanging: int
    endings: int
    seconds: float
    code: int


def sounding(messages: Sequence[bytes]) -> set[tuple[int, int]]:
    """The channels and keys that are on after these messages."""
    on: set[tuple[int, int]] = set()
    for message in messages:
        kind, channel = message[0] & 0xF0, message[0] & 0x0F
        if kind == NOTE_ON and message[2]:
            on.add((channel, message[1]))
        elif kind in (NOTE_ON, NOTE_OFF):
            on.discard((channel, message[1]))
        elif kind == CONTROL and message[1] in (ALL_SOUND_OFF, ALL_NOTES_OFF):
            on = {place for place in on if place[0] != channel}
    return on


def endings(messages: Sequence[bytes]) -> int:
    """How often the click's channel, the last, was told that all notes end."""
    last = bytes((CONTROL | 9, ALL_NOTES_OFF, 0))
    return list(messages).count(last)


@contextmanager
def server(name: str, period: int) -> Iterator[None]:
    """A JACK server without real-time scheduling."""
    command = ["jackd", "--no-realtime", "-n", name, "-d", "dummy", "-r", "48000"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen([*command, "-p", str(period)], **quiet) as jackd:  # type: ignore[call-overload]
        try:
            until(serves, "the JACK server")
            yield
        finally:
            jackd.terminate()  # killed, it would keep one of JACK's eight places


@contextmanager
def load(busy: bool) -> Iterator[None]:
    """With `busy`, a program that only counts on every core."""
    command = [sys.executable, "-c", "while True: pass"]
    programs = [subprocess.Popen(command) for _ in range((os.cpu_count() or 1) if busy else 0)]
    try:
        yield
    finally:
        for program in programs:
            program.kill()
            program.wait()


def leave(tune: Path, name: str, chance: Random, *, double: bool) -> Left:
    """Play, end it at a random moment, and see what is left; where no chord comes to sound,
    once more."""
    while True:
        try:
            return _leave_once(tune, name, chance, double=double)
        except AssertionError:
            print(f"no chord came to {name} in time: once more", flush=True)


def _leave_once(tune: Path, name: str, chance: Random, *, double: bool) -> Left:
    listener = Capture(name)
    try:
        command = [sys.executable, "-m", "backing", "play", str(tune), "--port", name]
        command += ["--style", "sustained", "--count-in", "1"]
        quiet = {
            "stdin": subprocess.DEVNULL,
            "stdout": subprocess.DEVNULL,
            "stderr": subprocess.DEVNULL,
        }
        with subprocess.Popen(command, **quiet) as player:  # type: ignore[call-overload]
            try:
                until(lambda: len(sounding(listener.messages)) > 2, "a chord")
            except AssertionError:
                player.kill()
                raise
            time.sleep(chance.uniform(0, 1.5))
            number = getattr(signal, chance.choice(SIGNALS))
            began = time.monotonic()
            player.send_signal(number)
            if double:
                time.sleep(chance.uniform(0.003, 0.09))
                player.send_signal(number)
            code = player.wait(PATIENCE)
            seconds = time.monotonic() - began
        time.sleep(SETTLED)
        return Left(len(sounding(listener.messages)), endings(listener.messages), seconds, code)
    finally:
        listener.vanish()


def report(period: int, busy: bool, double: bool, runs: list[Left]) -> None:
    """A line of the table."""
    came = [run.endings for run in runs]
    hanging = sum(run.hanging > 0 for run in runs)
    odd = sum(run.code <= 128 for run in runs)
    print(
        f"{period:>6}  {'busy' if busy else 'idle':<4}  {'two' if double else 'one':<7}"
        f"{len(runs):>5}{hanging:>9}{came.count(SENT):>6}"
        f"{sum(0 < each < SENT for each in came):>6}{came.count(0):>6}{odd:>5}"
        f"{max(run.seconds for run in runs):>9.2f} s",
        flush=True,
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=10)
    parser.add_argument("--periods", type=int, nargs="+", default=[64, 256, 1024, 4096])
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    for name in SIGNALS:  # a shell's "&" and nohup have some of them ignored, also in what we start
        signal.signal(getattr(signal, name), signal.SIG_DFL)
    chance = Random(asked.seed)
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores, {asked.runs} runs each")
    print("period  load  signals runs  hanging   all  some  none  odd    longest")
    with tempfile.TemporaryDirectory() as folder:
        tune = Path(folder) / "leaving.abc"
        tune.write_text(TUNE, encoding="utf-8")
        for period in asked.periods:
            for busy in (False, True):
                name = f"leaving-{os.getpid()}-{period}-{busy}"
                os.environ["JACK_DEFAULT_SERVER"] = name
                with ExitStack() as stack:
                    stack.enter_context(server(name, period))
                    stack.enter_context(load(busy))
                    for double in (False, True):
                        found = [
                            leave(tune, f"reed-{number}", chance, double=double)
                            for number in range(asked.runs)
                        ]
                        report(period, busy, double, found)


if __name__ == "__main__":
    main()
