"""Bars run straight through whatever repeats and endings stand there."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

# every bar's melody is one pitch: bar n plays the n-th of these
PITCHES = dict(enumerate([62, 67, 69, 71, 72, 74, 76, 78, 79, 81]))
HEAD = "X:1\nT:Straight\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"
#: pickup, 1, 2, ending 1: 3, ending 2: 4, then B: 5, 6, ending 1: 7, ending 2: 8
ENDINGS = parse_abc(HEAD + "|:D|G4|A4|1 B3:|2 c4||\n|:d4|e4|1 f4:|2 g4|]")
REPEATS = parse_abc(HEAD + "|:G4|A4:|\n|:B4|c4:|")


def numbers(tune, span, times=1):
    """The bars that sound, told by the pitch of their melody."""
    step = Step(span, times=times, count_in=0)
    performance = perform(arrange(tune, load_style("drone")), Plan((step,)), tune)
    found = {pitch: number for number, pitch in PITCHES.items()}
    return [found[e.pitches[0]] for e in performance.track(Role.MELODY).events]


RUNS = [
    (ENDINGS, Bars(1, 2), [0, 1, 2]),
    (ENDINGS, Bars(2, 3), [2, 3]),
    (ENDINGS, Bars(3, 4), [3, 4]),
    (ENDINGS, Bars(2, 4), [2, 3, 4]),
    (ENDINGS, Bars(4, 5), [4, 5]),
    (ENDINGS, Bars(3, 5), [3, 4, 5]),
    (ENDINGS, Bars(6, 8), [6, 7, 8]),
    (ENDINGS, Bars(1, 8), [0, 1, 2, 3, 4, 5, 6, 7, 8]),
    (ENDINGS, Bars(4, 4), [4]),
    (ENDINGS, OneSection("A", 1), [0, 1, 2, 3]),
    (ENDINGS, OneSection("A", 2), [0, 1, 2, 4]),
    (ENDINGS, OneSection("B", 1), [5, 6, 7]),
    (ENDINGS, OneSection("B", 2), [5, 6, 8]),
    (ENDINGS, OneSection("A"), [0, 1, 2, 4]),
    (ENDINGS, Whole(), [0, 1, 2, 3, 0, 1, 2, 4, 5, 6, 7, 5, 6, 8]),
    (REPEATS, Bars(1, 4), [1, 2, 3, 4]),
    (REPEATS, Bars(2, 3), [2, 3]),
    (REPEATS, OneSection("A"), [1, 2]),
    (REPEATS, Whole(), [1, 2, 1, 2, 3, 4, 3, 4]),
]


@pytest.mark.parametrize(("tune", "span", "expected"), RUNS, ids=[str(row[1]) for row in RUNS])
def test_which_bars_sound(tune, span, expected):
    """A range plays each written bar once in order; a section one ending; all with repeats."""
    assert numbers(tune, span) == expected


@pytest.mark.parametrize(
    ("tune", "span", "expected"), RUNS[1:13], ids=[str(row[1]) for row in RUNS[1:13]]
)
def test_a_loop_repeats_the_same_bars(tune, span, expected):
    """Three times through a range is the same bars three times."""
    assert numbers(tune, span, times=3) == expected * 3


@pytest.mark.parametrize(
    ("times", "endings"), [(1, [8]), (2, [7, 8]), (3, [8, 7, 8]), (4, [7, 8, 7, 8])]
)
def test_endings_go_by_turns(times, endings):
    """A section alone takes its endings by turns, so that the last time has the last."""
    expected = [bar for ending in endings for bar in (5, 6, ending)]
    assert numbers(ENDINGS, OneSection("B"), times=times) == expected


@pytest.mark.parametrize(("first", "last"), [(1, 1), (2, 3), (3, 5), (1, 8), (6, 8)])
def test_bars_last_as_long_as_they_are(first, last):
    """A range of n bars in 4/4 lasts n bars, a short bar inside it counted as it is."""
    step = Step(Bars(first, last), count_in=1)
    performance = perform(arrange(ENDINGS, load_style("drone")), Plan((step,)), ENDINGS)
    short = Fraction(1, 4) if first <= 3 < last else 0
    assert performance.stop == last - first + 1 - short


def test_left_hand_across_endings():
    """Through both endings in a row, the left hand plays each one's own chords."""
    tune = parse_abc(HEAD + '|:"G"G4|1 "D"A4:|2 "C"c4|]')
    step = Step(Bars(1, 3), count_in=0)
    performance = perform(arrange(tune, load_style("sustained")), Plan((step,)), tune)
    bass = [(e.onset, e.pitches[0]) for e in performance.track(Role.BASS).events]
    assert bass == [(0, 43), (1, 50), (2, 48)]


def test_the_pickup_inside_a_range_completes_the_bar_before_it():
    """Straight over a part's end, its short last bar and B's pickup make one bar."""
    tune = parse_abc(HEAD + "|:D|G4|A3:|\n|:B|c4|d3:|")
    step = Step(Bars(2, 3), count_in=0)
    performance = perform(arrange(tune, load_style("drone")), Plan((step,)), tune)
    assert [str(bar.onset) for bar in performance.bars] == ["0", "3/4", "1"]


@pytest.mark.parametrize(
    "music", ["|:G4|A4:|\n|:B4|c4:|", "G4|A4:|B4|c4:|", "[|G4|A4|:B4|c4:|]"], ids=str
)
def test_a_range_is_the_same_however_the_repeats_are_written(music):
    """Bars 1 to 4 sound the same whichever repeat signs stand between them."""
    assert numbers(parse_abc(HEAD + music), Bars(1, 4)) == [1, 2, 3, 4]
