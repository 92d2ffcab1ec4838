"""A player of a page steers what sounds: at once, or at the next bar line; no note is left."""

from itertools import pairwise

import pytest

from backing.arranging.arrange import arrange
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.asked import Asked
from backing.practice.backing import make_backing
from backing.practice.course import Course
from backing.practice.passages import Bars
from backing.practice.plan import Plan, Step
from backing.practice.stretch import Kind
from backing.render.page.music import PageChoice, music_data

#: Eight bars of four crotchets, 0.5 seconds each, the tune's notes rising by bar.
TUNE = parse_abc(
    'X:1\nT:Steps\nM:4/4\nL:1/4\nQ:1/4=120\nK:C\n"C"C C C C|"F"D D D D|"G"E E E E|"C"F F F F|'
    '"C"G G G G|"F"A A A A|"G"B B B B|"C"c c c c|]'
)
BAR, BEAT, BREATH = 2.0, 0.5, 0.1
#: The moment at which bar 1 begins, after a bar of count-in.
START = BREATH + BAR
KEYS = dict(zip((60, 62, 64, 65, 67, 69, 71, 72), range(1, 9), strict=True))


def music(*styles, **step):
    plan = Plan((Step(count_in=1, **step),))
    choices = [
        PageChoice("", style, (make_backing(TUNE, Asked(plan, load_style(style))),))
        for style in styles
    ]
    return music_data("Steps", choices, plan)


class Told:
    """What a page's player did: keys as (role, key, start, stop), in the order of their starts."""

    def __init__(self, said):
        assert said["faults"] == []
        assert said["late"] == 0
        self.keys = sorted((row[:4] for row in said["pressed"]), key=lambda row: row[2])
        assert all(stop is not None and stop >= start for _, _, start, stop in self.keys)

    def starts(self, role):
        return [start for each, _, start, _ in self.keys if each == role]

    def bars(self):
        """The tune's bars by number, each with the moment at which it begins, note by note."""
        found = []
        for role, key, start, _ in self.keys:
            if role == "melody" and (not found or found[-1][0] != KEYS[key]):
                found.append((KEYS[key], round(start, 3)))
        return found


@pytest.fixture(scope="module")
def play(node):
    def run(*asked, until=30, styles=("alternating",), endless=True, **step):
        value = {"music": music(*styles, **step), "asked": asked, "until": until}
        return Told(node("play.mjs", [{**value, "endless": endless}])[0])

    return run


def test_the_tempo_changes_at_once(play):
    """In the middle of a bar: the next beat comes sooner, by as much as it goes faster from then
    on."""
    told = play([START + 4.2, "tempo", [2, 1]], until=12)
    gaps = [after - before for before, after in pairwise(told.starts("click"))]
    at = next(place for place, gap in enumerate(gaps) if gap < BEAT - 0.01)
    assert gaps[:at] == pytest.approx([BEAT] * at)
    assert gaps[at] == pytest.approx(0.26 + 0.24 / 2)
    assert gaps[at + 1 :] == pytest.approx([BEAT / 2] * (len(gaps) - at - 1))


def test_the_tempo_goes_in_steps_of_five_per_cent(play):
    """Two steps slower are 90 per cent."""
    told = play([1, "slower"], [1, "slower"], until=20)
    gaps = [after - before for before, after in pairwise(told.starts("click")[4:])]
    assert gaps == pytest.approx([BEAT / 0.9] * len(gaps))


def test_a_loop_begins_at_the_bar_line(play):
    """Asked for in the middle of bar 2, bars 5 and 6 come after it, and go round."""
    told = play([START + BAR + 0.7, "bars", 5, 6], until=START + 7 * BAR)
    assert told.bars()[:6] == [
        (number, START + at * BAR) for at, number in enumerate((1, 2, 5, 6, 5, 6))
    ]


def test_the_whole_tune_goes_on_from_where_it_is(play):
    """After a loop of bar 3 the tune goes on with bar 4."""
    told = play(
        [START + 0.5, "bars", 3, 3], [START + 2.5 * BAR, "the whole tune"], until=START + 5.5 * BAR
    )
    assert [number for number, _ in told.bars()] == [1, 3, 4, 5, 6]


def test_the_bar_goes_round_and_moves(play):
    """A bar on: the loop moves along the tune."""
    told = play(
        [START + 0.5, "bars", 3, 3], [START + 1.5 * BAR, "a bar on"], until=START + 4.5 * BAR
    )
    assert [number for number, _ in told.bars()] == [1, 3, 4]


def test_a_track_is_silent_at_once_and_held_basses_come_back(play):
    """Bass off ends its note; on strikes again what is still held."""
    told = play(
        [START + 0.3, "turn", "bass"], [START + 0.9, "turn", "bass"],
        until=START + 1.9, styles=("sustained",),
    )  # fmt: skip
    spans = [(start - START, stop - START) for role, _, start, stop in told.keys if role == "bass"]
    assert len(spans) % 2 == 0
    for first, last in zip(spans[: len(spans) // 2], spans[len(spans) // 2 :], strict=True):
        assert first == pytest.approx((0, 0.3), abs=0.06)
        assert last[0] == pytest.approx(0.9, abs=0.06)


def test_a_muted_tune_is_not_played(play):
    """Melody off, then on: it comes back with its next note."""
    told = play([START - 1, "turn", "melody"], [START + BAR + 0.1, "turn", "melody"], until=8)
    assert told.bars()[0] == (2, START + BAR + BEAT)


def test_it_goes_on_where_it_stopped(play):
    """With a count-in, in the bar where it stopped; nothing sounds meanwhile."""
    told = play([START + BAR + 0.7, "stop and go"], [START + 10, "stop and go"], until=START + 14)
    assert all(stop <= START + BAR + 0.75 for _, _, start, stop in told.keys if start < START + 4)
    assert [number for number, _ in told.bars()] == [1, 2]
    assert told.starts("melody")[-1] > START + 10 + BAR


def test_again_is_from_the_count_in(play):
    """From the beginning of what goes round."""
    told = play([START + BAR + 0.7, "again from the count-in"], until=START + 8)
    assert [number for number, _ in told.bars()] == [1, 2, 1, 2]


def test_this_is_the_last_time(play):
    """It ends when its end is reached, however often it would go round."""
    told = play([START + 0.7, "this is the last time"], until=60)
    assert [number for number, _ in told.bars()] == [1, 2, 3, 4, 5, 6, 7, 8]


def test_another_style_comes_at_the_bar_line(play):
    """The tune goes on without a gap; the left hand is the other one's from the next bar on."""
    told = play([START + 1.2, "dress", 1], until=START + 8, styles=("alternating", "drone"))
    assert told.bars()[:4] == [(number, START + (number - 1) * BAR) for number in (1, 2, 3, 4)]
    in_bar = [
        sum(at * BAR <= start - START < (at + 1) * BAR - 0.01 for start in told.starts("chords"))
        for at in (0, 1)
    ]  # fmt: skip
    assert in_bar[0] > in_bar[1] <= 2


def test_it_ends_when_all_has_been_played(play):
    """After its times; the last note ends with the tune."""
    told = play(until=100, endless=False, times=2)
    assert len(told.bars()) == 16
    assert max(stop for _, _, _, stop in told.keys) <= START + 16 * BAR + 0.01


def music_of(*steps):
    plan = Plan(steps)
    backing = make_backing(TUNE, Asked(plan, load_style("alternating")))
    return music_data("Steps", [PageChoice("", "", (backing,))], plan)


def test_a_rest_is_silent_as_long_as_live(node):
    """Between two steps, for whole bars: as many as `backing play` gives it."""
    for seconds in (1, 5, 8, 61):
        steps = (Step(Bars(1, 1), count_in=1), Step(rest=seconds), Step(Bars(2, 2), count_in=1))
        course = Course(arrange(TUNE, load_style("alternating")), TUNE, Plan(steps))
        rest = next(each for each in iter(course.next, None) if each.kind is Kind.REST)
        (said,) = node("play.mjs", [{"music": music_of(*steps), "until": 200}])
        clicks = Told(said).starts("click")
        gaps = [after - before for before, after in pairwise(clicks)]
        assert max(gaps) == pytest.approx(BEAT + len(rest.frame) * BAR)


def test_a_step_is_left_and_come_back_to(node):
    """By keys: a step on is counted in at once; staying, it goes round until it is left."""
    steps = tuple(Step(Bars(n, n), count_in=1) for n in (1, 2, 3))
    asked = [
        [START + 0.3, "a step on"],
        [START + 0.6, "stay on this step"],
        [START + 9, "stay on this step"],
    ]
    (said,) = node("play.mjs", [{"music": music_of(*steps), "asked": asked, "until": 60}])
    told = Told(said)
    assert [number for number, _ in told.bars()] == [1, 2, 3]
    times = [start for role, key, start, _ in told.keys if role == "melody" and KEYS[key] == 2]
    assert len(times) > 3 * 4


def test_bars_are_marked_while_they_sound(play):
    """From here, to here: what lies between goes round."""
    told = play(
        [START + BAR + 0.5, "from here"], [START + 2 * BAR + 0.5, "to here, round and round"],
        until=START + 5.9 * BAR,
    )  # fmt: skip
    assert [number for number, _ in told.bars()] == [1, 2, 3, 2, 3, 2]


def test_a_loop_from_a_loop_from_a_loop(play):
    """Whatever is asked for in a row: no note is left, none begins in the past."""
    ways = ("faster", "slower", "the whole tune", "a part on")
    told = play(
        *[[START + at * 0.45, "bars", at % 7 + 1, at % 7 + 1 + at % 2] for at in range(30)],
        *[[START + 14 + at * 0.21, ways[at % 4]] for at in range(30)],
        until=40,
    )
    assert len(told.keys) > 200
