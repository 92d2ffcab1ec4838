"""Chord symbols against MusicXML's kinds and against another library."""

import pytest

from backing.music.chord import KINDS, NO_CHORD, Chord, is_chord, looks_like_chord, parse_chord

ROOTS = ["C", "D", "E", "F", "G", "A", "B", "C#", "F#", "Bb", "Eb", "Ab", "Db"]
#: What may stand after the root, and the kind it names (ABC 2.1 clause 4.18: m or min, maj,
#: dim, aug or +, sus, 7, 9 …; the kinds are those of MusicXML 4.0, "kind-value").
WORDS = [
    ("", "major"), ("m", "minor"), ("min", "minor"), ("maj", "major"), ("7", "dominant"),
    ("maj7", "major-seventh"), ("m7", "minor-seventh"), ("min7", "minor-seventh"),
    ("dim", "diminished"), ("dim7", "diminished-seventh"), ("m7b5", "half-diminished"),
    ("m7♭5", "half-diminished"), ("aug", "augmented"), ("+", "augmented"),
    ("sus4", "suspended-fourth"), ("sus", "suspended-fourth"), ("sus2", "suspended-second"),
    ("6", "major-sixth"), ("m6", "minor-sixth"), ("9", "dominant-ninth"), ("5", "power"),
    ("maj9", "major-ninth"), ("m9", "minor-ninth"), ("mmaj7", "major-minor"),
]  # fmt: skip


@pytest.mark.parametrize(("word", "kind"), WORDS)
def test_words_after_the_root(word, kind):
    """The word after the root names the kind of chord, whatever the root."""
    for root in ROOTS:
        assert parse_chord(root + word).kind == kind


#: MusicXML's kinds that music21 spells with the same notes (augmented-seventh and the
#: like included); the intervals are read off its chords, not typed in here.
OUTSIDE = [
    "major", "minor", "augmented", "diminished", "dominant", "major-seventh", "minor-seventh",
    "diminished-seventh", "augmented-seventh", "half-diminished", "major-sixth", "minor-sixth",
    "dominant-ninth", "major-ninth", "minor-ninth", "suspended-second", "suspended-fourth", "power",
]  # fmt: skip


@pytest.mark.parametrize("kind", OUTSIDE)
@pytest.mark.parametrize("root", ["C", "D", "F#", "B-"])
def test_kinds_against_another_library(kind, root):
    """Every kind holds the pitch classes that music21 gives it."""
    from music21.harmony import ChordSymbol

    theirs = ChordSymbol(root=root, kind=kind)
    ours = Chord(root[0], {"#": 1, "-": -1}.get(root[1:], 0), kind)
    assert set(ours.pitch_classes) == {pitch.pitchClass for pitch in theirs.pitches}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_kinds_begin_with_their_root(kind):
    """A kind lists its notes from the root, none of them twice."""
    steps = KINDS[kind]
    assert steps[0] == 0
    assert len(set(steps)) == len(steps)
    assert all(0 <= step < 12 for step in steps)


@pytest.mark.parametrize(
    ("text", "root", "bass", "classes"),
    [
        # clause 4.18: any letter after the slash, in either case, with an accidental
        ("C/E", 0, 4, "0 4 7"), ("C/D", 0, 2, "0 4 7"), ("D/F#", 2, 6, "2 6 9"),
        ("D/f#", 2, 6, "2 6 9"), ("Bb/f", 10, 5, "10 2 5"), ("Am7/G", 9, 7, "9 0 4 7"),
        ("F#m/A", 6, 9, "6 9 1"), ("Eb/B♭", 3, 10, "3 7 10"), ("G", 7, 7, "7 11 2"),
    ],
)  # fmt: skip
def test_slash_chords_keep_their_notes(text, root, bass, classes):
    """The bass of a slash chord changes its lowest note and nothing else."""
    chord = parse_chord(text)
    assert (chord.root, chord.bass_class) == (root, bass)
    assert chord.pitch_classes == tuple(map(int, classes.split()))


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N", " N.C. "])
def test_no_chord(text):
    """These words silence the left hand (ABC 2.1 names no sign for it; common practice, no
    source)."""
    assert parse_chord(text) == NO_CHORD
    assert is_chord(text)


@pytest.mark.parametrize("text", ["D(Bm)", "D (Bm)", "D(E7)"])
def test_a_second_chord_in_brackets(text):
    """A second chord in brackets is printed, not played (ABC 2.1 clause 4.18)."""
    assert parse_chord(text) == parse_chord("D")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "H",
        "c",
        "am",
        "D.C.",
        "D.S.",
        "Fine",
        "Coda",
        "Gnarl",
        "C7/H",
        "C//E",
        "4",
        "CC",
        "Amen",
    ],
)
def test_text_that_is_no_chord(text):
    """Other text is no chord, and is refused where one is asked for."""
    assert not is_chord(text)
    with pytest.raises(ValueError, match="is not a chord"):
        parse_chord(text)


@pytest.mark.parametrize(
    ("text", "looks"),
    [("Fine", True), ("Gnarl", True), ("slow", False), ("4", False), ("H7", False), ("", False)],
)
def test_what_looks_like_a_chord(text, looks):
    """Text that begins with a letter from A to G may have been meant as a chord."""
    assert looks_like_chord(text) == looks


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        # degree numbers 1 to 8 over a chord, common practice, no source
        ("C", {1: 0, 3: 4, 5: 7, 8: 0}), ("Am", {1: 9, 3: 0, 5: 4, 8: 9}),
        ("G7", {1: 7, 3: 11, 5: 2, 7: 5}), ("Bdim", {1: 11, 3: 2, 5: 5}),
        ("C+", {1: 0, 5: 8}), ("D/F#", {1: 6, 3: 6, 5: 9}), ("C", {2: 2, 4: 5, 6: 9}),
    ],
)  # fmt: skip
def test_degrees(text, degrees):
    """A degree counts from the root; the bass of a slash chord stands for the root."""
    chord = parse_chord(text)
    assert {number: chord.degree(number) for number in degrees} == degrees


@pytest.mark.parametrize("text", ["C", "Am7", "Bb/D", "F#dim", "G7", "Dsus4", "N.C.", "Ebmaj7"])
def test_symbols_are_written_as_they_are_read(text):
    """A chord's symbol reads back as the same chord."""
    assert parse_chord(str(parse_chord(text))) == parse_chord(text)


def test_a_suspended_seventh_has_the_fourth_for_its_third():
    """A7sus4 is A, D, E and G: root, fourth, fifth, minor seventh (the definition of the
    chord)."""
    assert set(parse_chord("A7sus4").pitch_classes) == {9, 2, 4, 7}


def test_kinds_are_built_on_each_other():
    """Sevenths are triads with a seventh, ninths are sevenths with a ninth, the eleventh is a
    ninth with a fourth (MusicXML 4.0, kind-value)."""
    assert KINDS["major-minor"] == (*KINDS["minor"], 11)
    for seventh, triad, step in (
        ("dominant", "major", 10), ("major-seventh", "major", 11), ("minor-seventh", "minor", 10),
        ("half-diminished", "diminished", 10), ("diminished-seventh", "diminished", 9),
        ("augmented-seventh", "augmented", 10),
    ):  # fmt: skip
        assert KINDS[seventh] == (*KINDS[triad], step)
    for ninth, seventh in (
        ("dominant-ninth", "dominant"), ("major-ninth", "major-seventh"),
        ("minor-ninth", "minor-seventh"),
    ):  # fmt: skip
        assert KINDS[ninth] == (*KINDS[seventh], 2)
    assert KINDS["dominant-11th"] == (*KINDS["dominant-ninth"], 5)
