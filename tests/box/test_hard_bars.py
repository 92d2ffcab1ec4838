"""Which bars are the hard ones."""

from pathlib import Path

import pytest

from backing.box.fingering import Fingering, finger
from backing.box.hard_bars import hard_bars
from backing.box.line import line_of
from backing.files import load_box, read_tune
from backing.music.tune import Tune
from backing.parse.abc import parse_abc

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.abc"))


def tune_of_body(body: str) -> Tune:
    """A tune in D and four-four with this body."""
    return parse_abc(f"X:1\nT:Hard\nM:4/4\nL:1/8\nK:D\n{body}\n")


def fingered(tune: Tune) -> Fingering:
    """Its usual fingering on a D/G box."""
    return finger(line_of(tune), load_box("D/G"))


def cost_of(fingering: Fingering, index: int) -> float:
    """What the movements of a written bar cost, as it is played the first time."""
    first = next(n for n, bar in enumerate(fingering.line.bars) if bar.index == index)
    return sum(
        price
        for note, price in zip(fingering.notes, fingering.prices, strict=True)
        if note.moment.bar == first
    )


def test_a_tune_whose_bars_are_alike_has_no_hard_bar():
    """Where all bars cost the same none is hard."""
    assert hard_bars(fingered(tune_of_body("d2e2 d2e2|" * 8))) == frozenset()


def test_the_one_bar_of_leaps_is_hard():
    """Among held notes the bar of quick leaps and turns is hard; those that the hand stays for are
    not."""
    marked = hard_bars(fingered(tune_of_body("d8|d8|dafe c'dge'|d8|d8|d8|")))
    assert 2 in marked
    assert not marked & {0, 1, 4, 5}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_hard_bars_of_the_examples(path):
    """In the examples at most three bars are marked; each costs more than 1.4 times the usual,
    and no other bar costs more than a marked one."""
    tune = read_tune(path).tune
    fingering = fingered(tune)
    marked = hard_bars(fingering)
    played = {bar.index for bar in fingering.line.bars if not bar.pickup}
    costs = {index: cost_of(fingering, index) for index in played}
    usual = sum(costs.values()) / len(costs)
    assert len(marked) <= 3
    assert all(costs[index] > 1.4 * usual for index in marked)
    rest = [cost for index, cost in costs.items() if index not in marked]
    if len(marked) == 3:
        assert min(costs[index] for index in marked) >= max(rest) - 1e-6
    else:
        assert max(rest) <= 1.4 * usual


def test_a_pickup_is_never_marked():
    """However its notes leap, a pickup is not one of the hard bars."""
    assert 0 not in hard_bars(fingered(tune_of_body("dc'de'|d8|d8|d8|d8|")))
