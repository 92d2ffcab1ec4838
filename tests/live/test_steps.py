"""Steps of a practice while it sounds: on, back, stay, rests, how long each still takes."""

from fractions import Fraction
from itertools import pairwise

import pytest

from backing.live.actions import Action
from backing.live.shown import State
from backing.practice.passages import Bars, OneSection
from backing.practice.plan import Plan, Step
from backing.practice.stretch import Kind
from tests.live.stage import Stage

#: Two bars three times with a ladder, a rest of six seconds, a part; 4/4 at 120, two seconds a bar.
PLAN = Plan(
    (
        Step(Bars(1, 2), times=None, ladder=(Fraction(1, 2), Fraction(1)), count_in=1, name="low"),
        Step(rest=6, name="rest"),
        Step(OneSection("B"), count_in=1, name="part"),
    )
)


def seen(stage):
    """(step, kind, round) of what was shown while the music went on, once each in a row."""
    found = []
    for _, shown in stage.shown:
        if shown.state is State.PLAYING and shown.beat:
            stretch = shown.beat.stretch
            moment = (stretch.step + 1, stretch.kind, stretch.time)
            found += [moment] if found[-1:] != [moment] else []
    return found


LADDER = [(1, Kind.COUNT_IN, 1), (1, Kind.PLAY, 1), (1, Kind.PLAY, 2)]
PART = [(3, Kind.COUNT_IN, 1), (3, Kind.PLAY, 1)]


def test_steps_follow_each_other():
    """Each step is counted in and called by its number; a rest is one, and silent."""
    stage = Stage(step=PLAN).play()
    assert seen(stage) == [*LADDER, (2, Kind.REST, 1), *PART]
    rest = [at for at, shown in stage.shown if shown.step == 2 and shown.beat]
    sounding = [at for at, status, _ in stage.notes() if status == 0x90]
    assert not [at for at in sounding if rest[0] + 0.5 < at < rest[-1] - 0.5]


def test_a_step_on_and_back():
    """A step on leaves the rest out, a step back begins the one before, counted in."""
    on = Stage(step=PLAN, actions=[(6.5, Action.STEP_ON), (8.5, Action.STEP_ON)]).play()
    assert seen(on) == [*LADDER[:2], (2, Kind.REST, 1), *PART]
    back = Stage(step=PLAN, actions=[(3.0, Action.STEP_ON), (4.5, Action.STEP_BACK)]).play()
    assert seen(back) == [LADDER[0], (2, Kind.REST, 1), *LADDER, (2, Kind.REST, 1), *PART]


def test_there_is_no_step_before_the_first_and_after_the_last():
    """Where there is no such step, all goes on."""
    actions = [(3.0, Action.STEP_BACK)]
    assert seen(Stage(step=PLAN, actions=actions).play())[:3] == LADDER


@pytest.mark.parametrize("pressed", [1.0, 4.5, 9.0, 13.0, 15.0])
def test_staying_on_a_step_goes_round_until_it_is_left(pressed):
    """A step that the player stays on goes on with its last stage; then the plan goes on."""
    actions = [(pressed, Action.STAY), (25.0, Action.STAY)]
    stage = Stage(step=PLAN, actions=actions).play()
    found = seen(stage)
    rounds = [time for step, kind, time in found if step == 1 and kind is Kind.PLAY]
    assert rounds == list(range(1, rounds[-1] + 1))
    assert rounds[-1] > 3
    assert found[-3:] == [(2, Kind.REST, 1), *PART]
    factors = {shown.beat.stretch.factor for _, shown in stage.shown if shown.beat}
    assert factors == {Fraction(1, 2), Fraction(1)}
    assert any(shown.staying for _, shown in stage.shown)


def test_how_long_a_step_still_takes():
    """What is shown counts down: eight and four seconds of the ladder, the rest, the part."""
    stage = Stage(step=PLAN).play()
    left = {}
    for _, shown in stage.shown:
        if shown.left is not None and shown.beat and shown.state is State.PLAYING:
            left.setdefault(shown.step, []).append(shown.left)
    assert left[1][0] == pytest.approx(12)
    assert left[2][0] == pytest.approx(6, abs=0.1)
    assert left[3][0] == pytest.approx(8)
    assert all(after <= before + 0.02 for each in left.values() for before, after in pairwise(each))
    assert left[1][-1] <= 2.1
    assert left[2][-1] <= 0.6


def test_a_step_while_it_is_stopped():
    """Stopped, a step on is where it goes on."""
    actions = [
        (3.0, Action.STOP_GO),
        (3.5, Action.STEP_ON),
        (3.7, Action.STEP_ON),
        (4.0, Action.STOP_GO),
    ]
    assert (
        seen(Stage(step=PLAN, actions=actions).play()) == [LADDER[0], LADDER[1], *PART][:1] + PART
    )
