"""Spelled pitches and their key numbers."""

import pytest

from backing.music.pitch import Pitch, name_of, parse_pitch, pitch_class, pitch_of

#: Frequencies in equal temperament, 440 * 2 ** ((n - 69) / 12) with A4 = 440 Hz and key
#: number 69 (MIDI 1.0), rounded to a thousandth.
FREQUENCIES = [
    ("C4", 261.626), ("C#4", 277.183), ("D4", 293.665), ("Eb4", 311.127), ("E4", 329.628),
    ("F4", 349.228), ("F#4", 369.994), ("G4", 391.995), ("Ab4", 415.305), ("A4", 440.0),
    ("Bb4", 466.164), ("B4", 493.883), ("C5", 523.251), ("A0", 27.5), ("C2", 65.406),
    ("C3", 130.813), ("C8", 4186.009),
]  # fmt: skip


@pytest.mark.parametrize(("name", "hertz"), FREQUENCIES)
def test_key_numbers_against_frequencies(name, hertz):
    """A pitch's key number stands for its frequency in equal temperament."""
    assert 440 * 2 ** ((parse_pitch(name).midi - 69) / 12) == pytest.approx(hertz, abs=0.0005)


@pytest.mark.parametrize("octave", range(9))
@pytest.mark.parametrize("step", "CDEFGAB")
def test_key_numbers_against_another_library(step, octave):
    """Every letter with every sign has the key number that music21 gives it."""
    from music21.pitch import Pitch as Other

    signs = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}
    for alter, sign in signs.items():
        assert pitch_of(step, alter, octave).midi == Other(f"{step}{sign}{octave}").ps


@pytest.mark.parametrize("alter", range(-2, 3))
@pytest.mark.parametrize("step", "CDEFGAB")
def test_names_are_read_as_they_are_written(step, alter):
    """A pitch's name reads back as the same pitch."""
    pitch = Pitch(step, alter, 4)
    assert parse_pitch(str(pitch)) == pitch
    assert pitch.midi % 12 == pitch_class(step, alter)


@pytest.mark.parametrize(
    ("step", "alter", "name"),
    [("C", 0, "C"), ("F", 1, "F#"), ("B", -1, "Bb"), ("G", 2, "G##"), ("E", -2, "Ebb")],
)
def test_names(step, alter, name):
    """A name is the letter and its signs."""
    assert name_of(step, alter) == name


def test_spellings_differ():
    """F sharp and G flat have one key number and are two pitches."""
    sharp, flat = parse_pitch("F#4"), parse_pitch("Gb4")
    assert sharp.midi == flat.midi
    assert sharp != flat


@pytest.mark.parametrize("text", ["H4", "c4", "C", "C#", "Cx4", "C4.5", "", "C###4", "C#b4", " C4"])
def test_what_is_no_pitch(text):
    """Text that names no pitch is refused."""
    with pytest.raises(ValueError, match="is not a pitch"):
        parse_pitch(text)
