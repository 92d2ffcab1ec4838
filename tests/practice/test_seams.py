"""Where one time through meets the next: last bar, pickup, held notes and chords.

That last bar and pickup add up to one bar is common practice, no source; what is done where
they do not, and what is struck again at a seam, are working choices, no source.
"""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

HEAD = "X:1\nT:Seam\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"
TAKES = "bar 2 and the pickup are longer than one bar: the pickup takes the end of the last note"
ONCE = "bar 2 and the pickup are longer than one bar: the pickup sounds once, at the start"
WHOLE = "bar 2 and the pickup are longer than one bar: the pickup is played whole between them"


def played(music, style="alternating", **step):
    """The performance of one step, without count-in unless asked for."""
    tune = parse_abc(HEAD + music)
    step = {"count_in": 0, **step}
    return perform(arrange(tune, load_style(style)), Plan((Step(**step),)), tune)


def melody(performance):
    """ "onset+length" of each melody event."""
    return [f"{e.onset}+{e.length}" for e in performance.track(Role.MELODY).events]


SEAMS = {
    "short last bar and pickup make one bar": (
        'D|"G"GABc|d3|]', None,
        "-1/4+1/4 0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4"
        " 7/4+1/4 2+1/4 9/4+1/4 5/2+1/4 11/4+1/4 3+3/4", 4,
    ),
    "pickup takes the end of a held note": (
        'D|"G"GABc|d4|]', TAKES,
        "-1/4+1/4 0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4"
        " 7/4+1/4 2+1/4 9/4+1/4 5/2+1/4 11/4+1/4 3+1", 4,
    ),
    "pickup takes a last rest": (
        'D|"G"GABc|d3z|]', TAKES,
        "-1/4+1/4 0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4"
        " 7/4+1/4 2+1/4 9/4+1/4 5/2+1/4 11/4+1/4 3+3/4", 4,
    ),
    "pickup left out": (
        'D|"G"G4|ABAG|]', ONCE,
        "-1/4+1/4 0+1 1+1/4 5/4+1/4 3/2+1/4 7/4+1/4"
        " 2+1 3+1/4 13/4+1/4 7/2+1/4 15/4+1/4", 4,
    ),
    "long pickup left out of a short last bar": (
        'DEF|"G"G4|AB|]', ONCE,
        "-3/4+1/4 -1/2+1/4 -1/4+1/4 0+1 1+1/4 5/4+1/4 2+1 3+1/4 13/4+1/4", 4,
    ),
    "short last bar without pickup is filled up": (
        '"G"GABc|d3|]', None,
        "0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4 2+1/4 9/4+1/4 5/2+1/4 11/4+1/4 3+3/4", 4,
    ),
    "shorter pickup leaves a rest": (
        'D/|"G"GABc|d3|]', None,
        "-1/8+1/8 0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4"
        " 15/8+1/8 2+1/4 9/4+1/4 5/2+1/4 11/4+1/4 3+3/4", 4,
    ),
    "full last bar, no pickup": (
        '"G"G4|A4|]', None, "0+1 1+1 2+1 3+1", 4,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("music", "notice", "expected", "stop"), SEAMS.values(), ids=SEAMS.keys())
def test_twice_through(music, notice, expected, stop):
    """At the seam the pickup sounds in what the last bar leaves free, else in the end of a
    held note or rest, else not at all: last bar and pickup make one bar; the last two are
    said."""
    performance = played(music, times=2)
    assert " ".join(melody(performance)) == expected
    assert performance.stop == stop
    assert performance.notices == (() if notice is None else (notice,))


@pytest.mark.parametrize("music", [row[0] for row in SEAMS.values()], ids=SEAMS.keys())
def test_once_through_says_nothing(music):
    """Played once there is no seam and nothing to say."""
    assert played(music).notices == ()


@pytest.mark.parametrize("times", [2, 3, 10])
def test_a_notice_comes_once(times):
    """However often a seam comes, its notice comes once."""
    assert played('D|"G"GABc|d4|]', times=times).notices == (TAKES,)


def test_the_last_time_keeps_its_last_note():
    """The last time through, no pickup follows: the held note sounds whole."""
    lengths = [e.length for e in played('D|"G"GABc|d4|]', times=3).track(Role.MELODY).events]
    assert lengths[5::6] == [Fraction(3, 4), Fraction(3, 4), 1]


def test_before_a_gap_the_last_note_may_stay_whole():
    """With a gap between the times, last note and pickup do not meet in one bar: the
    downbeats are two bars and the gap apart."""
    performance = played('D|"G"GABc|d4|]', times=2, gap=1)
    downbeats = [bar.onset for bar in performance.bars if bar.number == 1 and bar.index >= 0]
    assert downbeats == [0, 3]


@pytest.mark.parametrize("style", ["sustained", "drone"])
def test_held_chords_are_struck_again_on_the_seam(style):
    """A held bass and chord is struck again exactly on the first beat of each time through."""
    performance = played('|:D|"G"GABc|d3:|', style, span=OneSection("A"), times=3)
    for role in (Role.BASS, Role.CHORDS):
        assert [event.onset for event in performance.track(role).events] == [0, 2, 4]


def test_a_chord_held_into_a_loop_is_struck_at_its_start():
    """A loop that begins inside a held harmony strikes it on the loop's first beat."""
    performance = played(
        '"G"GABc|dcBA|GABc|"D"d4|]', "sustained", span=Bars(2, 3), times=2, count_in=1
    )
    for role in (Role.BASS, Role.CHORDS):
        events = performance.track(role).events
        assert [(e.onset, e.stop) for e in events] == [(0, 2), (2, 4)]


def test_a_chord_struck_at_a_loops_start_ends_with_its_harmony():
    """A held harmony that is struck at a loop's start lasts as long as what is left of it: the
    next chord takes over where the tune has it."""
    performance = played(
        '"G"GABc|dcBA|"D"d4|"G"G4|]', "sustained", span=Bars(2, 4), times=2, count_in=1
    )
    for role in (Role.BASS, Role.CHORDS):
        events = performance.track(role).events
        starts = [0, 1, 2, 3, 4, 5]
        assert [(e.onset, e.stop) for e in events] == [(at, at + 1) for at in starts]


def test_a_note_held_into_a_loop_is_not_struck():
    """A loop that begins inside a tied note begins in silence."""
    performance = played('"G"GABc-|c2BA|G4|]', span=Bars(2, 2), times=2)
    assert [e.onset for e in performance.track(Role.MELODY).events] == [
        Fraction(1, 2), Fraction(3, 4), Fraction(3, 2), Fraction(7, 4),
    ]  # fmt: skip


def test_a_note_held_out_of_a_loop_ends_with_it():
    """A loop that ends inside a tied note ends that note."""
    performance = played('"G"GABc-|c2BA|G4|]', span=Bars(1, 1), times=2)
    assert melody(performance)[3] == "3/4+1/4"


def test_seam_bars_are_one_bar_for_the_click():
    """Last bar and pickup together have the clicks of one bar."""
    performance = played('D|"G"GABc|d3|]', times=2, count_in=1)
    onsets = [e.onset for e in performance.track(Role.CLICK).events]
    assert onsets == [Fraction(at, 4) for at in range(-4, 16)]


def test_a_pickup_left_out_sounds_in_a_gap():
    """With a gap between the times there is room for the pickup each time."""
    performance = played('D|"G"G4|ABAG|]', times=2, gap=1)
    assert performance.notices == ()
    assert "11/4+1/4" in melody(performance)
    assert performance.stop == 5


def test_a_pickup_is_played_whole_on_wish():
    """Asked for, the pickup is played whole at every seam: a short bar with the beats of the
    end of its bar, by which each time through is longer; this is said."""
    performance = played('D|"G"G4|ABAG|]', times=2, count_in=1, whole_pickup=True)
    assert " ".join(melody(performance)) == (
        "-1/4+1/4 0+1 1+1/4 5/4+1/4 3/2+1/4 7/4+1/4 2+1/4 9/4+1 13/4+1/4 7/2+1/4 15/4+1/4 4+1/4"
    )
    onsets = [e.onset for e in performance.track(Role.CLICK).events]
    assert Fraction(2) in onsets
    assert Fraction(9, 4) in onsets
    bars = [(str(bar.onset), bar.number) for bar in performance.bars if bar.index >= 0]
    assert bars == [("0", 1), ("1", 2), ("2", 0), ("9/4", 1), ("13/4", 2)]
    assert performance.notices == (WHOLE,)


@pytest.mark.parametrize("name", [name for name, row in SEAMS.items() if row[1] != ONCE])
def test_a_whole_pickup_changes_nothing_where_there_is_room(name):
    """Asked for whole, a pickup that has room, or takes the end of a held note, sounds as it
    does without asking."""
    music, _, expected, stop = SEAMS[name]
    performance = played(music, times=2, whole_pickup=True)
    assert (" ".join(melody(performance)), performance.stop) == (expected, stop)


def test_the_next_step_has_its_pickup_in_the_room_before_it():
    """A step without count-in that follows a short last bar puts its pickup there."""
    tune = parse_abc(HEAD + '|:D|"G"GABc|d3:|\n|:e|"C"cBAG|G3:|')
    steps = (Step(OneSection("A"), count_in=0), Step(OneSection("B"), count_in=0))
    performance = perform(arrange(tune, load_style("alternating")), Plan(steps), tune)
    downbeats = [bar.onset for bar in performance.bars]
    assert downbeats == [Fraction(-1, 4), 0, 1, 2, 3]
    assert "7/4+1/4" in melody(performance)
