"""A performance through FluidSynth: when it sounds, how high, what is muted, what is missing."""

import sys
from math import log2

import numpy as np
import pytest

from backing.arranging.arrangement import Role
from backing.errors import FileError, PracticeError
from backing.files.sound_font import check_sound_font, font_blocks

RATE = 48000


@pytest.fixture(autouse=True)
def fluidsynth():
    """FluidSynth, or no test."""
    try:
        import fluidsynth
    except ImportError:
        pytest.skip("no FluidSynth (Debian: libfluidsynth3)")
    return fluidsynth


def sound_of(font, performance, rate=RATE, **more):
    """The wanted and the whole mix of a performance."""
    blocks = list(font_blocks(font, performance, rate, **more))
    return tuple(np.concatenate([block[side] for block in blocks]) for side in (0, 1))


def onsets(wave):
    """The frames at which sound begins after a quarter of a second of near silence."""
    loud = np.flatnonzero(np.abs(wave).max(axis=1) > 0.01 * np.abs(wave).max())
    return loud[np.diff(loud, prepend=-RATE) > RATE // 4]


def pitch_of(wave, near):
    """Hertz of the strongest partial within a semitone."""
    size = 1 << 20
    power = np.abs(np.fft.rfft(wave[:, 0] * np.hanning(len(wave)), size))
    low, high = (round(near * 2 ** (step / 12) * size / RATE) for step in (-1, 1))
    top = low + int(power[low:high].argmax())
    left, middle, right = np.log(power[top - 1 : top + 2])
    return (top + (left - right) / (2 * (left - 2 * middle + right))) * RATE / size


@pytest.mark.slow
@pytest.mark.parametrize("rate", [22050, 44100, 48000])
def test_notes_come_when_they_should(sound_font, quarters, rate):
    """Clicks of one key are as far apart as the score says, within the 64 frames in which
    FluidSynth works."""
    clicks = quarters({Role.CLICK: [76, None, 76, None, None, 76, None, 76]}, bars=2)
    wave, _ = sound_of(sound_font, clicks, rate)
    found = onsets(wave)
    expected = np.array([0.0, 1.0, 2.5, 3.5]) * rate
    assert np.abs(found - found[0] - expected).max() <= 64
    assert found[0] < rate * 0.02


@pytest.mark.slow
def test_tuning(sound_font, quarters):
    """A at 442 Hz is 7.851 cents above A at 440 Hz (1200 log2 of the ratio), within 1 cent,
    and percussion sounds as before."""
    bass = quarters({Role.BASS: [45, None]})
    low, high = (pitch_of(sound_of(sound_font, bass, a4=a4)[0][:40000], 110) for a4 in (440, 442))
    assert 1200 * log2(high / low) == pytest.approx(7.851, abs=1)
    click = quarters({Role.CLICK: [76]})
    same = [sound_of(sound_font, click, a4=a4)[0] for a4 in (440, 442)]
    assert np.array_equal(*same)


@pytest.mark.slow
def test_muted_tracks_are_in_the_whole_alone(sound_font, quarters):
    """Muting a track takes its sound from the wanted mix and nothing from the whole."""
    lines = {Role.MELODY: [69, 71], Role.BASS: [45, 40]}
    wanted, whole = sound_of(sound_font, quarters(lines))
    assert wanted is not whole
    assert np.array_equal(wanted, whole)
    alone, _ = sound_of(sound_font, quarters({Role.BASS: [45, 40]}))
    without, all_of_it = sound_of(sound_font, quarters(lines, muted=(Role.MELODY,)))
    count = min(len(alone), len(without), len(whole), len(all_of_it))
    assert np.allclose(without[:count], alone[:count], atol=1e-5)
    assert np.allclose(all_of_it[:count], whole[:count], atol=1e-4)


@pytest.mark.slow
def test_nothing_muted_is_one_mix(sound_font, quarters):
    """With nothing muted wanted and whole are the same array."""
    blocks = font_blocks(sound_font, quarters({Role.MELODY: [69]}), RATE)
    assert all(block.wanted is block.whole for block in blocks)


@pytest.mark.slow
def test_it_ends_when_it_is_quiet(sound_font, quarters):
    """After its end a performance dies away, within two seconds."""
    wave, _ = sound_of(sound_font, quarters({Role.MELODY: [69, 69, 69, 69]}))
    assert 2.0 <= len(wave) / RATE <= 4.2
    assert np.abs(wave[-2000:]).max() < 1e-3 * np.abs(wave).max()


@pytest.mark.slow
def test_short_notes_end(sound_font, quarters):
    """A note shorter than FluidSynth's 64 frames still ends."""
    performance = quarters({Role.MELODY: [69]}, bars=4)
    (track,) = performance.tracks
    event = track.events[0]
    short = track._replace(events=(event._replace(length=event.length / 2000),))
    wave, _ = sound_of(sound_font, performance._replace(tracks=(short,)))
    assert np.abs(wave[-RATE:]).max() < 1e-3 * np.abs(wave).max()


def test_files_that_are_no_sound_font(tmp_path):
    """A missing file, a folder, text, and a RIFF file of another kind are refused."""
    (tmp_path / "text.sf2").write_text("no font at all")
    (tmp_path / "wave.sf2").write_bytes(b"RIFF\x04\x00\x00\x00WAVE")
    for name, said in {
        "missing.sf2": "cannot be read: no such file or directory",
        "": "cannot be read: is a directory",
        "text.sf2": "is no sound font",
        "wave.sf2": "is no sound font",
    }.items():
        with pytest.raises(FileError, match=said):
            check_sound_font(tmp_path / name, RATE)


def test_a_broken_sound_font(tmp_path, quarters, sound_font):
    """A file that only begins like a sound font is refused, and so is one that ends early."""
    broken = tmp_path / "broken.sf2"
    broken.write_bytes(b"RIFF\x10\x00\x00\x00sfbkLIST" + bytes(200))
    with pytest.raises(FileError, match="is no sound font"):
        next(font_blocks(broken, quarters({Role.MELODY: [69]}), RATE))
    with open(sound_font, "rb") as whole:
        broken.write_bytes(whole.read(10000))
    with pytest.raises(FileError, match="is cut short"):
        check_sound_font(broken, RATE)


@pytest.mark.slow
def test_it_plays_silently(sound_font, quarters, capfd):
    """Nothing is printed while it plays, by no library."""
    sound_of(sound_font, quarters({Role.MELODY: [69], Role.CLICK: [76]}))
    assert capfd.readouterr() == ("", "")


def test_rates_and_tunings_that_it_has_not(sound_font, quarters):
    """FluidSynth has sample rates from 8 to 96 kHz (its settings reference,
    synth.sample-rate); A is at 400 to 480 Hz."""
    performance = quarters({Role.MELODY: [69]})
    for rate in (7999, 96001, 192000):
        with pytest.raises(FileError, match=f"no sample rate of {rate}"):
            font_blocks(sound_font, performance, rate)
    with pytest.raises(PracticeError, match="A cannot be at 300 Hz"):
        font_blocks(sound_font, performance, RATE, a4=300)


def test_no_pyfluidsynth(monkeypatch, sound_font):
    """Without the Python part the message says how to get both parts."""
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    with pytest.raises(FileError) as refused:
        check_sound_font(sound_font, RATE)
    assert refused.value.message == "a sound font needs pyfluidsynth, which is not installed"
    assert "pip install pyfluidsynth" in refused.value.hint
    assert "apt install libfluidsynth3" in refused.value.hint


def test_no_library(monkeypatch, sound_font):
    """Without FluidSynth itself the message says how to get it on each system."""
    monkeypatch.delitem(sys.modules, "fluidsynth", raising=False)
    monkeypatch.setattr("ctypes.util.find_library", lambda name: None)
    monkeypatch.delenv("HOMEBREW_PREFIX", raising=False)
    with pytest.raises(FileError) as refused:
        check_sound_font(sound_font, RATE)
    assert refused.value.message == "FluidSynth is not installed"
    for part in ("libfluidsynth3", "brew install fluid-synth", "Windows"):
        assert part in refused.value.hint
