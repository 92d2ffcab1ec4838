"""A box of a player's own: its file, and all its faults at once."""

import pytest

from backing.box.layout_file import parse_layout
from backing.errors import BoxError
from backing.files import load_box

GOOD = """
name = "Mine"
title = "A small box"
family = "rows a fourth apart"
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
    assert box.name == "Mine"
    assert [len(row) for row in box.rows] == [3, 2]
    assert not load_box(f"{path}:dry").thirds


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (('outer = ["A3 C#4", ', 'outer = ["A3", '),
         """outer[0]: expected push and pull like "A3 C#4", got 'A3'; a direction is missing"""),
        (('"D4 E4", ', '"A3 C#4", '), "outer[1]: the same as button 1; is one given twice?"),
        (('inner = ["D4 F#4", "G4 A4"]', "inner = []"),
         'inner: expected buttons like ["A3 C#4", "D4 E4"], from the chin'),
        (('outer = ["A3 C#4", "D4 E4", "F#4 G4"]',
          'outer = ["A3 C#4", "D4 E4", "F#4 G4", "A4 B4", "D5 C#5"]'),
         "inner: 2 buttons beside 5 in the outer row; rows differ by one, seldom by two"),
        (('"D4 E4"', '"H4 E4"'), "outer[1]: 'H4' is not a pitch like F#4"),
        (('"D4 E4"', '"D4 E44"'), "outer[1]: E44 is out of range"),
        (('push = "D"', 'push = "Dx"'), "left[0].push: 'Dx' is not a chord"),
        (('push = "D", ', ""), "left[0].push: missing"),
        (("title", "titel"), "titel: unknown key; did you mean title?"),
        (('name = "Mine"', "name = 3"), "name: expected a text"),
        (("outer =", "outr ="), "outer: missing; it lists what each button sounds, from the chin"),
        (("family", 'thirds = 3\nfamily'), "thirds: expected true or false"),
    ],
)  # fmt: skip
def test_faults(change, fault):
    """Each fault is named with its path and what is expected."""
    assert fault in faults(GOOD.replace(*change))


@pytest.mark.parametrize(
    ("variant", "fault"),
    [
        ('outer = { 9 = "A3 C4" }', "variant.x.outer.9: the outer row has no button 9"),
        ('left = { "outer" = "Bm" }', "variant.x.left.outer: expected push and pull like"),
        ('without = ["upper 3"]', "variant.x.without: expected buttons like"),
        ("octave = 5", "variant.x.octave: expected -1 or 1, got 5"),
        ("thords = false", "variant.x.thords: unknown key; did you mean thirds?"),
    ],
)
def test_faults_of_variants(variant, fault):
    """A variant's faults are named too."""
    found = faults(GOOD + f'[variant.x]\nuse = "So."\n{variant}\n')
    assert any(fault in each for each in found)


def test_all_faults_at_once():
    """Every fault of a file is listed, none hides another."""
    text = GOOD.replace("title", "titel").replace('"D4 E4"', '"H4 E4"').replace('"A" }', '"Ax" }')
    assert len(faults(text)) == 4


@pytest.mark.parametrize("text", ["", "a = ", "outer = 3", "left = 3\nouter = [3]", "x" * 10_000])
def test_anything_else_is_refused(text):
    """No text raises anything but a BoxError."""
    assert faults(text)
