"""A moment of a practice in words."""

import pytest

from backing.arranging.arrangement import Role
from backing.cli.moment import line, step_words
from backing.live.marks import MarkedBars
from backing.live.shown import State
from backing.practice.passages import Bars, OneSection
from backing.practice.stretch import Kind

SPEED = "3/8 = 60 (75 %)"


def parts(shown):
    """What is said, thing by thing."""
    return line(shown).split("  |  ")


def test_where_it_is_is_said_first(at):
    """Part, time through, bar and beat come first; the round where there is more than one, and
    of how many where that is known."""
    assert parts(at(1)) == ["A part, bar 1", "beat 1 of 2", SPEED, "round 1"]
    assert parts(at(0, times=1)) == ["A part, pickup", "beat 1 of 2", SPEED]
    assert parts(at(4, time=2, times=3))[0] == "A part, time 2, bar 1"
    assert "round 2 of 3" in parts(at(4, time=2, times=3))
    assert parts(at(6, times=1, beat=1))[:2] == ["B part, bar 3", "beat 2 of 2"]


def test_what_is_no_time_through_says_where_it_leads(at):
    """A count-in and a gap say which bar comes; a time through without the melody is an echo."""
    assert parts(at(1, kind=Kind.COUNT_IN))[0] == "count-in, then bar 1, A part"
    assert parts(at(1, kind=Kind.GAP, times=3))[0] == "gap, then bar 1, A part"
    assert "echo" in parts(at(1, kind=Kind.ECHO, time=2, times=3))


@pytest.mark.parametrize(
    ("span", "said"),
    [
        (Bars(5, 6), "only bars 5-6"),
        (Bars(5, 5), "only bar 5"),
        (OneSection("b"), "only the B part"),
    ],
)
def test_what_it_goes_round_in_is_said(at, span, said):
    """A loop is named wherever the music is: playing, on the way there, counting in, stopped."""
    assert parts(at(1, span=span))[-1] == said
    assert parts(at(1, span=span, moving=True))[-1] == f"then {said}"
    assert parts(at(1, span=span, kind=Kind.COUNT_IN))[-1] == said
    assert parts(at(1, span=span, state=State.STOPPED))[-1] == said


def test_on_the_way_elsewhere_in_the_tune_that_is_said(at):
    """A jump within the whole tune waits for the bar line, and says which bar comes."""
    bar = at(6).bar
    assert parts(at(1, moving=True, bar=bar))[-1] == "then bar 3"
    assert parts(at(1, moving=True, bar=None))[-1] == "then on"


def test_chords_come_before_the_rest(at):
    """The chord, the next one with the beats until it comes, the tempo with its unit and per
    cent, what is muted."""
    muted = frozenset((Role.MELODY, Role.CLICK))
    shown = at(1, times=1, muted=muted, chord="G", coming="D7", beats=3)
    said = ["A part, bar 1", "beat 1 of 2", "G → D7 in 3 beats", SPEED, "without click and melody"]
    assert parts(shown) == said
    assert parts(at(1, chord="G"))[2] == "G → –"
    assert parts(at(1, coming="D", beats=1))[2] == "– → D in 1 beat"
    assert parts(at(1, chord="G", coming="D", beats=0))[2] == "G → D in this beat"


def test_while_nothing_sounds_there_is_neither_beat_nor_chord(at):
    """Stopped, without a port or before the first beat it says where it goes on, and how fast."""
    assert parts(at(1, state=State.STOPPED, chord="G", coming="D")) == [
        "stopped at bar 1, A part", SPEED,
    ]  # fmt: skip
    gone = "the port is gone: waiting for it to come back"
    assert parts(at(6, state=State.GONE)) == [f"{gone}, then bar 3, B part", SPEED]
    assert parts(at(None, state=State.GONE)) == [gone, SPEED]
    assert parts(at(None, bar=at(1).bar)) == ["begins at bar 1, A part", SPEED]
    assert parts(at(None, state=State.STOPPED)) == ["stopped", SPEED]


def test_marks_are_said(at):
    """A bar that is marked waits for the other end."""
    assert parts(at(1, marks=MarkedBars(first=5)))[-1] == "from bar 5 to …"
    assert parts(at(1, marks=MarkedBars(last=6)))[-1] == "from … to bar 6"


def test_steps_are_said_where_there_are_several(at):
    """Which step of how many, and how long it still takes."""
    second = {"step": 2, "steps": 3}
    assert step_words(at(1)) == ""
    assert step_words(at(1, **second)) == "step 2 of 3"
    named = at(1, **second, left=80.4)
    assert step_words(named) == "step 2 of 3, 1:20 left"
    assert step_words(named._replace(left=-0.2)).endswith(", 0:00 left")
    assert step_words(named._replace(staying=True)) == "step 2 of 3, staying on it"
