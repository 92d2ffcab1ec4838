"""`backing ports`: the list, and what is said where there is nothing to list."""

import sys

import pytest

from backing.live import ports


@pytest.fixture
def here(monkeypatch):
    """Let these be the ports of the computer."""

    def put(outputs: tuple[str, ...], inputs: tuple[str, ...]) -> None:
        monkeypatch.setattr(ports, "system_names", lambda: ("ALSA",))
        monkeypatch.setattr(ports, "output_names", lambda of: outputs)
        monkeypatch.setattr(ports, "input_names", lambda of: inputs)

    return put


def test_ports_are_listed(cli, here):
    """Outputs and inputs stand under their headings, as their names are given to --port."""
    here(("Reed box:out 20:0", "Organ:in 24:0"), ("Pedal:out 28:0",))
    result = cli("ports")
    assert result.code == 0
    assert result.out.splitlines() == [
        "MIDI outputs (ALSA), to play to:",
        "  Reed box:out 20:0",
        "  Organ:in 24:0",
        "MIDI inputs (ALSA), to listen to:",
        "  Pedal:out 28:0",
    ]
    assert result.err == ""


def test_without_ports_it_says_what_to_do(cli, here):
    """Where there is nothing, each heading says none and a hint follows; it is no fault."""
    here((), ())
    result = cli("ports")
    assert result.code == 0
    assert result.out.count("  none\n") == 2
    assert result.err.splitlines() == [
        "hint: switch a MIDI instrument on or start a synthesiser program. Without a port, "
        "backing play sounds through the sound card",
        "hint: plug a MIDI pedal, keyboard or controller in and switch it on",
    ]


def test_without_the_library_it_says_how_to_get_it(cli, monkeypatch):
    """Without python-rtmidi the command ends with the fault and its remedy."""
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    result = cli("ports")
    assert result.code == 1
    assert result.err.startswith("error: MIDI ports need python-rtmidi, which is not installed\n")
    assert "pip install python-rtmidi" in result.err
