"""Fields of ABC's header and body: what they may hold, and what is refused.

Clauses are those of ABC 2.1.
"""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc, split_book, tune_of


def read(*head, music="C4 D4|", key="C"):
    """A tune with these header lines before its key."""
    return parse_abc("\n".join(["X:1", *head, f"K:{key}", music, ""]))


@pytest.mark.parametrize(
    ("field", "metre", "length"),
    [
        ("M:4/4", "4/4", "1"), ("M:C", "4/4", "1"), ("M:C|", "2/2", "1"), ("M:6/8", "6/8", "3/4"),
        ("M: 3/4", "3/4", "3/4"), ("M:none", "free", "0"), ("M:", "free", "0"),
        ("M:(3+2+2)/8", "7/8", "7/8"), ("M:2+3/8", "5/8", "5/8"), ("M:4/4 % common", "4/4", "1"),
        ("T:no metre", "free", "0"),
    ],
)  # fmt: skip
def test_metres(field, metre, length):
    """Every form of `M:` (clause 3.1.6); without one the metre is free."""
    tune = read(field)
    assert (str(tune.metre), tune.metre.length) == (metre, Fraction(length))


def test_free_metre_bars_stand_anywhere():
    """In free metre bars are as long as their notes (clause 3.1.6)."""
    tune = read("L:1/8", music="C3|D|E8 F8|")
    assert [bar.length for bar in tune.bars] == [Fraction(3, 8), Fraction(1, 8), 2]
    assert tune.notices == ()


@pytest.mark.parametrize("denominator", [1, 2, 4, 8, 16, 32, 64, 128, 256, 512])
def test_unit_lengths(denominator):
    """`L:` may be any note from a semibreve to 1/512 (clause 3.1.7)."""
    tune = read(f"L:1/{denominator}")
    assert tune.unit_length == Fraction(1, denominator)
    assert tune.melody.bars[0][0].length == Fraction(4, denominator)


def test_a_whole_unit():
    """`L:1` is a semibreve (clause 3.1.7)."""
    assert read("L:1").unit_length == 1


@pytest.mark.parametrize(
    ("head", "unit"),
    [
        # clause 3.1.7: the value of the metre decides, wherever M: and L: stand
        (("M:2/4",), "1/16"), (("M:3/4",), "1/8"), (("M:C",), "1/8"), (("M:C|",), "1/8"),
        ((), "1/8"), (("M:none",), "1/8"), (("L:1/4", "M:2/4"), "1/4"), (("M:2/4", "L:1/4"), "1/4"),
        (("M:2/2",), "1/8"), (("M:3/2",), "1/8"), (("M:3/8",), "1/16"), (("M:6/8",), "1/8"),
        (("M:7/8",), "1/8"), (("M:2+3+2/8",), "1/8"), (("M:9/8",), "1/8"), (("M:12/8",), "1/8"),
        (("M:5/8",), "1/16"), (("M:(2+3)/8",), "1/16"), (("M:6/4",), "1/8"), (("M:9/16",), "1/16"),
    ],
)  # fmt: skip
def test_the_unit_without_a_field(head, unit):
    """Without `L:` the metre decides: below 3/4 of a semibreve 1/16, else 1/8."""
    assert read(*head).unit_length == Fraction(unit)


@pytest.mark.parametrize(
    ("field", "unit", "beat", "beats", "microseconds"),
    [
        # clauses 3.1.8 and 10.1; microseconds a quarter are worked out by hand
        ("1/4=120", "1/8", "1/4", 120, 500000), ("1/2=75", "1/8", "1/2", 75, 400000),
        ("3/8=80", "1/8", "3/8", 80, 500000), ("1/4 1/4 3/8=60", "1/8", "7/8", 60, 285714),
        ("1/4 3/8 1/4 3/8=40", "1/8", "5/4", 40, 300000),
        ('"Slow" 3/8=50', "1/8", "3/8", 50, 800000), ('3/8=50 "Slow"', "1/8", "3/8", 50, 800000),
        ("90", "1/8", "1/8", 90, 1333333), ("C=90", "1/8", "1/8", 90, 1333333),
        ("90", "1/16", "1/16", 90, 2666667), ("C3=40", "1/8", "3/8", 40, 1000000),
        ("1/4=67.5", "1/8", "1/4", "135/2", 888889), (" 1/4 = 120 ", "1/8", "1/4", 120, 500000),
    ],
)  # fmt: skip
def test_tempi(field, unit, beat, beats, microseconds):
    """`Q:` counts its own beat; the quarter lasts so many microseconds."""
    tempo = read(f"L:{unit}", f"Q:{field}").tempo
    assert (tempo.unit, tempo.beats) == (Fraction(beat), Fraction(beats))
    assert round(60_000_000 / (tempo.wholes * 4)) == microseconds


def test_a_tempo_in_words():
    """Text alone is legal, is kept and gives no number (clause 3.1.8)."""
    tune = read('Q:"Lento"')
    assert tune.tempo is None
    assert tune.notices == ()
    assert ("Q", '"Lento"') in tune.texts


@pytest.mark.parametrize("field", ["fast", "1/4=", "1/4=9000", "1/0=60", "0", "1/4=nan"])
def test_a_tempo_that_cannot_be_read(field):
    """Such a tempo is left out with a notice at the field (clause 3.1.8)."""
    tune = read(f"Q:{field}")
    assert tune.tempo is None
    assert [(notice.line, notice.column) for notice in tune.notices] == [(2, 3)]


def test_a_tempo_inside_the_tune_that_cannot_be_read():
    """In the music too such a tempo is left out with a notice at the field."""
    tune = read("M:4/4", "L:1/8", music="C4[Q:fast]D4|")
    assert [(notice.line, notice.column) for notice in tune.notices] == [(5, 3)]


def test_tempi_change_inside_the_tune():
    """`Q:` on a line or in brackets acts from where it stands, in the unit of that place."""
    tune = read("L:1/8", "Q:1/4=100", music="C8|\nQ:1/4=80\nC4[L:1/4][Q:90]C2|\nQ:1/2=60\nC4|")
    marks = [(m.onset, m.tempo.beats, m.tempo.unit) for bar in tune.bars for m in bar.tempos]
    assert tune.tempo.beats == 100
    assert marks == [
        (0, 80, Fraction(1, 4)), (Fraction(1, 2), 90, Fraction(1, 4)), (0, 60, Fraction(1, 2)),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("C", "C major"), (" G ", "G major"), ("Ador", "A dorian"), ("A dor % comment", "A dorian"),
        ("G treble", "G major"), ("G clef=bass", "G major"), ("none", "no key"), ("", "no key"),
        ("Bb minor clef=alto", "Bb minor"), ("D Phr ^f", "D phrygian ^f"), ("clef=bass", "no key"),
        ("E exp ^g", "E exp ^g"), ("C stafflines=1 middle=d", "C major"),
    ],
)  # fmt: skip
def test_keys(key, expected):
    """`K:` is a tonic, a mode, accidentals, and words about the clef (clauses 3.1.14, 4.6)."""
    tune = read(key=key)
    assert str(tune.key) == expected
    assert tune.notices == ()


def test_keys_change_inside_the_tune():
    """`K:` on a line or in brackets holds from there on; an empty one ends the signature."""
    tune = read("M:4/4", "L:1/8", music="F8|\nK:G\nF8|F4[K:D]c4|\nK:none\nF8|")
    assert [str(bar.key) for bar in tune.bars] == ["C major", "G major", "G major", "no key"]
    notes = [note.pitches[0].midi for bar in tune.melody.bars for note in bar]
    assert notes == [65, 66, 66, 73, 65]


def test_metres_and_units_change_inside_the_tune():
    """`M:` and `L:` in the body act from there on, and neither changes the other."""
    tune = read("M:4/4", "L:1/8", music="C8|\nM:3/4\nC6|[L:1/4]C3|[M:6/8]C3|")
    assert [(str(bar.metre), bar.length) for bar in tune.bars] == [
        ("4/4", 1), ("3/4", Fraction(3, 4)), ("3/4", Fraction(3, 4)), ("6/8", Fraction(3, 4)),
    ]  # fmt: skip
    assert tune.notices == ()


@pytest.mark.parametrize(
    ("lines", "line", "column", "said"),
    [
        (["M:4/5", "K:C", "C|"], 2, 3, "4/5 is not a metre"),
        (["M:waltz", "K:C", "C|"], 2, 3, "'waltz' is not a metre"),
        (["M:0/4", "K:C", "C|"], 2, 3, "0/4 is not a metre"),
        (["L:1/7", "K:C", "C|"], 2, 3, "'1/7' is not a unit length"),
        (["L:2", "K:C", "C|"], 2, 3, "'2' is not a unit length"),
        (["L:", "K:C", "C|"], 2, 3, "'' is not a unit length"),
        (["K:H", "C|"], 2, 3, "'H' is not a key"), (["K:Cfoo", "C|"], 2, 3, "'foo' is not a mode"),
        (["K:C transpose=x", "C|"], 2, 3, "transpose=x is not a number"),
        (["U:A=!trill!", "K:C", "C|"], 2, 3, "is not a symbol"),
        (["m:noequals", "K:C", "C|"], 2, 3, "is not a macro"),
        (["K:C", "CC[M:4/5]C|"], 3, 3, "4/5 is not a metre"),
        (["K:C", "C[L:3]C|"], 3, 2, "'3' is not a unit length"),
        (["K:C", "C|[K:Z]C|"], 3, 3, "'Z' is not a key"),
        (["K:C", "C|", "M:7"], 4, 1, "'7' is not a metre"),
    ],
)  # fmt: skip
def test_fields_that_cannot_be_read(lines, line, column, said):
    """A field that says nothing readable is said at its place and the tune is played; where
    ABC 2.1 is asked for it is an error there."""
    (text,) = split_book("\n".join(["X:1", "L:1/8", *lines, ""]))
    with pytest.raises(TuneError, match=said) as caught:
        tune_of(text, strict=True)
    assert (caught.value.line, caught.value.column) == (line + 1, column)
    assert caught.value.excerpt == ["X:1", *lines][line - 1]
    tune = tune_of(text)
    assert all(note.pitches[0].midi == 60 for bar in tune.melody.bars for note in bar)
    (notice,) = tune.notices
    assert (notice.line, notice.excerpt) == (caught.value.line, caught.value.excerpt)
    assert notice.hint


@pytest.mark.parametrize(
    ("key", "read_as", "left"),
    [
        ("G maj.", "G major", []), ("g", "G major", []), ("d min", "D minor", []),
        ("F sharp minor", "F# minor", []), ("b flat", "Bb major", []), ("(Ador)", "A dorian", []),
        ("G dor -8va", "G dorian", ["-8va"]), ("D foolish", "D major", ["foolish"]),
        ("Em ^c high", "E minor ^c", ["high"]), ("D;", "D major", []),
    ],
)  # fmt: skip
def test_keys_that_are_not_quite_abc(key, read_as, left):
    """What can be read of a key is read, and what is left out of it is said, each word at its
    place."""
    (text,) = split_book(f"X:1\nL:1/8\nK:{key}\nC|\n")
    tune = tune_of(text)
    assert str(tune.key) == read_as
    assert len(tune.notices) == (len(left) or 1)
    for word, notice in zip(left, tune.notices, strict=False):
        assert repr(word) in notice.message
        assert (notice.line, notice.column) == (3, 3 + key.index(word))
    with pytest.raises(TuneError):
        tune_of(text, strict=True)


@pytest.mark.parametrize("key", ["Bn", "H", "Es", "?", "sharp"])
def test_keys_that_say_nothing(key):
    """Where no key can be made out the notes are played as in C, which is said."""
    tune = parse_abc(f"X:1\nL:1/8\nK:{key}\nFB|\n")
    assert str(tune.key) == "no key"
    assert [note.pitches[0].midi for note in tune.melody.bars[0]] == [65, 71]
    (notice,) = tune.notices
    assert notice.message == f"{key!r} is not a key"
    assert "as in C" in notice.hint


@pytest.mark.parametrize(
    ("metre", "read_as"),
    [("2/2]", "2/2"), ("6/8.", "6/8"), ("[C|]", "2/2"), ("FREI4/4", "free"), ("4/5", "free"),
     ("waltz", "free"), ("3 4", "free")],
)  # fmt: skip
def test_metres_that_are_not_quite_abc(metre, read_as):
    """Stray signs round a metre do not count; what is none is played in free metre, and both
    are said."""
    tune = read(f"M:{metre}", "L:1/8", music="C8|")
    assert str(tune.metre) == read_as
    notice = tune.notices[0]
    assert (notice.line, notice.column) == (2, 3)
    assert notice.hint.startswith("read as" if read_as != "free" else "played in free")


@pytest.mark.parametrize("body", ["z4|", "", "|:|", '"G"', "{ab}", "x8|Z2|"])
def test_a_tune_needs_a_note(body):
    """A tune without a single note is refused, with the line where it begins."""
    with pytest.raises(TuneError, match="'Hush' has no notes") as caught:
        parse_abc(f"\nX:1\nT:Hush\nM:4/4\nL:1/8\nK:C\n{body}\n")
    assert caught.value.line == 2


def test_unknown_fields_are_said():
    """A header field that is not known is ignored with a warning (clause 3)."""
    tune = read("J:who knows", "E:9")
    assert [(notice.line, notice.column) for notice in tune.notices] == [(2, 1), (3, 1)]
    assert "the field J: is not known" in tune.notices[0].message


@pytest.mark.parametrize("line", ["J:foo", "j:bag", "n:bad", "h:gab", "t:face"])
def test_unknown_fields_in_the_body_are_no_music(line):
    """In the body H to W and h to w with a colon are fields too: ignored with a warning, not
    played (clause 3)."""
    tune = read("M:4/4", "L:1/8", music=f"C8|\n{line}\nD8|")
    assert [len(bar) for bar in tune.melody.bars] == [1, 1]
    assert [notice.line for notice in tune.notices] == [6]


@pytest.mark.parametrize(
    ("line", "notes"), [("E:|", 1), ("A:|", 1), ("z2:|", 1), ("c:|", 1), ("x:|", 1), ("G::", 1)]
)
def test_note_letters_are_never_fields(line, notes):
    """In the body A to G, X to Z and the same in small are notes before a colon (clause 3)."""
    tune = read("L:1/8", music=f"CD|EF\n{line}")
    assert len(tune.melody.bars[1]) == 2 + notes
    assert tune.bars[1].plays == 2


@pytest.mark.parametrize(
    "field", ["T:The other half", "R:jig", "N:see above", "r:a remark", "W:la"]
)
def test_text_fields_in_the_body_are_kept(field):
    """Text fields between lines of music are kept and play nothing (clause 3)."""
    tune = read("M:4/4", "L:1/8", music=f"C8|\n{field}\nD8|")
    assert len(tune.bars) == 2
    assert (field[0], field[2:]) in tune.texts
    assert tune.notices == ()


def test_remarks_are_not_played():
    """`[r:...]` is a remark (clause 2.2.5)."""
    tune = read("M:4/4", "L:1/8", music="C4[r:bad cab]D4|")
    assert len(tune.melody.bars[0]) == 2


def test_repeated_fields():
    """Text fields add up, instructions hold from the last one (clause 3)."""
    tune = read("T:One", "T:Two", "C:Me", "C:You", "N:a", "N:b", "M:3/4", "M:6/8", "L:1/4", "L:1/8")
    assert (tune.titles, tune.composers) == (("One", "Two"), ("Me", "You"))
    assert tune.texts == (("N", "a"), ("N", "b"))
    assert (str(tune.metre), tune.unit_length) == ("6/8", Fraction(1, 8))


def test_repeated_instructions():
    """`U:`, `I:` and `V:` take the place of another of the same kind only where they say the
    same thing again (clause 3)."""
    tune = read(
        "U:k=!trill!", "U:l=!roll!", "U:k=!turn!", "I:propagate-accidentals not",
        "I:propagate-accidentals pitch", "V:1 octave=-1", "V:1 name=Low",
        music="[V:1]kC lC ^Ff|",
    )  # fmt: skip
    notes = tune.melody.bars[0]
    assert [note.decorations for note in notes[:2]] == [("turn",), ("roll",)]
    assert [note.pitches[0].midi for note in notes] == [48, 48, 54, 66]


@pytest.mark.parametrize(
    ("head", "change", "lengths"),
    [("M:2/4", "[M:6/8]", "1/16 1/16"), ("M:6/8", "[M:2/4]", "1/8 1/8"),
     ("M:2/4", "\nM:C\n", "1/16 1/16"), ("M:none", "[M:3/8]", "1/8 1/8")],
)  # fmt: skip
def test_a_metre_in_the_body_leaves_the_unit_of_the_first(head, change, lengths):
    """Without `L:` the header's metre gives the unit length for good (clause 3.1.7)."""
    tune = read(head, music=f"C|{change}D|")
    found = [note.length for bar in tune.melody.bars for note in bar]
    assert found == [Fraction(length) for length in lengths.split()]


def test_a_tempo_is_not_made_up():
    """Without `Q:` the tune has no tempo of its own (clause 3.1.8 gives none)."""
    assert read().tempo is None


def test_an_order_that_is_none_is_kept_as_text():
    """A `P:` that holds no order is kept as a text, with a notice at it (clause 3.1.9)."""
    tune = read("P:March", music="C4|")
    assert ("P", "March") in tune.texts
    assert [(notice.line, notice.column) for notice in tune.notices] == [(2, 3)]
    assert [bar.index for bar in unfold(tune)] == [0]


@pytest.mark.parametrize(
    "line", ["%%backing:swing 3:2", "I:backing:swing 3:2", "%%swing 3:2", "I:swing 3:2"]
)
def test_swing(line):
    """Our own directive says which program it is of (clause 11.5); files of before lack that."""
    tune = read(line, music="CDEF GABc|")
    assert tune.swing == Fraction(3, 2)
    assert tune.notices == ()
    assert read(line.replace("3:2", "3:0"), music="C8|").swing is None


def test_history_without_its_letter():
    """A line of history without a letter of its own (clause 10.1) does not end the header: it
    is not played, and that it is left out is said."""
    tune = parse_abc("X:1\nH:One line,\nand another.\nM:3/4\nL:1/4\nK:G\nF3|\n")
    assert str(tune.metre) == "3/4"
    assert [note.pitches[0].midi for note in tune.melody.bars[0]] == [66]
    assert [(notice.line, notice.column) for notice in tune.notices] == [(3, 1)]


#: Clause 3, the table of fields: h in the file's header, t in the tune's, b in the body, i in
#: brackets; T is read in the file's header too, P, Q and V as well.
PLACES = [
    *((letter, "x", "ht") for letter in "ABCDFGHOSZ"), ("I", "x", "htbi"), ("K", "G", "tbi"),
    ("L", "1/4", "htbi"), ("M", "none", "htbi"), ("m", "~A2=A4", "htbi"), ("N", "x", "htbi"),
    ("R", "x", "htbi"), ("r", "x", "htbi"), ("U", "k=!trill!", "htbi"), ("P", "A", "htbi"),
    ("Q", "1/4=90", "htbi"), ("V", "1", "ht"), ("w", "la", "bi"), ("s", "*", "bi"),
    ("T", "x", "htb"), ("W", "x", "htb"), ("X", "2", ""), ("E", "9", ""), ("J", "x", ""),
    ("Y", "x", ""),
]  # fmt: skip
FORMS = {
    "h": "{}\n\nX:1\nL:1/8\nK:C\nP:A\nC|\n", "t": "X:1\nL:1/8\n{}\nK:C\nP:A\nC|\n",
    "b": "X:1\nL:1/8\nK:C\nP:A\nC|\n{}\nD|\n", "i": "X:1\nL:1/8\nK:C\nP:A\nC|[{}]D|\n",
}  # fmt: skip


@pytest.mark.parametrize(("letter", "value", "places"), PLACES, ids=[row[0] for row in PLACES])
def test_where_fields_may_stand(letter, value, places):
    """Every field is read where the table of clause 3 has it, in silence."""
    for place in places:
        tune = parse_abc(FORMS[place].format(f"{letter}:{value}"))
        assert tune.notices == (), place


@pytest.mark.parametrize("letter", "ABCDEFGJXYZ")
def test_where_fields_may_not_stand(letter):
    """A field in brackets where the table of clause 3 has none is said, never played."""
    tune = parse_abc(FORMS["i"].format(f"{letter}:x"))
    assert [len(bar) for bar in tune.melody.bars] == [1, 1]
    assert [(notice.line, notice.column) for notice in tune.notices] == [(5, 3)]


def test_a_body_may_begin_lines_with_note_letters():
    """`E:|` at the start of a line is the note E and a repeat sign (clause 3)."""
    tune = parse_abc("X:1\nM:6/8\nL:1/8\nK:C\nBAB AGE|DBD ED\nE:|\n")
    assert [note.pitches[0].step for note in tune.melody.bars[1]] == list("DBDEDE")
    assert tune.bars[1].plays == 2


def test_a_macro_takes_the_place_of_another():
    """Of two macros with one target the last holds, others stay (clause 3)."""
    for text in ("m:~A2=B/A/\nm:~c2=c/d/\nm:~A2=A/G/\nK:C\n",
                 "m:~A2=B/A/\nm:~c2=c/d/\nK:C\nm:~A2=A/G/\n"):  # fmt: skip
        (bar,) = parse_abc(f"X:1\nL:1/8\n{text}~A2 ~c2|\n").melody.bars
        assert [note.pitches[0].step for note in bar] == list("AGCD")


@pytest.mark.parametrize("field", ["[M:3/4 K:G]", "[M:3/4 L:1/8]"])
def test_one_field_in_a_bracket(field):
    """A bracket holds one field (clause 3.2); two are left out and said, not half read."""
    tune = read("M:4/4", "L:1/8", music=f"C4{field}F4|")
    assert [note.pitches[0].midi for note in tune.melody.bars[0]] == [60, 65]
    (notice,) = tune.notices
    assert "is not a metre" in notice.message
    assert notice.hint == "the metre before goes on"
