"""Loudness by ITU-R BS.1770-4, against the standard, EBU's signals and another meter."""

from itertools import pairwise
from math import inf

import numpy as np
import pytest

from backing.render.loudness import HIGH_PASS, SHELF, Meter, at_rate

RATES = (8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000, 192000)


def measured(signal, rate=48000, size=4800):
    """Loudness of a signal that comes in blocks of one size."""
    meter = Meter(rate)
    for first in range(0, len(signal), size):
        meter.add(signal[first : first + size])
    return meter.loudness()


def sine(hertz, dbfs, seconds, rate=48000):
    """A sine in both channels, its peak at a level."""
    wave = 10 ** (dbfs / 20) * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)
    return np.stack((wave, wave), axis=1).astype(np.float32)


def noise(seconds, rate, seed):
    """Noise whose strength comes and goes, with a silence in it."""
    chance = np.random.default_rng(seed)
    count = round(seconds * rate)
    wave = chance.standard_normal((count, 2)) * 0.1
    wave *= chance.uniform(0.01, 1, 12).repeat(count // 12 + 1)[:count, np.newaxis]
    wave[count // 3 : count // 2] = 0
    return wave.astype(np.float32)


def test_the_weighting_is_the_standards():
    """At 48 kHz the filters are those printed in BS.1770-4, annex 1, tables 1 and 2."""
    assert SHELF.b == (1.53512485958697, -2.69169618940638, 1.19839281085285)
    assert SHELF.a == (1.0, -1.69065929318241, 0.73248077421585)
    assert HIGH_PASS.b == (1.0, -2.0, 1.0)
    assert HIGH_PASS.a == (1.0, -1.99004745483398, 0.99007225036621)
    assert at_rate(SHELF, 48000) == SHELF
    assert at_rate(HIGH_PASS, 48000) == HIGH_PASS


@pytest.mark.slow
@pytest.mark.parametrize("rate", [11025, 48000])
def test_the_weighting_is_what_the_filters_do(rate):
    """The powers are those of both filters as difference equations (BS.1770-4, annex 1),
    frame by frame."""
    signal = noise(1.255, rate, 5)
    weighed = signal.astype(float)
    for b, a, _ in (at_rate(SHELF, rate), at_rate(HIGH_PASS, rate)):
        x, y = np.pad(weighed, ((2, 0), (0, 0))), np.zeros((len(weighed) + 2, 2))
        for n in range(2, len(y)):
            y[n] = b[0] * x[n] + b[1] * x[n - 1] + b[2] * x[n - 2]
            y[n] -= a[1] * y[n - 1] + a[2] * y[n - 2]
        weighed = y[2:]
    edges = [round(step * rate / 100 + 1e-9) for step in range(126)]
    pairs = list(pairwise(edges))
    expected = [(weighed[first:end] ** 2).sum(axis=1).mean() for first, end in pairs]
    meter = Meter(rate)
    meter.add(signal)
    assert len(meter.powers()) == 125
    assert np.allclose(meter.powers(), expected, rtol=1e-3, atol=1e-6 * max(expected))


@pytest.mark.parametrize("rate", RATES)
def test_a_full_sine_on_one_channel(rate):
    """A 997 Hz sine of 0 dBFS in one channel reads -3.01 LKFS, at every sample rate
    (BS.1770-4, annex 1)."""
    signal = sine(997, 0, 3, rate)
    signal[:, 1] = 0
    assert measured(signal, rate) == pytest.approx(-3.01, abs=0.005)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([(-23, 20)], -23.0),
        ([(-33, 20)], -33.0),
        ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
    ],
)
def test_the_signals_of_the_ebu(parts, expected):
    """Stereo sines of 1 kHz read as EBU Tech 3341 says of its test signals 1 to 5, within
    0.1 LU (the levels from memory)."""
    signal = np.concatenate([sine(1000, level, seconds) for level, seconds in parts])
    assert measured(signal) == pytest.approx(expected, abs=0.1)


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("seed", range(4))
def test_another_meter_reads_the_same(rate, seed):
    """pyloudnorm, with the filters of the standard, reads the same within 0.05 LU."""
    import pyloudnorm  # loads much of SciPy

    signal = noise(6, rate, seed)
    other = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(signal.astype(float))
    assert measured(signal, rate) == pytest.approx(other, abs=0.05)


def test_block_sizes_do_not_matter():
    """The same sound reads the same in blocks of one frame, of any sizes and in one block."""
    signal = noise(3, 44100, 9)
    whole = measured(signal, 44100, len(signal))
    meter, chance, first = Meter(44100), np.random.default_rng(9), 0
    while first < len(signal):
        size = int(chance.choice([1, 7, 441, 5000, 40000]))
        meter.add(signal[first : first + size])
        first += size
    assert meter.loudness() == whole
    assert meter.loudness() == whole


def test_silence_has_no_loudness():
    """Silence, and what is below the gate of -70 LUFS, reads minus infinity (BS.1770-4)."""
    assert Meter(48000).loudness() == -inf
    assert measured(np.zeros((48000, 2), np.float32)) == -inf
    assert measured(sine(1000, -75, 2)) == -inf


def test_short_sound_is_one_block():
    """Sound shorter than a gating block is measured as it is (our own choice)."""
    assert measured(sine(1000, -23, 0.3)) == pytest.approx(-23, abs=0.2)
