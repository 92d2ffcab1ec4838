"""Audio files: what was written, decoded again by libsndfile and measured by pyloudnorm."""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import mutagen
import numpy as np
import pytest
import soundfile

from backing.errors import FileError
from backing.files.audio import AUDIO_SUFFIXES, Tags, check_audio, save_audio
from backing.render.blocks import Block

RATE = 24000
LOOPS = (".wav", ".flac", ".ogg", ".opus")
TAGS = Tags("The Tuned Gate", "A. Nobody", "Gates", "jig", 108, "alternating, bars 1-8 ✓")


def chord(seconds=2.0, rate=RATE, amplitude=0.03):
    """A chord with a few partials, other notes left than right."""
    time = np.arange(round(seconds * rate)) / rate
    sides = [
        sum(np.sin(2 * np.pi * hertz * k * time + k * k) / k for hertz in notes for k in (1, 2, 3))
        for notes in ((220, 330), (277, 440))
    ]
    return (np.stack(sides, axis=1) * amplitude).astype(np.float32)


def in_blocks(wanted, whole=None, size=5001):
    """A mix as a renderer yields it."""
    for first in range(0, len(wanted), size):
        part = wanted[first : first + size]
        yield Block(part, part if whole is None else whole[first : first + size])


def save(path, wanted, whole=None, **more):
    """Save a mix, and read it back."""
    rate = more.pop("rate", RATE)
    more.setdefault("frames", len(wanted))
    saved = save_audio(path, in_blocks(wanted, whole), rate, more.pop("tags", TAGS), **more)
    wave, found = soundfile.read(path, dtype="float32")
    assert found == rate
    return saved, wave


def loudness_of(wave, rate=RATE):
    """LUFS by another meter."""
    import pyloudnorm  # loads much of SciPy

    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    return meter.integrated_loudness(wave.astype(float))


@pytest.mark.slow
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_loudness_length_and_peak(tmp_path, suffix):
    """Every kind of file is at -16 LUFS within 1 LU (AES TD1008), has as many frames as were
    rendered and no sample above -1 dBFS."""
    wanted = chord()
    saved, wave = save(tmp_path / f"a{suffix}", wanted)
    assert loudness_of(wave) == pytest.approx(-16, abs=0.3)
    assert saved.loudness == pytest.approx(-16)
    assert wave.shape == wanted.shape
    assert saved.seconds == 2.0
    assert saved.peak == pytest.approx(20 * np.log10(np.abs(wave).max()), abs=0.001)
    assert saved.peak <= -1
    assert saved.notices == ()


@pytest.mark.slow
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_peaks_that_an_encoder_adds(tmp_path, suffix):
    """Noise whose peaks reach the ceiling is at most at -1 dBFS after decoding, whatever the
    encoder adds."""
    chance = np.random.default_rng(3)
    wave = (chance.standard_normal((RATE * 2, 2)) * 0.2).clip(-0.6, 0.6).astype(np.float32)
    wave[::3000] *= 6
    saved, decoded = save(tmp_path / f"a{suffix}", wave)
    assert 20 * np.log10(np.abs(decoded).max()) <= -1
    assert saved.peak > -3


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_sixteen_bits_are_dithered(tmp_path, suffix):
    """Lossless files differ from the mix by dither and rounding alone: 1.5 steps at most,
    and no tone of it; silence stays silent (common practice, no source)."""
    wanted = np.concatenate((chord(1.0), np.zeros((RATE, 2), np.float32)))
    saved, wave = save(tmp_path / f"a{suffix}", wanted)
    error = wave - wanted * np.float32(10 ** (saved.gain_db / 20))
    inside = error[200 : RATE - 200] * 32768
    assert np.abs(inside).max() <= 1.51
    assert np.std(inside) == pytest.approx(0.5, abs=0.02)
    assert not wave[RATE:].any()


@pytest.mark.slow
def test_a_muted_version_has_the_gain_of_the_whole(tmp_path):
    """The loudness of the whole mix sets the gain of a version with tracks muted."""
    whole = chord()
    full, _ = save(tmp_path / "whole.wav", whole)
    muted, wave = save(tmp_path / "muted.wav", whole * np.float32(0.5), whole)
    assert muted.gain_db == full.gain_db
    assert loudness_of(wave) == pytest.approx(-16 - 6.02, abs=0.1)


@pytest.mark.slow
def test_cuts_fade(tmp_path):
    """A mix that begins and ends in full sound fades in and out within 5 ms; one that begins
    softly is left alone."""
    wanted = np.full((RATE, 2), 0.5, np.float32) * np.cos(np.arange(RATE))[:, np.newaxis]
    saved, wave = save(tmp_path / "a.wav", wanted)
    plain = wanted * 10 ** (saved.gain_db / 20)
    count = RATE // 200
    rise = np.sin(np.linspace(0, np.pi / 2, count, endpoint=False))[:, np.newaxis] ** 2
    assert np.allclose(wave[:count], plain[:count] * rise, atol=1e-4)
    assert np.allclose(wave[-count:], plain[-count:] * rise[::-1], atol=1e-4)
    assert np.allclose(wave[count:-count], plain[count:-count], atol=1e-4)
    soft = wanted * np.minimum(np.arange(RATE) / 1000, 1)[:, np.newaxis].astype(np.float32)
    saved, wave = save(tmp_path / "b.wav", soft)
    assert np.allclose(wave[:count], soft[:count] * 10 ** (saved.gain_db / 20), atol=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("suffix", LOOPS)
@pytest.mark.parametrize("muted", [False, True])
def test_a_loop_is_folded(tmp_path, suffix, muted):
    """A loop has exactly its frames after decoding; what dies away after them sounds at its
    beginning, and again from there where it is longer than the loop."""
    frames = 7001
    sound = chord(0.7)
    wanted = sound * np.float32(0.5) if muted else sound
    saved, wave = save(
        tmp_path / f"a{suffix}", wanted, sound if muted else None, frames=frames, seamless=True
    )
    folded = np.zeros((frames, 2), np.float32)
    for first in range(0, len(wanted), frames):
        part = wanted[first : first + frames]
        folded[: len(part)] += part
    expected = folded * 10 ** (saved.gain_db / 20)
    assert len(wave) == frames
    loud = np.sqrt(np.mean(expected**2))
    assert np.sqrt(np.mean((wave - expected) ** 2)) < loud * (0.001 if suffix in LOOPS[:2] else 0.1)


def test_a_loop_goes_on_over_its_seam(tmp_path):
    """A steady tone of whole periods, its tail folded, is steady over the seam: no step there
    is larger than elsewhere."""
    frames = 2400
    tone = 0.1 * np.sin(2 * np.pi * 10 * np.arange(frames + 240) / 240)[:, np.newaxis]
    ramp = np.minimum(np.arange(frames + 240) / 240, 1)[:, np.newaxis]
    tone = np.repeat(tone * ramp * np.minimum(ramp[::-1], 1), 2, axis=1).astype(np.float32)
    _, wave = save(tmp_path / "a.flac", tone, frames=frames, seamless=True)
    twice = np.concatenate((wave, wave))[:, 0]
    curve = np.abs(np.diff(twice, 2))
    assert curve[frames - 5 : frames + 5].max() < 1.01 * curve[10 : frames - 10].max()


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".mp3", ".opus"])
def test_kinds_that_do_not_loop(tmp_path, suffix):
    """MP3 pads its ends and Opus is inexact there: a loop of them says what to take."""
    saved, _ = save(tmp_path / f"a{suffix}", chord(), seamless=True)
    assert [notice.hint for notice in saved.notices] == [
        "for a loop without a gap take .flac, .ogg or .wav"
    ]


def test_silence(tmp_path):
    """A silent mix makes a silent file, and says so."""
    silence = np.zeros((RATE, 2), np.float32)
    saved, wave = save(tmp_path / "a.wav", silence)
    assert not wave.any()
    assert saved.gain_db == 0
    assert [notice.message for notice in saved.notices] == ["nothing sounds: the file is silent"]


@pytest.mark.slow
def test_peaks_far_above_the_music(tmp_path):
    """A mix of hardly more than knocks stays below its loudness, and says why."""
    time = np.arange(RATE * 2) / RATE % 0.5
    knocks = np.exp(-time / 0.001) * np.sin(2 * np.pi * 3000 * time)
    saved, wave = save(tmp_path / "a.wav", np.stack((knocks, knocks), axis=1).astype(np.float32))
    assert np.abs(wave).max() <= 10 ** (-1 / 20)
    assert "its peaks stand out" in saved.notices[0].message


@pytest.mark.slow
def test_progress(tmp_path):
    """Progress goes from 0 to 1 and never back."""
    told = []
    save(tmp_path / "a.ogg", chord(), progress=told.append)
    assert told == sorted(told)
    assert 0 < told[0] < 0.5
    assert told[-1] == 1


@pytest.mark.slow
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_tags(tmp_path, suffix):
    """Titles are where players look: Vorbis comments (Xiph.org) or ID3v2.3, read by mutagen."""
    path = tmp_path / f"a{suffix}"
    save(path, chord(0.5))
    found = mutagen.File(path).tags
    names = ("title", "artist", "album", "genre", "bpm", "comment", "encoder")
    if suffix in {".mp3", ".wav"}:
        names = ("TIT2", "TPE1", "TALB", "TCON", "TBPM", "COMM::eng", "TSSE")
    assert [str(found[name][0]) for name in names[:-1]] == [
        "The Tuned Gate", "A. Nobody", "Gates", "jig", "108", "alternating, bars 1-8 ✓",
    ]  # fmt: skip
    assert re.fullmatch(r"made by backing, checksum [0-9a-f]{8}", str(found[names[-1]][0]))


def test_titles_in_riff_info(tmp_path):
    """A WAV file has its titles in RIFF INFO too, read by libsndfile."""
    path = tmp_path / "a.wav"
    save(path, chord(0.5))
    with soundfile.SoundFile(path) as sound:
        assert (sound.title, sound.artist, sound.genre) == ("The Tuned Gate", "A. Nobody", "jig")


@pytest.mark.slow
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_a_title_alone(tmp_path, suffix):
    """What is not known is left out of the tags."""
    path = tmp_path / f"a{suffix}"
    save(path, chord(0.5), tags=Tags("Bare"))
    assert len(mutagen.File(path).tags) == 2  # title and software


@pytest.mark.slow
def test_the_same_sound_is_the_same_file(tmp_path):
    """Two runs write the same bytes."""
    first, second = tmp_path / "a.flac", tmp_path / "b.flac"
    for path in (first, second):
        save(path, chord(0.5))
    assert first.read_bytes() == second.read_bytes()


def test_an_old_file_outlives_a_fault(tmp_path):
    """Ctrl-C in the middle leaves the old file as it was, and nothing beside it."""
    path = tmp_path / "a.ogg"
    path.write_bytes(b"old")

    def stopped():
        yield from in_blocks(chord())
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        save_audio(path, stopped(), RATE, TAGS, frames=RATE, replace=True)
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.ogg"]


_FULL_DISK = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from backing.errors import FileError
from backing.files import audio
from backing.render.blocks import Block

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
wave = np.random.default_rng(1).standard_normal((48000 * 4, 2)).astype(np.float32) * 0.1
if sys.argv[2] == "file":
    write = audio.encode
    def small(*args):
        resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))
        return write(*args)
    audio.encode = small
else:
    resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))
try:
    blocks = [Block(wave, wave)]
    audio.save_audio(
        Path(sys.argv[1]), blocks, 48000, audio.Tags("a"), frames=1, replace=True
    )
except FileError as error:
    print(error.text())
"""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="file sizes cannot be limited here")
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_a_full_disk(tmp_path, suffix):
    """Where the file does not fit on the disk that is said, and the old one is untouched."""
    path = tmp_path / f"a{suffix}"
    path.write_bytes(b"old")
    run = subprocess.run(
        [sys.executable, "-c", _FULL_DISK, path, "file"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert f"{path} cannot be written" in run.stdout
    assert "is the disk full?" in run.stdout
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == [path.name]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="file sizes cannot be limited here")
def test_a_full_folder_of_temporary_files(tmp_path):
    """Where the sound cannot be put aside, it is said where, and how to choose another place."""
    run = subprocess.run(
        [sys.executable, "-c", _FULL_DISK, tmp_path / "a.wav", "spool"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert "the sound cannot be put aside in" in run.stdout
    assert "TMPDIR" in run.stdout
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    ("name", "rate", "message"),
    [
        ("a.aac", 48000, "a.aac is no kind of audio file that is written here"),
        ("a", 48000, "a is no kind of audio file that is written here"),
        ("a.wav", 7999, "a sample rate of 7999 makes no sense for music"),
        ("a.wav", 192001, "a sample rate of 192001 makes no sense for music"),
        ("a.wav", 0, "a sample rate of 0 makes no sense for music"),
        ("a.ogg", -48000, "a sample rate of -48000 makes no sense for music"),
        ("a.opus", 44100, ".opus files have no sample rate of 44100"),
        ("a.mp3", 96000, ".mp3 files have no sample rate of 96000"),
    ],
)
def test_what_cannot_be_written(name, rate, message):
    """Names and rates that no file can have are refused before any work."""
    with pytest.raises(FileError) as refused:
        check_audio(Path(name), rate)
    assert refused.value.message == message
    assert refused.value.hint


@pytest.mark.slow
@pytest.mark.parametrize("rate", [8000, 12000, 16000, 24000, 48000])
def test_rates_of_opus(tmp_path, rate):
    """Opus has these five rates (RFC 6716, section 2), and decodes at the one that it was
    given."""
    _, wave = save(tmp_path / "a.opus", chord(0.3, rate), rate=rate)
    assert len(wave) == round(0.3 * rate)


def test_a_codec_that_is_not_there(monkeypatch):
    """A libsndfile without MP3 is named, with what it can write."""
    formats = {"WAV": "", "FLAC": "", "OGG": ""}
    monkeypatch.setattr(soundfile, "available_formats", lambda: formats)
    with pytest.raises(FileError) as refused:
        check_audio(Path("a.mp3"), 48000)
    assert refused.value.message == "the libsndfile on this computer cannot write .mp3"
    assert refused.value.hint.startswith("it can write .wav, .flac, .ogg or .opus")


def test_no_folder(tmp_path):
    """A folder that is not there is said before anything is rendered."""

    def rendered():
        raise AssertionError
        yield

    path = tmp_path / "nowhere" / "a.wav"
    with pytest.raises(FileError, match="there is no folder"):
        save_audio(path, rendered(), RATE, TAGS, frames=RATE)
