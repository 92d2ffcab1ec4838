"""What the click gives: beats, their parts, what lies between; bars of silence by turns."""

from fractions import Fraction
from itertools import groupby

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.music.tempo import FeltBeats
from backing.parse.abc import parse_abc
from backing.practice.clicks import ACCENT_KEY
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Click, Plan, Step

EIGHT = "X:1\nT:Eight\nM:2/4\nL:1/4\nQ:1/4=120\nK:G\n" + "GA|" * 8
#: The first part ends with a short bar, which the second part's pickup completes.
PARTS = "X:1\nT:Parts\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\nD|G2A2|G3:|\n|:D|B2A2|G3:|"


def played(text, *steps):
    """The performance of a plan."""
    tune = parse_abc(text)
    return perform(arrange(tune, load_style("alternating")), Plan(steps), tune)


def clicked(text, **step):
    """Onset and velocity of each click from the first full bar on."""
    found = played(text, Step(**{"count_in": 0, **step})).track(Role.CLICK).events
    return [(event.onset, event.velocity) for event in found if event.onset >= 0]


def onsets(text, **step):
    """Where the clicks of the first bar fall, in words."""
    return " ".join(str(onset) for onset, _ in clicked(text, **step))


def bars_clicked(text, length, **step):
    """Which bars have clicks, from 0."""
    return [bar for bar, _ in groupby(int(onset / length) for onset, _ in clicked(text, **step))]


def one_bar(metre, dance=""):
    return f"X:1\nT:Bar\nR:{dance}\nM:{metre}\nL:1/1\nK:G\nG{metre}|]"


@pytest.mark.parametrize(
    ("metre", "dance", "beats", "expected"),
    [
        ("2/4", "polka", 44, "0 1/8 1/4 3/8"),
        ("2/4", "polka", 45, "0 1/4"),
        ("6/8", "jig", 44, "0 1/8 1/4 3/8 1/2 5/8"),
        ("6/8", "jig", 45, "0 3/8"),
        ("4/4", "reel", 40, "0 1/4 1/2 3/4"),
        ("7/8", "", 30, "0 1/8 1/4 3/8 1/2 5/8 3/4"),
    ],
)
def test_slow_beats_are_subdivided(metre, dance, beats, expected):
    """Below 45 felt beats a minute the click gives the parts of the beat as well: three of a
    dotted one, two of others (common practice, no source; 45 is a working value)."""
    step = {"tempo": FeltBeats(Fraction(beats))}
    assert onsets(one_bar(metre, dance), **step) == expected


def test_what_is_between_the_beats_is_softer():
    """The parts of a beat are softer than the beat, and than what sounds under a pickup."""
    strengths = [strength for _, strength in clicked(EIGHT, tempo=FeltBeats(Fraction(40)))]
    assert max(strengths[1::2]) < 52 < min(strengths[::2])


@pytest.mark.parametrize(
    ("click", "expected"),
    [
        (Click.BEATS, "0 3/8"),
        (Click.SUBDIVIDED, "0 1/8 1/4 3/8 1/2 5/8"),
        (Click.OFF_BEATS, "1/4 5/8"),
        (Click.EVERY_OTHER_BAR, "0 3/8"),
        (Click.BY_TURNS, "0 3/8"),
    ],
)
@pytest.mark.parametrize("beats", [100, 60])
def test_the_player_chooses_what_the_click_gives(click, expected, beats):
    """Beats, their parts, or the last part alone, at any tempo; bars by turns begin with one
    that has clicks."""
    step = {"tempo": FeltBeats(Fraction(beats)), "click": click}
    assert onsets(one_bar("6/8", "jig"), **step) == expected


def test_beats_stay_beats_however_slow():
    """Who asks for beats gets no more, however slow."""
    assert onsets(one_bar("6/8", "jig"), tempo=FeltBeats(Fraction(20)), click=Click.BEATS) == (
        "0 3/8"
    )


@pytest.mark.parametrize(
    ("click", "expected"),
    [(Click.EVERY_OTHER_BAR, [0, 2, 4, 6]), (Click.BY_TURNS, [0, 1, 4, 5])],
)
def test_bars_are_silent_by_turns(click, expected):
    """One bar with clicks and one without; or two and two."""
    assert bars_clicked(EIGHT, Fraction(1, 2), click=click) == expected


def test_turns_go_on_from_one_time_through_to_the_next():
    """A loop of one bar is silent every other time round."""
    step = {"span": Bars(3, 3), "times": 4, "click": Click.EVERY_OTHER_BAR}
    assert bars_clicked(EIGHT, Fraction(1, 2), **step) == [0, 2]


def test_a_short_bar_and_its_pickup_are_one_bar():
    """Turns go by full bars as they are felt, wherever a part ends short before a pickup."""
    assert bars_clicked(PARTS, Fraction(1, 2), click=Click.EVERY_OTHER_BAR) == [0, 2, 4, 6]


@pytest.mark.parametrize("click", [Click.OFF_BEATS, Click.EVERY_OTHER_BAR, Click.BY_TURNS])
def test_the_count_in_has_its_beats(click):
    """Before the tune, and in a gap, every beat clicks: the player needs them to come in."""
    performance = played(EIGHT, Step(count_in=4, times=2, gap=2, click=click))
    found = performance.track(Role.CLICK).events
    counted = [event.onset for event in found if event.onset < 0]
    assert counted == [Fraction(place, 4) for place in range(-8, 0)]
    gap = [event.onset for event in found if 4 <= event.onset < 5]
    assert gap == [4 + Fraction(place, 4) for place in range(4)]
    accents = [event.onset for event in found if event.pitches == (ACCENT_KEY,)]
    assert accents[:4] == [-2, Fraction(-3, 2), -1, Fraction(-1, 2)]
