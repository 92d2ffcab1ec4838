"""Ports on a real JACK server: another program that listens, and a real synthesiser."""

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from backing.errors import PortError
from backing.live import ports

pytestmark = pytest.mark.slow

#: Of every kind that is played: three bytes, two, one, song position, GM on (exclusive).
MESSAGES = [
    bytes.fromhex(text)
    for text in ("c014", "b0077f", "903c40", "f8", "fa", "f20102", "f07e7f0901f7", "803c00", "fc")
]


def test_what_is_sent_arrives_unchanged_and_in_order(capture):
    """Messages of every kind (MIDI 1.0 Detailed Specification) arrive as they were sent."""
    listener = capture("Reed box")
    port = ports.open_output("Reed box")
    for message in MESSAGES:
        port.send(message, 0)
    assert listener.wait_for(len(MESSAGES)) == MESSAGES
    port.close()


def test_what_is_sent_before_the_end_arrives(capture):
    """Note-offs that are sent just before the port closes arrive, all of them (reported as
    lost on JACK in rtmidi issue 125)."""
    listener = capture()
    port = ports.open_output("listener")
    offs = [bytes((0x80 | channel, key, 0)) for channel in range(3) for key in range(128)]
    for message in offs:
        port.send(message, 0)
    port.close()
    assert listener.wait_for(len(offs)) == offs


def test_a_listed_name_opens_its_port(capture):
    """The list holds another program's port, and a part of the name opens it, no other."""
    one, other = capture("Reed box"), capture("Organ")
    assert {one.name, other.name} <= set(ports.output_names())
    port = ports.open_output("organ")
    assert port.name == other.name
    port.send(b"\xfa", 0)
    assert other.wait_for(1) == [b"\xfa"]
    assert one.messages == []
    port.close()


def test_a_name_that_fits_none_or_two_lists_what_there_is(capture):
    """Names that fit none or two are refused with the ports of the server."""
    capture("Reed box")
    with pytest.raises(PortError, match='no MIDI output is called "flood"') as caught:
        ports.open_output("flood")
    assert caught.value.hint == "there is: Reed box:in"
    capture("Reed organ")
    with pytest.raises(PortError) as caught:
        ports.open_output("reed")
    assert caught.value.message == '"reed" fits 2 MIDI outputs: Reed box:in, Reed organ:in'


def test_a_virtual_port_is_there_until_it_is_closed(jack):
    """A virtual port stands under its name among what other programs can listen to."""
    port = ports.open_virtual("Practice")
    assert ports.input_names() == ("Practice:Practice",)
    assert not port.gone
    port.close()
    assert ports.input_names() == ()


def test_a_pedal_is_heard(jack, until):
    """An input hands on what another client sends."""
    heard: list[bytes] = []
    pedal = ports.open_virtual("Pedal")
    listening = ports.open_input("pedal", heard.append)
    pedal.send(b"\xb0\x40\x7f", 0)
    until(lambda: heard == [b"\xb0\x40\x7f"], "the pedal")
    listening.close()
    pedal.close()


def test_a_port_that_vanished_is_joined_again(capture, until):
    """While the program that listens is away the port is gone and takes messages in silence;
    when one of its name is back, messages arrive again."""
    first = capture("Reed box")
    port = ports.open_output("reed")
    first.vanish()
    until(lambda: port.gone, "gone")
    port.send(b"\xfb", 0)
    second = capture("Reed box")
    until(lambda: not port.gone, "back")
    port.send(b"\xfa", 0)
    assert second.wait_for(1) == [b"\xfa"]
    port.close()


def test_opening_and_closing_leaves_nothing_behind(capture, until):
    """Sixty times opened and closed, a port leaves no client, thread or open file (clients
    leaked after some thirty in mido pull request 264)."""
    capture("Reed box")

    def open_and_close() -> tuple[int, int, int]:
        port = ports.open_output("reed")
        port.close()
        tasks, files = os.listdir("/proc/self/task"), os.listdir("/proc/self/fd")
        return len(tasks), len(files), len(ports.input_names())

    open_and_close()
    before = open_and_close()
    for _ in range(58):
        after = open_and_close()
    assert after[1:] == before[1:]
    names = [thread.name for thread in threading.enumerate()]
    assert not [name for name in names if name.startswith("port")]
    until(lambda: len(os.listdir("/proc/self/task")) <= before[0], "no thread more")


def test_a_note_sounds_on_a_synthesiser(synthesiser):
    """An A that is sent to FluidSynth sounds at 440 Hz (ISO 16), and not a semitone beside."""
    import time

    import numpy as np

    port = ports.open_output(synthesiser.name)
    port.send(bytes((0x90, 69, 100)), 0)
    time.sleep(0.6)
    port.send(bytes((0x80, 69, 0)), 0)
    port.close()
    samples, rate = synthesiser.stop()
    sounding = samples[np.flatnonzero(np.abs(samples) > 1e-3)[0] :][: rate // 2]
    spectrum = np.abs(np.fft.rfft(sounding * np.hanning(len(sounding)))) ** 2
    pitches = 69 + 12 * np.log2(np.fft.rfftfreq(len(sounding), 1 / rate)[1:] / 440)

    def energy(pitch: int) -> float:
        return float(spectrum[1:][np.abs(pitches - pitch) < 0.25].sum())

    assert energy(69) > 100 * max(energy(68), energy(70))


#: A program whose JACK server dies under it, and comes back.
DEATH = """
import sys, time
sys.path.insert(0, sys.argv[1])
from conftest import running_jack, serves, until
from backing.live import ports

with running_jack(sys.argv[2]) as server:
    until(serves, "the server")
    mine = ports.open_virtual("mine")
    pedal = ports.open_input("mine", print)
    server.kill()
    server.wait()
    until(lambda: mine.gone and pedal.gone, "gone")
    for _ in range(5000):  # more than waits in rtmidi for a server
        mine.send(bytes((0x90, 60, 1)), 0)
if sys.argv[3] == "back":
    with running_jack(sys.argv[2]) as server:
        until(serves, "the server again")
        until(lambda: not (mine.gone or pedal.gone), "back")
        mine.send(bytes((0x90, 60, 2)), 0)
        time.sleep(0.2)
        mine.close()
        pedal.close()
else:
    mine.close()
    pedal.close()
print("closed")
"""


@pytest.mark.parametrize(
    ("then", "said"), [("away", ["closed"]), ("back", [str(bytes((0x90, 60, 2))), "closed"])]
)
def test_a_jack_server_that_dies_takes_nothing_along(jack, then, said):
    """When the JACK server is killed its ports are gone, sending neither blocks nor crashes,
    and closing ends; where a new one is started, messages go on."""
    server = f"backing-dies-{os.getpid()}"
    ran = subprocess.run(
        [sys.executable, "-c", DEATH, str(Path(__file__).parent), server, then],
        env={**os.environ, "JACK_DEFAULT_SERVER": server},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ran.stdout.splitlines() == said
    assert ran.returncode == 0


#: A program whose JACK server stands still, and perhaps goes on.
STANDSTILL = """
import os, signal, sys, time
sys.path.insert(0, sys.argv[1])
from conftest import until
from backing.live import ports, system

server = int(sys.argv[2])
port = ports.open_output("reed")
os.kill(server, signal.SIGSTOP)
until(lambda: system.is_stopped(server), "the stop")
for _ in range(20_000):  # more than waits in rtmidi for a server
    port.send(bytes((0x90, 60, 1)), 0)
print(port.gone, flush=True)
if sys.argv[3] == "on":
    os.kill(server, signal.SIGCONT)
    until(lambda: not port.gone, "the server")
    port.send(bytes((0x90, 60, 2)), 0)
    time.sleep(0.2)
port.end([bytes((0x80, 60, 0))], 0)
port.close()
print("closed")
"""


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the server is seen on Linux")
@pytest.mark.parametrize(
    ("then", "said", "code"), [("on", ["True", "closed"], 0), ("still", ["True"], 1)]
)
def test_a_jack_server_that_stands_still_is_gone(mortal_jack, capture, then, said, code):
    """While the JACK server is stopped (SIGSTOP) its port is gone, and sending does not block;
    when it goes on, messages arrive again; where it does not, closing ends the program."""
    listener = capture("Reed box")
    try:
        ran = subprocess.run(
            [
                sys.executable,
                "-c",
                STANDSTILL,
                str(Path(__file__).parent),
                str(mortal_jack.pid),
                then,
            ],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    finally:
        mortal_jack.send_signal(signal.SIGCONT)
    assert ran.stdout.splitlines() == said
    assert ran.returncode == code
    if then == "on":
        assert bytes((0x90, 60, 2)) in listener.messages


@pytest.mark.slow
def test_the_command_lists_the_ports(capture):
    """`backing ports` names the system and another program's port; nothing of the libraries'
    own talk is shown."""
    capture("Reed box")
    ran = subprocess.run(
        [sys.executable, "-m", "backing", "ports"], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0
    assert ran.stdout == (
        "MIDI outputs (JACK), to play to:\n  Reed box:in\n"
        "MIDI inputs (JACK), to listen to:\n  none\n"
    )
    assert ran.stderr == "hint: plug a MIDI pedal, keyboard or controller in and switch it on\n"
