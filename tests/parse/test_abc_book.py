"""Files of ABC: comments, line ends, headers, books of tunes.

Clauses are those of ABC 2.1.
"""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.files import read_tune as read_file
from backing.parse.abc import (
    looks_like_abc,
    parse_abc,
    read_head,
    split_book,
    tune_of,
)

TUNE = "X:1\nT:Wet Rope\nM:4/4\nL:1/8\nK:G\nGABc d2ef|g4 d4|\nw:one two three\nG8|]\n"
BOOK = """%abc-2.1
M:3/4
L:1/4
C:the file

X:1
T:Red Bollard
K:C
C3|]

A letter home: this is no tune.
K:not a field here

X:2
T:Green Bollard
T:The other name
L:1/8
K:G
F6|]

%%text typeset text between tunes

X:2
T:Green Gate % not the bollard
K:D
M:C
F8|]
"""


@pytest.mark.parametrize("end", ["\r\n", "\r"])
@pytest.mark.parametrize("text", [TUNE, BOOK])
def test_line_ends(text, end):
    """LF, CR LF and bare CR are the same (clause 8)."""
    there = [tune_of(tune) for tune in split_book(text)]
    here = [tune_of(tune) for tune in split_book(text.replace("\n", end))]
    assert here == there
    assert [tune.notices for tune in here] == [tune.notices for tune in there]


def test_mixed_line_ends():
    """A file may mix its line ends (clause 8)."""
    assert parse_abc(TUNE.replace("\n", "\r\n", 3).replace("K:G\n", "K:G\r")) == parse_abc(TUNE)


@pytest.mark.parametrize("text", [TUNE, BOOK])
def test_a_byte_order_mark_is_ignored(text):
    """A byte order mark at the start is no part of the text (clause 2.1)."""
    assert parse_abc("\ufeff" + text) == parse_abc(text)


def test_white_space_at_the_end_of_lines():
    """Trailing white space is ignored, a tab is a space (clause 8)."""
    spaced = "\n".join(line + " \t" if line else "" for line in TUNE.split("\n"))
    assert parse_abc(spaced) == parse_abc(TUNE)
    assert parse_abc(TUNE.replace(" d2", "\td2")) == parse_abc(TUNE)


@pytest.mark.parametrize("blank", ["\n", " \n", "\t \n", "\n\n\n"])
def test_what_ends_a_tune(blank):
    """A line of nothing or of white space ends a tune (clauses 2.2.1, 2.2.4)."""
    tunes = list(split_book(f"X:1\nK:C\nC4|\n{blank}D4|\nX:2\nK:C\nE4|\n"))
    assert [tune.number for tune in tunes] == ["1", "2"]
    assert len(tune_of(tunes[0]).bars) == 1


@pytest.mark.parametrize("comment", ["% a comment", " % a comment", "\t% a comment", "%"])
@pytest.mark.parametrize("at", [2, 3, 4, 5, 6, 7])
def test_a_line_of_comment_does_not_count(comment, at):
    """A line with only a comment counts as removed, even after white space, in the header
    and in the body (clause 2.2.5)."""
    lines = TUNE.split("\n")
    commented = "\n".join([*lines[:at], comment, *lines[at:]])
    assert parse_abc(commented) == parse_abc(TUNE)


@pytest.mark.parametrize(
    ("line", "replaced"),
    [
        ("T:Wet Rope", "T:Wet Rope % said to be old"), ("M:4/4", "M:4/4%common"),
        ("K:G", "K:G % one sharp"), ("g4 d4|", "g4 d4| % e4|"), ("X:1", "X:1 % first"),
        ("w:one two three", "w:one two three % four"),
    ],
)  # fmt: skip
def test_comments_at_the_end_of_a_line(line, replaced):
    """From a percent sign to the line's end is comment (clause 2.2.5)."""
    assert parse_abc(TUNE.replace(line, replaced)) == parse_abc(TUNE)


def test_a_percent_sign():
    """A percent sign after a backslash is no comment (clause 2.2.5)."""
    tune = parse_abc('X:1\nT:9 \\% up\nL:1/8\nK:C\n"^5 \\% off"C4|\n')
    assert tune.title == "9 % up"
    assert tune.melody.bars[0][0].texts == ("^5 % off",)


@pytest.mark.parametrize("place", ["K:G\n", "M:4/4\n"])
def test_typeset_text_is_not_played(place):
    """`%%begintext` to `%%endtext` has no musical effect, in the header or in the body
    (clauses 2.2.3, 11.4.5)."""
    text = "%%begintext\nA dead cabbage\n%%endtext\n"
    assert parse_abc(TUNE.replace(place, place + text)) == parse_abc(TUNE)


@pytest.mark.parametrize(
    "line",
    [
        "%%text some words",
        "%%center a title",
        "%%scale 0.7",
        "I:titlecaps",
        "%%vskip 3cm",
        "%%nobody-knows 3",
        "I:nobody-knows 3",
    ],
)
@pytest.mark.parametrize("place", ["K:G\n", "M:4/4\n"])
def test_directives_that_do_not_sound(line, place):
    """Directives about the page, and those that are not known, are ignored (clauses 11, 11.0.2)."""
    changed = parse_abc(TUNE.replace(place, f"{place}{line}\n"))
    assert changed == parse_abc(TUNE)
    assert changed.notices == ()


@pytest.mark.parametrize(
    "joint",
    ["\\\n", "\\ \n", "\\ % a comment\n", "\n", "\\\n% between\n", "\\\n %\n%%vskip 1cm\n"],
)  # fmt: skip
def test_continued_music(joint):
    """A backslash at the line's end joins two lines of music, whatever comments and directives
    stand between them (clauses 6.1.1, 2.2.6)."""
    whole = "X:1\nM:4/4\nL:1/8\nK:C\nCDEF GABc|c8|\n"
    assert parse_abc(whole.replace(" GAB", f"{joint}GAB")) == parse_abc(whole)


def test_fields_between_continued_lines():
    """A field between joined lines acts where it stands (clause 6.1.1)."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nK:C\nCD\\\nK:G\nF2 F4|\n")
    assert [note.pitches[0].midi for note in tune.melody.bars[0]] == [60, 62, 66, 66]


@pytest.mark.parametrize(
    ("lines", "field", "text"),
    [
        # clause 3.3: with one space; comments and directives may stand between
        ("H:one\n+:two", "H", "one two"), ("H:one\n+:two\n+:three", "H", "one two three"),
        ("H:one\n% between\n+:two", "H", "one two"), ("H:one\n%%vskip 1cm\n+:two", "H", "one two"),
        ("N:x\nH:one\n+:two", "N", "x"),
    ],
)  # fmt: skip
def test_continued_fields(lines, field, text):
    """`+:` goes on with the field before it (clause 3.3)."""
    assert (field, text) in parse_abc(f"X:1\n{lines}\nK:C\nC|\n").texts


def test_continued_titles_composers_and_dances():
    """Titles, composers and dances go on with `+:` too (clause 3.3)."""
    tune = parse_abc("X:1\nT:Long\n+:Name\nC:A\n+:B\nR:slip\n+:jig\nK:C\nC|\n")
    assert (tune.title, tune.composers, tune.dance) == ("Long Name", ("A B",), "slip jig")


def test_a_continuation_is_never_lost():
    """`+:` after a field that cannot go on is said (clause 3.3)."""
    tune = parse_abc("X:1\nL:1/8\nK:C\nC|\nK:G\n+:more\nD|\n")
    assert [notice.line for notice in tune.notices] == [6]


def test_the_file_header_holds_for_every_tune():
    """Its fields are defaults: a tune overrides them, the next one has them back (2.2.2)."""
    first, second, third = (tune_of(tune) for tune in split_book(BOOK))
    assert [str(tune.metre) for tune in (first, second, third)] == ["3/4", "3/4", "3/4"]
    assert [tune.unit_length for tune in (first, second, third)] == [
        Fraction(1, 4), Fraction(1, 8), Fraction(1, 4),
    ]  # fmt: skip
    assert first.composers == second.composers == ("the file",)
    assert first.bars[0].length == second.bars[0].length == Fraction(3, 4)
    assert str(third.bars[0].metre) == "4/4"


def test_the_file_header_ends_at_an_empty_line():
    """Fields before a tune but not at the start of the file are no header (clause 2.2.2)."""
    text = "%abc-2.1\n\nM:3/4\n\nX:1\nK:C\nC3|\n"
    assert parse_abc(text).metre.free


def test_books():
    """Tunes are split at `X:`; text between them is skipped (clauses 2.2.1, 2.2.3)."""
    tunes = list(split_book(BOOK))
    assert [(tune.number, tune.title) for tune in tunes] == [
        ("1", "Red Bollard"), ("2", "Green Bollard"), ("2", "Green Gate"),
    ]  # fmt: skip
    assert [BOOK.split("\n")[tune.first - 1] for tune in tunes] == ["X:1", "X:2", "X:2"]


def test_a_tune_may_begin_without_an_empty_line():
    """`X:` begins a new tune even where the empty line was forgotten (clause 2.2.1)."""
    first, second = split_book("X:1\nT:a\nK:C\nC4|\nX:2\nT:b\nK:C\nD4|\n")
    assert (tune_of(first).title, tune_of(second).title) == ("a", "b")
    assert len(tune_of(first).bars) == 1


@pytest.mark.parametrize("number", ["", "0", "12", "7a"])
def test_numbers_are_kept_as_written(number):
    """`X:` may be empty (clause 3.1.1)."""
    assert parse_abc(f"X:{number}\nK:C\nC4|\n").number == number


@pytest.mark.parametrize("text", ["", "\n\n", "no music here", "%abc-2.1\n", "<html></html>"])
def test_a_text_without_a_tune(text):
    """A text without a tune is refused, with what a tune begins with."""
    with pytest.raises(TuneError, match="there is no tune") as caught:
        parse_abc(text)
    assert "X:1" in caught.value.hint


@pytest.mark.parametrize(
    ("text", "abc"),
    [
        (TUNE, True),
        (BOOK, True),
        ("M:2/4\nGA|", True),
        ("hello", False),
        ("", False),
        ("> X:1\n> K:G\n> G|", True),
        ("  T:Set in", True),
    ],
)
def test_what_looks_like_abc(text, abc):
    """A text that has a header's line looks like ABC."""
    assert looks_like_abc(text) == abc


def test_a_header_at_a_glance():
    """Dance, metre and key can be read without the music."""
    head = read_head(next(split_book("X:1\nR:jig\nM:6/8\nK:Ador\nnot music at all\n")))
    assert (head.dance, head.metre, str(head.key)) == ("jig", "6/8", "A dorian")
    assert read_head(next(split_book("X:1\nK:H\nC|\n"))).key is None


@pytest.mark.parametrize(
    ("head", "strict"),
    [("%abc-2.1\nX:1\n", True), ("%abc-2.2\nX:1\n", True), ("%abc-2.0\nX:1\n", False),
     ("%abc\nX:1\n", False), ("X:1\n", False), ("%abc-1.6\nX:1\n", False),
     # clause 3.1.17: in the file header or in the tune's, which has the last word
     ("X:1\nI:abc-version 2.1\n", True), ("I:abc-version 2.1\n\nX:1\n", True),
     ("X:1\n%%abc-version 2.1\n", True), ("X:1\nI:abc-version 2.0\n", False),
     ("%abc-2.1\nX:1\nI:abc-version 2.0\n", False), ("%abc-2.0\nX:1\nI:abc-version 2.1\n", True),
     ("I:abc-version 2.1\n\nX:1\nI:abc-version 1.6\n", False)],
)  # fmt: skip
def test_strict_files(head, strict):
    """A file or tune that says it is ABC 2.1 or newer is read strictly (2.1, 12.2, 3.1.17)."""
    text = f"{head}M:2/4\nL:1/8\nK:C\n+CE+2 C2|\n"
    if strict:
        with pytest.raises(TuneError, match=r"not allowed in ABC 2\.1"):
            parse_abc(text)
    else:
        assert len(parse_abc(text).melody.bars[0][0].pitches) == 2


@pytest.mark.parametrize(
    ("music", "field", "said"),
    [
        ("C4", "Q:120", "a tempo that counts unit lengths"),
        ("C4", "Q:C=120", "a tempo that counts unit lengths"),
        ("C4", "A:by the weir", "a field A: for the area"),
        ("C4|[Q:90]D4", "N:x", "a tempo that counts unit lengths"),
        ("C2!D2", "N:x", "a line break '!'"), ("C2+trill+D2", "N:x", "a decoration between plus"),
    ],
)  # fmt: skip
def test_what_is_deprecated(music, field, said):
    """What clauses 10.1 (fields), 10.2.1 (line breaks) and 10.2.2 (decorations) deprecate works,
    and is said where ABC 2.1 is asked for."""
    text = f"X:1\nM:2/4\nL:1/8\n{field}\nK:C\n{music}|\n"
    assert parse_abc(text).notices == ()
    strictly = parse_abc("%abc-2.1\n" + text)
    assert strictly == parse_abc(text)
    (notice,) = strictly.notices
    assert f"{said}" in notice.message
    assert notice.line == (5 if field != "N:x" else 7)


def test_a_tune_without_a_number_in_a_strict_file():
    """A missing `X:` is deprecated (clause 10.5.1): read, and said where ABC 2.1 is asked for."""
    text = "T:Piece\nL:1/8\nK:G\nF|\n"
    assert parse_abc(text).notices == ()
    (notice,) = parse_abc("%abc-2.1\n\n" + text).notices
    assert "without a number" in notice.message
    assert notice.line == 3


@pytest.mark.parametrize(
    ("text", "lengths", "strict"),
    [
        ("%abc-2.1\nM:4/4\nL:1/8\n\nX:1\nT:t\nK:C\nC8|\n", [[1]], True),
        ("X:1\nT:a\nK:C\nCDEF|\n % only a comment\nGABc|\n\nsome text\n\nX:2\nK:C\nC|\n",
         [[Fraction(1, 2)] * 2, [Fraction(1, 8)]], False),
    ],
)  # fmt: skip
def test_whole_files(text, lengths, strict):
    """A file header gives metre and unit, a comment does not end a tune, text between tunes
    is skipped (clauses 2.2.2, 2.2.3, 2.2.5)."""
    tunes = [tune_of(tune) for tune in split_book(text)]
    assert [[bar.length for bar in tune.bars] for tune in tunes] == lengths
    assert sum(len(bar) for bar in tunes[0].melody.bars) == (1 if strict else 8)
    assert text.startswith("%abc-2.1") == strict


@pytest.mark.parametrize(
    "text", ["<html><head>\n<title>D: tunes</title>\n", "From: a player\nDate: today\n", "K:\nM\n"]
)
def test_free_text_is_skipped(text):
    """Free text round the tunes, a page's or a letter's, is no music (clause 2.2.3)."""
    tune = "X:1\nT:Wet Rope\nL:1/8\nK:G\nGABc|\n"
    book = f"{text}\n{tune}\n{text}\n{tune}\n{text}"
    assert [tune_of(each) for each in split_book(book)] == [parse_abc(tune)] * 2


@pytest.mark.parametrize(
    ("version", "length"), [("", 3), ("%abc-2.0", 3), ("%abc-2.1", Fraction(3, 8))]
)
def test_fields_between_tunes(version, length):
    """Fields between tunes were defaults for the tunes after them (clause 10.5.2): so they
    are read, but where ABC 2.1 is asked for."""
    book = f"{version}\n\nX:1\nK:C\nC3|\n\nM:3/1\nL:1/1\n% both\n\nX:2\nK:C\nC3|\n"
    first, second = (tune_of(tune) for tune in split_book(book))
    assert (first.metre.free, first.bars[0].length) == (True, Fraction(3, 8))
    assert second.bars[0].length == length


@pytest.mark.parametrize("text", ["free text\nM:3/4\n", "M:3/4\nfree text\n"])
def test_fields_among_free_text(text):
    """A field in free text is text (clause 2.2.3)."""
    second = list(split_book(f"X:1\nK:C\nC|\n\n{text}\nX:2\nK:C\nC|\n"))[1]
    assert tune_of(second).metre.free


def test_reserved_signs_in_texts():
    """The reserved signs mean nothing in fields and quoted texts (clause 8.1)."""
    tune = parse_abc('X:1\nT:What? #1; *@\nL:1/8\nK:C\n"^#1 *?;@"C[r:#1 *?;@]D|\n')
    assert (tune.title, tune.melody.bars[0][0].texts) == ("What? #1; *@", ("^#1 *?;@",))
    assert tune.notices == ()


@pytest.mark.parametrize("directive", ["I:linebreak !", "%%linebreak !", "I:linebreak <EOL> !"])
def test_line_breaks_with_exclamation_marks(directive):
    """`I:linebreak !` makes every "!" a line break, and decorations stand between plus signs
    (clause 6.1.1)."""
    tune = parse_abc(f"X:1\nM:4/4\nL:1/8\n{directive}\nK:C\nCD!EF!GA+trill+Bc|\n")
    notes = tune.melody.bars[0]
    assert "".join(note.pitches[0].step for note in notes) == "CDEFGABC"
    assert [note.decorations for note in notes] == [()] * 6 + [("trill",), ()]
    assert tune.notices == ()


@pytest.mark.parametrize("directive", ["I:linebreak !", "%%linebreak !"])
def test_line_breaks_are_chosen_above_the_music(directive):
    """In the body `I:linebreak` is not allowed (clause 6.1.1): left out, and said."""
    tune = parse_abc(f"X:1\nL:1/8\nK:C\nC\n{directive}\nD!trill!E|\n")
    assert tune.melody.bars[0][2].decorations == ("trill",)
    (notice,) = tune.notices
    assert (notice.line, notice.column) == (5, 1)


@pytest.mark.parametrize(
    "music", ["CD!EF|GA!Bc|", "CD!EF GA!Bc|", "CD!EF:|GA!Bc|", "CD!E[F]!G|", "CD!\nEF!\nG|"]
)
def test_old_line_breaks(music):
    """A "!" without another before a bar line, a space or the line's end was a line break:
    it does nothing in a file that is not ABC 2.1 (clauses 10.2.1, 12.2)."""
    tune = parse_abc(f"X:1\nL:1/8\nK:C\n{music}\n")
    steps = "".join(note.pitches[0].step for bar in tune.melody.bars for note in bar)
    assert steps == "".join(sign for sign in music.upper() if sign.isalpha())
    assert all(note.decorations == () for bar in tune.melody.bars for note in bar)
    assert tune.notices == ()


@pytest.mark.parametrize("breaks", ["<EOL>", "$", "<EOL> $", "<none>"])
def test_line_breaks_do_not_sound(breaks):
    """Other line breaks are in the score only (clause 6.1.1)."""
    whole = "X:1\nM:4/4\nL:1/8\nK:C\nCD $EF!trill!GABc|\n"
    changed = parse_abc(whole.replace("K:C", f"I:linebreak {breaks}\nK:C"))
    assert changed == parse_abc(whole)
    assert changed.notices == ()


@pytest.mark.parametrize(
    ("lines", "field", "text"),
    [("H:one\\\ntwo", "H", "one two"), ("N:one \\\ntwo\\\nthree", "N", "one two three")],
)
@pytest.mark.parametrize("music", ["{}\nK:C\nC|", "K:C\nC|\n{}\nD|"])
def test_fields_that_go_on_after_a_backslash(lines, field, text, music):
    """A backslash once continued a field (clause 10.3): read so with a notice, refused where
    ABC 2.1 is asked for."""
    whole = "X:1\nL:1/8\n" + music.format(lines) + "\n"
    tune = parse_abc(whole)
    assert (field, text) in tune.texts
    assert "after a backslash" in tune.notices[0].message
    assert all(note.pitches[0].step in "CD" for bar in tune.melody.bars for note in bar)
    with pytest.raises(TuneError, match="after a backslash"):
        parse_abc("%abc-2.1\n" + whole)


def test_a_field_that_goes_on_is_quoted_as_the_file_has_it():
    """What is said of a line that goes on after a backslash quotes that line itself."""
    notice = parse_abc("X:1\\\n12\nL:1/8\nK:C\nC|\n").notices[1]
    assert (notice.message, notice.line) == ("a field cannot go on here", 2)
    assert (notice.column, notice.excerpt) == (1, "12")


def test_lyrics_that_go_on_after_a_backslash():
    """Lyrics too went on after a backslash (clause 10.3); what follows is not music."""
    tune = parse_abc("X:1\nL:1/8\nK:C\nCDEF|\nw:one two \\\n% between\nbad cab\nGA|\n")
    assert [[note.lyrics for note in bar] for bar in tune.melody.bars] == [
        [("one",), ("two",), ("bad",), ("cab",)], [(), ()],
    ]  # fmt: skip


def test_a_field_of_music_does_not_go_on():
    """After a metre or key with a backslash comes music (clause 6.1.1)."""
    tune = parse_abc("X:1\nM:2/4\nL:1/8\nK:C\nC4|\\\nM:3/4\\\nD6|\n")
    assert [str(bar.metre) for bar in tune.bars] == ["2/4", "3/4"]


@pytest.mark.parametrize("field", ["M:4/4", "L:1/8", "K:C"])
def test_a_continuation_in_the_header_is_never_lost(field):
    """`+:` after a field that holds no text is said (clause 3.3)."""
    lines = ["X:1", field, "+:more", "K:C", "C8|"] if field != "K:C" else [
        "X:1", "M:4/4", "K:C", "+:more", "C8|"]  # fmt: skip
    (notice,) = parse_abc("\n".join(lines)).notices
    assert notice.line == lines.index("+:more") + 1


#: ABC 2.1 clause 8.2: mnemonics, entities, code points, escaped signs, font switches.
ESCAPES = [
    ("\\`a \\'e \\^i \\~n \\\"u \\cc", "à é î ñ ü ç"), ("\\AA \\ae \\OE \\ss", "Å æ Œ ß"),
    ("\\/O \\/o \\DH \\th", "Ø ø Ð þ"), ("\\vs \\ua \\Ho \\=o", "š ă ő ō"),
    ("&eacute; &Auml; &szlig; &amp;", "é Ä ß &"), ("&quot;high&quot;", '"high"'),
    ("\\u00e9 \\u0022", 'é "'), ("\\U000000e9", "é"), ("\\ug", "ğ"),
    ("\\\\ \\&", "\\ &"), ("\\u266d \\u266e \\u266f", "♭ ♮ ♯"), ("$1bold$0 $4", "bold "),
]  # fmt: skip


@pytest.mark.parametrize(("written", "meant"), ESCAPES)
def test_escapes(written, meant):
    """Accents, entities and code points in titles and annotations (clause 8.2)."""
    tune = parse_abc(f"X:1\nT:<{written}>\nN:<{written}>\nL:1/8\nK:C\nC|\n")
    assert tune.title == f"<{meant}>"
    assert ("N", f"<{meant}>") in tune.texts


@pytest.mark.parametrize("written", ["&quot;high&quot;", "\\u0022high\\u0022"])
def test_quotation_marks_in_annotations(written):
    """A quotation mark inside an annotation is an entity or a code point (clause 8.2)."""
    assert parse_abc(f'X:1\nK:C\n"^{written}"C|\n').melody.bars[0][0].texts == ('^"high"',)


@pytest.mark.parametrize(
    ("head", "key", "metre"),
    [("M:2/4\nL:1/8\n", "no key", "2/4"), ("T:Piece\n", "no key", "free"),
     ("X:1\nM:2/4\nL:1/8\n", "no key", "2/4"), ("K:D\n", "D major", "free"),
     ("%abc\nL:1/8\n", "no key", "free"), ("%abc\n% a remark\nT:x\nK:D\n", "D major", "free")],
)  # fmt: skip
@pytest.mark.parametrize("end", ["", "\n", "\n\n"])
def test_fragments(head, key, metre, end):
    """A fragment may lack `X:`, `T:` and `K:`; without `K:` there is no signature, without
    `M:` no metre (clause 2.3)."""
    tune = parse_abc(f"{head}FGAB|{end}")
    assert (str(tune.key), str(tune.metre)) == (key, metre)
    assert tune.melody.bars[0][0].pitches[0].midi == (66 if key == "D major" else 65)
    assert [notice.line for notice in tune.notices] == (
        [] if key == "D major" else [head.count("\n") + 1]
    )


def test_a_tune_without_music():
    """A tune without a body is legal (clause 2.2.1): a book lists it, though there is nothing
    to play."""
    first, second = split_book("X:1\nT:Still Wanted\nR:jig\nK:D\n\nX:2\nT:Found\nK:G\nF|\n")
    assert (first.title, read_head(first).dance) == ("Still Wanted", "jig")
    assert tune_of(second).title == "Found"


@pytest.mark.parametrize(("line", "plays"), [("X:|", 2), ("X::", 2), ("X|", 0), ("Z:|", 2)])
def test_rests_of_a_bar_at_the_start_of_a_line(line, plays):
    """In the body X and Z are rests before a colon, never fields (clauses 3, 4.5)."""
    (text,) = split_book(f"X:1\nM:2/4\nL:1/8\nK:C\nC4|\n{line}\n")
    tune = tune_of(text)
    assert [note.hidden for note in tune.melody.bars[1]] == [line[0] == "X"]
    assert tune.bars[1].plays == plays
    assert tune.notices == ()


@pytest.mark.parametrize("field", ["K:G", "M:2/4", "L:1/4", "Q:1/4=90", "U:T=!roll!", "P:B"])
def test_fields_in_brackets_are_fields_between_lines(field):
    """A field in brackets is the same as one on a line between two joined lines (clause 3.2)."""
    music = "X:1\nL:1/8\nK:C\nCF|{}TFF|\n"
    assert parse_abc(music.format(f"[{field}]")) == parse_abc(music.format(f"\\\n{field}\n"))


def test_an_empty_line_ends_joined_music():
    """Music that is joined to an empty line ends there all the same (clause 6.1.1)."""
    tune = parse_abc("X:1\nL:1/8\nK:C\nCD|\\\n\nEF|\n")
    assert [len(bar) for bar in tune.melody.bars] == [2]


def test_who_reads_may_ask_for_strictness():
    """A file may be read strictly or loosely, whatever it says of itself (clause 12)."""
    body = "X:1\nM:2/4\nL:1/8\nK:C\n+CE+2 C2|\n"
    (old,), (new,) = (list(split_book(version + body)) for version in ("", "%abc-2.1\n"))
    assert tune_of(new, strict=False) == tune_of(old)
    with pytest.raises(TuneError, match=r"not allowed in ABC 2\.1"):
        tune_of(old, strict=True)


def test_decorations_between_plus_signs():
    """`I:decoration +` is the old way of `+trill+` (clause 10.2.2): read, and nothing is said."""
    tune = parse_abc("X:1\nL:1/8\nI:decoration +\nK:C\nC+trill+D+f+E|\n")
    assert [note.decorations for note in tune.melody.bars[0]] == [(), ("trill",), ("f",)]
    assert tune.notices == ()


@pytest.mark.parametrize(
    ("charset", "coding", "said"),
    [("utf-8", "utf-8", 0), ("us-ascii", "us-ascii", 0), ("iso-8859-1", "latin-1", 1)],
)
def test_character_sets(tmp_path, charset, coding, said):
    """UTF-8 and ASCII are read as they are, ISO-8859-1 too, and that is said (clauses 3.1.17,
    8.2)."""
    title = "Cafe" if coding == "us-ascii" else "Café"
    path = tmp_path / "cafe.abc"
    path.write_bytes(f"I:abc-charset {charset}\n\nX:1\nT:{title}\nL:1/8\nK:C\nC|\n".encode(coding))
    reading = read_file(path)
    assert reading.tune.title == title
    assert len(reading.notices) == said
