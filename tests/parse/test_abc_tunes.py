"""Tunes and books of ABC: headers, fields, comments, voices, lyrics.

Clauses are those of ABC 2.1.
"""

import pytest

from backing.errors import TuneError
from backing.parse.abc import double_numbers, parse_abc, pick_tune, split_book

BODY = "G2cB AdFA|e2Bg cAGD|\nFAdc BGeB|c2AF G4|]"


def text_of(*head, body=BODY):
    """A tune with these header lines."""
    return "\n".join([*head, body, ""])


def test_the_header():
    """Every header field lands where it belongs (clause 3)."""
    tune = parse_abc(
        text_of("X:7", "T:First title", "T:Second", "C:A. Player", "C:B. Singer", "R:reel",
                "O:The canal", "M:4/4", "L:1/8", "Q:1/2=100", "Z:me", "K:G")
    )  # fmt: skip
    assert (tune.number, tune.title, tune.titles) == ("7", "First title", ("First title", "Second"))
    assert tune.composers == ("A. Player", "B. Singer")
    assert (tune.dance, str(tune.metre), str(tune.key)) == ("reel", "4/4", "G major")
    assert tune.texts == (("O", "The canal"), ("Z", "me"))
    assert tune.notices == ()


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_line_ends(end):
    """LF, CR LF and bare CR give the same tune (clause 8)."""
    text = text_of("X:1", "T:t", "M:4/4", "L:1/8", "K:G")
    assert parse_abc(text.replace("\n", end)) == parse_abc(text)
    assert parse_abc("\ufeff" + text) == parse_abc(text)


def test_comments_do_not_end_a_tune():
    """A line that holds only a comment is not an empty line (clause 2.2.5)."""
    tune = parse_abc("X:1\nT:a\nM:4/4\nL:1/8\nK:C\nCDEFGABc|\n % only a comment\nc8| % the end\n")
    assert len(tune.bars) == 2
    assert parse_abc("X:1\nT:50 \\% more\nK:C\nC\n").title == "50 % more"


def test_an_empty_line_ends_a_tune():
    """Free text between tunes is skipped (clause 2.2.3)."""
    book = "X:1\nT:a\nK:C\nC4|\n\nsome text\nA: not a field\n\nX:2\nT:b\nK:C\nD4|\n"
    assert [tune.title for tune in split_book(book)] == ["a", "b"]


def test_the_file_header_gives_defaults():
    """The fields before the first empty line hold for every tune (clause 2.2.2)."""
    book = "%abc-2.1\nM:3/4\nL:1/4\n\nX:1\nT:a\nK:C\nC3|\n\nX:2\nT:b\nL:1/8\nK:C\nD6|\n"
    first, second = (parse_abc(book, number) for number in "12")
    assert (str(first.metre), first.bars[0].length) == ("3/4", second.bars[0].length)


def test_continued_fields():
    """`+:` adds to the field before it (clause 3.3)."""
    tune = parse_abc("X:1\nT:one\n+:two\nH:three\n+:four\nK:C\nC\n")
    assert tune.title == "one two"
    assert ("H", "three four") in tune.texts


def test_a_body_line_that_begins_with_a_letter_and_colon():
    """In the body A to G and z are notes, never fields (clause 3)."""
    tune = parse_abc("X:1\nM:6/8\nL:1/8\nK:D\n|:BAB AGE|DBD ED\nE:|\n")
    assert [len(bar) for bar in tune.melody.bars] == [6, 6]
    assert tune.bars[1].plays == 2


def test_text_escapes():
    """Mnemonics, entities and code points spell accents (clause 8.2)."""
    tune = parse_abc("X:1\nT:Caf\\'e &eacute; \\u00e9 \\\"u \\ss \\cc\nK:C\nC\n")
    assert tune.title == "Café é é ü ß ç"


def test_a_tune_is_chosen_by_number_or_title():
    """A tune of a book is chosen by its number, else by part of its title."""
    tunes = list(
        split_book("X:1\nT:Red\nK:C\nC\n\nX:2\nT:Green 1\nK:C\nC\n\nX:2\nT:Blue\nK:C\nC\n")
    )
    assert pick_tune(tunes, "1").title == "Red"
    assert pick_tune(tunes, "een").title == "Green 1"
    assert double_numbers(tunes) == ["2"]
    with pytest.raises(TuneError, match="no tune 'Grean'"):
        pick_tune(tunes, "Grean")


def test_a_fragment_needs_no_number():
    """A single tune may lack `X:` and `T:` (clauses 2.3 and 10.5.1)."""
    tune = parse_abc("T:Piece\nK:G\nGABc|\n")
    assert (tune.title, tune.metre.free) == ("Piece", True)


def test_metre_changes_leave_the_unit():
    """A metre inside the tune does not change the unit length (clause 3.1.7)."""
    tune = parse_abc("X:1\nM:6/8\nL:1/8\nK:G\nG2A B2c|[M:9/8]d2e f2g a2z|\n")
    assert [(str(bar.metre), str(bar.length)) for bar in tune.bars] == [
        ("6/8", "3/4"),
        ("9/8", "9/8"),
    ]


def test_lyrics():
    """Syllables go to notes, not rests; "_" holds, "*" skips, a second line is a second
    verse (clause 5.1)."""
    tune = parse_abc(
        "X:1\nM:4/4\nL:1/4\nK:C\nC D z E|F2 G2|\nw:ca-nal boat | slow_\n"
        "w:two * three\nA4|\nw:last\n"
    )
    found = [note.lyrics for bar in tune.melody.bars for note in bar]
    assert found == [
        ("ca-", "two"),
        ("nal",),
        (),
        ("boat", "three"),
        ("slow",),
        ("_",),
        ("last",),
    ]


def test_symbol_lines():
    """`s:` puts chord symbols and decorations to notes (clause 4.15)."""
    tune = parse_abc('X:1\nM:4/4\nL:1/4\nK:C\nC D E F|\ns: "G" !accent! * "^up"\n')
    assert [(str(s.onset), s.text) for s in tune.bars[0].chords] == [("0", "G")]
    notes = tune.melody.bars[0]
    assert (notes[1].decorations, notes[3].texts) == (("accent",), ("^up",))


VOICES = (
    'X:1\nM:4/4\nL:1/4\nV:1 name="Fiddle"\nV:2 clef=bass octave=-1\nK:C\n'
    "[V:1]CDEG|\n[V:2]c4|\nV:1\nG4|\nV:2\nC4|\n"
)


def test_voices():
    """Every voice keeps its own bars; the first is the melody (clause 7)."""
    tune = parse_abc(VOICES)
    assert [voice.name for voice in tune.voices] == ["1", "2"]
    assert [str(note.pitches[0]) for bar in tune.voices[1].bars for note in bar] == ["C4", "C3"]
    assert len(tune.bars) == 2
    assert "several voices; the melody is voice 1" in tune.notices[0].message


def test_the_melody_may_be_another_voice():
    """A voice may be named the melody, by its id or its name."""
    from backing.parse.abc import tune_of

    (text,) = split_book(VOICES)
    assert [voice.name for voice in tune_of(text, voice="2").voices] == ["2", "1"]
    assert tune_of(text, voice="fiddle").melody.name == "1"
    with pytest.raises(TuneError, match="there is no voice 'oboe'"):
        tune_of(text, voice="oboe")


def test_sources_point_at_the_text():
    """Every note and chord symbol remembers its line and columns."""
    text = 'X:1\nM:4/4\nL:1/8\nK:C\n"G"G2 ^A,/2 [ce]2|\n'
    tune = parse_abc(text)
    lines = text.split("\n")
    found = [
        lines[note.source.line - 1][note.source.column - 1 : note.source.end - 1]
        for note in tune.melody.bars[0]
    ]
    assert found == ["G2", "^A,/2", "[ce]2"]
    symbol = tune.bars[0].chords[0].source
    assert lines[symbol.line - 1][symbol.column - 1 : symbol.end - 1] == '"G"'


@pytest.mark.parametrize(
    ("music", "said", "column"),
    [
        ("A B ,c|", "',' is not understood", 5),
        ('A "G B|', "a quotation mark is not closed", 3),
        ("A [ce|", "a '[' is not closed", 3),
        ("A {ce|", "a '{' is not closed", 3),
        ("A k B|", "the sign 'k' has no meaning here", 3),
        ('"Gnarl"A|', "'Gnarl' is not a chord that can be played", 1),
        ("A-|B|", "a tie leads to a note of another pitch", 1),
        ("-A|", "a tie has no note before it", 1),
        (">A B|", "a broken rhythm has no note before it", 1),
        ("A (3bc|", "the last tuplet wants more notes", 3),
        ("A>|B|", "a broken rhythm reaches over the bar line", 3),
        ('"G""D"A|', "several chord symbols on one note: G", 4),
        ("A :B|", "a single ':' is read as a bar line", 3),
        ("A ; B|", "the sign ';' is reserved", 3),
        ("[A9]B|", None, 0),
    ],
)
def test_what_is_odd_is_said_with_its_place(music, said, column):
    """What is not understood is a warning with line and column, never a silent drop."""
    tune = parse_abc(f"X:1\nM:none\nL:1/8\nK:C\n{music}\n")
    if said is None:
        assert tune.notices == ()
        return
    notice = next(n for n in tune.notices if said in n.message)
    assert (notice.line, notice.column) == (5, column)
    assert notice.excerpt == music


def test_strict_and_loose():
    """Chords between plus signs are read loosely, and refused where the text says that it
    is ABC 2.1 (clauses 10.2, 12.2)."""
    body = "X:1\nM:4/4\nL:1/8\nK:C\n+CEG+2 z6|\n"
    loose = parse_abc(body)
    assert len(loose.melody.bars[0][0].pitches) == 3
    assert "an old way of writing" in loose.notices[0].message
    with pytest.raises(TuneError, match=r"not allowed in ABC 2\.1"):
        parse_abc("%abc-2.1\n" + body)
