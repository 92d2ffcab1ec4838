"""Lengths of ABC: multipliers, broken rhythm, rests, tuplets, grace notes, ties, slurs.

Clauses are those of ABC 2.1; lengths are in quarter notes.
"""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.music.tune import Tuplet
from backing.parse.abc import parse_abc


def read(music, metre="4/4", unit="1/8"):
    """The tune of this music."""
    return parse_abc(f"X:1\nM:{metre}\nL:{unit}\nK:C\n{music}\n")


def quarters(music, metre="4/4", unit="1/8"):
    """The lengths of notes and rests."""
    return [note.length * 4 for bar in read(music, metre, unit).melody.bars for note in bar]


def fractions(text):
    """Fractions from their text."""
    return [Fraction(part) for part in text.split()]


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ("A A1 A2 A3 A4 A6 A8", "1/2 1/2 1 3/2 2 3 4"), ("A/ A/2 A1/2", "1/4 1/4 1/4"),
        ("A// A/4 A///", "1/8 1/8 1/16"), ("A3/2 A3/ A5/4", "3/4 3/4 5/8"),
        ("A7/2 A15/8", "7/4 15/16"),
        ("A/16", "1/32"), ("A,2 a'3/2", "1 3/4"), ("^A2 _a/ =A3/4", "1 1/4 3/8"),
    ],
)  # fmt: skip
def test_multipliers(music, expected):
    """A number multiplies the unit, a slash divides it, each slash alone halves (4.3)."""
    assert quarters(music) == fractions(expected)


@pytest.mark.parametrize("unit", ["1/1", "1/2", "1/4", "1/8", "1/16", "1/32", "1/64", "1/128"])
def test_the_unit_scales_every_length(unit):
    """Every length is so many units (clauses 3.1.7, 4.3)."""
    assert quarters("A A3 A/2 z2 (3ABc", unit=unit) == [
        Fraction(unit) * 4 * factor for factor in fractions("1 3 1/2 2 2/3 2/3 2/3")
    ]


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        # clause 4.4: one sign dots, two double-dot, three triple-dot
        ("g>a", "3/4 1/4"), ("B<A", "1/4 3/4"), ("e>>d", "7/8 1/8"), ("e<<d", "1/8 7/8"),
        ("f>>>g", "15/16 1/16"), ("f<<<g", "1/16 15/16"), ("A2>B2", "3/2 1/2"),
        ("A/>B/", "3/8 1/8"),
        ("A>B>c", "3/4 3/8 1/4"), ("A > B", "3/4 1/4"), ("A>z", "3/4 1/4"), ("z>A", "3/4 1/4"),
        ("[CE]>[DF]", "3/4 1/4"), ("A>[CE]", "3/4 1/4"), ("(A>B)", "3/4 1/4"), ("A>~B", "3/4 1/4"),
        ('A>"G"B', "3/4 1/4"), ("A>!trill!B", "3/4 1/4"), ("A>\nB", "3/4 1/4"), ("A->A", "3/4 1/4"),
        # clause 4.12: grace notes on either side of the sign change nothing
        ("e>{f}e", "3/4 1/4"), ("e{f}>e", "3/4 1/4"), ("B<{d}B", "1/4 3/4"), ("B{d}<B", "1/4 3/4"),
        # unequal notes: this project applies the factors as they stand
        ("A2>B", "3/2 1/4"), ("A<B2", "1/4 3/2"),
    ],
)  # fmt: skip
def test_broken_rhythm(music, expected):
    """A broken rhythm lengthens one note and shortens the other (clause 4.4)."""
    assert quarters(music, metre="none") == fractions(expected)


def test_a_row_of_signs_of_a_broken_rhythm():
    """Signs with blanks between them lengthen a note no further than the first does, however
    many there are (clause 4.4 knows one sign between two notes)."""
    signs = " > " * 41
    assert quarters(f"A{signs}B c2 d4|") == quarters("A>B c2 d4|")


@pytest.mark.parametrize(
    ("music", "column"), [("A2>B z5|", 3), ("A<B2 z5|", 2), ("A3/>>B/ z6|", 4)]
)
def test_broken_rhythm_between_unequal_notes_is_said(music, column):
    """Between unequal notes the standard says nothing (clause 4.4), so it is said."""
    notices = [notice for notice in read(music, metre="none").notices if "broken" in notice.message]
    assert [(notice.line, notice.column) for notice in notices] == [(5, column)]


def test_broken_rhythm_over_the_end_of_a_line():
    """What is said of a broken rhythm stands at its sign, though its second note comes on the
    next line (clause 6.1.1)."""
    (notice,) = read("A2>\nB|", metre="none").notices
    assert (notice.line, notice.column, notice.excerpt) == (5, 3, "A2>")


@pytest.mark.parametrize(
    ("music", "onset"),
    [("A[Q:1/4=90]>B|", "3/16"), ("A[Q:1/4=90]<B|", "1/16"), ("A>[Q:1/4=90]B|", "3/16")],
)
def test_a_tempo_before_the_sign_of_a_broken_rhythm(music, onset):
    """A tempo between two notes stands where the second begins, broken rhythm or not."""
    (bar,) = read(music, metre="none").bars
    assert [mark.onset for mark in bar.tempos] == [Fraction(onset)]


@pytest.mark.parametrize(
    ("music", "metre", "expected"),
    [
        # clause 4.5: z is seen, x is not; Z and X last whole bars
        ("Cz z2 z/ z3/2 z//", "4/4", "1/2 1/2 1 1/4 3/4 1/8"), ("Cx x2 x/", "4/4", "1/2 1/2 1 1/4"),
        ("Z|C8|", "4/4", "4 4"), ("Z2|C8|", "4/4", "4 4 4"), ("Z2|C6|", "6/8", "3 3 3"),
        ("X3|C6|", "3/4", "3 3 3 3"), ("Z|[M:3/4]Z|C6|", "4/4", "4 3 3"), ("C8|Z", "4/4", "4 4"),
        # clause 6.1.2: a spacer has no length; clause 4.7: nor has a back-quote
        ("C2 y D2 y3 E4", "4/4", "1 1 2"), ("G2``A``B", "4/4", "1 1/2 1/2"),
        ("C8|y|D8|", "4/4", "4 4"),
    ],
)  # fmt: skip
def test_rests(music, metre, expected):
    """Rests last like notes; a rest of whole bars fills them."""
    assert quarters(music, metre) == fractions(expected)


def test_rests_are_seen_or_hidden():
    """z and Z are printed rests, x and X are not (clause 4.5)."""
    notes = [note for bar in read("zx C6|Z|X|").melody.bars for note in bar]
    assert [note.hidden for note in notes] == [False, True, False, False, True]
    assert [note.rest for note in notes] == [True, True, False, True, True]


#: Clause 4.13: p notes in the time of q; q where it is left out, in simple and in compound
#: metre (6/8, 9/8, 12/8).
TUPLETS = [
    (2, 3, 3), (3, 2, 2), (4, 3, 3), (5, 2, 3), (6, 2, 2), (7, 2, 3), (8, 3, 3), (9, 2, 3),
]  # fmt: skip


@pytest.mark.parametrize(("notes", "simple", "compound"), TUPLETS)
@pytest.mark.parametrize(
    "metre", ["2/4", "3/4", "4/4", "2/2", "3/8", "5/4", "none", "6/8", "9/8", "12/8"]
)
def test_tuplets_without_a_second_number(notes, simple, compound, metre):
    """The time that a tuplet takes follows from the metre (clause 4.13)."""
    normal = compound if metre in ("6/8", "9/8", "12/8") else simple
    music = f"({notes}{'abcdefgab'[:notes]}"
    assert quarters(music, metre) == [Fraction(normal, notes) / 2] * notes
    first = read(music, metre).melody.bars[0][0]
    assert first.tuplet == Tuplet(notes, normal, first=True)


@pytest.mark.parametrize(("metre", "normal"), [("6/4", 3), ("9/4", 3), ("6/16", 3), ("3/4", 2)])
def test_which_metres_are_compound(metre, normal):
    """Numerators 6, 9 and 12 are compound over any note (this project's choice; clause 4.13
    lists 6/8, 9/8 and 12/8)."""
    assert read("(5abcde", metre).melody.bars[0][0].tuplet.normal == normal


@pytest.mark.parametrize(
    ("music", "metre", "expected"),
    [
        # clause 4.13: missing numbers
        ("(3abc", "4/4", "1/3 1/3 1/3"), ("(3::abc", "4/4", "1/3 1/3 1/3"),
        ("(3:2abc", "4/4", "1/3 1/3 1/3"),
        ("(3:2:3abc", "4/4", "1/3 1/3 1/3"), ("(3::2e4g2", "4/4", "4/3 2/3"),
        ("(3:2:2e4g2", "4/4", "4/3 2/3"),
        ("(3:2:4A2B2de", "4/4", "2/3 2/3 1/3 1/3"), ("(3:4:3abc", "4/4", "2/3 2/3 2/3"),
        ("(5:4:5abcde", "4/4", "2/5 2/5 2/5 2/5 2/5"), ("(2ab", "6/8", "3/4 3/4"),
        # other lengths, spaces, what counts as a note, what follows
        ("(3e3fg2", "4/4", "1 1/3 2/3"), ("(3 abc", "4/4", "1/3 1/3 1/3"),
        ("(3a>bc", "4/4", "1/2 1/6 1/3"),
        ("(3z[ce]g", "4/4", "1/3 1/3 1/3"), ("(3{d}abc", "4/4", "1/3 1/3 1/3"),
        ("(3abcd", "4/4", "1/3 1/3 1/3 1/2"),
        ("(3abc(3def", "4/4", "1/3 1/3 1/3 1/3 1/3 1/3"), ("(3a/b/c/", "4/4", "1/6 1/6 1/6"),
        ('(3"G"abc', "4/4", "1/3 1/3 1/3"), ("((3abc)d", "4/4", "1/3 1/3 1/3 1/2"),
        ("(3ab-b", "4/4", "1/3 1/3 1/3"),
        ("(3ayb`c", "4/4", "1/3 1/3 1/3"), ("(3ab\nc", "4/4", "1/3 1/3 1/3"),
        ("(3xxa", "4/4", "1/3 1/3 1/3"),
    ],
)  # fmt: skip
def test_tuplets(music, metre, expected):
    """(p:q:r plays p notes in the time of q for the next r notes (clause 4.13)."""
    assert quarters(music, metre) == fractions(expected)


def test_the_first_note_opens_the_tuplet():
    """Only the first note of a group opens it, so that groups can be told apart."""
    notes = read("(3abc(3def").melody.bars[0]
    assert [note.tuplet.first for note in notes] == [True, False, False] * 2


@pytest.mark.parametrize(
    "music", ["(0abc", "(1abc", "(12abc", "(3:0:3abc", "(3:2:0abc", "(3:999:3abc"]
)
def test_what_is_no_tuplet(music):
    """Tuplets are of 2 to 9 notes (clause 4.13); other numbers are refused at their sign."""
    with pytest.raises(TuneError, match="is no tuplet") as caught:
        read(f"A {music}|", metre="none")
    assert (caught.value.line, caught.value.column) == (5, 3)


@pytest.mark.parametrize(
    ("music", "graces", "slashed"),
    [
        ("{g}c8", "G5", False), ("{gef}c8", "G5 E5 F5", False), ("{/g}c8", "G5", True),
        ("{g2e}c8", "G5 E5", False), ("{^f}c8", "F#5", False), ("{[ce]}c8", "C5+E5", False),
        ("{g}{a}c8", "G5 A5", False), ("{ g }c8", "G5", False),
    ],
)  # fmt: skip
def test_grace_notes(music, graces, slashed):
    """Grace notes stay with the next note and take no time of the bar (clause 4.12)."""
    (note,) = read(music).melody.bars[0]
    found = ["+".join(map(str, grace.pitches)) for grace in note.graces]
    assert (" ".join(found), note.slashed, note.length) == (graces, slashed, 1)


@pytest.mark.parametrize("music", ["e>{f}e", "e{f}>e", "e3/2{f}e/2", "B<{f}B", "B{f}<B"])
def test_grace_notes_in_a_broken_rhythm(music):
    """Before or after the sign, grace notes belong to the second note (clause 4.12)."""
    first, second = read(music, metre="none").melody.bars[0]
    assert (first.graces, len(second.graces)) == ((), 1)
    assert first.length + second.length == Fraction(1, 4)


def test_lengths_of_grace_notes_are_relative():
    """Lengths inside the braces say how grace notes compare (clause 4.12)."""
    (note,) = read("{g2e/}c8").melody.bars[0]
    assert [grace.length for grace in note.graces] == [2, Fraction(1, 2)]


def test_grace_notes_that_nothing_follows():
    """Grace notes at the end are left out, and that is said."""
    (notice,) = read("C8|{ab}").notices
    assert "no note after them" in notice.message


@pytest.mark.parametrize(
    ("music", "ties"),
    [
        ("d4-d4|", "D5 -"), ("d8-|d8|", "D5 -"), ("d8-|d8-|d8|", "D5 D5 -"), ("d4.-d4|", "D5 -"),
        ("[ce]4-[ce]4|", "C5+E5 -"), ("[c-e]4[ce]4|", "C5 -"), ("[c-e-]4[ce]4|", "C5+E5 -"),
        ("d4 d4|", "- -"), ("d8-:|d8|", "D5 -"), ("(d4-d4)|", "D5 -"), ("d4->d4|", "D5 -"),
    ],
)  # fmt: skip
def test_ties(music, ties):
    """A tie directly after a note holds it on, over bar lines and in chords (clause 4.11)."""
    notes = [note for bar in read(music).melody.bars for note in bar]
    assert " ".join("+".join(map(str, note.ties)) or "-" for note in notes) == ties


@pytest.mark.parametrize(
    ("music", "column"), [("A4-B4|", 1), ("z2A2-z4|", 3), ("A8-|", 1), ("[ce]4-[df]4|", 1)]
)
def test_ties_to_another_pitch_are_said(music, column):
    """A tie joins notes of one pitch (clause 4.11); any other is said."""
    (notice,) = read(music).notices
    assert "another pitch" in notice.message
    assert (notice.line, notice.column) == (5, column)


@pytest.mark.parametrize(
    ("music", "opens", "closes"),
    [
        ("(CDEF) GABc|", "10000000", "00010000"), ("(CD(E)F) GABc|", "10100000", "00110000"),
        ("(CD(EF)GA)Bc|", "10100000", "00010100"), ("((CD)E) F GABc|", "20000000", "01100000"),
        (".(CD) EF GABc|", "10000000", "01000000"), ("(CD|EF) GABc|", "10000000", "00010000"),
        ("(C(D)E) F GABc|", "11000000", "01100000"), ("(CD(EF)(GA)B)c|", "10101000", "00010110"),
    ],
)  # fmt: skip
def test_slurs(music, opens, closes):
    """Slurs nest, may share a note, and change no length (clause 4.11)."""
    notes = [note for bar in read(music, metre="none").melody.bars for note in bar]
    assert "".join(str(note.opens) for note in notes) == opens
    assert "".join(str(note.closes) for note in notes) == closes
    assert {note.length for note in notes} == {Fraction(1, 8)}


@pytest.mark.parametrize(
    "music",
    ["A/0", "A0", "A0/2", "A999999", "A/" + "9" * 41, "A//////////", "z0", "z/0", "Z0", "Z1001",
     "[CE]0", "[C0E]", "{a0}", "A99999"],
)  # fmt: skip
def test_lengths_that_are_refused(music):
    """A length of nothing or past all reason is an error at its note (clause 4.3)."""
    with pytest.raises(TuneError) as caught:
        read(f"A2 {music}c|")
    assert caught.value.line == 5
    assert 4 <= caught.value.column <= 5
