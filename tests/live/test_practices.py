"""A practice of several tunes and ways to practise, played live: it is what its file has."""

from fractions import Fraction
from itertools import groupby, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.arranging.arrangement import Role
from backing.arranging.faces import faces_of
from backing.practice.devices import rungs, with_times
from backing.practice.passages import Bars, Join, OneSection, Whole
from backing.practice.plan import Ears, Grow, Plan, Step
from backing.practice.practice import change_between, in_a_set
from backing.practice.rounds import Piece

pytestmark = pytest.mark.slow

WALTZ = (
    'X:2\nT:Other\nM:3/4\nL:1/8\nQ:1/4=150\nK:Em\n|:EF|"Em"G2B2e2|"D"d2A2F2|"Em"G2E2:|\n'
    '|:"C"c2e2g2|"B7"f2d2B2|"Em"e6:|\n'
)
LADDER = rungs(Fraction(1), Fraction(5, 4), Fraction(1, 4), beyond=Fraction(1, 4))


@pytest.fixture(scope="module")
def tunes(stage):
    """Two tunes and their arrangements: (arrangement, tune) of the first, the second as a piece."""
    first, (arrangement, tune) = stage.arranged(), stage.arranged(WALTZ)
    return first, Piece(faces_of(arrangement), tune)


STEPS = [
    Step(Bars(2, 3), ladder=LADDER, count_in=1),
    Step(OneSection("A"), echo=True, gap=1),
    Step(Bars(2, 2), grow=Grow.BAR, every=2, tempo=Fraction(3, 2)),
    Step(OneSection("B"), grow=Grow.BACKWARDS, tempo=Fraction(3, 2), count_in=0),
    Step(Join("A", "B"), times=2, less_help=False),
    Step(Join("B", "B", 1), times=3, count_in=0),
    Step(Bars(1, 1), less_help=True, hands=True),
    Step(Bars(2, 3), edges=True, times=3),
    Step(Bars(2, 3), edges=True, ladder=LADDER, echo=True, gap=1, ears=Ears.LEFT),
    Step(Whole(), tempo=Fraction(2), muted=frozenset({Role.MELODY})),
]


def compared(stage, tunes, plan):
    """What is sent live of a plan is what its file has, note by note and moment by moment; a rest
    takes the time that it is said to take, and is none of the file."""
    first, other = tunes
    both = (first[1], other.tune)
    plan = with_times(plan, both)
    played = stage.Stage(first, plan, others=(other,)).play()
    heard = Plan(tuple(step for step in plan.steps if not step.rest))
    expected = stage.in_order(stage.written(first, heard, (other,))[0])
    found = stage.in_order(
        [(due, *message) for due, message in played.messages() if message[0] < stage.CONTROL]
    )
    assert [each[1:] for each in found] == [each[1:] for each in expected]
    late = [round(one[0] - own[0], 6) for one, own in zip(found, expected, strict=True)]
    rests = sum(1 for step in plan.steps if step.rest)
    assert not stage.still_sounding(played.messages())
    jumps = [late for late, _ in groupby(late)]
    assert len(jumps) == 1 + rests, jumps
    return [after - before for before, after in pairwise(jumps)]


@pytest.mark.parametrize("step", STEPS, ids=range(len(STEPS)))
@pytest.mark.parametrize("piece", [0, 1])
def test_each_way_is_played_as_it_is_written(stage, tunes, step, piece):
    """Each way to practise, of either tune, is sent as its file has it."""
    compared(stage, tunes, Plan((step._replace(piece=piece),)))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(STEPS), st.integers(0, 1)), min_size=2, max_size=4))
def test_a_practice_is_played_as_it_is_written(stage, tunes, some):
    """Steps of two tunes one after the other are sent as their file has them."""
    compared(stage, tunes, Plan(tuple(step._replace(piece=piece) for step, piece in some)))


def test_a_set_is_played_as_it_is_written(stage, tunes):
    """A set goes on at once, in the metre and tempo of the second tune, and back again."""
    steps = in_a_set([Step(times=2), Step(piece=1, times=2), Step()])
    compared(stage, tunes, Plan(tuple(steps)))


def test_changes_are_played_as_they_are_written(stage, tunes):
    """The changes of a set, on a ladder, each counted in."""
    both = tunes[0][1], tunes[1].tune
    steps = change_between(Step(), Step(piece=1, ladder=LADDER, tempo=LADDER[0]), both)
    assert len(steps) == 8
    compared(stage, tunes, Plan(tuple(steps)))


def test_a_rest_is_silent_and_as_long_as_it_says(stage, tunes):
    """In a rest nothing sounds, to the next whole bar of the tune before it; then it is counted
    in."""
    steps = (Step(Bars(1, 1)), Step(rest=60), Step(Bars(2, 2), piece=1), Step(rest=30), STEPS[0])
    one, other = compared(stage, tunes, Plan(steps))
    assert one == pytest.approx(60, abs=2)
    assert other == pytest.approx(30, abs=2)
