"""On which line a key stands: what `tomllib` does not tell."""

import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.data.key_lines import key_lines

OURS = [
    *(Path(__file__).parents[2] / "styles").glob("*.toml"),
    *(entry for entry in files("backing.box").joinpath("layouts").iterdir()),
]

CASES = {
    "keys": ('a = 1\n\n# b = 2\nb = "#"\n', {("a",): 1, ("b",): 4}),
    "a comment after a value": ("a = 1 # ]\nb = 2", {("a",): 1, ("b",): 2}),
    "a table": ("[t]\na = 1", {("t",): 1, ("t", "a"): 2}),
    "a table in a table": ("[t.u]\na = 1", {("t",): 1, ("t", "u"): 1, ("t", "u", "a"): 2}),
    "a dotted key": ("\na.b = 1\na.c = 2", {("a",): 2, ("a", "b"): 2, ("a", "c"): 3}),
    "keys in quotes": (
        '"page up" = 1\n\'a.b\' = 2\n"\\u0041 \\"" = 3',
        {("page up",): 1, ("a.b",): 2, ('A "',): 3},
    ),
    "a list of tables": (
        "[[f]]\na = 1\n[[f]]\na = 2",
        {("f",): 1, ("f", 0): 1, ("f", 0, "a"): 2, ("f", 1): 3, ("f", 1, "a"): 4},
    ),
    "tables in lists of tables": (
        "[[f]]\n[[f.g]]\na = 1\n[[f]]\n[f.h]\n[[f.g]]\na = 2",
        {
            ("f",): 1, ("f", 0): 1, ("f", 0, "g"): 2, ("f", 0, "g", 0): 2, ("f", 0, "g", 0, "a"): 3,
            ("f", 1): 4, ("f", 1, "h"): 5, ("f", 1, "g"): 6, ("f", 1, "g", 0): 6,
            ("f", 1, "g", 0, "a"): 7,
        },
    ),
    "a list over lines": (
        "a = [ # one\n  1,\n\n  [2,\n   3],\n]\nb = 4",
        {("a",): 1, ("a", 0): 2, ("a", 1): 4, ("a", 1, 0): 4, ("a", 1, 1): 5, ("b",): 7},
    ),
    "tables in a list over lines": (
        "s = [\n  { a = 1, b.c = 2 },\n  { a = 3 },\n]",
        {
            ("s",): 1, ("s", 0): 2, ("s", 0, "a"): 2, ("s", 0, "b"): 2, ("s", 0, "b", "c"): 2,
            ("s", 1): 3, ("s", 1, "a"): 3,
        },
    ),
    "texts that look like TOML": (
        'a = "x = 1\\" ]"\nb = \'[[t]]\\\'\n'
        'c = """\n[u]\nd = 1 \\"""\n"""\ne = \'\'\'\n#\'\'\'\'\nf = 1',
        {("a",): 1, ("b",): 2, ("c",): 3, ("e",): 7, ("f",): 9},
    ),
    "dates and numbers": (
        "a = 1979-05-27 07:32:00\nb = [1e3, -0x_f]\nc = 1",
        {("a",): 1, ("b",): 2, ("b", 0): 2, ("b", 1): 2, ("c",): 3},
    ),
    "lines that end as on Windows": (
        "a = 1\r\n[t]\r\nb = 2\r\n", {("a",): 1, ("t",): 2, ("t", "b"): 3},
    ),
    "spaces round keys": (" [ t . u ]\n\ta . b = 1", {
        ("t",): 1, ("t", "u"): 1, ("t", "u", "a"): 2, ("t", "u", "a", "b"): 2,
    }),
    "nothing": ("", {}),
}  # fmt: skip


@pytest.mark.parametrize(("text", "lines"), CASES.values(), ids=CASES.keys())
def test_lines(text, lines):
    """Every key, table and item has the line on which it begins."""
    if "-0x" not in text:
        tomllib.loads(text)
    assert key_lines(text) == lines


def paths_of(value, path=()):
    """The paths of all that a parsed text holds."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, item in inner:
        yield (*path, key)
        if isinstance(item, dict | list):
            yield from paths_of(item, (*path, key))


@pytest.mark.parametrize("entry", OURS, ids=lambda entry: entry.name)
def test_our_files_are_followed(entry):
    """Of every file of ours each key that tomllib finds has a line, on which it stands."""
    text = entry.read_text(encoding="utf-8")
    lines = key_lines(text)
    assert set(lines) == set(paths_of(tomllib.loads(text)))
    rows = text.split("\n")
    for path, line in lines.items():
        if isinstance(path[-1], str):
            assert path[-1] in rows[line - 1]


# -- texts made up: each number in them is that of its line -------------------------------

KEYS = st.sampled_from(["a", "b-2", "3", '"page up"', "'x.y'", '"[[t]]"', '"#"'])
FILLINGS = st.sampled_from(["", " ", "  # = [ { \" ' \n", "\n", "\n\n", "\t", "\r\n"])


@st.composite
def values(draw, depth=0):
    """A value in pieces: text, and `None` where the number of the line belongs."""
    kind = draw(st.sampled_from(["number", "list", "table"] if depth < 3 else ["number"]))
    if kind == "list":
        parts = ["["]
        for _ in range(draw(st.integers(0, 3))):
            parts += [draw(FILLINGS), *draw(values(depth=depth + 1)), draw(FILLINGS), ","]
        return [*parts, draw(FILLINGS), "]"]
    if kind == "table":
        keys = draw(st.lists(KEYS, max_size=3, unique_by=lambda key: key.strip("\"'")))
        pairs = [[f" {key} = ", *draw(flat_values())] for key in keys]
        inner = [part for pair in pairs for part in (*pair, ",")][:-1]
        return ["{", *inner, " }"]
    return [None]


@st.composite
def flat_values(draw):
    """A value that stands in one line."""
    if draw(st.booleans()):
        return [None]
    return ["[", *[part for _ in range(draw(st.integers(0, 2))) for part in (None, ", ")], "]"]


@st.composite
def documents(draw):
    """A text of tables and keys; each name stands once."""
    parts, number = [], 0
    for _ in range(draw(st.integers(0, 6))):
        number += 1
        head = draw(st.sampled_from(["", f"[t{number}]", "[[list]]", "[[list.inner]]", "[list.x]"]))
        inner = head.startswith(("[[list.", "[list.")) and "[[list]]\n" not in parts
        again = head == "[list.x]" and "[list.x]\n" in parts
        parts.append("" if inner or again else f"{head}\n")
        for _ in range(draw(st.integers(0, 3))):
            number += 1
            key = draw(st.sampled_from([f"k{number}", f"d{number}.e . f", f'"q {number}"']))
            parts += [f"{key} = ", *draw(values()), draw(st.sampled_from(["\n", " # 9 ]\n"]))]
    return filled(parts)


def filled(parts):
    """The text, each number that of its line."""
    text = ""
    for part in parts:
        text += str(text.count("\n") + 1) if part is None else part
    return text


@pytest.mark.slow
@given(documents())
def test_every_number_stands_on_its_line(text):
    """In any text, keys and items are those that tomllib finds, and each is on its line."""
    data, lines = tomllib.loads(text), key_lines(text)
    assert set(lines) == set(paths_of(data))
    for path, line in lines.items():
        value = data
        for key in path:
            value = value[key]
        if isinstance(value, int):
            assert value == line


@pytest.mark.slow
@given(st.text(alphabet="ab=[]{}\",.#\n' \\1", max_size=40))
def test_no_text_breaks_it(text):
    """Any text at all has lines or none; one that is TOML has them for all its keys."""
    lines = key_lines(text)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert set(lines) == set(paths_of(data))
