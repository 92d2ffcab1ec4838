"""`backing play`: what cannot be played is refused with a message."""

import os
import sys
from types import ModuleType, SimpleNamespace

import miniaudio
import pytest

TUNE = 'X:1\nT:Plain\nM:2/4\nL:1/8\nQ:1/4=400\nK:G\n"G"G2B2|"D"d4|]\n'


@pytest.fixture
def tune(tmp_path):
    """A file with a tune."""
    path = tmp_path / "plain.abc"
    path.write_text(TUNE, encoding="utf-8")
    return path


@pytest.fixture
def outputs(monkeypatch):
    """Let these be the outputs of the computer, through a stand-in for rtmidi; they cannot be
    opened."""

    def put(*names):
        library = ModuleType("rtmidi")

        class RtMidiError(Exception):
            """What all its faults are."""

        def fail(*arguments):
            raise RtMidiError("error creating port")

        client = SimpleNamespace(
            get_current_api=lambda: "alsa",
            get_ports=lambda: list(names),
            open_port=fail,
            open_virtual_port=fail,
            close_port=lambda: None,
            delete=lambda: None,
        )
        library.RtMidiError = RtMidiError  # type: ignore[attr-defined]
        library.UnsupportedOperationError = NotImplementedError  # type: ignore[attr-defined]
        library.get_compiled_api = lambda: ["alsa"]  # type: ignore[attr-defined]
        library.get_api_name = lambda api: api  # type: ignore[attr-defined]
        library.MidiOut = library.MidiIn = lambda api, name: client  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "rtmidi", library)

    return put


NO_PORTS = (
    "hint: switch a MIDI instrument on or start a synthesiser program. Without a port, "
    "backing play sounds through the sound card"
)
IN_USE = "hint: another program may hold it, and on Windows only one can: close it there"


@pytest.mark.parametrize(
    ("names", "options", "said"),
    [
        ((), ["--port", "synth"], ["error: there is no MIDI output on this computer", NO_PORTS]),
        (("Reed box:out 20:0", "Organ:in 24:0"), ["--port", "read"],
         ['error: no MIDI output is called "read"',
          "hint: there are: Reed box:out 20:0, Organ:in 24:0"]),
        (("Reed box:out 20:0",), ["--port", "Red box:out 20:0"],
         ['error: no MIDI output is called "Red box:out 20:0"',
          "hint: did you mean Reed box:out 20:0?"]),
        (("Reed box:out 20:0", "Reed organ:in 24:0"), ["--port", "REED"],
         ['error: "REED" fits 2 MIDI outputs: Reed box:out 20:0, Reed organ:in 24:0',
          "hint: give more of the name"]),
        (("Reed box:out 20:0",), ["--port", "reed"],
         ["error: the MIDI output Reed box:out 20:0 cannot be opened (error creating port)",
          IN_USE]),
        ((), ["--virtual"],
         ["error: the virtual MIDI port backing cannot be made (error creating port)"]),
    ],
    ids=["none", "unknown", "mistyped", "two", "in use", "virtual"],
)  # fmt: skip
def test_a_port_that_is_not_to_be_had(cli, tune, outputs, names, options, said):
    """A port that is not there, is one of several or is in use is told, with what there is and
    what to do."""
    outputs(*names)
    result = cli("play", tune, *options)
    assert result.code == 1
    assert result.err.splitlines() == said


@pytest.mark.slow
@pytest.mark.parametrize("options", [["--port", "synth"], ["--virtual"], ["--pedal", "pedal"]])
def test_without_the_library_for_ports(cli, tune, monkeypatch, options):
    """Where python-rtmidi is not installed, what needs a port says so and how to get it."""
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    if options[0] == "--pedal":
        monkeypatch.setattr(miniaudio, "PlaybackDevice", silent_card)
    result = cli("play", tune, *options)
    assert result.code == 1
    first, hint = result.err.splitlines()
    assert first == "error: MIDI ports need python-rtmidi, which is not installed"
    assert hint.startswith("hint: pip install python-rtmidi brings it")


def silent_card(**options):
    """A card that is there, but asks for nothing."""
    return SimpleNamespace(
        backend="silent", running=False, start=lambda frames: None, close=lambda: None
    )


def test_without_a_sound_card(cli, tune, monkeypatch):
    """Where there is no sound card the fault names the other ways to hear something."""

    def none(**options):
        raise miniaudio.MiniaudioError("failed to init device")

    monkeypatch.setattr(miniaudio, "PlaybackDevice", none)
    result = cli("play", tune)
    assert result.code == 1
    assert result.err.splitlines() == [
        "error: there is no sound card that can be played through",
        "hint: connect loudspeaker or headphones; or play through a synthesiser, --port NAME "
        "('backing ports' lists them); or make an audio file, backing make -o tune.ogg",
    ]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--port", "synth", "--virtual"], "--port and --virtual exclude each other"),
        (["--clock"], "--clock goes with --port or --virtual"),
    ],
)
def test_options_that_do_not_go_together(cli, tune, options, said):
    """Options that exclude or need one another are refused as wrong usage (exit code 2)."""
    result = cli("play", tune, *options)
    assert result.code == 2
    assert said in " ".join(result.err.replace("│", " ").split())


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, ["error: there is no file {path}"]),
        (b"[keys]\nx = 'slwer'\n",
         ["error: feet.toml: 1 fault in the controls",
          "  line 2, keys, x: 'slwer' is no action; did you mean slower?"]),
        (b"\xff\xfe", ["error: feet.toml: the text is UTF-16, not UTF-8"]),
        (b"\xef\xbb\xbf[keys]\nx = 3", ["error: feet.toml: 1 fault in the controls",
                                        "  line 2, keys, x: 3 is no action"]),
        (b"[midi]\n'note " + b"9" * 4301 + b"' = 'faster'",
         ["error: feet.toml: 1 fault in the controls",
          f"  line 2, midi, 'note {'9' * 31}...: expected \"controller 64\", \"note 36\" or "
          '"program 1", numbers 0 to 127']),
    ],
    ids=["missing", "faulty", "not text", "after a mark", "a long number"],
)  # fmt: skip
def test_a_file_of_controls_that_cannot_be_used(cli, tune, tmp_path, content, said):
    """A file of controls that is missing, faulty or no text is refused before anything sounds;
    a byte order mark is no fault (Unicode, 23.8)."""
    path = tmp_path / "feet.toml"
    if content is not None:
        path.write_bytes(content)
    result = cli("play", tune, "--controls", path)
    assert result.code == 1
    lines = result.err.splitlines()
    assert lines[: len(said)] == [each.format(path=path) for each in said]


@pytest.mark.slow
def test_without_streams_it_plays_all_the_same(tune, monkeypatch):
    """Where a program has neither standard input nor stderr, as when started by another, the
    tune is played to its end."""
    from backing.cli.main import run

    sent = []
    port = SimpleNamespace(
        name="quiet",
        gone=False,
        send=lambda message, due: sent.append(message),
        end=lambda messages, due: sent.extend(messages),
        close=lambda: sent.append("closed"),
    )
    monkeypatch.setattr("backing.live.ports.open_output", lambda name: port)
    monkeypatch.setattr(sys, "argv", ["backing", "play", str(tune), "--port=x", "--times=1"])
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        monkeypatch.setattr(sys, "stdout", nowhere)
        monkeypatch.setattr(sys, "stdin", None)
        monkeypatch.setattr(sys, "stderr", None)
        with pytest.raises(SystemExit) as ended:
            run()
    assert not ended.value.code
    assert sent[-1] == "closed"
    assert sum(message[0] & 0xF0 == 0x90 for message in sent[:-1]) > 8
