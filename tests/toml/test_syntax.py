"""What is no TOML: said with its line, in our words, whatever the fault is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.data.file_kind import FileKind
from backing.data.toml_text import MOST_CHARACTERS, MOST_IN_LINE, decoded, toml_data
from backing.errors import DataError

KIND = FileKind("style", DataError, "look at one of ours")


def faults(text):
    """What is said of a text that is no TOML."""
    with pytest.raises(DataError) as caught:
        toml_data(text, "mine.toml", KIND)
    assert caught.value.hint == "look at one of ours"
    return list(caught.value.faults)


INLINE = "a { … } stands in one line, without a comma before its end"
TOO_MUCH = 'the line goes on after its value; shares like "1/2" and texts stand in quotes'
VALUE = 'no value: texts stand in "quotes", numbers without'
NO_END = 'the list before this line has no end: put "]" there'
CLOSED = "what this line adds to was given before, and may not be added to"
SYNTAX = [
    ("title = Plain", [f"line 1, column 9: {VALUE}"]),
    ("a = True", [f"line 1, column 5: {VALUE}"]),
    ("\n\nthis is prose", ['line 3, column 6: expected "=" after the key, as in title = "A name"']),
    ("=1", ['line 1, column 1: a line is key = value, [table] or [[table]]; a comment begins with '
            '"#"']),
    ("a = 1/2", [f"line 1, column 6: {TOO_MUCH}"]),
    ("a = 1,5", [f"line 1, column 6: {TOO_MUCH}"]),
    ("a = 50%", [f"line 1, column 7: {TOO_MUCH}"]),
    ("a = 1 b = 2", [f"line 1, column 7: {TOO_MUCH}"]),
    ('a = 1\nb = "x\nc = 2', ['line 2, column 7: a text of this line has no end: put " there']),
    ('a = 1\nb = """x\n\n', ['line 2: a text of this line has no end: put " (or """) there']),
    ("a = 'x'\nb = 'x\n", ["line 2: a text of this line has no end: put ' there"]),
    ("a = 'x\nb = 'x'\n", ["line 1, column 7: a text of this line has no end: put ' there"]),
    ("\na = '''x\n", ["line 2: the text that begins here with ''' has no end: put ''' there"]),
    ("a = [1,\n2", ['end of the file: expected "," before the next item, or "]" at the end of the '
                    "list"]),
    ('a = "\\d"', ["line 1, column 8: a \\ in a text is written \\\\, or the text stands in "
                   "'single quotes'"]),
    ('a = "\\uzz"', ["line 1, column 8: \\u in a text is followed by four hex digits"]),
    ('a = "\\ud800"', ["line 1, column 12: \\u in a text is followed by the number of a sign"]),
    ('a = "\0"', ["line 1, column 6: a sign that cannot be seen stands in the text: take it out"]),
    ("# \x01", ["line 1, column 3: a sign that cannot be seen stands here: take it out"]),
    ("a = [1 2]", ['line 1, column 8: expected "," before the next item, or "]" at the end of the '
                   "list"]),
    ("a = [\n  { b = 1 },\n\n[[figure]]\nc = 1", [f"line 4: {NO_END}"]),
    ("a = [\n  { b = 1 }\n[table]", [f"line 3: {NO_END}"]),
    ("a = [\n  { b = 1 },\nc = 3", [f"line 3: {NO_END}"]),
    ("a = { b = 1 c = 2 }",
     [f'line 1, column 13: expected "," before the next key, or "}}"; {INLINE}']),
    ("a = { b = 1, }", [f"line 1, column 14: expected a key; {INLINE}"]),
    ("a = { b = 1,\n c = 2 }", [f"line 1, column 13: expected a key; {INLINE}"]),
    ("a = { b = 1, b = 2 }", ["line 1, column 19: a key stands twice in { … }"]),
    ("[a\nb = 1", ['line 1, column 3: expected "]" at the end of the table\'s name']),
    ("[a]\n[a]", ["line 2, column 3: this table stands twice: put its keys together"]),
    ("a = 1\na = 2", ["line 2, column 6: this name was given before: each stands once"]),
    ("a = 1\n[a.b]", ["line 2, column 5: this name was given before: each stands once"]),
    ("a = { b = 1 }\na.c = 2", [f"line 2, column 8: {CLOSED}"]),
    ("a = 2020-02-31", ["line 1, column 5: there is no such day or hour"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), SYNTAX, ids=[repr(row[0]) for row in SYNTAX])
def test_what_is_no_toml_is_said_with_its_line(text, said):
    """A fault of the writing is named with line and column and with what to write (TOML 1.0)."""
    assert faults(text) == said


ODD = [
    ("title = “Plain”", ['line 1: typographic quotes “ ”: write the plain "']),
    ("a = „x“\nb = 1\nc = «y»", ['line 1: typographic quotes „ “: write the plain "',
                               'line 3: typographic quotes « »: write the plain "']),
    ("a = ‘x’", ["line 1: typographic quotes ‘ ’: write the plain '"]),
    ('\na = "x”', ['line 2: a typographic quote ”: write the plain "',
                   'line 2, column 8: a text of this line has no end: put " there']),
    ("s = [\n  { when = “beat 1”, play = “bass” },\n]",
     ['line 2: typographic quotes “ ”: write the plain "']),
    ("a = –1", ["line 1: a long dash –: write the plain -"]),
    ("a\N{NO-BREAK SPACE}= 1", ["line 1: a hard space, which cannot be seen: take it out"]),
    ("a = 1\n\ufeffb = 1",
     ["line 2: a byte order mark (BOM), which cannot be seen: take it out"]),
    ("größe = 1", ['line 1: ö ß outside of quotes: put the whole word in "quotes"']),
    ("# a comment with “quotes”\na = 'x “y”'\nb = \"\"\"\n“z”\n\"\"\"\nc = Plain",
     [f"line 6, column 5: {VALUE}"]),
    ('a = "Don’t', ['line 1, column 11: a text of this line has no end: put " there']),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), ODD, ids=[repr(row[0]) for row in ODD])
def test_signs_of_a_word_processor_are_named(text, said):
    """Quotes, dashes and spaces that only look like TOML's are named, line by line, and not
    those inside texts and comments, where they are welcome."""
    assert faults(text) == said


def test_typographic_quotes_inside_texts_are_read():
    """A text may hold any quotes."""
    assert toml_data('a = "“x” – «y»"', "mine.toml", KIND) == {"a": "“x” – «y»"}


LIMITS = {
    "a number of 4,301 digits": (
        "a = 1\nb = " + "9" * 4301,
        ["line 2: a number of 4,301 digits: give a smaller one"],
    ),
    "a hundred thousand brackets": (
        "a = " + "[" * 100_000,
        ["line 1: more than 5,000 characters in one line"],
    ),
    "brackets in each other": (
        "a = " + "[" * 4000,
        ["brackets stand in each other hundreds deep: take some out"],
    ),
    "brackets over lines": (
        "a = " + "[\n" * 40_000,
        ["brackets stand in each other hundreds deep: take some out"],
    ),
    "a key of many parts": (
        "a" + ".a" * 50_000 + " = 1",
        ["line 1: more than 5,000 characters in one line"],
    ),
}


@pytest.mark.parametrize(("text", "said"), LIMITS.values(), ids=LIMITS.keys())
def test_what_is_too_large_is_said(text, said):
    """What would take a reader too long or too deep is refused with its limit."""
    assert faults(text) == said


@pytest.mark.slow
def test_a_file_has_a_size():
    """A text of more than 200 kB is refused before it is looked at; one of less is read."""
    text = "#" + "\n" * (MOST_CHARACTERS - 1)
    assert toml_data(text, "mine.toml", KIND) == {}
    with pytest.raises(DataError, match="larger than 200 kB") as caught:
        toml_data(f"{text}\n", "mine.toml", KIND)
    assert caught.value.hint == "is it the file of the style?"
    with pytest.raises(DataError, match="larger than 200 kB"):
        decoded(b"\xff" * MOST_CHARACTERS * 5, "mine.toml", KIND)


def test_a_line_has_a_length():
    """A line of 5,000 characters is read."""
    assert toml_data(f"# {'x' * (MOST_IN_LINE - 2)}", "mine.toml", KIND) == {}


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("a = 1".encode("utf-16"), "the text is UTF-16, not UTF-8"),
        ("a = 1".encode("utf-16-le"), "the text is UTF-16, not UTF-8"),
        ("a = 1".encode("utf-16-be"), "the text is UTF-16, not UTF-8"),
        ("a = 1".encode("utf-32"), "the text is UTF-32, not UTF-8"),
        ('a = 1\nb = "é"'.encode("latin-1"),
         "the text is not UTF-8: line 2 has a sign in another encoding"),
        ("b = “é”".encode("cp1252"),
         "the text is not UTF-8: line 1 has a sign in another encoding"),
    ],
)  # fmt: skip
def test_another_encoding_is_named(data, said):
    """A file that an editor saved in another encoding is refused with the way to save it."""
    with pytest.raises(DataError) as caught:
        decoded(data, "mine.toml", KIND)
    assert caught.value.text() == (
        f"error: mine.toml: {said}\nhint: save it again in your editor, with UTF-8 as its encoding"
    )


def test_a_byte_order_mark_at_the_start_is_left_out():
    """A byte order mark, as some editors put it before UTF-8, does no harm."""
    assert decoded("\ufeffa = 1".encode(), "mine.toml", KIND) == "a = 1"
    assert toml_data("\ufeffa = 1", "mine.toml", KIND) == {"a": 1}


FOREIGN = ("tomllib", "sys.", "(at line", "recursion", "codec", "Fraction", "int()", "object")


@pytest.mark.slow
@given(st.text(alphabet="ab=[]{}\",.#\n' \\1e-_“’\0é", max_size=40) | st.text(max_size=30))
def test_no_text_raises_anything_else(text):
    """Any text is data or refused in our own words."""
    said = ""
    try:
        toml_data(text, "mine.toml", KIND)
    except DataError as error:
        said = error.text()
    assert not [word for word in FOREIGN if word in said and word not in text]
