"""A real JACK server without a sound card, programs on it, and a stand-in for rtmidi."""

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread
from types import ModuleType
from typing import Any

import pytest

from backing.errors import PortError
from backing.live import ports

PATIENCE = 20.0


def until(holds: Callable[[], bool], what: str) -> None:
    """Wait for something that comes soon; fail where it never does."""
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end, f"in vain: {what}"
        time.sleep(0.01)


@pytest.fixture(name="until", scope="session")
def _until() -> Callable[[Callable[[], bool], str], None]:
    """Wait until something holds."""
    return until


@contextmanager
def running_jack(name: str) -> Iterator[subprocess.Popen[bytes]]:
    """A JACK server of this name, with the dummy driver.

    A server that is late loses a period with all that is in it. Where the system grants it,
    ours has real-time scheduling, above that of a player; elsewhere it goes on without (then
    at 64 frames a period that happened here with two busy programs beside it in 10 of 90
    bursts of messages, at 256 in one of ten tunes). What is played comes up to 5.3 ms late.
    """
    command = ["jackd", "-P", "60", "-n", name, "-d", "dummy", "-r", "48000", "-p", "256"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, **quiet) as server:  # type: ignore[call-overload]
        try:
            yield server
        finally:
            server.terminate()


def serves() -> bool:
    """True when the server of JACK_DEFAULT_SERVER answers."""
    try:
        return ports.system_names()[-1] == "JACK"
    except PortError:
        return False


@pytest.fixture(scope="session")
def jack() -> Iterator[str]:
    """A JACK server for this run of the tests, which every program that they start joins."""
    pytest.importorskip("rtmidi", reason="python-rtmidi is not installed")
    if not shutil.which("jackd"):
        pytest.skip("jackd is not installed (Debian: jackd2)")
    name = f"backing-{os.getpid()}"
    with pytest.MonkeyPatch.context() as patch, running_jack(name):
        patch.setenv("JACK_DEFAULT_SERVER", name)
        until(serves, "the JACK server")
        yield name


@pytest.fixture
def mortal_jack(jack: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[subprocess.Popen[bytes]]:
    """A JACK server for one test, which may kill it."""
    name = f"backing-mortal-{os.getpid()}"
    monkeypatch.setenv("JACK_DEFAULT_SERVER", name)
    with running_jack(name) as server:
        until(serves, "the JACK server")
        yield server
    if server.returncode < 0:  # killed, it keeps one of JACK's eight places until its name is back
        with running_jack(name):
            until(serves, "the JACK server again")


class Capture:
    """Another program that listens: what came, each with its moment by time.perf_counter."""

    def __init__(self, name: str) -> None:
        self.name = f"{name}:in"
        self.heard: list[tuple[float, bytes]] = []
        script = str(Path(__file__).with_name("capture.py"))
        self._program = subprocess.Popen(
            [sys.executable, script, name], stdout=subprocess.PIPE, text=True
        )
        assert self._program.stdout is not None
        assert self._program.stdout.readline() == "ready\n"
        self._reader = Thread(target=self._read, daemon=True)
        self._reader.start()

    @property
    def messages(self) -> list[bytes]:
        """What came, in the order in which it came."""
        return [message for _, message in self.heard]

    def wait_for(self, count: int) -> list[bytes]:
        """The messages, once there are so many."""
        until(lambda: len(self.heard) >= count, f"{count} messages at {self.name}")
        return self.messages

    def vanish(self) -> None:
        """End the program, and its port with it."""
        self._program.terminate()
        self._program.wait()
        self._reader.join()
        assert self._program.stdout is not None
        self._program.stdout.close()

    def _read(self) -> None:
        assert self._program.stdout is not None
        for line in self._program.stdout:
            moment, message = line.split()
            self.heard.append((float(moment), bytes.fromhex(message)))


@pytest.fixture
def capture(jack: str) -> Iterator[Callable[[str], Capture]]:
    """Start a program that listens on JACK, under a name."""
    started: list[Capture] = []

    def start(name: str = "listener") -> Capture:
        started.append(Capture(name))
        return started[-1]

    yield start
    for program in started:
        program.vanish()


class Synthesiser:
    """FluidSynth on JACK MIDI, which writes what it sounds into a file, in real time."""

    def __init__(self, sound_font: Path, output: Path, name: str) -> None:
        self.name = f"{name}:midi_00"
        self._output = output
        options = {
            "midi.jack.id": name,
            "audio.file.name": output,
            "audio.file.type": "wav",
            "synth.reverb.active": 0,
            "synth.chorus.active": 0,
        }
        given = [word for key, value in options.items() for word in ("-o", f"{key}={value}")]
        self._program = subprocess.Popen(
            ["fluidsynth", "-q", "-a", "file", "-m", "jack", *given, str(sound_font)],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until(lambda: self.name in ports.output_names(), "FluidSynth")

    def stop(self) -> tuple[Any, int]:
        """End it; what it sounded as one channel of samples, and their rate."""
        import soundfile

        self.end()
        samples, rate = soundfile.read(self._output)
        return samples.mean(axis=1), rate

    def end(self) -> None:
        """End it, if it runs."""
        if self._program.poll() is None:
            self._program.communicate(b"quit\n", timeout=PATIENCE)


@pytest.fixture
def synthesiser(jack: str, sound_font: Path, tmp_path: Path) -> Iterator[Synthesiser]:
    """A real synthesiser on JACK."""
    if not shutil.which("fluidsynth"):
        pytest.skip("fluidsynth is not installed (Debian: fluidsynth)")
    started = Synthesiser(sound_font, tmp_path / "sounded.wav", f"synth-{os.getpid()}")
    yield started
    started.end()


class FakeRtmidi(ModuleType):
    """Stands in for rtmidi: systems and ports as a test wants them; `calls` is what was done."""

    class RtMidiError(Exception):
        """What all its faults are."""

    class UnsupportedOperationError(RtMidiError):
        """What Windows says to a virtual port."""

    def __init__(self, *systems: str) -> None:
        super().__init__("rtmidi")
        self.systems = systems
        self.broken: set[str] = set()
        self.outputs: list[str] = []
        self.of_jack: list[str] | None = None
        self.in_use = False
        self.calls: list[str] = []
        self.callback: Callable[..., None] | None = None
        self.MidiOut = self.MidiIn = lambda api, name: FakeClient(self, api)

    def get_compiled_api(self) -> list[str]:
        """The systems that it was built for."""
        return list(self.systems)

    def get_api_name(self, api: str) -> str:
        """A system's short name; here a system is its name."""
        return api


class FakeClient:
    """A client of the stand-in."""

    def __init__(self, library: FakeRtmidi, api: str) -> None:
        if api in library.broken:
            raise library.RtMidiError("no such system")
        self.library = library
        self.api = api

    def get_current_api(self) -> str:
        return self.api

    def get_ports(self) -> list[str]:
        return list(self.ports)

    @property
    def ports(self) -> list[str]:
        """Those of its system."""
        jack = self.library.of_jack if self.api == "jack" else None
        return self.library.outputs if jack is None else jack

    def open_port(self, at: int, name: str) -> None:
        if self.library.in_use:
            raise self.library.RtMidiError("error opening the port")
        self.library.calls.append(f"open {self.ports[at]}")

    def open_virtual_port(self, name: str) -> None:
        if self.api == "winmm":
            raise self.library.UnsupportedOperationError
        self.library.calls.append(f"virtual {name}")

    def set_callback(self, callback: Callable[..., None]) -> None:
        self.library.callback = callback

    def cancel_callback(self) -> None:
        self.library.calls.append("cancel callback")

    def send_message(self, message: bytes) -> None:
        self.library.calls.append(f"send {bytes(message).hex()}")
        if message == b"\xfe":
            raise self.library.RtMidiError("the cable is out")

    def close_port(self) -> None:
        self.library.calls.append("close")

    def delete(self) -> None:
        self.library.calls.append("delete")


@pytest.fixture
def fake_rtmidi(monkeypatch: pytest.MonkeyPatch) -> Callable[..., FakeRtmidi]:
    """Put a stand-in in the place of rtmidi; the watch over ports looks often."""

    def put(*systems: str) -> FakeRtmidi:
        library = FakeRtmidi(*systems)
        monkeypatch.setitem(sys.modules, "rtmidi", library)
        return library

    monkeypatch.setattr(ports, "LOOK_EVERY", 0.01)
    return put
