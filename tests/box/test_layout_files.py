"""A box of a player's own: its file, and all its faults at once."""

from contextlib import suppress
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.box.layout_file import parse_layout
from backing.errors import BoxError, FileError
from backing.files import box_text, load_box
from backing.music.pitch import parse_pitch

FIRST, SECOND, THIRD = (
    f"line 4, {which} button of the outer row" for which in ("first", "second", "third")
)
PUSH = "line 6, first pair of the left hand, push"
CHORD = "expected a chord like D, Em or B5"
NOTES = 'expected push and pull like "A3 C#4", got'
TABLE = "expected a table like [variant.low-notes], got 3"
GOOD = """
name = "Mine"
title = "A small box"
outer = ["A3 C#4", "D4 E4", "F#4 G4"]
inner = ["D4 F#4", "G4 A4"]
left = [{ pair = "outer", push = "D", pull = "A" }]
"""


def faults(text: str) -> list[str]:
    with pytest.raises(BoxError) as caught:
        parse_layout(text, "mine.toml")
    return list(caught.value.faults) or [caught.value.message]


def test_an_own_box(tmp_path):
    """A box is read from a player's file, with its variants."""
    path = tmp_path / "mine.toml"
    path.write_text(GOOD + '[variant.dry]\nuse = "No thirds."\nthirds = false\n', encoding="utf-8")
    box = load_box(str(path))
    assert (box.name, box.title) == ("Mine", "A small box")
    assert [len(row) for row in box.rows] == [3, 2]
    assert (box.lowest_bass, box.lowest_chord) == (40, 55)
    assert not load_box(f"{path}:dry").thirds


def test_registers_and_spelling_of_an_own_box():
    """A file may say where the octaves of the left hand begin; notes are named as it does."""
    text = GOOD.replace("C#4", "Db4") + 'lowest-bass = "C2"\nlowest-chord = "F3"\n'
    box = parse_layout(text, "mine.toml")
    assert (box.lowest_bass, box.lowest_chord) == (36, parse_pitch("F3").midi)
    assert (box.named(61), box.named(63)) == ("Db4", "Eb4")


def test_variants_of_an_own_box():
    """A variant changes buttons, adds pairs, leaves buttons out, and moves all by an octave
    last, in whatever order the variants are named."""
    box = parse_layout(
        GOOD
        + '[variant.a]\nuse = "A."\nouter = { 1 = "B3 C4" }\nleft = { "more" = "G Em" }\n'
        + '[variant.b]\nuse = "B."\noctave = 1\nwithout = ["inner 2"]\n',
        "mine.toml",
    )
    one, other = box.with_variants(["a", "b"]), box.with_variants(["b", "a"])
    assert one.rows == other.rows
    assert [button[2:4] for button in one.rows[0]] == [(71, 72), (74, 76), (78, 79)]
    assert len(one.rows[1]) == 1
    assert [str(chord) for chord in one.chords(one.presses(71)[0].direction)] == ["D", "G"]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (('outer = ["A3 C#4", ', 'outer = ["A3", '),
         f"""{FIRST}: {NOTES} 'A3'; a direction is missing"""),
        (('"D4 E4", ', '"A3 C#4", '), f"{SECOND}: the same as button 1; is one given twice?"),
        (('inner = ["D4 F#4", "G4 A4"]', "inner = []"),
         'line 5, inner: expected buttons like ["A3 C#4", "D4 E4"], from the chin'),
        (('outer = ["A3 C#4", "D4 E4", "F#4 G4"]',
          'outer = ["A3 C#4", "D4 E4", "F#4 G4", "A4 B4", "D5 C#5"]'),
         "line 5, inner: 2 buttons beside 5 in the outer row; rows differ by one, seldom by two"),
        (('"D4 E4"', "3"), f'{SECOND}: {NOTES} 3'),
        (('"D4 E4"', '"H4 E4"'), f"{SECOND}: 'H4' is not a pitch like F#4"),
        (('"D4 E4"', '"D4 E44"'), f"{SECOND}: 'E44' is out of range"),
        (('"D4 E4"', f'"D{"4" * 4000} E4"'),
         f"line 4, second button of the outer row: 'D{'4' * 35}... is out of range"),
        (('push = "D"', 'push = "Dx"'),
         f"{PUSH}: {CHORD}, got 'Dx'"),
        (('push = "D"', 'push = "D/A"'),
         f"{PUSH}: {CHORD}, got 'D/A'"),
        (('push = "D"', 'push = "N.C."'),
         f"{PUSH}: {CHORD}, got 'N.C.'"),
        (('push = "D", ', ""),
         f"{PUSH}: {CHORD}; a direction is missing"),
        (('pair = "outer", ', ""), "line 6, first pair of the left hand, pair: missing"),
        (('pull = "A" }', 'pull = "A" }, { pair = "outer", push = "G", pull = "D" }'),
         "line 6, second pair of the left hand, pair: 'outer' is given twice"),
        (("left =", "# left ="),
         'left: missing; expected pairs like { pair = "outer upper", push = "D", pull = "A" }'),
        (("title", "titel"), "line 3, titel: unknown key; did you mean title?"),
        (('name = "Mine"', "name = 3"), 'line 2, name: expected a text in "quotes", got 3'),
        (("outer =", "outr ="), "outer: missing; it lists what each button sounds, from the chin"),
        (("title", "thirds = 3\ntitle"), "line 3, thirds: expected true or false, got 3"),
        (("title", "lowest-bass = 40\ntitle"),
         'line 3, lowest-bass: expected a note like "E2", got 40'),
        (("title", 'lowest-chord = "low"\ntitle'),
         "line 3, lowest-chord: 'low' is not a pitch like F#4"),
        (("title", "variant = 3\ntitle"),
         "line 3, variant: expected tables like [variant.low-notes], got 3"),
        (("title", "variant.x = 3\ntitle"), f"line 3, variant x: {TABLE}"),
    ],
)  # fmt: skip
def test_faults(change, fault):
    """Each fault is named with its path and what is expected."""
    assert fault in faults(GOOD.replace(*change))


@pytest.mark.parametrize(
    ("variant", "fault"),
    [
        ('outer = { 9 = "A3 C4" }', "line 9, variant x, outer, 9: the outer row has no button '9'"),
        (
            'outer = { "²" = "A3 C4" }',
            "line 9, variant x, outer, '²': the outer row has no button '²'",
        ),
        ('outer = { 1 = "A3" }', "line 9, variant x, outer, 1: expected push and pull like"),
        ("inner = 3", 'line 9, variant x, inner: expected buttons like { 1 = "A3 C#4" }, got 3'),
        (
            'left = { "outer" = "Bm" }',
            "line 9, variant x, left, outer: expected push and pull like",
        ),
        (
            'left = ["Bm Em"]',
            'line 9, variant x, left: expected pairs like { "outer" = "D A" }, got [\'Bm Em\']',
        ),
        ('without = ["upper 3"]', "line 9, variant x, first of without: expected buttons like"),
        ('without = ["outer 9"]', "line 9, variant x, first of without: expected buttons like"),
        (
            'without = ["inner 1", "inner 2"]',
            "line 9, variant x, without: nothing is left of the inner row",
        ),
        ("octave = 5", "line 9, variant x, octave: expected -1 or 1, got 5"),
        ("octave = 1.0", "line 9, variant x, octave: expected -1 or 1, got 1.0"),
        ("octave = true", "line 9, variant x, octave: expected -1 or 1, got true"),
        ("thords = false", "line 9, variant x, thords: unknown key; did you mean thirds?"),
    ],
)
def test_faults_of_variants(variant, fault):
    """A variant's faults are named too."""
    found = faults(GOOD + f'[variant.x]\nuse = "So."\n{variant}\n')
    assert any(fault in each for each in found)


def test_all_faults_at_once():
    """Every fault of a file is listed, none hides another nor makes one up."""
    text = (
        GOOD.replace("title", "titel")
        .replace('"D4 E4"', '"H4 E4"')
        .replace('"F#4 G4"', '"F#4"')
        .replace('"A" }', '"Ax" }')
    )
    assert faults(text) == [
        "line 3, titel: unknown key; did you mean title?",
        f"{SECOND}: 'H4' is not a pitch like F#4",
        f"""{THIRD}: {NOTES} 'F#4'; a direction is missing""",
        f"line 6, first pair of the left hand, pull: {CHORD}, got 'Ax'",
        "title: missing",
    ]


@pytest.mark.parametrize(
    "text",
    [
        "", "a = ", "outer = 3", "left = 3\nouter = [3]", "x" * 10_000, "a = nan\nb = 1e999",
        "outer = " + "[" * 2000, "a = " + "9" * 5000, "[variant]\n[variant.x.outer]\n1 = 2",
        "outer = [[[]]]", 'outer = [{a = 1}]', "[[variant]]", "[[left]]\n[[left]]",
    ],
)  # fmt: skip
def test_anything_else_is_refused(text):
    """No text raises anything but a BoxError."""
    assert faults(text)


@pytest.mark.slow
@given(st.data())
def test_a_damaged_file_is_refused_or_read(data):
    """One of our files with a piece torn out or put elsewhere is a box or a list of faults."""
    text = box_text("D/G")
    start = data.draw(st.integers(0, len(text)))
    stop = data.draw(st.integers(start, min(len(text), start + 40)))
    put = data.draw(st.integers(0, len(text)))
    rest = text[:start] + text[stop:]
    with suppress(BoxError):
        box = parse_layout(rest[:put] + text[start:stop] + rest[put:], "torn.toml")
        assert all(0 <= midi <= 127 for button in box.buttons for midi in button[2:4])


@pytest.mark.parametrize(
    ("name", "error"), [("nowhere.toml", FileError), ("nowhere.toml:dry", FileError)]
)
def test_a_file_that_is_not_there(tmp_path, name, error):
    """A path to no file is a fault of the file, not of the box."""
    with pytest.raises(error):
        load_box(str(tmp_path / name))


def test_a_file_that_is_not_text(tmp_path):
    """A file that is not UTF-8 is refused."""
    path = tmp_path / "mine.toml"
    path.write_bytes(b"name = '\xff\xfe'")
    with pytest.raises(BoxError, match="not UTF-8"):
        load_box(str(path))


@pytest.mark.slow
def test_our_files_have_no_faults():
    """Every file of ours is read, and each of its variants too."""
    folder = files("backing.box").joinpath("layouts")
    texts = [entry for entry in folder.iterdir() if entry.name.endswith(".toml")]
    assert len(texts) == 12
    for entry in texts:
        box = parse_layout(entry.read_text(encoding="utf-8"), entry.name)
        for variant in box.variants:
            assert box.with_variants([variant.name]).name == f"{box.name}:{variant.name}"
