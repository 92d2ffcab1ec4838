"""The gain of a mix: its loudness, its peaks, its dips."""

import numpy as np
import pytest

from backing.render.blocks import Block
from backing.render.levels import CEILING, TARGET, WINDOW, LevelMeter, gain_for
from backing.render.loudness import Meter

RATE = 16000


def music(seconds=3.0, clicks=0.0):
    """A steady chord, and clicks of some amplitude twice a second."""
    time = np.arange(round(seconds * RATE)) / RATE
    chord = sum(np.sin(2 * np.pi * hertz * time) for hertz in (220, 277, 330)) * 0.02
    knocks = clicks * np.exp(-(time % 0.5) / 0.005) * np.cos(2 * np.pi * 1500 * (time % 0.5))
    return np.stack((chord + knocks, chord + knocks), axis=1).astype(np.float32)


def levels_of(wanted, whole):
    """What is measured of a mix, a second at a time."""
    measure = LevelMeter(RATE)
    for first in range(0, len(whole), RATE):
        measure.add(Block(wanted[first : first + RATE], whole[first : first + RATE]))
    return measure.levels()


def raised(wave, gain):
    """A mix with its gain, in two blocks of odd length."""
    parts = np.split(wave, [7777])
    starts = (0, 7777)
    return np.concatenate(
        [
            part * gain.over(first, len(part), RATE)
            for first, part in zip(starts, parts, strict=True)
        ]
    )


def loudness_of(wave):
    """LUFS of a mix."""
    meter = Meter(RATE)
    meter.add(wave)
    return meter.loudness()


def peak_of(wave):
    """The highest sample in dBFS."""
    return 20 * np.log10(np.abs(wave).max())


def test_a_mix_comes_to_its_target():
    """A mix with room above it comes to -16 LUFS (AES TD1008) by one factor."""
    wave = music()
    gain = gain_for(levels_of(wave, wave))
    assert gain.dips is None
    assert gain.loudness == TARGET
    assert loudness_of(raised(wave, gain)) == pytest.approx(TARGET, abs=0.02)


def test_peaks_lower_the_gain_a_little():
    """Where peaks would be above -1 dBFS by less than 1 dB, the gain is lower by that."""
    wave = music()
    wave[20000] = 10 ** ((loudness_of(wave) + 15.5) / 20)
    gain = gain_for(levels_of(wave, wave))
    assert gain.dips is None
    assert peak_of(raised(wave, gain)) == pytest.approx(CEILING, abs=0.001)
    assert TARGET - WINDOW < loudness_of(raised(wave, gain)) < TARGET - 0.1


@pytest.mark.parametrize("clicks", [0.3, 0.5, 0.7])
def test_higher_peaks_are_dipped(clicks):
    """Where a lower gain would leave -16 LUFS by more than 1 LU, the gain dips for the
    peaks: none is above -1 dBFS, and the loudness is what was said."""
    wave = music(clicks=clicks)
    gain = gain_for(levels_of(wave, wave))
    assert gain.dips is not None
    assert peak_of(raised(wave, gain)) <= CEILING
    assert loudness_of(raised(wave, gain)) == pytest.approx(gain.loudness, abs=0.3)
    assert abs(gain.loudness - TARGET) <= WINDOW


def test_dips_are_gentle():
    """No dip falls faster than 200 dB a second or rises faster than 50, the seam of a loop
    included."""
    wave = music(clicks=0.5)
    gain = gain_for(levels_of(wave, wave))
    assert gain.dips[0] == gain.dips[-1]
    steps = 20 * np.diff(np.log10(gain.dips))
    assert steps.min() >= -2.0001
    assert steps.max() <= 0.5001


@pytest.mark.slow
def test_muted_and_whole_have_one_gain():
    """A version without a track has the gain of the one with all of them."""
    whole = music(clicks=0.3)
    gain, alone = (gain_for(levels_of(wave, whole)) for wave in (whole, music()))
    assert gain.factor == alone.factor
    assert np.array_equal(gain.dips, alone.dips)


def test_a_muted_track_may_have_hidden_peaks():
    """Where the wanted mix is higher than the whole, its peaks count too."""
    whole = music()
    gain = gain_for(levels_of(whole * 8, whole))
    assert peak_of(raised(whole * 8, gain)) <= CEILING


def test_silence_has_no_gain():
    """Silence stays as it is."""
    silence = np.zeros((RATE, 2), np.float32)
    assert gain_for(levels_of(silence, silence)).factor == 1.0
