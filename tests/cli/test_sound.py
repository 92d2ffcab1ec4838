"""`backing make -o x.wav` and its like: the whole way from a tune to a file for a phone.

Files are decoded by libsndfile, measured by pyloudnorm, and their titles read by mutagen.
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import mutagen
import numpy as np
import pytest
import soundfile

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG = EXAMPLES / "the-lock-keepers-kettle.abc"
WALTZ = EXAMPLES / "the-lamplighters-round.abc"
SUFFIXES = (".wav", ".flac", ".ogg", ".opus", ".mp3")
LOOPS = SUFFIXES[:4]
#: Two bars of the same note, struck on each crotchet.
SAME = 'X:1\nT:The Same Again\nM:4/4\nL:1/4\nQ:1/4=120\nK:A\n"A"AAAA|AAAA|]\n'
#: It begins with a rest and ends with a long note.
RESTING = 'X:1\nT:A Late Start\nM:4/4\nL:1/4\nQ:1/4=120\nK:A\n"A"z2 Bc|d4|]\n'
#: A pickup far above all else.
HIGH_PICKUP = 'X:1\nT:A High Step\nM:4/4\nL:1/4\nQ:1/4=120\nK:A\na|"A"AAAA|AAA|]\n'
MELODY = ("--mute", "bass", "--mute", "chords", "--mute", "click")


@pytest.fixture
def made(cli, tmp_path):
    """A file made from a tune (a path, or ABC) with these options: its path."""

    def make(tune, *options, suffix=".wav"):
        if not isinstance(tune, Path):
            (tmp_path / "tune.abc").write_text(tune)
            tune = tmp_path / "tune.abc"
        path = tmp_path / f"made{suffix}"
        result = cli("make", tune, "-o", path, *options)
        assert result.code == 0, result.err
        return path

    return make


def decoded(path):
    """A sound file as a player decodes it, and its sample rate."""
    return soundfile.read(path, dtype="float32", always_2d=True)


def loudness_of(path):
    """LUFS by another meter."""
    import pyloudnorm  # loads much of SciPy

    wave, rate = decoded(path)
    return pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(wave.astype(float))


def strength(wave):
    """Root mean square."""
    return float(np.sqrt(np.mean(wave.astype(float) ** 2)))


def share_at(wave, rate, hertz):
    """How much of some sound lies within a semitone of a pitch, from 0 to 1."""
    power = np.abs(np.fft.rfft(wave.mean(axis=1) * np.hanning(len(wave)))) ** 2
    heard = np.fft.rfftfreq(len(wave), 1 / rate)
    return power[np.abs(np.log2(np.maximum(heard, 1) / hertz)) < 1 / 12].sum() / power.sum()


def hiss(wave, rate, at):
    """Amplitude above 12 kHz in the 10 ms around a frame: what a click has most of."""
    half = rate // 200
    part = wave[at - half : at + half].mean(axis=1) * np.hanning(2 * half)
    spectrum = np.abs(np.fft.rfft(part))
    return float(spectrum[np.fft.rfftfreq(2 * half, 1 / rate) > 12000].max())


# -- loudness, peaks, titles ----------------------------------------------------


@pytest.mark.parametrize(
    ("example", "suffix", "options"),
    [
        ("the-lock-keepers-kettle", ".wav", ["--style", "jig"]),
        ("the-towpath-mare", ".flac", ["--section", "A", "--tremolo", "12"]),
        ("forty-sacks-of-coal", ".ogg", ["--bars", "3-4", "--times", "3", "--percent", "60"]),
        ("the-winding-hole", ".opus", ["--section", "B", "--balance", "click=40"]),
        ("the-frozen-basin", ".mp3", ["--sample-rate", "44100", "--a4", "442", "--section", "B"]),
        ("the-winding-hole", ".ogg", ["--style", "sustained", "--seamless", "--section", "A"]),
        ("the-ice-boat-march", ".mp3", ["--box", "D/G", "--section", "A"]),
    ],
)
def test_loudness_and_peak(made, example, suffix, options):
    """A file with nothing muted is at -16 LUFS within 1 LU (AES TD1008) and has no sample above
    -1 dBFS, whatever is asked for (EBU R 128 limits the true peak: see test_mix.py)."""
    path = made(EXAMPLES / f"{example}.abc", *options, suffix=suffix)
    assert loudness_of(path) == pytest.approx(-16, abs=1)
    wave, rate = decoded(path)
    assert 20 * np.log10(np.abs(wave).max()) <= -1
    assert rate == (44100 if "44100" in options else 48000)


def test_loudness_through_a_sound_font(made, sound_font):
    """Through a sound font, whose clicks stand out, the same holds."""
    pytest.importorskip("fluidsynth", reason="no FluidSynth", exc_type=ImportError)
    path = made(JIG, "--section", "A", "--sound-font", sound_font, suffix=".ogg")
    assert loudness_of(path) == pytest.approx(-16, abs=1)
    assert 20 * np.log10(np.abs(decoded(path)[0]).max()) <= -1


@pytest.mark.parametrize(
    ("suffix", "track"),
    [*((suffix, "melody") for suffix in SUFFIXES), (".wav", "bass"), (".wav", "click")],
)
def test_a_muted_version_has_the_same_gain(made, suffix, track):
    """The count-in's clicks are as loud with a track muted as without, within 0.05 dB, so
    that both files can be played one after the other."""
    clicks = []
    for muted in ([], ["--mute", track]):
        wave, rate = decoded(made(WALTZ, "--bars", "1-4", *muted, suffix=suffix))
        clicks.append(strength(wave[: rate * 6 // 5]))
    assert 20 * np.log10(clicks[1] / clicks[0]) == pytest.approx(0, abs=0.05)


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_titles_on_a_phone(made, suffix):
    """The title names tune, part, times, tempo and what is muted, so that a list tells one file
    from another; composer, tune as album, dance and tempo stand in their own places."""
    path = made(
        WALTZ, "--section", "B", "--percent", 50, "--mute", "melody", "--mute", "bass",
        suffix=suffix,
    )  # fmt: skip
    found = mutagen.File(path).tags
    names = ("title", "artist", "album", "genre", "bpm", "comment")
    if suffix in {".mp3", ".wav"}:
        names = ("TIT2", "TPE1", "TALB", "TCON", "TBPM", "COMM::eng")
    assert [str(found[name][0]) for name in names] == [
        "The Lamplighter's Round, B part, 8 bars, 50 %, without melody and bass",
        "The Lock Cottage Band", "The Lamplighter's Round", "waltz", "66",
        "B part, 8 bars, once, waltz, band backing, 1/4 = 66 (50 % of 1/4 = 132, the tune's own; "
        "22 bars a minute), count-in 2 bars, melody and bass muted, 27.3 seconds",
    ]  # fmt: skip


# -- what is said ---------------------------------------------------------------


def test_the_closing_line(cli, tmp_path):
    """One line says what was made, how long it lasts and how large the file is."""
    out = tmp_path / "loop.flac"
    result = cli("make", JIG, "--section", "A", "--seamless", "--a4", 442, "-o", out)
    assert result.err == (
        f"made {out}: The Lock-Keeper's Kettle, A part, 8 bars, once, jig, band backing, 3/8 = 112 "
        "(usual for a jig; 56 bars a minute), no count-in, seamless, nothing muted, A = 442 Hz, "
        f"8.6 seconds, {out.stat().st_size / 1000:.0f} kB\n"
    )


def test_long_files_last_minutes(cli, tmp_path):
    """What lasts two minutes and more is said in minutes, what is large in megabytes."""
    out = tmp_path / "long.wav"
    result = cli("make", JIG, "--times", 4, "--sample-rate", 8000, "-o", out)
    assert result.err.endswith(", nothing muted, 2 minutes 19 seconds, 4.5 MB\n")


def test_a_silent_file(cli, tmp_path):
    """With everything muted the file is silent, which is said once."""
    tracks = ("melody", "bass", "chords", "click")
    muted = [word for track in tracks for word in ("--mute", track)]
    out = tmp_path / "a.wav"
    result = cli("make", JIG, "--section", "A", "--count-in", 0, *muted, "-o", out)
    assert result.code == 0
    assert result.err.startswith(f"warning: nothing sounds: the file is silent\nmade {out}: ")
    assert ", melody, bass, chords and click muted, " in result.err
    assert not decoded(out)[0].any()


def test_progress_on_a_terminal(cli, tmp_path, monkeypatch):
    """On a terminal a bar goes up to 100 per cent."""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    result = cli("make", JIG, "-o", tmp_path / "a.ogg")
    assert "making a.ogg" in result.err
    assert "100%" in result.err


@pytest.mark.parametrize("suffix", [".ogg", ".mp3"])
def test_libraries_say_nothing(tmp_path, suffix):
    """Only our own line is on stderr, at a rate at which an MP3 decoder that is made to jump
    complains of missing bits."""
    run = subprocess.run(
        [sys.executable, "-m", "backing", "make", WALTZ, "--section", "A", "--sample-rate", "24000",
         "-o", tmp_path / f"a{suffix}"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert run.stdout == ""
    assert run.stderr.startswith("made ")
    assert run.stderr.count("\n") == 1


# -- loops ----------------------------------------------------------------------


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("suffix", LOOPS)
def test_a_seamless_file_lasts_its_bars(made, suffix, rate):
    """A loop has exactly the frames of its bars, 8 of 2 beats at 112 a minute: no padding, no
    tail."""
    if suffix == ".opus" and rate == 44100:
        rate = 24000
    path = made(JIG, "--section", "A", "--seamless", "--sample-rate", rate, suffix=suffix)
    wave, found = decoded(path)
    assert (len(wave), found) == (round(8 * 2 * 60 / 112 * rate), rate)


@pytest.mark.parametrize("suffix", LOOPS)
def test_the_pickup_ends_a_seamless_file(made, suffix):
    """The pickup, an octave above the rest, sounds in the last beat of a loop and nowhere
    before."""
    wave, rate = decoded(made(HIGH_PICKUP, *MELODY, "--seamless", suffix=suffix))
    beat = rate // 2
    assert len(wave) == 8 * beat
    # the octave partial of A is at 880 Hz too: far weaker than the pickup's first
    assert share_at(wave[-beat:], rate, 440) < 0.01
    assert share_at(wave[:beat], rate, 440) > 0.05
    assert share_at(wave[-2 * beat : -beat], rate, 440) > 0.05


@pytest.mark.parametrize("suffix", LOOPS)
def test_what_rings_over_the_end_is_heard_at_the_start(made, suffix):
    """The last note dies away in the first tenth of a second of a loop, in a rest that is
    silent where it does not loop."""
    options = [*MELODY, "--count-in", 0]
    plain, rate = decoded(made(RESTING, *options, suffix=suffix))
    loop, _ = decoded(made(RESTING, *options, "--seamless", suffix=suffix))
    start, rest = slice(0, rate // 50), slice(rate // 5, rate // 2)
    assert strength(plain[start]) < 0.001
    assert strength(loop[start]) > 0.01
    assert strength(loop[rest]) < 0.001


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".ogg"])
@pytest.mark.parametrize("example", ["the-lamplighters-round", "ice-on-the-tiller"])
def test_no_click_where_a_loop_goes_round(made, suffix, example):
    """A seamless file, twice in a row, has no more above 12 kHz on its seam than on its bar
    lines, where notes begin as well."""
    tune = EXAMPLES / f"{example}.abc"
    path = made(
        tune, "--section", "A", "--style", "sustained", "--mute", "click", "--seamless",
        suffix=suffix,
    )  # fmt: skip
    wave, rate = decoded(path)
    twice = np.concatenate((wave, wave))
    bars = [round(len(wave) * bar / 8) for bar in range(1, 16)]
    assert hiss(twice, rate, len(wave)) <= 1.5 * max(
        hiss(twice, rate, at) for at in bars if at != len(wave)
    )
    cut = np.concatenate((wave[: -rate // 10], wave))  # what a bad loop would have
    assert hiss(cut, rate, len(wave) - rate // 10) > 3 * hiss(twice, rate, len(wave))


def test_no_click_between_times_through(made):
    """Three times through have no more above 12 kHz on the seams than on other bar lines."""
    path = made(
        EXAMPLES / "the-eel-trap.abc", "--section", "A", "--style", "sustained", "--mute", "click",
        "--times", 3, "--count-in", 0, suffix=".flac",
    )  # fmt: skip
    wave, rate = decoded(path)  # 8 bars of one beat, 60 a minute
    heard = [hiss(wave, rate, second * rate) for second in range(1, 24)]
    others = [value for second, value in enumerate(heard, start=1) if second % 8]
    assert max(heard[7], heard[15]) <= 1.5 * max(others)


def test_a_note_is_struck_again_on_the_seam(made):
    """Where the last note of a loop is the first one too, it is let go before, as it is between
    the notes inside."""
    wave, rate = decoded(made(SAME, *MELODY, "--seamless", "--plain", suffix=".flac"))
    beat, near = rate // 2, rate // 200
    lows = [strength(wave[at * beat - near : at * beat]) for at in range(1, 9)]
    assert lows[-1] == pytest.approx(lows[0], rel=0.05)
    assert lows[-1] < strength(wave) / 2


@pytest.mark.parametrize("suffix", [".opus", ".mp3"])
def test_kinds_that_do_not_loop_well(cli, tmp_path, suffix):
    """A seamless file of a kind that is inexact at its ends is made, with advice."""
    out = tmp_path / f"a{suffix}"
    result = cli("make", JIG, "--bars", 1, "--seamless", "-o", out)
    assert out.exists()
    assert "hint: for a loop without a gap take .flac, .ogg or .wav\n" in result.err


# -- what cannot be -------------------------------------------------------------

RATES = "hint: give one from 8000 to 192000 Hz, such as 44100 or 48000\n"
FOR_SOUND = (
    "--seamless, --sound-font and --sample-rate are for sound files\nhint: say -o name.mp3\n"
)


@pytest.mark.parametrize(
    ("name", "options", "code", "said"),
    [
        ("a.wav", ["--sample-rate", "0"], 1, f"rate of 0 makes no sense for music\n{RATES}"),
        ("a.wav", ["--sample-rate", "-1"], 1, f"rate of -1 makes no sense for music\n{RATES}"),
        ("a.ogg", ["--sample-rate", "7"], 1, f"rate of 7 makes no sense for music\n{RATES}"),
        ("a.mp3", ["--sample-rate", "1000000"], 1, f"1000000 makes no sense for music\n{RATES}"),
        ("a.wav", ["--sample-rate", "high"], 2, "whole number\nhint: give a number: 48000\n"),
        (
            "a.opus", ["--sample-rate", "44100"], 1,
            "error: .opus files have no sample rate of 44100\n"
            "hint: give 8000, 12000, 16000, 24000 or 48000\n",
        ),
        ("a.mid", ["--seamless"], 2, FOR_SOUND),
        ("a.mid", ["--sample-rate", "44100"], 2, FOR_SOUND),
        ("a.midi", ["--sound-font", "font.sf2"], 2, FOR_SOUND),
        (
            "a.ogg", ["--seamless", "--count-in", "2"], 2,
            "--seamless has no count-in\nhint: give it without --count-in\n",
        ),
        ("a.ogg", ["--single-track"], 2, "is for MIDI files\nhint: say -o name.mid\n"),
        ("a.ogg", ["--seamless", "--times", "0"], 1, "error: 0 times\nhint: give 1 to 1000\n"),
        (
            "a.ogg", ["--seamless", "--times", "1000"], 1,
            "error: 1000 times in a loop\nhint: once will do: a loop has no end\n",
        ),
        ("a.aac", [], 1, "hint: name the output like a.mid\n"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_for(cli, tmp_path, name, options, code, said):
    """Each senseless wish has its message, and nothing is written."""
    result = cli("make", JIG, "-o", tmp_path / name, *options)
    assert result.code == code
    assert result.err.endswith(said)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_folders_that_cannot_be_written_to(cli, tmp_path, monkeypatch, suffix):
    """A folder that is missing, is a file, or lets nobody write is named."""
    (tmp_path / "file").write_text("")
    for folder in ("nowhere", "file"):
        out = tmp_path / folder / f"a{suffix}"
        result = cli("make", JIG, "-o", out)
        assert result.code == 1
        assert result.err == (
            f"error: there is no folder {out.parent}\nhint: make it first, or choose another\n"
        )

    opened = os.open

    def refused(path, flags, *more, **also):
        if flags & os.O_EXCL and Path(path).parent == tmp_path:
            raise PermissionError(13, "Permission denied")
        return opened(path, flags, *more, **also)

    monkeypatch.setattr(os, "open", refused)  # the superuser may write anywhere
    out = tmp_path / f"a{suffix}"
    result = cli("make", JIG, "-o", out)
    assert result.code == 1
    assert result.err == (
        f"error: {out} cannot be written: permission denied\nhint: nothing was changed\n"
    )


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no folder that takes no files")
def test_a_folder_that_takes_no_files(cli):
    """Where the system itself refuses, its reason is given."""
    result = cli("make", JIG, "-o", "/proc/a.ogg")
    assert result.code == 1
    assert result.err.startswith("error: /proc/a.ogg cannot be written: ")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (
            None,
            "error: there is no file {font}\n"
            "hint: give the path of one: there is no sound font in {font.parent}\n",
        ),
        (
            b"Dear friend, no reeds today.\n",
            "error: {font} is no sound font\nhint: give a file that ends in .sf2 or .sf3; Debian "
            "has some: apt install fluid-soundfont-gm\n",
        ),
        (
            b"RIFF\x00\x00\x10\x00sfbkLIST" + bytes(100),
            "error: the sound font {font} is cut short\nhint: copy or download it again\n",
        ),
    ],
    ids=["missing", "text", "truncated"],
)
def test_sound_fonts_that_are_none(cli, tmp_path, data, said):
    """A sound font that is missing, a text, or cut short is named; an old file stays."""
    font, out = tmp_path / "font.sf2", tmp_path / "a.ogg"
    out.write_bytes(b"old")
    if data:
        font.write_bytes(data)
    result = cli("make", JIG, "--sound-font", font, "--replace", "-o", out)
    assert result.code == 1
    assert result.err == said.format(font=font)
    assert out.read_bytes() == b"old"


def test_a_codec_that_is_not_there(cli, tmp_path, monkeypatch):
    """Where libsndfile cannot write MP3, that and what it can write is said before any work."""
    monkeypatch.setattr(soundfile, "available_formats", lambda: {"WAV": "", "FLAC": "", "OGG": ""})
    result = cli("make", JIG, "-o", tmp_path / "a.mp3")
    assert result.code == 1
    assert result.err == (
        "error: the libsndfile on this computer cannot write .mp3\nhint: it can write .wav, "
        ".flac, .ogg or .opus; or get a newer one: pip install -U soundfile\n"
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_refused_tune_leaves_the_old_file(cli, tmp_path, suffix):
    """A tune that cannot be read, and a part that it lacks, leave an old file as it was."""
    tune, out = tmp_path / "odd.abc", tmp_path / f"a{suffix}"
    tune.write_text("X:1\nL:1/8\nK:D\nA4 B/0|\n")
    out.write_bytes(b"old")
    assert cli("make", tune, "--replace", "-o", out).code == 1
    assert cli("make", JIG, "--section", "Q", "--replace", "-o", out).code == 1
    assert out.read_bytes() == b"old"
    assert sorted(path.name for path in tmp_path.iterdir()) == [out.name, "odd.abc"]


@pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX's")
@pytest.mark.parametrize("old", [None, b"old"])
@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)], ids=["Ctrl-C", "SIGTERM"]
)
def test_stopped_in_the_middle(tmp_path, number, code, old):
    """Ctrl-C and SIGTERM in the middle of a ten-minute file end at once (exit codes as shells
    count them), and leave no new file, no piece of one, and the old one untouched."""
    spare, folder = tmp_path / "spare", tmp_path / "out"
    spare.mkdir()
    folder.mkdir()
    out = folder / "long.opus"
    if old:
        out.write_bytes(old)
    process = subprocess.Popen(
        [sys.executable, "-m", "backing", "make", JIG, "--times", "18", "--replace", "-o", out],
        stderr=subprocess.PIPE, text=True, env={**os.environ, "TMPDIR": str(spare)},
    )  # fmt: skip
    while process.poll() is None and not list(folder.glob(".backing-*.part")):
        time.sleep(0.01)
    process.send_signal(number)
    _, err = process.communicate(timeout=30)
    assert process.returncode == code
    assert "Traceback" not in err
    assert [path.read_bytes() for path in folder.iterdir()] == ([old] if old else [])
    assert list(spare.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "options", "said"),
    [
        ("a.flac", ["--times", 500], "error: a.flac would last 4.8 hours\nhint: up to 2 hours"),
        ("a.wav", ["--times", 200, "--sample-rate", 192000], "larger than 4 GB, which a .wav"),
    ],
)
def test_no_sound_without_end(cli, tmp_path, name, options, said):
    """More sound than anybody practises with is refused before any is made; a WAV file counts
    its bytes in 32 bits (Multimedia Programming Interface 1.0, RIFF)."""
    result = cli("make", EXAMPLES / "the-lock-keepers-kettle.abc", "-o", tmp_path / name, *options)
    assert result.code == 1
    assert said in result.err
    assert list(tmp_path.iterdir()) == []
