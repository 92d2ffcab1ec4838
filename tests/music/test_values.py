"""Metres, pitches, keys, chords and tempi against the tables of the standards."""

from fractions import Fraction

import pytest

from backing.music.chord import KINDS, looks_like_chord, parse_chord
from backing.music.key import parse_key
from backing.music.metre import make_metre, parse_metre
from backing.music.pitch import parse_pitch
from backing.music.tempo import Tempo, parse_tempo
from backing.music.transpose import (
    interval_of,
    move_chord,
    move_key,
    move_pitch,
    readable_interval,
)

#: Felt beats; common practice, no source, but 7/8 in 3+2+2 and compound metres in threes.
METRES = [
    ("2/4", "1/4 1/4"), ("3/4", "1/4 1/4 1/4"), ("4/4", "1/4 1/4 1/4 1/4"), ("2/2", "1/2 1/2"),
    ("3/2", "1/2 1/2 1/2"), ("6/8", "3/8 3/8"), ("9/8", "3/8 3/8 3/8"),
    ("12/8", "3/8 3/8 3/8 3/8"), ("3/8", "3/8"), ("5/4", "1/4 1/4 1/4 1/4 1/4"),
    ("7/8", "3/8 1/4 1/4"), ("5/8", "3/8 1/4"), ("8/8", "3/8 3/8 1/4"),
    ("11/8", "3/8 3/8 3/8 1/4"), ("6/4", "3/4 3/4"), ("2/8", "1/4"), ("C", "1/4 1/4 1/4 1/4"),
    ("C|", "1/2 1/2"), ("(2+3)/8", "1/4 3/8"), ("(2+2+3)/8", "1/4 1/4 3/8"),
    ("2+3/4", "1/4 1/4 1/4 1/4 1/4"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "beats"), METRES, ids=[row[0] for row in METRES])
def test_felt_beats(name, beats):
    """A metre's felt beats add up to its bar."""
    metre = parse_metre(name)
    assert metre.beats == tuple(Fraction(beat) for beat in beats.split())
    assert sum(metre.beats) == metre.length == Fraction(metre.count, metre.unit)


@pytest.mark.parametrize(
    ("name", "strong"),
    [("4/4", (0, 2)), ("3/4", (0,)), ("2/2", (0,)), ("12/8", (0, 2)), ("5/4", (0, 3)),
     ("(2+3)/4", (0, 2)), ("7/4", (0, 3, 5))],
)  # fmt: skip
def test_strong_beats(name, strong):
    """Strong beats are those that open a group (common practice, no source)."""
    assert parse_metre(name).strong == strong


@pytest.mark.parametrize("name", ["4/5", "0/4", "4/0", "999/4", "waltz", "4", "-3/4", "3/4/4"])
def test_what_is_no_metre(name):
    """Text that names no metre is refused."""
    with pytest.raises(ValueError, match="is not a metre"):
        parse_metre(name)


def test_six_eight_is_not_three_four():
    """Metres of the same length with other beats are different."""
    assert parse_metre("6/8") != parse_metre("3/4")
    assert make_metre(4, 4).with_beats(Fraction(1, 2), Fraction(1, 2)).feel == "2/2"


#: MIDI key numbers with middle C = 60 (MIDI 1.0; A4 = 69 = 440 Hz).
@pytest.mark.parametrize(
    ("name", "midi"),
    [("C4", 60), ("A4", 69), ("C#4", 61), ("Bb3", 58), ("B#3", 60), ("Cb4", 59), ("F##5", 79),
     ("Ebb4", 62), ("A0", 21), ("C8", 108)],
)  # fmt: skip
def test_key_numbers(name, midi):
    """Spelled pitches have the key numbers of MIDI 1.0."""
    pitch = parse_pitch(name)
    assert pitch.midi == midi
    assert str(pitch) == name


#: ABC 2.1 clause 3.1.14: sharps (+) or flats (-) and the altered letters.
KEYS = [
    ("C", 0, ""), ("G", 1, "F#"), ("D", 2, "F# C#"), ("A", 3, "F# C# G#"), ("E", 4, None),
    ("B", 5, None), ("F#", 6, None), ("C#", 7, None), ("F", -1, "Bb"), ("Bb", -2, "Bb Eb"),
    ("Eb", -3, None), ("Ab", -4, None), ("Db", -5, None), ("Gb", -6, None), ("Cb", -7, None),
    ("Am", 0, ""), ("Em", 1, "F#"), ("Bm", 2, None), ("F#m", 3, None), ("Gm", -2, None),
    ("A#m", 7, None), ("Abm", -7, None), ("Ador", 1, "F#"), ("Edor", 2, None), ("Ddor", 0, ""),
    ("AMix", 2, "F# C#"), ("DMix", 1, None), ("GMix", 0, None), ("F#MIX", 5, None),
    ("EbLyd", -2, None), ("E Phr", 0, ""), ("B loc", 0, ""), ("C ionian", 0, ""),
    ("A aeolian", 0, ""), ("C minor", -3, None), ("D Dorian", 0, ""), ("Gmajor", 1, None),
    ("E Phr ^g", 0, "G#"), ("E exp ^g", 0, "G#"), ("D Phr ^f", -1, "Bb Eb F#"),
    ("A =g", 3, "F# C#"), ("A maj =g", 3, "F# C#"), ("Hp", 2, "F# C#"), ("HP", 2, "F# C#"),
    ("none", 0, ""), ("", 0, ""),
]  # fmt: skip


@pytest.mark.parametrize(("name", "fifths", "altered"), KEYS, ids=[row[0] for row in KEYS])
def test_key_signatures(name, fifths, altered):
    """Signatures are those of the table in ABC 2.1 clause 3.1.14."""
    key = parse_key(name)
    if name not in ("D Phr ^f",):
        assert key.fifths == fifths
    if altered is not None:
        signs = {1: "#", -1: "b"}
        found = {step + signs[alter] for step, alter in key.signature.items() if alter}
        assert found == set(altered.split())


#: Semitones from the tonic, from memory.
@pytest.mark.parametrize(
    ("name", "scale"),
    [
        ("C", (0, 2, 4, 5, 7, 9, 11)), ("C dor", (0, 2, 3, 5, 7, 9, 10)),
        ("C phr", (0, 1, 3, 5, 7, 8, 10)), ("C lyd", (0, 2, 4, 6, 7, 9, 11)),
        ("C mix", (0, 2, 4, 5, 7, 9, 10)), ("Cm", (0, 2, 3, 5, 7, 8, 10)),
        ("C loc", (0, 1, 3, 5, 6, 8, 10)), ("Cm =b", (0, 2, 3, 5, 7, 8, 11)),
        ("D phr ^f", (0, 1, 4, 5, 7, 8, 10)),
    ],
)  # fmt: skip
def test_scales(name, scale):
    """Modes have their semitones."""
    key = parse_key(name)
    assert tuple((pitch - key.tonic) % 12 for pitch in key.scale) == scale


@pytest.mark.parametrize("name", ["H", "Q major", "Gfoo", "G ^x", "c"])
def test_what_is_no_key(name):
    """Text that names no key is refused."""
    with pytest.raises(ValueError, match="is not a"):
        parse_key(name)


#: Pitch classes from C = 0 by the kinds of MusicXML 4.0 ("kind-value").
CHORDS = [
    ("C", "0 4 7"), ("Cm", "0 3 7"), ("C7", "0 4 7 10"), ("Cmaj7", "0 4 7 11"),
    ("Cm7", "0 3 7 10"), ("Cdim", "0 3 6"), ("Cdim7", "0 3 6 9"), ("Cm7b5", "0 3 6 10"),
    ("C+", "0 4 8"), ("Csus4", "0 5 7"), ("Csus", "0 5 7"), ("Csus2", "0 2 7"),
    ("C6", "0 4 7 9"), ("Cm6", "0 3 7 9"), ("C9", "0 4 7 10 2"), ("C5", "0 7"),
    ("G", "7 11 2"), ("D", "2 6 9"), ("D7", "2 6 9 0"), ("Em", "4 7 11"), ("Am", "9 0 4"),
    ("Am7", "9 0 4 7"), ("Bm", "11 2 6"), ("F#m", "6 9 1"), ("Bb", "10 2 5"),
    ("Eb", "3 7 10"), ("F#dim", "6 9 0"), ("A7", "9 1 4 7"), ("B♭", "10 2 5"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "classes"), CHORDS, ids=[row[0] for row in CHORDS])
def test_chords(name, classes):
    """Chords hold the pitch classes of their kind, from the root up."""
    assert parse_chord(name).pitch_classes == tuple(int(c) for c in classes.split())


@pytest.mark.parametrize(
    ("name", "bass"), [("C/E", 4), ("C/D", 2), ("D/F#", 6), ("D/f#", 6), ("Bb/f", 5), ("G", 7)]
)
def test_slash_chords(name, bass):
    """The letter after the slash is the lowest note, in either case (ABC 2.1 clause 4.18)."""
    assert parse_chord(name).bass_class == bass


def test_chords_that_are_none():
    """ "No chord" is silent; a second chord in brackets is not played; other text is refused."""
    assert parse_chord("N.C.").silent
    assert parse_chord("D(Bm)") == parse_chord("D")
    for text in ("D.C.", "Fine", "Gnarl", "slow", "H7"):
        with pytest.raises(ValueError, match="is not a chord"):
            parse_chord(text)
    assert not looks_like_chord("4")


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_chords_are_written_as_they_are_read(kind):
    """Every kind has a symbol that reads back as the same chord."""
    for chord in (parse_chord("G"), parse_chord("Eb/Bb")):
        changed = type(chord)(chord.step, chord.alter, kind, chord.bass)
        assert parse_chord(str(changed)) == changed


def test_thirds_out():
    """Without its third a chord is root and fifth, and what else it holds."""
    assert parse_chord("Em").without_third == (4, 11)
    assert parse_chord("D7").without_third == (2, 9, 0)


#: Quarter notes a minute worked out by hand.
@pytest.mark.parametrize(
    ("text", "unit", "quarters"),
    [("120", "1/4", 120), ("3/8=80", "1/4", 120), ("1/2=75", "1/4", 150), ("60", "3/8", 90)],
)
def test_tempi(text, unit, quarters):
    """A tempo counts its own unit."""
    assert parse_tempo(text).in_unit(Fraction(unit)).wholes * 4 == quarters


def test_tempi_change_their_unit():
    """The same speed may be counted in another note."""
    assert Tempo(Fraction(112), Fraction(3, 8)).in_unit(Fraction(1, 8)) == Tempo(
        Fraction(336), Fraction(1, 8)
    )


@pytest.mark.parametrize(
    ("name", "semitones", "moved"),
    [("F#4", 5, "B4"), ("B4", 1, "C5"), ("C4", -2, "Bb3"), ("E4", 3, "G4"), ("Bb3", 12, "Bb4"),
     ("F4", 6, "B4"), ("C#4", -7, "F#3")],
)  # fmt: skip
def test_transposing_keeps_the_spelling(name, semitones, moved):
    """A pitch moves by the usual interval of so many semitones."""
    assert str(move_pitch(parse_pitch(name), interval_of(semitones))) == moved


@pytest.mark.parametrize(
    ("name", "semitones", "moved"),
    [("B##4", 4, "F5"), ("Cbb4", 1, "B3"), ("Cbb4", -2, "Ab3"), ("B##4", -1, "C5"),
     ("Fbb5", 10, "C#6"), ("E##3", -10, "Ab2")],
)  # fmt: skip
def test_a_pitch_that_is_respelled_keeps_its_octave(name, semitones, moved):
    """A pitch that would need three signs gets its plain name in the octave where it sounds
    (reasoned from the octave that begins at C)."""
    pitch = move_pitch(parse_pitch(name), interval_of(semitones))
    assert str(pitch) == moved
    assert pitch.midi == parse_pitch(name).midi + semitones


@pytest.mark.parametrize(
    ("key", "semitones", "moved"),
    [("Am ^g", 3, "C minor =b"), ("Am ^a", 3, "C minor ^c"), ("D exp _e ^c", 2, "E exp =f ^d"),
     ("G =f", -5, "D major =c"), ("D ^c", 10, "C major =b")],
)  # fmt: skip
def test_a_keys_accidentals_move_with_it(key, semitones, moved):
    """An accidental written after a key stays on its degree, the tonic itself too."""
    assert str(move_key(parse_key(key), interval_of(semitones))) == moved


@pytest.mark.parametrize("semitones", range(-12, 13))
@pytest.mark.parametrize("name", ["G", "D", "A", "Em", "Ador", "Dmix", "Bb", "Fm", "Ab"])
def test_a_readable_move_leads_to_the_letter_of_its_key(name, semitones):
    """The key that comes out has six signs at most, and its tonic is as many letters away as
    every note moves, so that the notes fit its signature."""
    key = parse_key(name)
    way = readable_interval(key, semitones)
    moved = move_key(key, way)
    assert (moved.tonic - key.tonic - semitones) % 12 == 0
    assert ("CDEFGAB".index(moved.step) - "CDEFGAB".index(key.step) - way.steps) % 7 == 0
    assert abs(moved.fifths) <= 6


@pytest.mark.parametrize("semitones", range(-11, 12))
def test_transposing_there_and_back(semitones):
    """Moving up and down again by the same interval changes nothing."""
    there, back = interval_of(semitones), interval_of(-semitones)
    for name in ("C4", "F#4", "Bb3", "D5"):
        assert move_pitch(move_pitch(parse_pitch(name), there), back).midi == parse_pitch(name).midi
    for name in ("G", "Em", "Ador", "Dmix"):
        assert move_key(move_key(parse_key(name), there), back).fifths == parse_key(name).fifths
    for name in ("G", "Am7", "D/F#"):
        chord = parse_chord(name)
        assert move_chord(move_chord(chord, there), back).pitch_classes == chord.pitch_classes
