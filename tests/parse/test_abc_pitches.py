"""Pitches of ABC: octaves, accidentals and how far they reach, shifts of the key field.

Clauses are those of ABC 2.1; key numbers have middle C at 60 (draft 2.2, clause 4.6.1:
a plain C is middle C).
"""

import pytest

from backing.errors import TuneError
from backing.parse.abc import parse_abc


def keys(music, *head, key="C"):
    """The key numbers of the notes, bars separated by bars."""
    tune = parse_abc("\n".join(["X:1", "M:none", "L:1/8", *head, f"K:{key}", music, ""]))
    return " | ".join(
        " ".join(str(pitch.midi) for note in bar for pitch in note.pitches)
        for bar in tune.melody.bars
    )


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ("C D E F G A B c d e f g a b c'", "60 62 64 65 67 69 71 72 74 76 77 79 81 83 84"),
        ("D, D d d' D',, D'", "50 62 74 86 50 74"),  # clause 4.1: any mixture of marks
        ("C,', C, C' c c, C''", "48 48 72 72 60 84"),
        ("C,,, c'''", "24 108"), ("G,,,B,,,", "31 35"),
    ],
)  # fmt: skip
def test_octaves(music, expected):
    """A comma is an octave down, an apostrophe an octave up (clause 4.1)."""
    assert keys(music) == expected


@pytest.mark.parametrize(
    ("music", "key", "expected"),
    [
        # clause 4.2: an accidental replaces the signature
        ("^F _B =c", "C", "66 70 72"), ("^^F __B", "C", "67 69"), ("=F F|F", "G", "65 65 | 66"),
        ("^^F __B =c ^c", "D", "67 69 72 73"), ("_F ^B, ^E _C", "C", "64 60 65 59"),
        ("^f _e", "Eb", "78 75"), ("=B B|B", "F", "71 71 | 70"),
        ("F =F ^F =F F|F", "D", "66 65 66 65 65 | 66"),
    ],
)  # fmt: skip
def test_accidentals_are_absolute(music, key, expected):
    """An accidental says what sounds, whatever the key (clause 4.2)."""
    assert keys(music, key=key) == expected


#: Clause 11.3: not, octave or pitch; this project takes "octave" where nothing is said,
#: as players read it (common practice, no source; the standard's own default is "pitch").
SCOPES = [
    ("", "^F F f F|F f", "66 66 77 66 | 65 77"),
    ("octave", "^F F f F|F f", "66 66 77 66 | 65 77"),
    ("pitch", "^F F f F|F f", "66 66 78 66 | 65 77"),
    ("not", "^F F f F|F f", "66 65 77 65 | 65 77"),
    ("pitch", "^f =F f|F", "78 65 77 | 65"),
    ("", "^f =F f|F", "78 65 78 | 65"),
    ("not", "_B ^B B", "70 72 71"),
]


@pytest.mark.parametrize(("scope", "music", "expected"), SCOPES)
@pytest.mark.parametrize("form", ["%%propagate-accidentals {}", "I:propagate-accidentals {}"])
def test_how_far_accidentals_reach(scope, music, expected, form):
    """An accidental reaches to the bar's end, in its octave unless the tune says otherwise."""
    head = [form.format(scope)] if scope else []
    assert keys(music, *head) == expected


@pytest.mark.parametrize(
    "line",
    ["%%propagate-accidentals pitch\n", "I:propagate-accidentals pitch\n",
     "[I:propagate-accidentals pitch]"],
)  # fmt: skip
def test_the_reach_may_change_in_the_body(line):
    """The directive acts from where it stands in the body too (clause 11.0.2)."""
    assert keys(f"^Ff|\n{line}^Ff|") == "66 77 | 66 78"


@pytest.mark.parametrize("bar", ["|", "||", "|]", "[|", ":|", "|:", "::", "|1", "|[2", "[|]", "[1"])
def test_bar_lines_end_accidentals(bar):
    """Every bar line ends the bar's accidentals (common practice, no source)."""
    assert keys(f"^F F{bar} F").split(" | ")[-1] == "65"


def test_line_ends_do_not_end_accidentals():
    """A line of the text that ends inside a bar changes nothing (clause 6.1.1)."""
    assert keys("^F F\nF|F") == "66 66 66 | 65"


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        # common practice, no source: a tie carries its accidental over the bar line
        ("^F-|F|F", "66 | 66 | 65"), ("^F-|F F", "66 | 66 65"), ("^F-|F-|F|F", "66 | 66 | 66 | 65"),
        ("_B-|B B", "70 | 70 71"), ("[^CE]-|[CE] C", "61 64 | 61 64 60"),
        ("[^C-E]|[CE] C", "61 64 | 61 64 60"), ("^F-|f", "66 | 77"), ("^F-|\nF|", "66 | 66"),
        ("^F-|^F|F", "66 | 66 | 65"), ("^F-||F F", "66 | 66 65"),
    ],
)  # fmt: skip
def test_ties_carry_accidentals(music, expected):
    """A tied note goes on at its pitch over the bar line, the next one does not."""
    assert keys(music) == expected


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ("{^f}e f|f", "76 78 | 77"),  # grace notes are notes of the bar, no source
        ("[^CE] C|C", "61 64 61 | 60"), ("^c' c'|c'", "85 85 | 84"),
    ],
)  # fmt: skip
def test_accidentals_of_graces_and_chords(music, expected):
    """Accidentals of grace notes and of chords hold in their bar too."""
    assert keys(music) == expected


@pytest.mark.parametrize(
    ("key", "music", "expected"),
    [
        ("G", "F f c", "66 78 72"), ("D Phr ^f", "F B E", "66 70 63"),
        ("A =g", "G F C", "67 66 61"),
        ("E exp ^g", "G F C", "68 65 60"), ("HP", "F C G", "66 61 67"), ("Hp", "F C G", "66 61 67"),
        # K:HP: the scale of the pipes that the clause names
        ("HP", "GABcdefga", "67 69 71 73 74 76 78 79 81"),
        ("none", "F B", "65 71"), ("F#", "E B F", "65 71 66"), ("Cb", "C F", "59 64"),
    ],
)  # fmt: skip
def test_signatures_sound(key, music, expected):
    """A key's signature alters its letters in every octave (clause 3.1.14)."""
    assert keys(music, key=key) == expected


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        # clause 4.6: a clef alone, middle= and stafflines= never change the sound
        ("", 60), ("bass", 60), ("clef=bass", 60), ("alto", 60), ("tenor4", 60), ("perc", 60),
        ("treble", 60), ("clef=none", 60), ("bass middle=d", 60), ("m=D", 60), ("stafflines=1", 60),
        # octaves of the clef, octave= and transpose= do; several add up
        ("treble-8", 48), ("treble+8", 72), ("clef=treble-8", 48), ("bass-8", 48),
        ("octave=-1", 48), ("octave=1", 72), ("octave=0", 60), ("transpose=-2", 58), ("t=2", 62),
        ("treble-8 octave=1", 60), ("transpose=12 octave=-1", 60), ("transpose=+3", 63),
        # draft 2.2, clause 4.6: from one note to another; "^8" and "_8" print only
        ("sound=DC", 58), ("sound=CD", 62), ("shift=Cc", 72), ("treble^8", 60), ("treble_8", 60),
        ("treble+15", 84), ("bass-15", 36), ("score=CD", 60), ("instrument=C/D", 60),
        ("sound=DC transpose=-2", 56),
        # clause 4.6: a clef that is not known is a treble clef
        ("clef=soprano", 60),
    ],
)  # fmt: skip
def test_words_that_shift_the_sound(words, expected):
    """Middle C under these words of `K:` sounds at this key number."""
    assert keys("C", key=f"C {words}") == str(expected)


def test_shifts_end_with_the_next_one():
    """A shift holds to the next one; a key without words keeps it (draft 2.2, 4.6.4)."""
    assert keys("C|[K:C octave=-1]C|[K:C]C|[K:C octave=0]C") == "60 | 48 | 48 | 60"


def test_shifts_reach_everything_that_sounds():
    """Notes, grace notes, chord symbols and the key move together (draft 2.2, 4.6)."""
    tune = parse_abc('X:1\nM:2/4\nL:1/8\nK:D sound=DC\n"D/F#"{e}d2 "A7"c2|\n')
    first, second = tune.melody.bars[0]
    assert [str(pitch) for note in (first, second) for pitch in note.pitches] == ["C5", "B4"]
    assert str(first.graces[0].pitches[0]) == "D5"
    assert [str(symbol.chord) for symbol in tune.bars[0].chords] == ["C/E", "G7"]
    assert str(tune.key) == "C major"


@pytest.mark.parametrize("key", ["C foo=3", "C colour=red"])
def test_unknown_words_of_a_key_are_said(key):
    """A word that is not known is left out with a notice, never in silence."""
    (notice,) = parse_abc(f"X:1\nK:{key}\nC\n").notices
    assert (notice.line, notice.column) == (2, 5)
    assert key.split()[1] in notice.message


@pytest.mark.parametrize("note", ["C,,,,,,", "c''''''", "^c'''''", "_C,,,,,,"])
def test_pitches_that_do_not_sound(note):
    """A pitch without a key number from 0 to 127 (MIDI 1.0) is refused at its place."""
    with pytest.raises(TuneError, match="too high or too low") as caught:
        keys(f"C {note} C|")
    assert (caught.value.line, caught.value.column) == (5, 3)


def test_without_a_signature_there_is_none_to_move():
    """A shift moves the notes; `K:none` stays without a signature (draft 2.2, clause 4.6)."""
    tune = parse_abc("X:1\nL:1/8\nK:none transpose=2\nC|\n")
    assert str(tune.melody.bars[0][0].pitches[0]) == "D4"
    assert str(tune.bars[0].key) == "no key"


@pytest.mark.parametrize(("key", "expected"), [("GM", "65"), ("Gm", "65"), ("GMAJ", "66")])
def test_a_capital_m(key, expected):
    """The case of a mode does not count: `GM` is G minor (clause 3.1.14 leaves it open)."""
    assert keys("F", key=key) == expected


@pytest.mark.parametrize(
    ("music", "expected"),
    [("!editorial!^F F|F", "66 65 | 65"), ("!courtesy!^F F|F", "66 66 | 65"),
     ("^F!editorial!=F F|", "66 65 66"), ("!editorial!^F ^F F|", "66 66 66")],
)  # fmt: skip
def test_an_accidental_of_the_editor(music, expected):
    """`!editorial!` makes an accidental hold for its own note only, `!courtesy!` changes
    nothing (draft 2.2, clause 4.14)."""
    assert keys(music) == expected


@pytest.mark.parametrize(
    ("words", "expected"),
    [("bass", "60"), ("clef=alto middle=C", "60"), ("clef=treble-8", "48"), ("treble+8", "72"),
     ("octave=-1", "48"), ("transpose=-2", "58"), ("t=3 stafflines=1", "63"), ("shift=CD", "62"),
     ("sound=DC", "58")],
)  # fmt: skip
def test_words_of_a_voice_shift_the_sound(words, expected):
    """The words of `V:` shift the sound as those of `K:` do, in the header, on a line and in
    brackets (clause 4.6)."""
    assert keys("[V:1]C", f"V:1 {words}") == expected
    assert keys(f"V:1 {words}\nC") == keys(f"[V:1 {words}]C") == expected


def test_annotations_are_never_transposed():
    """A shift moves chord symbols and leaves annotations as they are (clause 4.19)."""
    tune = parse_abc('X:1\nL:1/8\nK:C transpose=2\n"^G""C"C|\n')
    assert [symbol.text for symbol in tune.bars[0].chords] == ["D"]
    assert tune.melody.bars[0][0].texts == ("^G",)


@pytest.mark.parametrize("music", ["c", "[Gc]", "{c}G", "G|[V:1 transpose=60]c"])
def test_a_shift_too_far(music):
    """A pitch that a shift moves to where no key is, is refused at its place (MIDI keys go from
    0 to 127)."""
    with pytest.raises(TuneError, match="is shifted too high or too low to sound") as caught:
        parse_abc(f"X:1\nV:1 octave=5\nL:1/8\nK:C\nV:1\n{music}|\n")
    assert caught.value.line == 6
