"""Keys: the fifteen major signatures, the modes on all tonics, changes after the mode."""

import pytest

from backing.music.key import MODES, NO_KEY, Key, parse_key

SHARPS = "FCGDAEB"
MAJOR = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
#: ABC 2.1 clause 3.1.14, the printed table: the seven keys that share each signature.
TABLE = [
    ("C#", "A#m", "G#Mix", "D#Dor", "E#Phr", "F#Lyd", "B#Loc", 7),
    ("F#", "D#m", "C#Mix", "G#Dor", "A#Phr", "BLyd", "E#Loc", 6),
    ("B", "G#m", "F#Mix", "C#Dor", "D#Phr", "ELyd", "A#Loc", 5),
    ("E", "C#m", "BMix", "F#Dor", "G#Phr", "ALyd", "D#Loc", 4),
    ("A", "F#m", "EMix", "BDor", "C#Phr", "DLyd", "G#Loc", 3),
    ("D", "Bm", "AMix", "EDor", "F#Phr", "GLyd", "C#Loc", 2),
    ("G", "Em", "DMix", "ADor", "BPhr", "CLyd", "F#Loc", 1),
    ("C", "Am", "GMix", "DDor", "EPhr", "FLyd", "BLoc", 0),
    ("F", "Dm", "CMix", "GDor", "APhr", "BbLyd", "ELoc", -1),
    ("Bb", "Gm", "FMix", "CDor", "DPhr", "EbLyd", "ALoc", -2),
    ("Eb", "Cm", "BbMix", "FDor", "GPhr", "AbLyd", "DLoc", -3),
    ("Ab", "Fm", "EbMix", "BbDor", "CPhr", "DbLyd", "GLoc", -4),
    ("Db", "Bbm", "AbMix", "EbDor", "FPhr", "GbLyd", "CLoc", -5),
    ("Gb", "Ebm", "DbMix", "AbDor", "BbPhr", "CbLyd", "FLoc", -6),
    ("Cb", "Abm", "GbMix", "DbDor", "EbPhr", "FbLyd", "BbLoc", -7),
]
ROWS = [(name, row[-1]) for row in TABLE for name in row[:-1]]


@pytest.mark.parametrize(("name", "fifths"), ROWS, ids=[name for name, _ in ROWS])
def test_every_key_of_the_table(name, fifths):
    """The 105 keys of the table in ABC 2.1 clause 3.1.14 have their signatures."""
    key = parse_key(name)
    assert key.fifths == fifths
    altered = SHARPS[:fifths] if fifths >= 0 else SHARPS[::-1][:-fifths]
    assert key.signature == dict.fromkeys(altered, 1 if fifths > 0 else -1)


@pytest.mark.parametrize(("name", "fifths"), list(zip(MAJOR, range(-7, 8), strict=True)))
def test_major_keys_against_another_library(name, fifths):
    """The fifteen major keys have the signature and scale that music21 gives them."""
    from music21.key import Key as Other

    theirs = Other(name.replace("b", "-"))
    ours = parse_key(name)
    assert ours.fifths == theirs.sharps == fifths
    assert ours.scale == tuple(pitch.pitchClass for pitch in theirs.pitches[:7])


@pytest.mark.parametrize("mode", sorted(MODES))
@pytest.mark.parametrize("tonic", ["C", "D", "Eb", "F#", "A", "Bb"])
def test_modes_against_another_library(tonic, mode):
    """Every mode has the scale that music21 gives it."""
    from music21.key import Key as Other

    theirs = Other(tonic.replace("b", "-"), mode)
    ours = parse_key(f"{tonic} {mode}")
    assert ours.scale == tuple(pitch.pitchClass for pitch in theirs.pitches[:7])
    assert ours.fifths == theirs.sharps


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        # clause 3.1.14: only three letters count, case does not, spaces may stand anywhere
        ("G", "G major"), ("Gmaj", "G major"), ("G Major", "G major"), ("GION", "G major"),
        ("G ionian", "G major"), ("Em", "E minor"), ("E m", "E minor"), ("Emin", "E minor"),
        ("E minor", "E minor"), ("EAEO", "E minor"), ("E Aeolian", "E minor"),
        ("ADOR", "A dorian"), ("Adorian", "A dorian"), ("A  Dorian", "A dorian"),
        ("AMIXOLYDIAN", "A mixolydian"), ("Amixo", "A mixolydian"), ("D phrygian", "D phrygian"),
        ("F LYDIAN", "F lydian"), ("B Locrian", "B locrian"), ("F♯m", "F# minor"),
        ("B♭", "Bb major"), ("none", "no key"), ("NONE", "no key"), ("", "no key"),
    ],
)  # fmt: skip
def test_ways_to_write_a_mode(written, meant):
    """Modes may be written out, cut to three letters, in either case."""
    assert str(parse_key(written)) == meant


@pytest.mark.parametrize(
    ("name", "scale"),
    [
        # clause 3.1.14: D Phrygian with F sharp is D E flat F sharp G A B flat C
        ("D Phr ^f", (2, 3, 6, 7, 9, 10, 0)),
        ("E Phr ^g", (4, 5, 8, 9, 11, 0, 2)),
        ("E exp ^g", (4, 5, 8, 9, 11, 0, 2)),
        ("D maj =c", (2, 4, 6, 7, 9, 11, 0)),
        ("Am ^g", (9, 11, 0, 2, 4, 5, 8)),
        ("D exp _b _e ^f", (2, 3, 6, 7, 9, 10, 0)),
        ("D Phr ^F", (2, 3, 6, 7, 9, 10, 0)),
    ],
)
def test_changed_scales(name, scale):
    """Accidentals after the mode change the scale, `exp` leaves nothing else."""
    assert parse_key(name).scale == scale


@pytest.mark.parametrize(
    ("name", "minor"),
    [("C", False), ("Am", True), ("Ador", True), ("AMix", False), ("E Phr", True),
     ("F Lyd", False), ("B Loc", True), ("E Phr ^g", False), ("HP", False), ("none", False)],
)  # fmt: skip
def test_major_or_minor(name, minor):
    """A key is minor where its third is (common practice, no source)."""
    assert parse_key(name).minor == minor


def test_no_key():
    """Without a key nothing is altered (ABC 2.1 clause 3.1.14)."""
    assert (NO_KEY.signature, NO_KEY.fifths, str(NO_KEY)) == ({}, 0, "no key")


def test_how_a_key_was_written_does_not_count():
    """Keys are compared by what they are."""
    assert parse_key("Emin") == parse_key("E minor") == Key("E", 0, "minor")
    assert parse_key("C") != parse_key("none")


@pytest.mark.parametrize("text", ["G minorish x", "D ^f ^", "D ^h", "D exp f", "A#b", "8", "Hx"])
def test_what_is_no_key_either(text):
    """Text that is nearly a key is refused, not guessed at."""
    with pytest.raises(ValueError, match="is not a"):
        parse_key(text)
