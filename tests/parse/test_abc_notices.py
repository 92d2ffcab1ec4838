"""What is odd is said with its place, never dropped in silence; places point at the text.

Clauses are those of ABC 2.1.
"""

import pytest

from backing.parse.abc import parse_abc, split_book, tune_of

HEAD = "X:1\nM:none\nL:1/8\nK:C\n"


def piece(lines, source):
    """The piece of the text that a source points at."""
    return lines[source.line - 1][source.column - 1 : source.end - 1]


@pytest.mark.parametrize(
    ("music", "said", "column"),
    [
        ("A B ,c|", "',' is not understood", 5), ("A B 3|", "'3' is not understood", 5),
        ("A| 1B|", "'1' is not understood", 4), ("A ]B|", "']' is not understood", 3),
        ("A }B|", "'}' is not understood", 3), ("AéB|", "'é' is not understood", 2),
        ("A ^B ^|", "'^' is not understood", 6), ("A=|B", "'=' is not understood", 2),
        ('A "G B|', "a quotation mark is not closed", 3), ("A [ce|", "a '[' is not closed", 3),
        ("A {ce|", "a '{' is not closed", 3), ("A k B|", "the sign 'k' has no meaning", 3),
        ("A # B|", "the sign '#' is reserved", 3), ("A * B|", "the sign '*' is reserved", 3),
        ("A ; B|", "the sign ';' is reserved", 3), ("A ? B|", "the sign '?' is reserved", 3),
        ("A @ B|", "the sign '@' is reserved", 3), ("-A|", "a tie has no note before it", 1),
        ("z-A|", "a tie has no note before it", 2), (">A B|", "a broken rhythm has no note", 1),
        ("A|>B|", "a broken rhythm has no note", 3), ("A (3bc|", "the last tuplet wants more", 3),
        ("(3a(3bcd|", "a tuplet begins inside a tuplet", 4),
        ("(3ab & c d|", "a second voice begins inside a tuplet", 6),
        ("A > > B|", "two signs of a broken rhythm", 5), ("A><B|", "two signs of a broken", 3),
        ("A:B|", "a single ':'", 2),
        ("A>|B|", "a broken rhythm reaches over the bar line", 3), ("A [] B|", "without a note", 3),
        ("A [c?e] B|", "'?' in a chord of notes", 5), ("A {c?e}B|", "'?' in grace notes", 5),
        ("AZB|", "a rest of whole bars in free metre", 2),
        ("A[A:x]B|", "the field A: has no place", 2),
        ("A[X:x]B|", "the field X: has no place", 2), ("A[Y:x]B|", "the field Y: has no place", 2),
        # clause 3.2: no space before the colon; clause 4.14: none in a decoration
        ("A[K :G]B|", "':' in a chord of notes", 5), ("A!no name!B|", "the sign 'n' has no", 3),
        ("A!no|name!B|", "the sign 'n' has no", 3), ("A!no:name!B|", "the sign 'n' has no", 3),
        # clause 4.11: a tie directly after its note; clause 4.17: accidentals inside
        ("A -A|", "a tie stands away", 3), ("A|-A|", "a tie stands away", 3),
        ("^[CE]A|", "'^' is not understood", 1),
    ],
)  # fmt: skip
def test_odd_signs(music, said, column):
    """What cannot be understood is a notice at its sign, and the rest is played."""
    tune = parse_abc(HEAD + music + "\n")
    found = [(n.line, n.column, n.excerpt) for n in tune.notices if said in n.message]
    assert found == [(5, column, music)]
    assert any(note.pitches for note in tune.melody.bars[0])


@pytest.mark.parametrize("sign", "#*;?@k")
def test_the_same_sign_is_said_once(sign):
    """A sign that comes again is said at its first place only."""
    notices = parse_abc(f"{HEAD}A {sign}B {sign}c|\nd {sign}e|\n").notices
    assert [(notice.line, notice.column) for notice in notices] == [(5, 3)]


@pytest.mark.parametrize(
    "words", ["program 21", "voice 1 instrument=22 bank=1 mute", "chordprog 22"]
)
@pytest.mark.parametrize(("before", "line"), [("X:1\n", 2), ("X:1\nM:none\nL:1/8\nK:C\nC|\n", 6)])
def test_playback_directives(before, line, words):
    """`%%MIDI` (clause 11.2) is not followed, and that is said where it stands."""
    after = "M:none\nL:1/8\nK:C\nD|\n" if line == 2 else "D|\n"
    (notice,) = parse_abc(f"{before}%%MIDI {words}\n{after}").notices
    assert "MIDI" in notice.message
    assert (notice.line, notice.column, notice.excerpt) == (line, 1, f"%%MIDI {words}")


def test_fields_are_not_found_inside_quoted_texts():
    """Inside quotation marks nothing is a field (clauses 3.2, 4.19)."""
    tune = parse_abc(f'{HEAD}"^see [V:2]"C "_[K:D]"F|\n')
    assert len(tune.voices) == 1
    assert [note.texts for note in tune.melody.bars[0]] == [("^see [V:2]",), ("_[K:D]",)]
    assert [note.pitches[0].midi for note in tune.melody.bars[0]] == [60, 65]


def test_notices_are_in_the_order_of_the_text():
    """Notices come in the order of their places, those about bar lengths among them."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nK:C\nC8|D7|?E8|\nF9|k G8|\n")
    places = [(notice.line, notice.column) for notice in tune.notices]
    assert places == sorted(places) == [(5, 6), (5, 7), (6, 3), (6, 4)]


@pytest.mark.parametrize("number", [1, 3])
def test_places_count_in_the_whole_file(number):
    """Lines are counted from the start of the file, in every tune of a book."""
    book = "".join(f"X:{n}\nM:4/4\nL:1/8\nK:C\nC8|?D8|\n\n" for n in (1, 2, 3))
    tune = tune_of(list(split_book(book))[number - 1])
    (notice,) = tune.notices
    assert (notice.line, notice.column) == (6 * number - 1, 4)
    assert book.split("\n")[notice.line - 1] == notice.excerpt


def test_a_notice_as_it_is_shown():
    """A notice shows its file, place, line with a caret, and what to do."""
    (notice,) = parse_abc("X:1\nM:4/4\nL:1/8\nK:C\nC8|D7|E8|\n").notices
    assert notice.text("wet.abc") == (
        "warning: wet.abc, line 5, column 6: bar 2 lasts 7/8, the metre is 4/4\n"
        "       C8|D7|E8|\n"
        "            ^\n"
        "hint: a note or a bar line may be missing or misplaced; played as written"
    )


@pytest.mark.parametrize(
    ("music", "pieces"),
    [
        ("A B2 c/2|", "A B2 c/2"), ("^A,/2 __b'3 =c|", "^A,/2 __b'3 =c"),
        ("[ce]2 [G]|", "[ce]2 [G]"),
        ("z x2 A|", "z x2 A"), ('"G"A !trill!B ~c|', "A B c"), ("{ab}c (3def|", "c d e f"),
        ("A>B c<d|", "A B c d"), ("A-A|", "A A"), ("A\tB  c|", "A B c"), ("(A B) .c|", "A B c"),
        ("A % B|", "A"), ("[K:G]A[M:3/4]B|", "A B"), ("A`B``c|", "A B c"),
        ("|:A|1B:|2c|]", "A B c"),
    ],
)  # fmt: skip
def test_sources_of_notes(music, pieces):
    """A note's source is the piece of text from its accidental to its length."""
    text = HEAD + music + "\n"
    notes = [note for bar in parse_abc(text).melody.bars for note in bar]
    assert [piece(text.split("\n"), note.source) for note in notes] == pieces.split()


def test_sources_on_several_lines():
    """Every line of music counts its own columns, whatever ends it."""
    text = "X:1\r\nM:none\r\nL:1/8\r\nK:C\r\nA B|\r\n% comment\r\n  c2 d|\r\n[K:G] e3|\r\n"
    notes = [note for bar in parse_abc(text).melody.bars for note in bar]
    assert [tuple(note.source) for note in notes] == [
        (5, 1, 2), (5, 3, 4), (7, 3, 5), (7, 6, 7), (8, 7, 9),
    ]  # fmt: skip


def test_sources_of_chord_symbols():
    """A chord symbol's source is its text with the quotation marks."""
    text = HEAD + 'A "G"B "D/F#" c|["Am"ce]2|\n'
    symbols = [symbol for bar in parse_abc(text).bars for symbol in bar.chords]
    lines = text.split("\n")
    assert [piece(lines, s.source) for s in symbols] == ['"G"', '"D/F#"', '"Am"']


def test_sources_of_bars():
    """A bar's source ends at its bar line, and begins on the same line."""
    tune = parse_abc(f"{HEAD}A B|c d|\ne|\n")
    assert [(bar.source.line, bar.source.column, bar.source.end) for bar in tune.bars] == [
        (5, 1, 5), (5, 5, 9), (6, 1, 3),
    ]  # fmt: skip


def test_notes_of_a_macro_point_at_it():
    """What a macro makes points at the macro's whole place in the text (clause 9)."""
    tune = parse_abc("X:1\nM:none\nL:1/8\nm:~A2=A/B/A\nK:C\nC ~A2 D|\n")
    sources = [(note.source.column, note.source.end) for note in tune.melody.bars[0]]
    assert sources == [(1, 2), (3, 6), (3, 6), (3, 6), (7, 8)]


def test_places_do_not_count_in_comparison():
    """The same music in another place of the text is the same tune."""
    assert parse_abc(f"{HEAD}A B|\n") == parse_abc(
        f"{HEAD}\n".replace("\n\n", "\n% x\n") + " A  B |\n"
    )


def test_a_german_h_is_noticed():
    """A chord written with the German H is a text, and the notice says what to write (ABC 2.1
    clause 4.18 has notes A to G); a lone H is a label."""
    tune = parse_abc('X:1\nT:t\nK:D\n"Hm"B4 "H"A4|')
    assert [notice.message for notice in tune.notices] == ["'Hm' is read as a text, not as a chord"]
    assert "write B" in tune.notices[0].hint


@pytest.mark.parametrize(
    ("music", "said", "line", "column"),
    [
        # what waits for a note is said where it stands, though the note comes on another line
        ('A "G"|\n"D"A|', "several chord symbols", 6, 1), ('A "G"|\nK:G\n  "D"A|', "several", 7, 3),
        ("A (3bc\nK:G", "the last tuplet", 5, 3), ("A (3b\\\nc|", "the last tuplet", 5, 3),
        ('[V:1]A|[V:2]"G""D"A|', "several chord symbols", 5, 16),
        # and in the text as it is written, macros or not
        ('m:~n2=n/o/n/m/\n~d2 ~c2|"D""G"A|', "several chord symbols", 6, 12),
        ("m:~n2=n/o/n/m/\n~d2 (3bc", "the last tuplet", 6, 5),
        ("m:~n2=n/o/n/m/\n~d2 c2>d", "a broken rhythm between", 6, 7),
    ],
)  # fmt: skip
def test_notices_about_what_was_read_before(music, said, line, column):
    """A notice points at its sign in the text, in whichever line that stands (clause 9 for the
    macros)."""
    notices = parse_abc(HEAD + music + "\n").notices
    found = [notice for notice in notices if notice.message.startswith(said)]
    assert [(notice.line, notice.column) for notice in found] == [(line, column)]
    assert found[0].excerpt == (HEAD + music).split("\n")[line - 1]


@pytest.mark.parametrize(
    ("header", "column", "said"),
    [
        ("X:1T:Rope\nK:C", 4, "T: stands inside the field X:"),
        ("X:1\nT:The Tow RopeM:4/4\nK:C", 15, "M: stands inside the field T:"),
        ("X:1\nT:Rope No. 2C:trad.\nK:C", 13, "C: stands inside the field T:"),
    ],
)
def test_a_field_glued_to_another_is_said(header, column, said):
    """A field on the line of another, as a lost line break leaves it, is text (ABC 2.1 clause 3:
    a field is a line of its own), and is said."""
    notice = parse_abc(f"{header}\nABc|\n").notices[0]
    assert said in notice.message
    assert (notice.column, notice.hint[:24]) == (column, "if a line break was lost")


@pytest.mark.parametrize("title", ["Rope: a Waltz", "KEY NR: 3", "At 4: Rope", "Rope K:", "c:d"])
def test_a_colon_in_a_title_is_no_field(title):
    """Words with a colon, and a letter and a colon after a blank, are nothing odd."""
    assert parse_abc(f"X:1\nT:{title}\nM:none\nK:C\nABc|\n").notices == ()
