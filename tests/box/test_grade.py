"""How hard a tune is on a box."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.box.difficulty import Difficulty, Trait
from backing.box.fingering import finger
from backing.box.grade import grade_of, grade_words
from backing.box.hardness import BarHardness, hardness_on
from backing.box.line import line_of
from backing.files import load_box
from backing.parse.abc import parse_abc

DG = load_box("D/G")
ORDER = ["easy", "fairly easy", "middling", "hard", "very hard"]
PARTS = st.lists(
    st.builds(Difficulty, st.sampled_from(Trait), st.floats(0.01, 20), st.just("why")), max_size=4
)
BARS = st.lists(
    st.tuples(PARTS, st.floats(0.2, 8), st.booleans()).map(
        lambda made: BarHardness(0, 1, made[2], made[1], tuple(made[0]))
    ),
    min_size=1,
    max_size=40,
)


@given(BARS, st.data())
def test_a_harder_bar_never_makes_an_easier_tune(bars, data):
    """Where one bar gets harder and all else stays, the points and the grade do not fall."""
    place = data.draw(st.integers(0, len(bars) - 1))
    more = Difficulty(Trait.BELLOWS, data.draw(st.floats(0.01, 20)), "more")
    harder = [*bars]
    harder[place] = replace(bars[place], parts=(*bars[place].parts, more))
    before, after = grade_of(bars), grade_of(harder)
    assert after.points >= before.points - 1e-9
    assert ORDER.index(after.name) >= ORDER.index(before.name) or after.points == pytest.approx(
        before.points
    )


@given(BARS)
def test_a_grade_is_the_sum_of_its_parts(bars):
    """The shares of the kinds of difficulty sum up to the grade's points, the most first."""
    grade = grade_of(bars)
    shares = [points for _, points in grade.shares()]
    assert sum(shares) == pytest.approx(grade.points)
    assert shares == sorted(shares, reverse=True)


def graded(body: str, head: str) -> str:
    """What is said of a tune on a D/G."""
    line = line_of(parse_abc(f"X:1\nT:T\n{head}\nL:1/8\nK:D\n{body}\n"))
    return grade_words(grade_of(hardness_on(finger(line, DG))), line.tempo)


def test_slow_steps_are_easy_and_quick_leaps_are_not():
    """Slow crotchets along the row are easy; leaps in quick quavers off the row are very hard,
    and the sentence says for what and where most."""
    assert graded("D4E4|F4E4|D8|", "M:4/4\nQ:1/4=60").startswith("Easy to play at 1/4 = 60.")
    said = graded("DdEc DgEa|=cE^GB fD^Ge|D8|", "M:4/4\nQ:1/4=220")
    assert said.startswith("Very hard to play at 1/4 = 220. Its difficulty is in ")
    assert "moves of the hand, leaps and changes of row" in said
    assert "most of all in bar 2: " in said
