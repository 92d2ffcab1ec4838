"""What a left-hand button sounds: one octave of reeds, the chords that a box has, spelling."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.style import Tones
from backing.arranging.voicing import bass_pitches, chord_pitches
from backing.music.buttons import BUTTONS
from backing.music.chord import KINDS, Chord, parse_chord

ROOTS = [(step, alter) for step in "CDEFGAB" for alter in (-1, 0, 1)]
CHORDS = st.builds(
    lambda root, kind, bass: Chord(*root, kind, bass),
    st.sampled_from(ROOTS),
    st.sampled_from(sorted(KINDS)),
    st.none() | st.sampled_from(ROOTS),
)


def classes(pitches):
    """Pitch classes of some keys."""
    return {pitch % 12 for pitch in pitches}


@pytest.mark.slow
@given(CHORDS, st.sampled_from(Tones), st.booleans())
def test_chords_come_from_one_octave_of_reeds(chord, tones, full):
    """Every chord lies within G3 to F#4 without a note twice, whatever is asked.

    A working value after common practice, no source."""
    pitches = chord_pitches(chord, tones, full=full)
    assert pitches
    assert list(pitches) == sorted(set(pitches))
    assert pitches[0] >= 55
    assert pitches[-1] <= 66


@pytest.mark.slow
@given(CHORDS, st.sampled_from([1, 2, 3, 4, 5, 6, 7, 8]))
def test_a_bass_sounds_in_two_octaves(chord, degree):
    """Every bass lies within E2 to D#3 and sounds an octave above too.

    A working value after common practice, no source."""
    low, high = bass_pitches(chord, degree)
    assert 40 <= low <= 51
    assert high == low + 12


@pytest.mark.parametrize(("step", "alter"), ROOTS)
def test_degrees_of_a_bass(step, alter):
    """The bass takes root, third, fifth and octave of a major chord."""
    chord = Chord(step, alter)
    lows = [bass_pitches(chord, degree)[0] for degree in (1, 3, 5, 8)]
    assert [(low - chord.root) % 12 for low in lows] == [0, 4, 7, 0]


@pytest.mark.parametrize("kind", sorted(KINDS))
@pytest.mark.parametrize("root", ["C", "F", "G", "A", "B"])
def test_full_chords_sound_every_note(kind, root):
    """With full chords every pitch class of the kind sounds, with the thirds out all but the
    third.

    Pitch classes: MusicXML 4.0, kind-value."""
    chord = Chord(root, 0, kind)
    assert classes(chord_pitches(chord, full=True)) == {(chord.root + s) % 12 for s in KINDS[kind]}
    assert classes(chord_pitches(chord, Tones.NO_THIRD, full=True)) == {
        (chord.root + step) % 12 for step in KINDS[kind] if step not in (3, 4)
    }


#: Symbol, bass, chord button, button with the thirds out.
BOX = [
    ("G", "G", "G", "G5"),
    ("Em", "E", "Em", "E5"),
    ("D7", "D", "D", "D5"),
    ("C6", "C", "C", "C5"),
    ("G9", "G", "G", "G5"),
    ("Am6", "A", "Am", "A5"),
    ("Am7", "A", "C", "A5"),
    ("Bm7", "B", "D", "B5"),
    ("Cmaj7", "C", "Em", "C5"),
    ("Fmaj7", "F", "Am", "F5"),
    ("F#dim", "F#", "D", "D5"),
    ("F#dim7", "F#", "D", "D5"),
    ("Bm7b5", "B", "Dm", "D5"),
    ("Gaug", "G", "G", "G5"),
    ("Dsus4", "D", "D5", "D5"),
    ("A7sus4", "A", "A5", "A5"),
    ("E5", "E", "E5", "E5"),
    ("D/F#", "F#", "D", "D5"),
    ("Am7/G", "G", "C", "A5"),
]


@pytest.mark.parametrize(("symbol", "bass", "button", "bare"), BOX, ids=[row[0] for row in BOX])
def test_what_a_box_plays_for_a_symbol(symbol, bass, button, bare):
    """A box plays a symbol with one bass and one of its chord buttons.

    Am7 as A bass with C chord, Bm7 as B bass with D chord and Cmaj7 as C bass with Em chord
    are cross-chords of D/G boxes (the first two: bellowsandstrings.blogspot.com/2011); the
    others are common practice, no source."""
    chord = parse_chord(symbol)
    assert bass_pitches(chord)[0] % 12 == parse_chord(bass).root
    assert classes(chord_pitches(chord)) == set(parse_chord(button).pitch_classes)
    assert classes(chord_pitches(chord, Tones.NO_THIRD)) == set(parse_chord(bare).pitch_classes)


def test_every_kind_has_a_button():
    """Each kind of chord that we read has its button, a major, minor or third-less chord."""
    assert BUTTONS.keys() == KINDS.keys()
    assert {kind for _, kind in BUTTONS.values()} == {"major", "minor", "power"}


@pytest.mark.parametrize("kind", ["minor-seventh", "major-seventh", "half-diminished"])
def test_cross_chords_are_whole(kind):
    """Bass and button of a cross-chord hold together exactly the notes of the seventh chord.

    Pitch classes: MusicXML 4.0, kind-value."""
    chord = Chord("D", 0, kind)
    sounding = classes(bass_pitches(chord)) | classes(chord_pitches(chord))
    assert sounding == set(chord.pitch_classes)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_button_of_a_chord_is_in_tune_with_it(kind):
    """A button adds at most one note to those of the symbol: to augmented chords the fifth,
    to diminished ones the root of the dominant that they stand for (common practice, no source)."""
    chord = Chord("C", 0, kind)
    added = classes(chord_pitches(chord)) - set(chord.pitch_classes)
    expected = {
        "augmented": {7},
        "augmented-seventh": {7},
        "diminished": {8},
        "diminished-seventh": {8},
    }
    assert added == expected.get(kind, set())


SAME = [
    ("Gb", "F#"),
    ("Db", "C#"),
    ("Cb", "B"),
    ("E#", "F"),
    ("B#", "C"),
    ("Fb", "E"),
    ("A#", "Bb"),
]


@pytest.mark.parametrize("word", ["", "m", "7", "m7", "maj7", "dim", "sus4", "aug"])
@pytest.mark.parametrize(("flat", "sharp"), SAME)
def test_spelling_changes_nothing(flat, sharp, word):
    """Chords that sound the same are the same keys, however they are spelt."""
    one, other = parse_chord(flat + word), parse_chord(sharp + word)
    assert bass_pitches(one) == bass_pitches(other)
    for tones in Tones:
        assert chord_pitches(one, tones) == chord_pitches(other, tones)
        assert chord_pitches(one, tones, full=True) == chord_pitches(other, tones, full=True)


def test_only_the_root_of_a_chord():
    """A chord may sound its root alone."""
    assert chord_pitches(parse_chord("Em"), Tones.ROOT) == (64,)
