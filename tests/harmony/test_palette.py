"""Palettes: which chords there are to choose from in a key."""

import pytest

from backing.harmony.palette import Palette, choices, closing, label, mode_of, triad
from backing.music.chord import Chord, parse_chord
from backing.music.key import MODES, parse_key

#: Diatonic triads as Roman numerals from the major scale of the tonic; they follow from the
#: scales, e.g. Wikiversity, "The Minor Scale, Modes, & Mode Mixture".
NUMERALS = {
    "major": "I ii iii IV V vi vii°",
    "dorian": "i ii bIII IV v vi° bVII",
    "phrygian": "i bII bIII iv v° bVI bvii",
    "lydian": "I II iii #iv° V vi vii",
    "mixolydian": "I ii iii° IV v vi bVII",
    "minor": "i ii° bIII iv v bVI bVII",
    "locrian": "i° bII biii iv bV bVI bvii",
}
QUALITIES = {"major": "major", "minor": "minor", "diminished": "diminished"}


def names(chords):
    return {str(chord) for chord in chords}


@pytest.mark.parametrize("mode", sorted(NUMERALS))
def test_triads_of_a_mode_by_numeral(mode):
    """Each mode has the seven triads that follow from its scale (the table above names a
    page; music21 gives the same below)."""
    key = parse_key(f"D {mode}")
    found = " ".join(label(triad(key, degree), key) for degree in range(1, 8))
    assert found == NUMERALS[mode]


@pytest.mark.slow
@pytest.mark.parametrize("mode", sorted(MODES))
@pytest.mark.parametrize("tonic", ["A", "D", "G", "Bb", "F#"])
def test_triads_against_another_library(tonic, mode):
    """The triads of a key have the notes and qualities that music21 gives them."""
    from music21.chord import Chord as Other
    from music21.key import Key

    pitches = Key(tonic.replace("b", "-"), mode).pitches[:7]
    for degree in range(7):
        theirs = Other([pitches[(degree + step) % 7].name for step in (0, 2, 4)])
        ours = triad(parse_key(f"{tonic} {mode}"), degree + 1)
        assert set(ours.pitch_classes) == set(theirs.pitchClasses)
        assert ours.kind == theirs.quality
        assert ours.root == theirs.root().pitchClass


@pytest.mark.parametrize(
    ("written", "mode"),
    [("D", "major"), ("D =c", "mixolydian"), ("Dm ^g", "minor"), ("Am ^f", "dorian"),
     ("HP", "mixolydian"), ("D Phr ^f", "major"), ("Glyd", "lydian"), ("C _e _a _b", "minor"),
     ("Am ^c ^f ^g", "major"), ("Am _b", "phrygian")],
)  # fmt: skip
def test_a_mode_is_known_by_its_scale(written, mode):
    """A key with written accidentals is the mode that its scale makes; a scale that is none
    is major or minor by its third (K:D =c is D mixolydian, ABC 2.1 clause 3.1.14)."""
    assert mode_of(parse_key(written)) == mode


def test_the_full_palette_of_a_major_key():
    """G major has its seven triads, and no other unless a foreign note is heard."""
    found = choices(parse_key("G"), Palette.FULL, range(12), [7, 11, 2])
    assert names(found) == {"G", "Am", "Bm", "C", "D", "Em", "F#dim"}


def test_a_foreign_note_brings_its_chords():
    """C sharp in a bar of G major brings A, and other triads that hold it (common
    practice, no source: the dominant of the dominant)."""
    found = names(choices(parse_key("G"), Palette.FULL, [], [9, 1, 4]))
    assert {"A", "F#m"} <= found
    assert "E" not in found


@pytest.mark.parametrize(
    ("key", "heard", "dominant"),
    [("Am", [8], "E"), ("Am", [7], ""), ("Ddor", [1], "A"), ("Ddor", [], ""), ("Amix", [8], "E")],
)
@pytest.mark.parametrize("palette", list(Palette))
def test_the_raised_seventh_brings_the_dominant(key, heard, dominant, palette):
    """A minor or modal section has the major chord on its fifth degree only where its notes
    have the raised seventh (common practice, no source)."""
    key = parse_key(key)
    fifth = (key.tonic + 7) % 12
    found = [c for c in choices(key, palette, heard, []) if c.root == fifth and c.kind == "major"]
    assert names(found) == ({dominant} if dominant else set())


@pytest.mark.parametrize("mode", sorted(MODES))
def test_the_plain_palette_is_three_or_four_chords(mode):
    """The plain palette has the tonic first and four chords at most (working value, no
    source)."""
    key = parse_key(f"A {mode}")
    for heard in ([], [8]):
        found = choices(key, Palette.PLAIN, heard, range(12))
        assert found[0] == triad(key, 1)
        assert 3 <= len(found) <= 4


def test_plain_dorian_has_its_own_chords():
    """Plain A dorian has D major and G, no E major (common practice, no source)."""
    assert names(choices(parse_key("Ador"), Palette.PLAIN, [], [])) == {"Am", "G", "D", "C"}


def test_sections_close_on_the_main_degrees():
    """Of the chords of G, a section that ends on D may close on G or D; on E only on C; on
    an F natural, which none of them holds, on any (common practice, no source)."""
    key = parse_key("G")
    among = [triad(key, degree) for degree in range(1, 8)]
    assert names(closing(key, [2], among)) == {"G", "D"}
    assert names(closing(key, [4], among)) == {"C"}
    assert closing(key, [5], among) == tuple(among)


def test_modal_sections_may_close_on_the_flat_seventh():
    """A section in E dorian that ends on F sharp may close on D or Bm (common practice, no
    source)."""
    key = parse_key("Edor")
    among = [triad(key, degree) for degree in range(1, 8)]
    assert names(closing(key, [6], among)) == {"D", "Bm"}


@pytest.mark.parametrize(
    ("mode", "degrees"),
    [("major", "I IV V"), ("lydian", "I II V"), ("mixolydian", "I IV v bVII"),
     ("dorian", "i IV v bVII"), ("minor", "i iv v bVII"), ("phrygian", "i bII bvii"),
     ("locrian", "i° bII bvii")],
)  # fmt: skip
def test_each_mode_has_its_closing_chords(mode, degrees):
    """A section closes on the chords of the first, fourth and fifth degrees, or of those that
    stand in for them in the mode (common practice, no source)."""
    key = parse_key(f"D {mode}")
    among = [triad(key, degree) for degree in range(1, 8)]
    found = {
        label(chord, key)
        for chord in among
        for last in chord.pitch_classes
        if chord in closing(key, [last], among)
    }
    assert found == set(degrees.split())


@pytest.mark.parametrize(
    ("chord", "numeral"), [("F", "bVII"), ("E", "VI"), ("Em", "vi"), ("C#dim", "#iv°")]
)
def test_numerals(chord, numeral):
    """Numerals count from the major scale of the tonic, minor ones small."""
    assert label(parse_chord(chord), parse_key("G")) == numeral
    assert label(Chord("D", 0, "minor"), parse_key("Gm")) == "v"


def test_triads_of_a_foreign_note_that_is_heard():
    """The full palette has the triads of which a note is foreign to the key, where it is heard
    in the bar and their other notes are the key's: over D sharp in G these are B and C minor."""
    key = parse_key("G")
    own = choices(key, Palette.FULL, (), ())
    assert [str(chord) for chord in own] == ["G", "Am", "Bm", "C", "D", "Em", "F#dim"]
    heard = choices(key, Palette.FULL, (), (3, 7))
    assert heard[:7] == own
    assert names(heard[7:]) == {"Cm", "B"}
    assert choices(key, Palette.PLAIN, (), (3, 7)) == choices(key, Palette.PLAIN, (), ())
