"""The built-in reeds note by note: pitch, partials, onset, how they come and go."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.arranging.arrangement import Role
from backing.render.reeds import Reeds
from backing.render.speaking import attack_of

#: Middle C to the C above, in Hz (the MIDI key numbers of equal temperament at A = 440).
OCTAVE = (261.626, 277.183, 293.665, 311.127, 329.628, 349.228, 369.994, 391.995, 415.305,
          440.0, 466.164, 493.883, 523.251)  # fmt: skip
REED_ROLES = (Role.MELODY, Role.SECOND, Role.BASS, Role.CHORDS)
RATES = (44100, 48000)
WINDOW = 32768


def sound_of(sound, frames, block=4096):
    """The first so many frames of a sound, asked for block by block."""
    found = np.zeros(frames, np.float32)
    for first in range(0, frames, block):
        sound.add_to(found[first : first + block], first)
    return found


def held(role, key, *, rate=48000, frames=WINDOW, velocity=80, a4=440.0, tremolo=0.0):
    """A key held down, from when it sounds in full."""
    lead = rate // 5
    sound = Reeds(rate, a4, tremolo).sound(role, key, velocity, 0)
    return sound_of(sound, lead + frames)[lead:]


def struck(role, key, stop, *, rate=48000, frames=48000, velocity=80):
    """A key let go at a frame; what sounds before its onset is left out, softly."""
    sound = Reeds(rate).sound(role, key, velocity, 0)
    sound.hurry(0, rate)
    sound.let_go(stop)
    return sound_of(sound, frames)


def pitch_of(wave, rate, near):
    """The frequency of the peak within half a semitone of `near`.

    Through a Gaussian window the logarithm of a peak is a parabola.
    """
    count = len(wave)
    window = np.exp(-0.5 * ((np.arange(count) - count / 2) / (count / 8)) ** 2)
    spectrum = np.log(np.abs(np.fft.rfft(wave * window)) + 1e-30)
    low, high = (round(near * 2 ** (cents / 1200) * count / rate) for cents in (-50, 50))
    top = low + int(np.argmax(spectrum[low : high + 2]))
    left, middle, right = spectrum[top - 1 : top + 2]
    return (top + (left - right) / (2 * (left - 2 * middle + right))) * rate / count


def cents(one, other):
    """How far apart two frequencies are."""
    return 1200 * np.log2(one / other)


def decibels(power):
    """A ratio of powers."""
    return 10 * np.log10(power)


def power_of(wave):
    """Mean power."""
    return float(np.mean(np.square(wave, dtype=np.float64)))


def highs(wave, rate=48000, above=12000):
    """The highest power above a frequency in any 5 ms, against the most power in any."""
    size = rate // 200
    stretches = np.lib.stride_tricks.sliding_window_view(wave, size)[:: size // 4]
    spectra = np.abs(np.fft.rfft(stretches * np.blackman(size))) ** 2
    return decibels(spectra[:, above * size // rate :].sum(1).max() / spectra.sum(1).max())


# -- pitch ---------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("role", REED_ROLES)
def test_every_key_is_in_tune(role, rate):
    """A key sounds within a cent of 440 * 2 ** ((key - 69) / 12) Hz (equal temperament)."""
    for key in range(36, 97):
        wanted = 440 * 2 ** ((key - 69) / 12)
        assert abs(cents(pitch_of(held(role, key, rate=rate), rate, wanted), wanted)) < 1


@pytest.mark.slow
def test_an_octave_by_the_table():
    """Keys 60 to 72 have the frequencies that tables print for middle C to the C above."""
    for key, wanted in enumerate(OCTAVE, 60):
        assert abs(cents(pitch_of(held(Role.MELODY, key), 48000, wanted), wanted)) < 1


@pytest.mark.slow
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(("a4", "higher"), [(442.0, 7.851), (432.0, -31.767)])
def test_another_tuning_moves_every_key(a4, higher, rate):
    """A = 442 is 7.851 cents above A = 440 and A = 432 is 31.767 below (1200 log2 of the ratio)."""
    for key in range(36, 97, 5):
        wanted = 440 * 2 ** ((key - 69) / 12)
        found = pitch_of(held(Role.MELODY, key, rate=rate, a4=a4), rate, wanted)
        assert abs(cents(found, wanted) - higher) < 1


@pytest.mark.parametrize("rate", [8000, 22050, 96000, 192000])
def test_other_sample_rates_are_in_tune(rate):
    """Whatever the sample rate, a key has its pitch (equal temperament)."""
    for key in range(36, 97, 12):
        wanted = 440 * 2 ** ((key - 69) / 12)
        found = pitch_of(held(Role.MELODY, key, rate=rate, frames=rate // 2), rate, wanted)
        assert abs(cents(found, wanted)) < 1


@pytest.mark.parametrize("role", REED_ROLES)
@pytest.mark.parametrize("key", [60, 84, 93, 96, 108])
def test_nothing_folds_back(role, key):
    """All but a million-millionth of the power lies on multiples of the pitch (no aliases)."""
    wave = held(role, key, velocity=127).astype(np.float64)
    spectrum = np.abs(np.fft.rfft(wave * np.kaiser(len(wave), 20))) ** 2
    hertz = np.fft.rfftfreq(len(wave), 1 / 48000)
    pitch = 440 * 2 ** ((key - 69) / 12)
    off = np.abs(hertz - pitch * np.rint(hertz / pitch))
    between = (off > 20) | (hertz < pitch / 2)
    assert decibels(spectrum[between].sum() / spectrum.sum()) < -120


# -- tremolo ---------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("role", "asked", "apart"),
    [
        (Role.MELODY, 5, 5), (Role.MELODY, 8, 8), (Role.SECOND, 20, 20), (Role.MELODY, 30, 30),
        (Role.BASS, 5, 2.5), (Role.CHORDS, 5, 2.5), (Role.CHORDS, 30, 2.5), (Role.CHORDS, 4, 2),
    ],
)  # fmt: skip
def test_two_reeds_beat(role, asked, apart):
    """Two reeds so many cents apart beat at the difference of their frequencies (acoustics): 5
    cents at A are 1.27 beats a second.  The left hand's are half as far apart, 2.5 at most."""
    beat = beats_of(held(role, 69, frames=48000 * 8, tremolo=asked), 440)
    assert beat == pytest.approx(440 * (2 ** (apart / 2400) - 2 ** (-apart / 2400)), abs=0.05)


def beats_of(wave, hertz, rate=48000):
    """How often in a second the partial at a frequency swells."""
    time = np.arange(len(wave)) / rate
    around = np.exp(-2j * np.pi * hertz * time) * wave
    swell = np.abs(around.reshape(-1, rate // 100).mean(1)) ** 2
    spectrum = np.abs(np.fft.rfft((swell - swell.mean()) * np.hanning(len(swell)), 1 << 16))
    return np.argmax(spectrum) * 100 / (1 << 16)


@pytest.mark.slow
def test_usual_reeds_are_5_cents_apart():
    """Where nothing is asked for the melody's A beats 1.27 times a second (440 Hz, 5 cents)."""
    wave = sound_of(Reeds(48000).sound(Role.MELODY, 69, 80, 0), 48000 * 8)
    assert beats_of(wave, 440) == pytest.approx(1.27, abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("role", REED_ROLES)
def test_beating_is_no_pumping(role):
    """However long a note, two reeds 5 cents apart stay within 5 dB of their middle power, for
    their partials do not beat in step (a working value, no source)."""
    wave = held(role, 69, frames=48000 * 6, tremolo=5)
    heard = decibels(np.mean(np.square(wave).reshape(-1, 2400), axis=1) / power_of(wave))
    assert -5 < heard.min() < -1
    assert heard.max() < 3


def test_tremolo_is_as_loud_as_dry():
    """Two reeds have the power of the one that speaks for both (incoherent powers add)."""
    wet, dry = (held(Role.MELODY, 69, frames=384000, tremolo=apart) for apart in (20, 0))
    assert abs(decibels(power_of(wet) / power_of(dry))) < 0.2


@pytest.mark.parametrize("apart", [8, 20, 30])
def test_a_short_note_with_tremolo_is_as_loud_as_dry(apart):
    """A note of a tenth of a second falls on no loud or weak place of a beat: within 3 dB."""
    for key in (57, 69, 81):
        powers = []
        for each in (apart, 0.0):
            sound = Reeds(48000, 440.0, each).sound(Role.MELODY, key, 80, 0)
            powers.append(power_of(sound_of(sound, 4800)))
        assert abs(decibels(powers[0] / powers[1])) < 3


@pytest.mark.parametrize("role", REED_ROLES)
def test_octaves_add_their_powers(role):
    """Two reeds an octave apart neither cancel nor double: the sum has both powers."""
    low, high = (held(role, key, frames=48000) for key in (45, 57))
    assert abs(decibels(power_of(low + high) / (power_of(low) + power_of(high)))) < 0.2


# -- loudness --------------------------------------------------------------------------


@pytest.mark.parametrize("velocity", [1, 32, 64, 100])
def test_velocity_is_squared(velocity):
    """A velocity is 40 log10(velocity / 127) dB below full (General MIDI 2's curve for volume)."""
    soft, full = (power_of(held(Role.MELODY, 69, velocity=each)) for each in (velocity, 127))
    assert decibels(soft / full) == pytest.approx(40 * np.log10(velocity / 127), abs=0.1)


def test_stronger_is_brighter():
    """The stronger a reed is blown the more of it lies in its upper partials (acoustics)."""
    shares = []
    for velocity in (40, 80, 120):
        power = np.abs(np.fft.rfft(held(Role.MELODY, 69, velocity=velocity))) ** 2
        hertz = np.fft.rfftfreq(WINDOW, 1 / 48000)
        shares.append(power[hertz > 1500].sum() / power.sum())
    assert shares[0] * 1.5 < shares[1]
    assert shares[1] * 1.5 < shares[2]


@pytest.mark.slow
@pytest.mark.parametrize("role", REED_ROLES)
def test_no_key_sticks_out(role):
    """Keys 55 to 90 are within 2 dB of each other, heard as ITU-R BS.1770 weighs them."""
    pyloudnorm = pytest.importorskip("pyloudnorm")
    meter = pyloudnorm.Meter(48000)
    heard = [
        meter.integrated_loudness(held(role, key, frames=24000).astype(np.float64))
        for key in range(55, 91, 5)
    ]
    assert max(heard) - min(heard) < 2


@pytest.mark.parametrize("role", REED_ROLES)
def test_peaks_are_low(role):
    """A reed's peaks are less than 8 dB above its effective value, to leave room in the mix."""
    for key in range(40, 91, 10):
        wave = held(role, key)
        assert decibels(np.max(np.square(wave)) / power_of(wave)) < 8


# -- coming and going --------------------------------------------------------------------


def rise_of(role, key, tremolo, *, rate=48000, onset=9600):
    """Milliseconds after the onset in which a reed reaches a tenth, half and nine tenths of its
    height without beats: the effective value through a window of two periods (Hann)."""
    window = np.hanning(2 * round(rate / (440 * 2 ** ((key - 69) / 12))))
    dry, height = (
        np.sqrt(np.convolve(np.square(wave, dtype=np.float64), window, "same"))
        for wave in (
            sound_of(Reeds(rate, 440.0, each).sound(role, key, 90, onset), 2 * rate // 5)
            for each in (0.0, tremolo)
        )
    )
    full = dry[onset + rate // 8 : onset + rate // 6].mean()
    return [
        (int(np.argmax(height > share * full)) - onset) / rate * 1000 for share in (0.1, 0.5, 0.9)
    ]


@pytest.mark.parametrize("role", REED_ROLES)
@pytest.mark.parametrize(("key", "wanted"), [(40, 50), (69, 20), (81, 10)])
def test_low_reeds_are_slow_to_speak(role, key, wanted):
    """From a tenth to nine tenths of its height a reed takes about 50 ms at E2, 20 at A4 and 10
    at A5 (working values, no source)."""
    tenth, _, most = rise_of(role, key, 0.0)
    assert most - tenth == pytest.approx(wanted, rel=0.1)


def test_every_reed_is_quicker_than_the_one_below():
    """Between E2 and A5 attacks fall from key to key, by 2 to 9 per cent each."""
    attacks = [attack_of(key) for key in range(40, 82)]
    assert all(0.91 < after / before < 0.99 for before, after in pairwise(attacks))


@pytest.mark.parametrize("role", REED_ROLES)
@pytest.mark.parametrize("tremolo", [0.0, 5.0])
@pytest.mark.parametrize("rate", RATES)
def test_a_note_begins_at_half_its_height(role, tremolo, rate):
    """At its onset, within 1 ms, a reed passes half of its full height, whatever its pitch."""
    for key in range(40, 89, 4):
        _, half, _ = rise_of(role, key, tremolo, rate=rate)
        assert abs(half) < 1


def test_a_button_knocks_softly():
    """The knock of a button is 20 to 40 dB below a note, over within 100 ms, in the middle of the
    range, and the same each time (working values, no source)."""
    knocks = [sound_of(Reeds(48000).button(90, 100), 9600) for _ in range(2)]
    note = held(Role.MELODY, 69, velocity=90)
    assert not knocks[0][:100].any()
    assert not knocks[0][4900:].any()
    assert 20 < decibels(np.max(np.square(note)) / np.max(np.square(knocks[0]))) < 40
    spectrum = np.abs(np.fft.rfft(knocks[0])) ** 2
    hertz = np.fft.rfftfreq(9600, 1 / 48000)
    assert spectrum[(hertz > 300) & (hertz < 3000)].sum() / spectrum.sum() > 0.9
    assert np.array_equal(*knocks)


@pytest.mark.parametrize("role", REED_ROLES)
@pytest.mark.parametrize("stop", [1, 137, 555, 2000, 9999])
def test_a_note_cut_anywhere_does_not_click(role, stop):
    """Neither start nor end of a low note has energy at 12 kHz, which one cut off has."""
    wave = struck(role, 45, stop, frames=14400)
    assert highs(wave) < -90
    if stop == 9999:
        wave[stop:] = 0
        assert highs(wave) > -65


@pytest.mark.parametrize("role", REED_ROLES)
@pytest.mark.parametrize("stop", [0, 20, 700, 5000])
def test_a_note_ends_in_silence(role, stop):
    """A key let go is silent after a tenth of a second, to the last bit."""
    wave = struck(role, 60, stop, frames=stop + 9600)
    assert np.abs(wave[: stop + 2400]).max() > 0 or stop == 0
    assert not wave[stop + 4800 :].any()


def test_the_earliest_end_counts():
    """A key that is up does not come back by being let go again later."""
    sound = Reeds(48000).sound(Role.MELODY, 69, 80, 0)
    sound.let_go(1000)
    sound.let_go(20000)
    assert not sound_of(sound, 24000)[9600:].any()


def test_a_knock_has_its_own_end():
    """A click rings on when its key goes up, and no longer when it is held (a block of wood)."""
    short, long_ = (struck(Role.CLICK, 76, stop) for stop in (100, 40000))
    assert np.array_equal(short, long_)
    assert not short[24000:].any()
    assert np.abs(short[:480]).max() > 0.5 * np.abs(short).max()


def test_the_click_tells_the_first_beat():
    """The accent's block is higher than the beat's (General MIDI: 76 high, 77 low wood block)."""
    tops = []
    for key in (76, 77):
        spectrum = np.abs(np.fft.rfft(struck(Role.CLICK, key, 100)))
        tops.append(np.argmax(spectrum))
    assert tops[0] > 1.2 * tops[1]


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([*REED_ROLES, Role.CLICK]),
    st.integers(0, 9000),
    st.integers(0, 9000),
    st.lists(st.integers(1, 2048), min_size=1, max_size=6),
)
def test_blocks_do_not_matter(role, start, length, sizes):
    """A sound is the same in blocks of any sizes."""
    whole, parts = np.zeros(8192, np.float32), np.zeros(8192, np.float32)
    for out, steps in ((whole, [8192]), (parts, sizes)):
        sound = Reeds(48000, 440.0, 12.0).sound(role, 76, 90, start)
        sound.let_go(start + length)
        first = turn = 0
        while first < 8192:
            size = steps[turn % len(steps)]
            sound.add_to(out[first : first + size], first)
            first, turn = first + size, turn + 1
    assert np.array_equal(whole, parts)


@pytest.mark.slow
@pytest.mark.parametrize("rate", [8000, 11025, 48000, 192000])
@pytest.mark.parametrize("key", [0, 1, 60, 126, 127])
def test_extreme_keys_and_rates(key, rate):
    """The lowest and highest keys sound at any rate that can hold them, and never too loud."""
    for role in (*REED_ROLES, Role.CLICK):
        sound = Reeds(rate, 440.0, 30.0).sound(role, key, 127, 0)
        sound.let_go(rate // 2)
        wave = sound_of(sound, rate)
        assert np.isfinite(wave).all()
        assert np.abs(wave).max() < 4
        pitch = 440 * 2 ** ((key - 69) / 12)
        assert wave.any() == (role is Role.CLICK or pitch < 0.45 * rate)
