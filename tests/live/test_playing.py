"""`backing play` as a player uses it: a program of its own, on a terminal, to a JACK port."""

import os
import re
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import groupby
from pathlib import Path
from threading import Thread

import mido
import pytest

from backing.live import ports, wire

pytestmark = pytest.mark.slow

fcntl = pytest.importorskip("fcntl", reason="no terminals as on Unix here")
termios = pytest.importorskip("termios", reason="no terminals as on Unix here")

TUNE = """X:1
T:Quick
M:2/4
L:1/8
Q:1/4=360
K:G
|:"G"G2B2|"D"d2A2|"G"BGdB|1"D"A4:|2"G"G4|]
"""
PATIENCE = 30
#: `backing`, with stderr as its controlling terminal (/dev/tty).
PROGRAM = """
import fcntl, runpy, termios
fcntl.ioctl(2, termios.TIOCSCTTY, 0)
runpy.run_module("backing", run_name="__main__", alter_sys=True)
"""
ON, OFF = 0x90, 0x80
#: On which the tune sounds: melody, bass, chords, click.
CHANNELS = (1, 2, 3, 10)


class Playing:
    """`backing play` on a terminal: what is typed, what is shown.

    The window is so low that all is in words.
    """

    def __init__(self, *arguments: object, typed: str | None = None, read: bool = True) -> None:
        self._other, self._own = os.openpty()
        fcntl.ioctl(self._own, termios.TIOCSWINSZ, struct.pack("HHHH", 8, 120, 0, 0))
        self.before: list[object] = termios.tcgetattr(self._own)
        self._shown = b""
        if read:
            Thread(target=self._read, daemon=True).start()
        else:
            self._fill()
        self.program = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, "play", *map(str, arguments)],
            stdin=self._own if typed is None else subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=self._own,
            start_new_session=True,
        )
        if typed is not None:
            assert self.program.stdin is not None
            self.program.stdin.write(typed.encode())
            self.program.stdin.close()

    def _read(self) -> None:
        with suppress(OSError):
            while data := os.read(self._other, 4096):
                self._shown += data

    def _fill(self) -> None:
        """Write until the terminal takes no more."""
        os.set_blocking(self._own, False)
        with suppress(BlockingIOError):
            while True:
                os.write(self._own, b"x" * 1024)
        os.set_blocking(self._own, True)

    @property
    def shown(self) -> str:
        """All that was shown."""
        return self._shown.decode(errors="replace")

    def until(self, pattern: str, since: int = 0) -> None:
        """Wait until something is shown."""
        end = time.monotonic() + PATIENCE
        while not re.search(pattern, self.shown[since:]):
            assert self.program.poll() is None, self.shown
            assert time.monotonic() < end, f"in vain: {pattern} in {self.shown[-400:]}"
            time.sleep(0.01)

    def press(self, keys: str, pattern: str) -> None:
        """Type keys, and wait for what is shown then."""
        since = len(self.shown)
        os.write(self._other, keys.encode())
        self.until(pattern, since)

    def type(self, keys: str) -> None:
        """Type keys."""
        os.write(self._other, keys.encode())

    def end(self) -> int:
        """Wait for its end; the exit code."""
        return self.program.wait(timeout=PATIENCE)

    def hang_up(self) -> None:
        """Close the terminal."""
        os.close(self._own)
        os.close(self._other)
        self._own = self._other = -1

    @property
    def attributes(self) -> list[object]:
        """The terminal's attributes now."""
        return termios.tcgetattr(self._own)

    def clear(self) -> None:
        """End it if it runs; close the terminal."""
        if self.program.poll() is None:
            self.program.kill()
            self.program.wait()
        for end in (self._own, self._other):
            with suppress(OSError):
                os.close(end)


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    """A file with a short, quick tune."""
    path = tmp_path / "quick.abc"
    path.write_text(TUNE, encoding="utf-8")
    return path


@pytest.fixture
def play(tune: Path) -> Iterator[Callable[..., Playing]]:
    """Play the tune on a terminal with these options."""
    started: list[Playing] = []

    def start(*arguments: object, source: object = tune, **options: object) -> Playing:
        counted = () if str(source).endswith(".toml") else ("--count-in", 1)
        started.append(Playing(source, *counted, *arguments, **options))
        return started[-1]

    yield start
    for playing in started:
        playing.clear()


def notes(messages):
    """(status, key) of note messages, offs as such."""
    return [(each[0], each[1]) for each in messages if each[0] & 0xF0 in (ON, OFF)]


def sounding(messages):
    """What is on after these messages; no note is struck twice.  The end is sent three times."""
    on = set()
    for status, key in notes(messages):
        place = status & 0xF, key
        if status & 0xF0 == ON:
            assert place not in on
            on.add(place)
        else:
            on.discard(place)
    return on


def in_order(timed):
    """(moment, status, key), offs of one moment sorted: which is first does not matter."""
    found = []
    for _, group in groupby(timed, key=lambda each: (each[0], each[1] & 0xF0 == OFF)):
        rows = list(group)
        found += sorted(rows) if rows[0][1] & 0xF0 == OFF else rows
    return found


def written(path):
    """(seconds, status, key) of every note in a file, in the order in which they are sent:
    offs, click, melody, left hand (a track a role)."""
    song = mido.MidiFile(path)
    rank = {9: 1, 0: 2, 1: 3, 2: 4}
    beats = []
    for track in song.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                beats.append((tick, rank[message.channel], ON | message.channel, message.note))
            elif message.type in ("note_on", "note_off"):
                beats.append((tick, 0, OFF | message.channel, message.note))
    beats.sort(key=lambda each: each[:2])
    moments, now = {}, 0.0
    for message, tick in merged(song):
        moments[tick] = now = now + message.time
    return [(moments[tick], status, key) for tick, _, status, key in beats]


def merged(song):
    """All messages of a file in their order, each with the seconds since the one before, and the
    tick at which it comes."""
    ticks = iter(mido.merge_tracks(song.tracks))
    at = 0
    for message in song:
        at += next(ticks).time
        yield message, at


@pytest.mark.parametrize(
    "options",
    [
        ("--times", 1),
        ("--times", 2, "--bars", "2-3", "--percent", 80, "--mute", "bass"),
        ("--times", 2, "--box", "D/G"),
    ],
    ids=["once", "a loop", "on a box"],
)
def test_the_port_hears_what_make_writes(play, capture, until, tmp_path, tune, options):
    """What another program on JACK hears is the file that `make` writes with the same options,
    note-on by note-on and off by off, in order and in time; then every channel is told in
    four ways to be silent."""
    playing = play_beside(play, capture, *options)
    path = tmp_path / "quick.mid"
    make_file(path, tune, "--count-in", 1, *options)
    check_alike(*playing, path, until)


#: Of two tunes: a ladder, an echo, a set, the change into it; without a rest, which is a minute.
PRACTICE = """practice = "All at once"
count-in = 1
tune = "quick.abc"
percent = 100

[[step]]
for = "faster and faster"
bars = "2-3"
percent = "80..100"
step = 10
beyond = 5

[[step]]
part = "A"
echo = true
gap = 1
less-help = true

[[step]]
tune = "waltz.abc"
follows = true

[[step]]
tune = "quick.abc"
change = true
times = 2
"""
WALTZ = 'X:1\nT:Quicker\nM:3/4\nL:1/8\nQ:1/4=380\nK:D\nA2|"D"d2f2a2|"A"g2e2c2|"D"d6|]\n'


def test_the_port_hears_the_practice_that_make_writes(play, capture, until, tmp_path, tune):
    """What another program on JACK hears of a practice file is the file that `make` writes of it:
    ladders, echoes, gaps, sets and changes, tempi and metres."""
    (tmp_path / "waltz.abc").write_text(WALTZ)
    source = tmp_path / "all.toml"
    source.write_text(PRACTICE)
    playing = play_beside(play, capture, source=source)
    path = tmp_path / "all.mid"
    make_file(path, source)
    check_alike(*playing, path, until)


#: Three steps, each counted in long enough for a key.
THREE = """practice = "Three steps"
tune = "quick.abc"
count-in = 6
percent = 100
"""
STEPS = {
    "one": '[[step]]\nbars = "2-3"\n', "two": '[[step]]\npart = "A"\necho = true\n',
    "three": '[[step]]\ntimes = 2\nmute = "chords"\n',
}  # fmt: skip


def test_steps_left_out_and_taken_again_by_keys(play, capture, until, tmp_path, tune):
    """Where keys leave a step while it is counted in, and take one again, the port hears the steps
    as a file has them that names them so."""
    source, visited = tmp_path / "three.toml", tmp_path / "visited.toml"
    source.write_text(THREE + STEPS["one"] + STEPS["two"] + STEPS["three"])
    visited.write_text(THREE + STEPS["two"] + STEPS["two"] + STEPS["three"])
    listener, playing = play_beside(play, capture, source=source)
    playing.until("count-in.*step 1 of 3")
    playing.press("\t", "count-in.*step 2 of 3")
    playing.until("count-in.*step 3 of 3")
    playing.press("\x7f", "count-in.*step 2 of 3")
    playing.until("count-in.*step 3 of 3")
    path = tmp_path / "visited.mid"
    make_file(path, visited)
    assert playing.end() == 0
    last = list(wire.quiet(CHANNELS))
    until(lambda: listener.messages[-len(last) :] == last, "the end")
    hand = [(e[0], e[1]) for e in notes(listener.messages) if e[0] & 0xF != CHANNELS[-1] - 1]
    expected = [(status, key) for _, status, key in written(path) if status & 0xF != 9]
    assert sorted(hand) == sorted(expected)
    strikes = [[key for status, key in row if status == ON] for row in (hand, expected)]
    assert strikes[0] == strikes[1]


def play_beside(play, capture, *options, **more):
    """A listener, and what plays to it."""
    listener = capture("Reed box")
    return listener, play("--port", "reed", *options, **more)


def make_file(path, *words):
    """Write a MIDI file with `make`."""
    words = [sys.executable, "-m", "backing", "make", *map(str, words), "-o", str(path)]
    subprocess.run(words, check=True, capture_output=True)


def check_alike(listener, playing, path, until):
    """Assert that the listener has heard what the file has."""
    assert playing.end() == 0
    last = list(wire.quiet(CHANNELS))
    until(lambda: listener.messages[-len(last) :] == last, "the end")
    came = [each for each in listener.heard if each[1][0] & 0xF0 in (ON, OFF)]
    expected = written(path)
    assert len(came) == len(expected)
    placed = [
        (due, message[0], message[1])
        for (due, *_), (_, message) in zip(expected, came, strict=True)
    ]
    assert in_order(placed) == in_order(expected)
    assert sounding(listener.messages) == set()
    # a period of JACK is 5 ms; ten times as much for a machine that is busy
    start = came[0][0] - expected[0][0]
    late = sorted(when - start - due for (when, _), (due, *_) in zip(came, expected, strict=True))
    assert abs(late[len(late) // 2]) < 0.05


def test_keys_steer_and_the_screen_tells(play, capture):
    """Each key does what the table of keys says, seen on the screen: bar, part, round, tempo
    with unit and per cent, beat, what is muted, the coming chord, where it goes round."""
    capture("Reed box")
    playing = play("--port", "reed")
    playing.until(
        r"playing Quick to Reed box:in: alternating, band backing, 1/4 = 360 \(the tune's own; "
        r"180 bars a minute\); \? shows the\x1b"
    )
    playing.until(r"count-in, then bar 1, A part   beat 2 of 2")
    playing.until(r"A part, bar 1   beat 1 of 2")
    playing.until(r"G → D in [12] beat")
    playing.until(r"1/4 = 360 \(100 %\)   round 1")
    playing.until(r"A part, time 2, bar 5   beat")
    playing.press("4", r"\(100 %\)   round \d+   without click")
    playing.press("1", r"without click and melody")
    playing.press("4", r"without melody")
    playing.press("1", r"\(100 %\)   round \d+\x1b")
    playing.press("\x1b[A", r"1/4 = 378 \(105 %\)")
    playing.press("-\x1bOB", r"1/4 = 342 \(95 %\)")
    playing.press("b", r"then only bar \d")
    playing.until(r"round 2   only bar \d")
    playing.press("p", r"only the A part")
    playing.press("o", r"round \d+\x1b")
    playing.press("f", r"from bar \d to …")
    playing.press("t", r"only bars? \d")
    playing.press("w", r"round \d+\x1b")
    playing.press(" ", r"stopped at bar \d")
    playing.press("\x1b[C\x1b[C\x1b[6~", r"count-in, then bar \d")
    playing.until(r"bar [234]   beat")
    playing.press("\x1b[5~", r"count-in, then bar")
    playing.press("?", r"space, page down +stop and go")
    playing.press("w,.", r"beat")
    playing.type("q")
    assert playing.end() == 0
    assert playing.attributes == playing.before
    assert re.search(r"\x1b\[\?1049l(playing .*\r\n)+$", playing.shown)


@pytest.mark.parametrize(
    ("ended", "code"),
    [("q", 0), ("\x03", 130), ("\x03" * 9, 130), ("\x1c", 131), (signal.SIGTERM, 143),
     (signal.SIGINT, 130), (signal.SIGUSR1, 138), (signal.SIGALRM, 142), ("hang up", 129)],
    ids=["q", "Ctrl-C", "Ctrl-C held down", "Ctrl-\\", "SIGTERM", "SIGINT", "SIGUSR1", "SIGALRM",
         "SIGHUP"],
)  # fmt: skip
def test_however_it_ends_no_note_is_left_sounding(play, capture, until, ended, code):
    """Ended in mid-chord by a key, a signal or a terminal that is closed, every note gets its
    off, then controllers 64, 123, 120 and 121 of every channel; the terminal is as it was, and
    the exit code that of the signal (128 and its number, as shells count)."""
    listener = capture("Reed box")
    playing = play("--port", "reed", "--style", "sustained", "--mute", "click")
    until(lambda: len(sounding(listener.messages)) > 2, "a chord")
    if isinstance(ended, signal.Signals):
        playing.program.send_signal(ended)
    elif ended == "hang up":
        playing.hang_up()
    else:
        for key in ended:
            playing.type(key)
            time.sleep(0.002)
    assert playing.end() == code
    last = list(wire.quiet(CHANNELS))
    until(lambda: listener.messages[-len(last) :] == last, "silence")
    assert sounding(listener.messages) == set()
    if ended != "hang up":
        assert playing.attributes == playing.before
        assert "Traceback" not in playing.shown


def test_a_pause_of_the_program_is_not_heeded(capture, until, tune):
    """SIGTSTP, which Ctrl-Z sends, does not stop the program with notes sounding."""
    listener = capture("Reed box")
    command = [sys.executable, "-m", "backing", "play", tune, "--port", "reed"]
    quiet = {"stdin": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, **quiet) as playing:  # type: ignore[call-overload]
        listener.wait_for(30)
        playing.send_signal(signal.SIGTSTP)
        listener.wait_for(len(listener.messages) + 30)
        playing.terminate()
    assert playing.returncode == 143


def test_a_port_that_vanishes_is_waited_for(play, capture, until):
    """When the program that listens ends, play pauses and says so; when it is back there is a
    count-in, and notes again, after instruments and volumes."""
    listener = capture("Reed box")
    playing = play("--port", "reed")
    playing.until("bar 2")
    listener.vanish()
    playing.until("the port is gone: waiting for it to come back")
    since = len(playing.shown)
    again = capture("Reed box")
    playing.until("count-in", since)
    until(lambda: len(notes(again.messages)) > 10, "notes")
    kinds = [message[0] & 0xF0 for message in again.messages]
    assert 0xC0 in kinds[: kinds.index(ON)]
    playing.type("q")
    assert playing.end() == 0
    assert sounding(again.messages) == set()


def test_a_server_that_dies_is_said(mortal_jack, play):
    """When the JACK server is killed the screen says that the port is gone, and nothing that
    the library says of itself; keys still end it."""
    playing = play("--virtual")
    playing.until("bar 2")
    mortal_jack.kill()
    playing.until("the port is gone: waiting for it to come back")
    playing.type("q")
    assert playing.end() == 0
    assert not re.search("jack", playing.shown, re.IGNORECASE)


def test_pedals_and_a_player_s_own_controls_steer(play, capture, tmp_path, until):
    """The sustain pedal (controller 64) of a MIDI input stops and goes, once for each time that
    it goes down; a file of controls adds to it."""
    own = tmp_path / "feet.toml"
    own.write_text('[keys]\nx = "slower"\n[midi]\n"controller 1" = "end"\n', encoding="utf-8")
    capture("Reed box")
    pedal = ports.open_virtual("Pedal")
    playing = play("--port", "reed", "--pedal", "pedal", "--controls", own)
    playing.until("beat")
    since = len(playing.shown)
    for value in (70, 100, 127):
        pedal.send(wire.controller(1, 64, value), 0)
    playing.until("stopped", since)
    playing.press("x", "95 %")
    pedal.send(wire.controller(1, 64, 0), 0)
    since = len(playing.shown)
    pedal.send(wire.controller(1, 64, 127), 0)
    playing.until("count-in", since)
    pedal.send(wire.controller(1, 1, 127), 0)
    assert playing.end() == 0
    pedal.close()


def test_the_clock_runs_along(play, capture, until):
    """With --clock another program hears Start once, at the first bar, 24 clocks for each
    crotchet of count-in and tune, and Stop at the end (MIDI 1.0 Detailed Specification), which
    is sent three times."""
    listener = capture("Reed box")
    assert play("--port", "reed", "--clock", "--times", 1, "--bars", "1-2").end() == 0
    until(lambda: listener.messages.count(wire.STOP) == 3, "the end")
    kept = (wire.CLOCK, wire.START, wire.STOP, wire.CONTINUE)
    heard = [message for message in listener.messages if message in kept]
    count_in, bars = 2 * 24, 2 * 2 * 24
    expected = [wire.CLOCK] * count_in + [wire.START] + [wire.CLOCK] * bars + [wire.STOP] * 3
    assert heard == expected


def test_a_virtual_port_is_there_for_others(play, jack, until):
    """With --virtual there is a port called backing, and what is played is heard there."""
    heard: list[bytes] = []
    playing = play("--virtual")
    until(lambda: any("backing" in name for name in ports.input_names()), "the port")
    listening = ports.open_input("backing", heard.append)
    until(lambda: len(notes(heard)) > 4, "notes")
    playing.until("playing Quick to backing: ")
    playing.type("q")
    assert playing.end() == 0
    listening.close()


def test_without_a_terminal_nothing_but_the_words_is_shown(capture, tune):
    """Where stderr is no terminal it gets one line, without control characters; there are no
    keys, and the signal of Ctrl-C ends it."""
    listener = capture("Reed box")
    playing = subprocess.Popen(
        [sys.executable, "-m", "backing", "play", tune, "--port", "reed"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    listener.wait_for(30)
    playing.send_signal(signal.SIGINT)
    out, err = playing.communicate(timeout=PATIENCE)
    assert playing.returncode == 130
    assert out == b""
    first, *more = err.decode().splitlines()
    assert first.endswith("(the tune's own; 180 bars a minute); Ctrl-C ends it")
    assert more in ([], ["stopped"])
    assert re.search(r"[\x00-\x09\x0b-\x1f\x7f]", err.decode()) is None


def test_a_tune_from_standard_input_leaves_the_keys_to_the_terminal(play, capture):
    """Where the tune comes through standard input, keys come from the terminal (/dev/tty)."""
    capture("Reed box")
    playing = play("--port", "reed", source="-", typed=TUNE)
    playing.until(r"; \? shows the")
    playing.until("beat")
    playing.press(" ", "stopped")
    playing.type("q")
    assert playing.end() == 0
    assert playing.attributes == playing.before


def test_a_terminal_that_stands_still_does_not_hold_up_the_music(play, capture, until):
    """Where nothing more can be written to the terminal the tune is played on and round, and
    SIGTERM ends the program."""
    listener = capture("Reed box")
    playing = play("--port", "reed", read=False)
    until(lambda: len(notes(listener.messages)) > 40, "forty notes")
    playing.program.send_signal(signal.SIGTERM)
    assert playing.end() == 143
    last = list(wire.quiet(CHANNELS))
    until(lambda: listener.messages[-len(last) :] == last, "silence")
    assert sounding(listener.messages) == set()


def test_a_synthesiser_sounds_in_time(play, synthesiser):
    """FluidSynth, as another program, sounds the clicks of four bars as evenly as they are
    written: a crotchet of 360 a minute lasts a sixth of a second."""
    import numpy as np

    quiet = [f"--mute={role}" for role in ("melody", "bass", "chords")]
    playing = play("--port", synthesiser.name, "--bars", "1-3", "--times", 1, *quiet)
    assert playing.end() == 0
    samples, rate = synthesiser.stop()
    loud = np.flatnonzero(np.abs(samples) > 0.1 * np.abs(samples).max())
    struck = loud[np.diff(loud, prepend=-rate) > 0.1 * rate] / rate
    assert len(struck) == 8
    assert np.median(np.diff(struck)) == pytest.approx(1 / 6, abs=0.02)
