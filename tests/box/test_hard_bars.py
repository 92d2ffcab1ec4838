"""Which bars are the hard ones."""

from pathlib import Path

import pytest

from backing.box.fingering import finger
from backing.box.hard_bars import hard_bars
from backing.box.hardness import BarHardness, hardness_on
from backing.box.line import line_of
from backing.files import load_box, read_tune
from backing.music.tune import Tune
from backing.parse.abc import parse_abc

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.abc"))


def tune_of_body(body: str) -> Tune:
    """A tune in D and four-four with this body."""
    return parse_abc(f"X:1\nT:Hard\nM:4/4\nL:1/8\nK:D\n{body}\n")


def hardness(tune: Tune) -> tuple[BarHardness, ...]:
    """How hard its bars are on a D/G box, usually fingered."""
    return hardness_on(finger(line_of(tune), load_box("D/G")))


def test_a_tune_whose_bars_are_alike_has_no_hard_bar():
    """Where all bars cost the same none is hard."""
    assert hard_bars(hardness(tune_of_body("d2e2 d2e2|" * 8))) == ()


def test_the_one_bar_of_leaps_is_hard():
    """Among held notes the bar of quick leaps and turns is hard; those that the hand stays for are
    not."""
    marked = hard_bars(hardness(tune_of_body("d8|d8|dafe c'dge'|d8|d8|d8|")))
    assert 2 in marked
    assert not {0, 1, 4, 5} & set(marked)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_hard_bars_of_the_examples(path):
    """In the examples at most three bars are marked; each is more than 1.4 times as hard as
    usual, and no other bar is harder than a marked one."""
    bars = hardness(read_tune(path).tune)
    marked = hard_bars(bars)
    points = {bar.index: bar.points for bar in bars if not bar.pickup}
    usual = sum(points.values()) / len(points)
    assert len(marked) <= 3
    assert list(marked) == sorted(marked, key=lambda index: -points[index])
    assert all(points[index] > 1.4 * usual for index in marked)
    rest = [count for index, count in points.items() if index not in marked]
    if len(marked) == 3:
        assert min(points[index] for index in marked) >= max(rest) - 1e-6
    else:
        assert max(rest) <= 1.4 * usual


def test_a_pickup_is_never_marked():
    """However its notes leap, a pickup is not one of the hard bars."""
    assert 0 not in hard_bars(hardness(tune_of_body("dc'de'|d8|d8|d8|d8|")))
