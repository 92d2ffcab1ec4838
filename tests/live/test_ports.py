"""Ports by their names, on systems that this computer need not have; rtmidi is a stand-in."""

import os
import sys

import pytest

from backing.errors import PortError
from backing.live import ports
from backing.live.port_names import find

NAMES = ["Organ:reeds", "Reed box:out", "reed box:out 2"]


def fault(call, *arguments) -> str:
    """The whole message of the PortError that a call raises."""
    with pytest.raises(PortError) as caught:
        call(*arguments)
    return caught.value.text()


@pytest.mark.parametrize(
    ("wanted", "at"),
    [("Organ:reeds", 0), ("reed BOX:out", 1), ("box:out 2", 2), ("ORG", 0)],
)
def test_a_name_or_a_part_of_it_is_enough(wanted, at):
    """The very name wins over one that holds it, and large and small letters are alike."""
    assert find(wanted, NAMES) == at


def test_a_part_that_fits_two_is_refused():
    """A part that two names hold is an error that lists them."""
    assert fault(find, "box", NAMES) == (
        'error: "box" fits 2 MIDI outputs: Reed box:out, reed box:out 2\n'
        "hint: give more of the name"
    )


def test_a_misspelt_name_gets_the_near_one():
    """A name that is nearly one of the list is answered with that one."""
    assert fault(find, "Orgam:reeds", NAMES) == (
        'error: no MIDI output is called "Orgam:reeds"\nhint: did you mean Organ:reeds?'
    )


def test_an_unknown_name_gets_the_list():
    """A name that is like none gets the names that there are."""
    assert fault(find, "x", ["Organ:reeds", "Pedal:1"], "MidiIn") == (
        'error: no MIDI input is called "x"\nhint: there are: Organ:reeds, Pedal:1'
    )


def test_without_a_port_the_message_says_what_to_do():
    """Where there is no output at all, the message names the sound card."""
    assert fault(find, "x", []) == (
        "error: there is no MIDI output on this computer\n"
        "hint: switch a MIDI instrument on or start a synthesiser program. Without a port, "
        "backing play sounds through the sound card"
    )


def test_ports_of_one_name_are_not_ambiguous():
    """Two ports with the very same name cannot be told apart by it, so the first is taken."""
    assert find("box", ["Box", "Box", "Organ"]) == 0


@pytest.mark.parametrize(
    "call",
    [
        ports.output_names,
        ports.input_names,
        ports.open_virtual,
        lambda: ports.open_output("x"),
        lambda: ports.open_input("x", print),
    ],
)
def test_without_rtmidi_the_message_says_how_to_get_it(monkeypatch, call):
    """Without python-rtmidi, which has no wheels past Python 3.12 (its issue 217), every call
    says how to install it and what works without."""
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    assert fault(call) == (
        "error: MIDI ports need python-rtmidi, which is not installed\n"
        "hint: pip install python-rtmidi brings it: ready-made up to Python 3.12, beyond that "
        "it needs a C++ compiler. Without a port, backing play sounds through the sound card"
    )


def test_an_rtmidi_that_cannot_be_loaded_is_not_called_missing(monkeypatch):
    """Its Linux wheel takes libasound from the system (ldd): without that, the message says so."""

    def load(name):
        raise ImportError("libasound.so.2: cannot open shared object file")

    monkeypatch.setattr("backing.live.system.importlib.import_module", load)
    assert fault(ports.output_names) == (
        "error: python-rtmidi is installed, but cannot be loaded "
        "(libasound.so.2: cannot open shared object file)\n"
        "hint: on Linux it needs ALSA's library: sudo apt install libasound2. "
        "Without a port, backing play sounds through the sound card"
    )


def test_the_systems_that_work_are_known(fake_rtmidi):
    """Where ALSA's sequencer is missing (rtmidi issue 138), there is JACK."""
    library = fake_rtmidi("alsa", "jack")
    assert ports.system_names() == ("ALSA", "JACK")
    library.broken.add("alsa")
    assert ports.system_names() == ("JACK",)


def test_a_port_is_found_in_any_system(fake_rtmidi):
    """A synthesiser on JACK is found where ALSA works too; what none has is said as the first
    system sees it."""
    library = fake_rtmidi("alsa", "jack")
    library.outputs, library.of_jack = ["Reed box 20:0"], ["synth:midi"]
    assert ports.output_names() == ("Reed box 20:0", "synth:midi")
    ports.open_output("synth").close()
    assert "open synth:midi" in library.calls
    assert "there is: Reed box 20:0" in fault(lambda: ports.open_output("organ"))


@pytest.mark.parametrize("systems", [(), ("dummy",), ("alsa",)])
def test_where_no_system_works_the_message_says_how_to_get_one(fake_rtmidi, monkeypatch, systems):
    """A library built without any system has only a dummy (rtmidi issue 150): that is none."""
    library = fake_rtmidi(*systems)
    library.broken.add("alsa")
    monkeypatch.setattr("sys.platform", "linux")
    assert fault(ports.output_names) == (
        "error: no MIDI system runs on this computer\n"
        "hint: sudo modprobe snd-seq brings ALSA's; in a container, or without sound hardware, "
        "start a JACK server: jackd --no-realtime -d dummy. Without a port, backing play sounds "
        "through the sound card"
    )


def test_a_port_in_use_is_refused(fake_rtmidi):
    """A port that the system will not open (on Windows, one that another program has) is an
    error that names it, and its client is ended."""
    library = fake_rtmidi("winmm")
    library.outputs, library.in_use = ["Reed box 1"], True
    assert fault(ports.open_output, "reed") == (
        "error: the MIDI output Reed box 1 cannot be opened (error opening the port)\n"
        "hint: another program may hold it, and on Windows only one can: close it there"
    )
    assert library.calls[-1] == "delete"


def test_windows_has_no_virtual_ports(fake_rtmidi):
    """Windows' multimedia system cannot make virtual ports (rtmidi issue 332)."""
    fake_rtmidi("winmm")
    assert fault(ports.open_virtual) == (
        "error: Windows cannot make virtual MIDI ports\n"
        "hint: a loop-back MIDI driver gives a pair of ports: play to it with --port"
    )


@pytest.mark.parametrize(
    ("system", "asked", "before", "after", "name"),
    [
        ("alsa", "Box:out 20:0", "Box:out 20:0", "Box:out 24:0", "Box:out"),
        ("winmm", "Box 1", "Box 1", "Box 0", "Box"),
        ("core", "box 2", "Box 2", "Box 2", "Box 2"),
        ("alsa", "synth", "Synth (311):in 128:0", "Synth (422):in 129:0", "Synth (422):in"),
    ],
)
def test_a_port_is_joined_again(fake_rtmidi, until, system, asked, before, after, name):
    """A port that vanished is joined again when it is back, under another number of the
    system's too, or where what was asked for fits it."""
    library = fake_rtmidi(system)
    library.outputs = [before]
    port = ports.open_output(asked)
    library.outputs = []
    until(lambda: port.gone, "gone")
    port.send(b"\xf8", 0)
    library.outputs = ["Organ 30:0", after]
    until(lambda: not port.gone, "back")
    port.send(b"\xfa", 0)
    port.close()
    opened = [call for call in library.calls if call.startswith(("open", "send"))]
    assert opened == [f"open {before}", f"open {after}", "send fa"]
    assert port.name == name


def test_a_port_that_is_back_as_two_waits(fake_rtmidi, until):
    """Where what was asked for fits two ports, and neither is the one that vanished, no port
    is guessed."""
    library = fake_rtmidi("alsa")
    library.outputs = ["Synth A 20:0"]
    port = ports.open_output("synth")
    library.outputs = ["Synth B 20:0", "Synth C 21:0"]
    until(lambda: port.gone, "gone")
    library.outputs.append("Synth A 22:0")
    until(lambda: not port.gone, "back")
    port.close()
    assert "open Synth A 22:0" in library.calls
    assert not any("Synth B" in call or "Synth C" in call for call in library.calls)


def test_an_input_is_closed_in_the_order_that_does_not_crash(fake_rtmidi):
    """First nothing is heard any more, then the port goes, then the client: a callback that
    is left crashes (mido issue 368), a client that is left stays listed (rtmidi issue 60)."""
    library = fake_rtmidi("alsa")
    library.outputs = ["Pedal 20:0"]
    heard = []
    pedal = ports.open_input("pedal", heard.append)
    library.callback(([0xB0, 64, 127], 0.5), None)
    pedal.close()
    pedal.close()
    assert heard == [bytes((0xB0, 64, 127))]
    assert library.calls[-4:] == ["open Pedal 20:0", "cancel callback", "close", "delete"]


def test_sending_raises_nothing(fake_rtmidi):
    """A message that the system fails to take, and one after the end, pass in silence."""
    library = fake_rtmidi("alsa")
    port = ports.open_virtual("mine")
    port.send(b"\xfe", 0)
    port.close()
    port.send(b"\xf8", 0)
    port.close()
    assert [call for call in library.calls if "send" in call] == ["send fe"]
    assert library.calls.count("delete") == 1


def test_nothing_of_the_libraries_reaches_the_screen(fake_rtmidi, monkeypatch, capfd):
    """What a system's library writes to stderr while it is tried is not shown."""
    library = fake_rtmidi("alsa")
    monkeypatch.setattr(library, "MidiOut", lambda api, name: os.write(2, b"no such device\n"))
    ports.system.client("MidiOut", "x")
    os.write(2, b"ours\n")
    assert capfd.readouterr().err == "ours\n"
