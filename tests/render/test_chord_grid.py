"""The chord grid: which bars make a row, and what stands in each box."""

from pathlib import Path

import pytest

from backing.files import read_tune
from backing.music.tune import Jump
from backing.parse.abc import parse_abc
from backing.render.chord_grid import GridCell, chord_grid

EXAMPLES = Path(__file__).parents[2] / "examples"


def cells_of(body: str, metre: str = "4/4") -> list[GridCell]:
    """The boxes of a tune in G with this body, in order."""
    tune = parse_abc(f"X:1\nT:Grid\nM:{metre}\nL:1/8\nK:G\n{body}\n")
    return [cell for part in chord_grid(tune) for row in part.rows for cell in row.cells]


def numbers(body: str, metre: str = "4/4") -> list[tuple[int, list[int]]]:
    """The column of each row and the numbers of its bars."""
    tune = parse_abc(f"X:1\nT:Grid\nM:{metre}\nL:1/8\nK:G\n{body}\n")
    return [
        (row.column, [cell.number for cell in row.cells])
        for part in chord_grid(tune)
        for row in part.rows
    ]


def test_rows_are_phrases_and_endings_stand_under_each_other():
    """A row is a phrase of four bars, and a second-time bar stands under the first-time one."""
    tune = read_tune(EXAMPLES / "the-lamplighters-round.abc").tune
    found = {
        part.name: [(row.column, [cell.number for cell in row.cells]) for row in part.rows]
        for part in chord_grid(tune)
    }
    assert found == {
        "A": [(0, [1, 2, 3, 4]), (0, [5, 6, 7, 8]), (2, [9, 10])],
        "B": [(0, [11, 12, 13, 14]), (0, [15, 16, 17, 18]), (2, [19, 20])],
    }


def test_a_bar_left_over_stays_with_its_phrase():
    """Nine bars are rows of four and five: the bar left over belongs to the last phrase."""
    assert numbers("G8|" * 9) == [(0, [1, 2, 3, 4]), (0, [5, 6, 7, 8, 9])]


def test_a_strain_begins_a_row():
    """A strain begins a new row, also inside a part that a label names."""
    assert numbers("P:A\n|:G8|A8:|\n|:B8|c8|d8:|") == [(0, [1, 2]), (0, [3, 4, 5])]


def test_three_endings():
    """Each later ending has a row of its own under the first."""
    assert numbers("|:G8|A8|1 B8:|2 c8:|3 d8|]") == [(0, [1, 2, 3]), (2, [4]), (2, [5])]


@pytest.mark.parametrize(
    ("bar", "metre", "words"),
    [
        ('"G"G8', "4/4", ["G"]),
        ('"G"G4"D7"A4', "4/4", ["G", "D7"]),
        ('"G"G6"D7"A2', "4/4", ["G", ".", ".", "D7"]),
        ('"G"G2"C"c2"D7"A4', "4/4", ["G", "C", "D7", "."]),
        ('"G"G4"D"A2', "3/4", ["G", ".", "D"]),
        ('"G"G3"D"A3', "6/8", ["G", "D"]),
        ('"G"G5"D"A', "6/8", ["G", ".", ".", ".", ".", "D"]),
        ('"G"G3"D"A4', "7/8", ["G", "D", "."]),
        ('G4"D"A4', "4/4", [".", "D"]),
        ('"N.C."G8', "4/4", ["N.C."]),
        ("G8", "4/4", []),
        ('"G"G4"G"A4', "4/4", ["G"]),
        ('"G"(3GAB (3cd"D"e', "2/4", ["G", ".", ".", ".", ".", "D"]),
    ],
)
def test_what_stands_in_a_box(bar, metre, words):
    """Chords that share the bar evenly stand alone; else each part of the bar, or felt beat
    where they are uneven, has its chord or a dot."""
    assert list(cells_of(f"{bar}|", metre)[0].words) == words


def test_the_same_as_the_bar_before():
    """A bar with the chords of the one before it in its row is "%", whether it names them
    or not; not where a chord only goes on from the second half (common practice, no source)."""
    body = '"G"G8|"G"A8|"G"B4"D"A4|G8|"D"A8|A8|'
    assert [cell.words for cell in cells_of(body)] == [
        ("G",), ("%",), ("G", "D"), ("D",), ("D",), ("%",)
    ]  # fmt: skip


def test_a_second_ending_goes_on_from_what_is_played_before_it():
    """A chord that goes on into a second-time bar is that of the bar played before it, not
    that of the first-time bar written before it."""
    cells = cells_of('|:"G"G8|1 "D"A8:|2 B8|]')
    assert [cell.words for cell in cells] == [("G",), ("D",), ("G",)]


def test_signs_of_a_box():
    """Repeats, endings, jumps and a new metre stand at their bars; those of a pickup, which
    has no box, at the bar that it leads into."""
    first, second, third, last = cells_of(
        '|:d2|"G"G8|1 "D"A6:|2 "D"A8|][M:3/4]"G"G6!D.C.!|]', "4/4"
    )
    assert (first.number, first.opens_repeat, first.pickup) == (1, 2, False)
    assert (str(second.ending), second.plays, str(third.ending)) == ("1", 2, "2")
    assert (str(last.metre), last.jumps, first.metre) == ("3/4", (Jump.DA_CAPO,), None)


def test_a_pickup_with_a_chord_has_a_box():
    """A pickup in which a chord is named has a box of its own, numbered 0, beside the four
    of its row."""
    assert numbers('"D7"d2|"G"G8|A8|B8|G8|') == [(0, [0, 1, 2, 3, 4])]
    assert cells_of('"D7"d2|"G"G8|')[0].pickup


def test_every_chord_of_the_examples_stands_in_a_box():
    """Every full bar of the examples has one box, and every chord symbol is in its bar's."""
    for path in EXAMPLES.glob("*.abc"):
        if "book" in path.name:
            continue
        tune = read_tune(path).tune
        cells = {
            cell.number: cell
            for part in chord_grid(tune)
            for row in part.rows
            for cell in row.cells
        }
        full = [bar for bar in tune.bars if not bar.pickup]
        assert sorted(cells) == [bar.number for bar in full]
        for bar in full:
            found = [one.chord for one in cells[bar.number].chords]
            wanted = [symbol.chord for symbol in bar.chords]
            assert found[-len(wanted) or len(found) :] == wanted
