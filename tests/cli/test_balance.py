"""How loud each track is, where A is, how wide the tremolo: in MIDI files and in sound."""

from itertools import pairwise
from math import log2

import mido
import numpy as np
import pytest
import soundfile

pytestmark = pytest.mark.slow

RATE = 16000
#: One A for eight seconds; bass, chords and click beneath it.
TUNE = 'X:1\nT:One Long Reed\nM:4/4\nL:1/4\nQ:1/4=60\nK:A\n"A"A4-|A4|]\n'
ALONE = {
    role: [word for other in ("melody", "bass", "chords", "click") if other != role
           for word in ("--mute", other)]
    for role in ("melody", "bass", "click")
}  # fmt: skip


@pytest.fixture
def made(cli, tmp_path):
    """A file made from the tune with these options, without count-in: its path."""
    tune = tmp_path / "long.abc"
    tune.write_text(TUNE)

    def make(*options, suffix=".wav"):
        path = tmp_path / f"made{suffix}"
        result = cli("make", tune, "-o", path, "--style", "alternating", "--count-in", 0, *options)
        assert result.code == 0, result.err
        return path

    return make


def wave_of(path):
    """The left side of a sound file."""
    return soundfile.read(path, dtype="float32", always_2d=True)[0][:, 0]


def strength(path):
    """Root mean square of a sound file."""
    return float(np.sqrt(np.mean(wave_of(path).astype(float) ** 2)))


def volumes(path):
    """Channel volume (controller 7) of each track by name."""
    return {
        track.name: message.value
        for track in mido.MidiFile(path).tracks
        for message in track
        if message.type == "control_change" and message.control == 7
    }


def tunings(path):
    """All control changes but volume, by track."""
    return {
        track.name: [
            (m.control, m.value) for m in track if m.type == "control_change" and m.control != 7
        ]
        for track in mido.MidiFile(path).tracks[1:]
    }


def partials(path, near):
    """What stands out within 40 cents of a pitch in six seconds of a file: hertz and power."""
    wave, rate = soundfile.read(path, dtype="float64")
    part = wave[rate : rate * 7].mean(axis=1)
    size = 1 << 22
    power = np.abs(np.fft.rfft(part * np.blackman(len(part)), size))
    low, high = (int(near * 2 ** (cents / 1200) * size / rate) for cents in (-40, 40))
    near_by = power[low:high]
    tops = np.flatnonzero((near_by[1:-1] > near_by[:-2]) & (near_by[1:-1] >= near_by[2:])) + 1
    loud = near_by.max() / 4
    return {(low + top) * rate / size: near_by[top] for top in tops if near_by[top] > loud}


# -- balance --------------------------------------------------------------------


def test_balance_is_channel_volume_in_midi(made):
    """In a MIDI file a share of the loudness is channel volume by its root: amplitude goes with
    the square of controller 7 (General MIDI 2, 40 log10(value / 127) dB)."""
    plain = volumes(made(suffix=".mid"))
    asked = volumes(made("--balance", "click=25,bass=64", suffix=".mid"))
    assert asked == {
        **plain,
        "click": pytest.approx(plain["click"] / 2, abs=0.5),
        "bass": pytest.approx(plain["bass"] * 0.8, abs=0.5),
    }


@pytest.mark.parametrize("how", ["reeds", "sound font"])
def test_balance_is_amplitude_in_sound(made, request, how):
    """In a sound file a click at 25 per cent has a quarter of its amplitude (12 dB less)
    beside the bass, through a sound font too."""
    options = ["--sample-rate", RATE]
    if how == "sound font":
        pytest.importorskip("fluidsynth", reason="no FluidSynth", exc_type=ImportError)
        options += ["--sound-font", request.getfixturevalue("sound_font")]
    beside = []
    for balance in ([], ["--balance", "click=25"]):
        click, bass = (
            strength(made(*options, *ALONE[role], *balance)) for role in ("click", "bass")
        )
        beside.append(click / bass)
    assert beside[1] / beside[0] == pytest.approx(0.25, rel=0.04)


def test_a_track_at_nothing_is_as_good_as_muted(made):
    """At 0 per cent a track is silent: alone it makes a silent file."""
    path = made("--sample-rate", RATE, *ALONE["bass"], "--balance", "bass=0")
    assert not wave_of(path).any()


def test_balance_is_read_generously(made):
    """Spaces, capitals and the per cent sign are understood, and fractions of a per cent."""
    plain = volumes(made("--balance", "click=50,melody=80", suffix=".mid"))
    assert volumes(made("--balance", " Click = 50 % ,, MELODY=80,0", suffix=".mid")) == plain


# -- tuning ---------------------------------------------------------------------


@pytest.mark.parametrize("suffix", [".flac", ".ogg", ".opus", ".mp3"])
def test_a_at_442_in_sound(made, suffix):
    """With --a4 442 an A sounds at 442 Hz within a cent, after decoding; without it at 440."""
    for options, hertz in (([], 440), (["--a4", "442"], 442)):
        dry = ("--tremolo", 0, "--sample-rate", 24000)
        path = made(*ALONE["melody"], *dry, *options, suffix=suffix)
        (found,) = partials(path, hertz)
        assert 1200 * abs(log2(found / hertz)) < 1


def test_a_at_415_through_a_sound_font(made, sound_font):
    """Further than a semitone away a sound font is in tune as well, within a cent of A at 415
    beside A at 440."""
    pytest.importorskip("fluidsynth", reason="no FluidSynth", exc_type=ImportError)
    options = [*ALONE["melody"], "--sound-font", sound_font, "--sample-rate", RATE]
    high, low = (
        max(tops, key=tops.get)
        for tops in (partials(made(*options, "--a4", a4), a4) for a4 in (440, 415))
    )
    assert 1200 * log2(low / high) == pytest.approx(1200 * log2(415 / 440), abs=1)


def test_a_at_442_in_midi(made):
    """In a MIDI file the tuning is RPN 1, 8835 of 14 bits with 8192 in tune (MIDI 1.0), on all
    tracks but the percussion; at 440 there is none."""
    rpn = [(101, 0), (100, 1), (6, 69), (38, 3), (101, 127), (100, 127)]
    found = tunings(made("--a4", 442, suffix=".mid"))
    assert found == {"melody": rpn, "bass": rpn, "chords": rpn, "click": []}
    assert not any(tunings(made(suffix=".mid")).values())


@pytest.mark.parametrize("suffix", [".mid", ".flac"])
def test_another_a_is_said(cli, tmp_path, suffix):
    """The closing line names A where it is not at 440 Hz, and says nothing of it there."""
    tune, out = tmp_path / "long.abc", tmp_path / f"a{suffix}"
    tune.write_text(TUNE)
    assert ", A = 441.5 Hz, " in cli("make", tune, "-o", out, "--a4", "441.5").err
    assert " Hz" not in cli("make", tune, "-o", out).err


# -- tremolo --------------------------------------------------------------------


@pytest.mark.parametrize("cents", [12, 25])
def test_tremolo_is_two_reeds_so_far_apart(made, cents):
    """With a tremolo the melody has two reeds as far apart as asked for, within half a cent;
    5 cents without a word; with 0 there is one."""
    options = [*ALONE["melody"], "--sample-rate", RATE]
    for asked, apart in ((["--tremolo", cents], cents), ([], 5)):
        found = partials(made(*options, *asked), 440)
        assert [1200 * log2(b / a) for a, b in pairwise(found)] == [pytest.approx(apart, abs=0.5)]
    assert len(partials(made(*options, "--tremolo", 0), 440)) == 1


def test_a_wide_tremolo_is_the_melodys(made):
    """The left hand's reeds are 2.5 cents apart, also where the melody's are 12; with 0 they are
    dry."""
    options = [*ALONE["bass"], "--sample-rate", RATE, "--balance", "melody=0"]
    plain = wave_of(made(*options))
    assert np.array_equal(wave_of(made(*options, "--tremolo", 12)), plain)
    assert not np.array_equal(wave_of(made(*options, "--tremolo", 0)), plain)


@pytest.mark.parametrize("how", [[".mid"], [".wav", "--sound-font"]])
def test_tremolo_where_there_is_none(cli, tmp_path, request, how):
    """MIDI and sound fonts have no reeds of ours to put apart: that is said, and the file made."""
    suffix, *option = how
    tune, out = tmp_path / "long.abc", tmp_path / f"a{suffix}"
    tune.write_text(TUNE)
    if option:
        pytest.importorskip("fluidsynth", reason="no FluidSynth", exc_type=ImportError)
        option.append(request.getfixturevalue("sound_font"))
    result = cli("make", tune, "-o", out, "--tremolo", 12, *option)
    assert result.code == 0
    assert result.err.startswith(
        "warning: --tremolo changes nothing here: it is for the built-in reeds\n"
    )
    assert out.exists()


# -- what makes no sense --------------------------------------------------------

GIVE = "hint: give them like click=50; the tracks are melody, bass, chords, click\n"
TRACKS = "hint: give melody, bass, chords, click\n"
TUNING = "hint: give a tuning from 400 to 480 Hz; most are near 440\n"
CENTS = "hint: give 0 to 30 cents; 0 is dry\n"


@pytest.mark.parametrize("suffix", [".mid", ".ogg"])
@pytest.mark.parametrize(
    ("option", "value", "code", "said"),
    [
        *(
            ("--balance", text, 2, f"--balance {text!r} is not a track and its per cent\n{GIVE}")
            for text in ("nonsense", "click", "click=", "bass=loud", "bass=-5", "bass=nan")
        ),
        ("--balance", "=50", 2, f"--balance '' is not a track\n{TRACKS}"),
        ("--balance", "fiddle=50", 2, f"--balance 'fiddle' is not a track\n{TRACKS}"),
        ("--balance", "clik=50", 2, "'clik' is not a track\nhint: did you mean click?\n"),
        (
            "--balance",
            "click=210",
            1,
            "click at 210 per cent of usual\nhint: click goes up to 199\n",
        ),
        ("--balance", "melody=140", 1, "140 per cent of usual\nhint: melody goes up to 133\n"),
        ("--a4", "100", 1, "error: A cannot be at 100 Hz\n" + TUNING),
        ("--a4", "480.1", 1, "error: A cannot be at 480.1 Hz\n" + TUNING),
        *(
            ("--a4", text, 2, f"--a4 {text!r} is not a number\nhint: give a number: 442\n")
            for text in ("nan", "inf", "high")
        ),
        ("--tremolo", "-1", 1, "error: a tremolo of -1 cents\n" + CENTS),
        ("--tremolo", "31", 1, "error: a tremolo of 31 cents\n" + CENTS),
        ("--tremolo", "nan", 2, "--tremolo 'nan' is not a number\nhint: give a number: 8\n"),
        ("--tremolo", "inf", 2, "--tremolo 'inf' is not a number\nhint: give a number: 8\n"),
    ],
)
def test_what_makes_no_sense(cli, tmp_path, suffix, option, value, code, said):
    """Each senseless value has its message, and the old file stays."""
    tune, out = tmp_path / "long.abc", tmp_path / f"a{suffix}"
    tune.write_text(TUNE)
    out.write_bytes(b"old")
    result = cli("make", tune, "--replace", "-o", out, option, value)
    assert result.code == code
    assert result.err.endswith(said)
    assert out.read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 2


def test_the_loudest_there_is(made):
    """The most that is named in a message can be had: channel volume 127."""
    found = volumes(made("--balance", "melody=133,click=199", suffix=".mid"))
    assert (found["melody"], found["click"]) == (127, 127)
