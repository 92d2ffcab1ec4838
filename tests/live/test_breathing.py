"""The bellows of a box as it is played live: breaths where `make` has them."""

from fractions import Fraction
from pathlib import Path

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role
from backing.files import load_box, load_style, read_tune
from backing.live.actions import Action
from backing.parse.abc import parse_abc
from backing.practice.on_box import on_box
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.presses import Seconds, ticks

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
#: On a D/G box bars 1 and 2 are all push, bars 3 and 4 all pull.
FOUR_BARS = "X:1\nT:In and out\nM:4/4\nL:1/4\nQ:1/4=120\nK:D\ndfad|fdfa|egeg|gege|]\n"


def boxed(source):
    """A tune (a name or a text) arranged over the bellows of a D/G box, and the tune."""
    tune = parse_abc(source) if "\n" in source else read_tune(EXAMPLES / f"{source}.abc").tune
    style = load_style("alternating")
    return arrange(tune, style, side=on_box(tune, style, Manner(), load_box("D/G")).side), tune


def breaths_written(music, step):
    """The seconds of new breaths in the performance of a step."""
    arrangement, tune = music
    performance = perform(arrangement, Plan((step,)), tune)
    second = Seconds(performance.tempos, performance.start)
    found, way = [], ""
    for span in performance.bellows:
        if span.new_breath_after(way):
            found.append(second.at(ticks(span.start)))
        way = span.way
    return found


def breaths_played(stage):
    """The seconds of new breaths as they were played."""
    return [due - stage.start for due in stage.port.breaths]


STEPS = {
    "once": Step(),
    "slowly, muted": Step(tempo=Fraction(2, 5), muted=frozenset({Role.MELODY})),
    "a loop": Step(span=Bars(3, 6), times=3),
    "with gaps": Step(span=Bars(3, 6), times=2, gap=1),
    "with echoes": Step(times=2, echo=True),
}


@pytest.mark.parametrize("step", STEPS.values(), ids=STEPS)
@pytest.mark.parametrize("name", ["the-lamplighters-round", "the-towpath-mare"])
def test_play_breathes_where_make_does(stage, name, step):
    """Count-ins, pickups, loops, gaps, slow practice: breaths are due when the file has them,
    and the notes are those of the file, event by event."""
    music = boxed(name)
    played = stage.Stage(music, step).play()
    expected = breaths_written(music, step)
    assert len(expected) > 2
    assert breaths_played(played) == pytest.approx(expected, abs=1e-6)
    came = [
        (due, message[0], message[1], message[2] if message[0] & 0x10 else 0)
        for due, message in played.messages()
        if message[0] & 0xF0 in (0x80, 0x90)
    ]
    notes, _ = stage.written(music, step)
    assert [each[1:] for each in stage.in_order(came)] == [
        each[1:] for each in stage.in_order(notes)
    ]


def test_a_jump_breathes_where_it_leads_to_another_way(stage):
    """In bar 1, on the push: sent on to bar 3, on the pull, the bellows take a breath at the next
    bar line; sent round and round in bar 1 they take none."""
    music = boxed(FOUR_BARS)
    for action, expected in ((Action.BAR_ON, [4.0]), (Action.THIS_BAR, [])):
        script = [(2.5, action), (5.9, Action.END)]
        played = stage.Stage(music, Step(count_in=1), script, endless=True).play()
        assert [round(due, 3) for due in breaths_played(played)] == expected
