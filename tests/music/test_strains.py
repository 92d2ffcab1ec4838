"""Split bars, second endings and pickups: numbers, sections, and what is odd about them."""

from fractions import Fraction

import pytest

from backing.parse.abc import parse_abc


def tune(music, metre="4/4"):
    """A tune in C of this music."""
    return parse_abc(f"X:1\nM:{metre}\nL:1/8\nK:C\n{music}\n")


@pytest.mark.parametrize(
    ("music", "numbers"),
    [
        ("C8|D8|E8|F8|]", [1, 2, 3, 4]),
        ("G2|C8|D6:|", [0, 1, 2]),
        ("G2|C8|D6:|E2|F8|G6:|", [0, 1, 2, 2, 3, 4]),  # halves of bar 2 round a repeat
        ("C8|D4:|:E4|F8|G4:|", [1, 2, 2, 3, 4]),
        ("C8|D4||E4|F8|]", [1, 2, 2, 3]),  # and round a double bar
        ("G2|C8|[1D6:|[2E6||F2|G8|A6|]", [0, 1, 2, 3, 3, 4, 5]),
        ("|:C8|[1D8:|[2E8|]", [1, 2, 3]),  # endings go on counting
        ("|:C8|[1D8:|[2E8:|[3F8|]", [1, 2, 3, 4]),
        ("C8|\nP:B\nD8|", [1, 2]),
        ("G2|C8|D8|]", [0, 1, 2]),
        ("C8", [1]),
        ("C10|D8|]", [1, 2]),
    ],
)
def test_numbers(music, numbers):
    """Full bars count from 1, a pickup is 0, two halves share a number (common practice, no
    source)."""
    assert [bar.number for bar in tune(music).bars] == numbers


@pytest.mark.parametrize(
    ("music", "pickups"),
    [
        ("G2|C8|D6:|", [True, False, False]),
        ("C8|D8|]", [False, False]),
        ("G2|C8|D6:|E2|F8|G6:|", [True, False, False, True, False, False]),
        ("G2|C8|[1D6:|[2E6|]", [True, False, False, False]),
        ("C8|D6|]", [False, False]),  # a short last bar leads nowhere
        ("C10|D8|]", [False, False]),
        ("G2", [False]),
    ],
)
def test_pickups(music, pickups):
    """A short bar that leads into a strain is a pickup; a first bar alone is not."""
    assert [bar.pickup for bar in tune(music).bars] == pickups


@pytest.mark.parametrize(
    ("music", "metre", "begins"),
    [("G2|C8|D6:|", "4/4", "3/4"), ("d|A6|B5:|", "6/8", "5/8"), ("ef|A6|B4:|", "6/8", "1/2")],
)
def test_a_pickup_begins_late_in_its_bar(music, metre, begins):
    """A pickup stands at the end of its bar, everything else at the beginning."""
    first, *others = tune(music, metre).bars
    assert first.begins == Fraction(begins)
    assert {bar.begins for bar in others} == {0}


@pytest.mark.parametrize(
    ("music", "names"),
    [
        ("|:C8|D8:|:E8|F8:|", "A A B B"), ("C8|D8:|E8|F8:|", "A A B B"),
        ("C8|D8||E8|F8|]", "A A B B"), ("C8|D8|]E8|F8|]", "A A B B"),
        ("C8|D8[|E8|F8|]", "A A B B"), ("|:C8|[1D8:|[2E8|]F8|G8|]", "A A A B B"),
        ("C8:|:D8:|:E8:|", "A B C"), ("C8|D8|E8|]", "A A A"),
        ("P:A\nC8|\nP:B\nD8|", "A B"), ("P:A\nC8||D8|\nP:B\nE8|", "A A B"),
        ("P:B\nC8|\nP:A\nD8|", "B A"), ("[P:A]C8|[P:B]D8|", "A B"),
        ("C8|\nP:Trio\nD8|", "A Trio"), ("C8|\nP:A\nD8|", "B A"),
        ("P:A\nC8|\nP:A\nD8|", "A A2"), ("G2|C8|D6:|F2|E8|C6:|", "A A A B B B"),
        ("|:C8|[1D8:|[2E8:|:F8:|", "A A A B"),
    ],
)  # fmt: skip
def test_sections(music, names):
    """Sections come from labels (ABC 2.1 clause 3.1.9), else from repeats and double bars."""
    assert " ".join(bar.section for bar in tune(music).bars) == names


def test_sections_are_half_open():
    """Sections follow each other and together are the tune."""
    found = tune("G2|C8|D6:|E2|F8|G6:|A8|]").sections
    assert [(section.name, section.start, section.stop) for section in found] == [
        ("A", 0, 3), ("B", 3, 6), ("C", 6, 7),
    ]  # fmt: skip


def test_more_sections_than_letters():
    """After Z the names go on with AA."""
    found = [section.name for section in tune("C8||" * 28).sections]
    assert found[25:] == ["Z", "AA", "AB"]


@pytest.mark.parametrize(
    ("music", "metre"),
    [
        ("G2|C8|D6:|", "4/4"), ("G2|C8|D6|]", "4/4"), ("G2|C8|D8|]", "4/4"),
        ("G2|C8|[1D6:|[2E6|]", "4/4"), ("G2|C8|[1D6:|[2E6||F2|G8|A6|]", "4/4"),
        ("G2|C8|[1D6:|[2E8|]", "4/4"), ("C8|D4:|:E4|F8|G4:|", "4/4"), ("C8|D4||E4|F8|]", "4/4"),
        ("d|A6|B5:|ef|A6|B4:|", "6/8"), ("d|:A6|B5:|", "6/8"), ("A6|B5:|d|A6|B6|]", "6/8"),
        ("A6|[M:9/8]B9|[M:6/8]c6|]", "6/8"), ("A6|\nM:9/8\nB9|]", "6/8"),
        ("C3|D8|E|", "none"), ("d|A6|B6|\nP:B\nA6|B5|]", "6/8"), ("C8|D8", "4/4"),
        ("d|A6|B5|", "6/8"), ("d|A6|B5", "6/8"), ("d|A6|B5||", "6/8"),
    ],
)  # fmt: skip
def test_nothing_is_odd(music, metre):
    """Pickups, their other halves and changes of metre are no bars of the wrong length."""
    assert tune(music, metre).notices == ()


@pytest.mark.parametrize(
    ("music", "metre", "said"),
    [
        ("C8|D7|E8|]", "4/4", "bar 2 lasts 7/8, the metre is 4/4"),
        ("C8|D9|E8|]", "4/4", "bar 2 lasts 9/8, the metre is 4/4"),
        ("C8|D4|E8|]", "4/4", "bar 2 lasts 2/4, the metre is 4/4"),
        ("C8|D8|E6|]", "4/4", "bar 3 lasts 3/4, the metre is 4/4"),
        ("C10|D8|]", "4/4", "bar 1 lasts 5/4, the metre is 4/4"),
        ("G2|C8|D8|E4|F8|G6:|", "4/4", "bar 3 lasts 2/4, the metre is 4/4"),
        ("d|A6|B4:|", "6/8", "bar 2 lasts 4/8, the metre is 6/8"),
        ("d|A6|[1B5:|[2B4|]", "6/8", "bar 3 lasts 4/8, the metre is 6/8"),
        ("A6|[M:9/8]B8|[M:6/8]c6|]", "6/8", "bar 2 lasts 8/8, the metre is 9/8"),
        ("(3abc d2 e4|A6|A8|]", "4/4", "bar 2 lasts 3/4, the metre is 4/4"),
        ("C8|(3:2:2de c2 c4|A8|]", "4/4", "bar 2 lasts 11/12, the metre is 4/4"),
    ],
)
def test_what_is_odd(music, metre, said):
    """Any other bar of the wrong length is said once, and played as written."""
    found = tune(music, metre)
    assert [notice.message for notice in found.notices] == [said]
    assert "played as written" in found.notices[0].hint
