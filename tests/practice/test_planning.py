"""Plans of practice: which bars, in which order, for how long."""

import sys
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from backing.arranging.arrangement import Role
from backing.box.fingering import finger
from backing.box.hard_spots import hard_spots
from backing.box.line import line_of
from backing.errors import PracticeError
from backing.files import StyleShelf, load_box, read_tune
from backing.music.saying import said_in
from backing.music.tune import Tune
from backing.parse.abc import parse_abc
from backing.practice.asked import Asked
from backing.practice.backing import Backing, make_backing
from backing.practice.passages import Bars, Join, OneSection, Whole
from backing.practice.performance import perform
from backing.practice.plan import Plan
from backing.practice.planning import REST, REST_AFTER, PracticePlan, plan_practice

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "bench"))
from common import collection_folder  # noqa: E402

DG = load_box("D/G")
KETTLE = ROOT / "examples" / "the-lock-keepers-kettle.abc"
EXAMPLES = [path for path in sorted((ROOT / "examples").glob("*.abc")) if path.stem != "canal-book"]
#: Of each bar that must be practised: what makes it so, judged from the notes by a player: the
#: collection's tunes as they stand there, on a D/G (working judgement, no source).
JUDGED = {
    "FishersHornpipe": {10: "F major on a D/G: the high F and B flat, button 1", 13: "B flats"},
    "FrazersJig": {4: "the only cut and turn off the arpeggio"},
    "TullochReel": {4: "a run across the rows with changes off the beat", 10: "a G natural"},
    "LegacyJig": {10: "up to the high C sharp and across"},
    "CottageMaidsFling": {12: "triplets that leap"},
}


def tune_of(body: str, key: str = "D") -> Tune:
    """A reel with this body."""
    return parse_abc(f"X:1\nT:Plan\nR:reel\nM:4/4\nL:1/8\nK:{key}\n{body}\n")


def backing_of(tune: Tune, *, box: bool = True) -> Backing:
    """Its backing on a D/G, or free."""
    return make_backing(tune, Asked(styles=StyleShelf(), box=DG if box else None))


@pytest.fixture(scope="module")
def kettle() -> Backing:
    """A jig of two parts on a D/G."""
    return backing_of(read_tune(KETTLE).tune)


def spans(plan: PracticePlan) -> list[object]:
    """What each step plays."""
    return [planned.step.span for planned in plan.steps if not planned.step.rest]


def test_the_order_is_alone_joined_part_whole(kettle):
    """Each hard place comes alone, then with its neighbours, then in its part; the joins of parts
    and the whole tune come last."""
    plan = plan_practice(kettle, 20)
    found = spans(plan)[1:]
    for spot in plan.spots:
        own = Bars(spot.first, spot.last)
        wide = next(s for s in found if isinstance(s, Bars) and s != own and s[0] <= own[0] <= s[1])
        section = next(b.section for b in kettle.tune.bars if b.number == spot.first)
        assert found.index(own) < found.index(wide) < found.index(OneSection(section))
    kinds = [type(span) for span in found]
    assert kinds[-3:] == [Join, Whole, Whole]


def test_each_step_says_what_it_is_for(kettle):
    """Every step has one line that says so; a hard bar's says what makes it hard."""
    plan = plan_practice(kettle, 20)
    assert all(planned.step.name and "\n" not in planned.step.name for planned in plan.steps)
    alone = [p.step for p in plan.steps if p.step.edges]
    for spot, step in zip(plan.spots, alone, strict=True):
        assert spot.reasons
        assert all(said_in(reason) in step.name for reason in spot.reasons)


def test_some_of_it_is_without_the_melody(kettle):
    """The melody is silent in steps of its own, and by turns in others; never in the last."""
    steps = [planned.step for planned in plan_practice(kettle, 20).steps]
    assert sum(step.muted == {Role.MELODY} for step in steps) >= 3
    assert any(step.echo for step in steps)
    assert not steps[-1].muted


@pytest.mark.parametrize("minutes", [5, 10, 20, 40])
@pytest.mark.parametrize("path", EXAMPLES[:3], ids=lambda path: path.stem)
def test_the_minutes_are_filled(path, minutes):
    """Rounds are added until the minutes are filled as well as whole rounds can, or until every
    step has as many as make sense."""
    plan = plan_practice(backing_of(read_tune(path).tune), minutes)
    assert plan.seconds <= 60 * minutes * 1.05 + 15
    if minutes <= 20:
        assert plan.seconds >= 60 * minutes * 0.85


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_seconds_are_those_that_are_played(path):
    """How long a plan takes is what its performance takes, rests left out, to a hundredth."""
    backing = backing_of(read_tune(path).tune)
    plan = plan_practice(backing, 20)
    steps = Plan(tuple(step for step in plan.plan.steps if not step.rest))
    played = perform(backing.faces, steps, backing.tune).seconds
    assert plan.seconds == pytest.approx(played, rel=0.01)


def test_the_seconds_of_a_tune_that_changes_its_tempo():
    """Bars that go slower count as long as they sound, count-ins too."""
    tune = tune_of("d8|e8|[Q:1/4=40]f8|dafe c'dge'|[Q:1/4=120]d8|e8|f8|d8|]")
    backing = backing_of(tune)
    plan = plan_practice(backing, 10)
    for planned in plan.steps:
        alone = perform(backing.faces, Plan((planned.step,)), tune)
        assert planned.seconds == pytest.approx(alone.seconds)


def test_a_rest_comes_after_25_minutes():
    """In a long plan no more than about 25 minutes go by without a rest, and none stands at the
    end."""
    found = plan_practice(backing_of(read_tune(EXAMPLES[1]).tune), 60)
    assert [planned.step.rest for planned in found.steps if planned.step.rest] == [60 * REST]
    played = 0.0
    for planned in found.steps:
        played = 0.0 if planned.step.rest else played + planned.seconds
        assert played < 60 * (REST_AFTER + 5)
    assert not found.steps[-1].step.rest


def test_a_bar_that_comes_again_is_practised_once():
    """Of bars with the same notes on the same buttons the first is practised, and it says where it
    comes again."""
    leaps = "dafe c'dge'"
    tune = tune_of(f"d8|{leaps}|d8|e8|d8|{leaps}|d8|d8|")
    spots = hard_spots(line_of(tune), finger(line_of(tune), DG), 3)
    assert [(spot.first, spot.last) for spot in spots if spot.again] == [(2, 2)]
    assert [said_in(each) for each in spots[0].again] == ["bar 6 is the same as bar 2"]


def test_two_hard_bars_in_a_row_are_one_place():
    """Neighbours are practised together, more than two in two places."""
    leaps, others = "dafe c'dge'", "ebge d'egf'"
    tune = tune_of(f"d8|{leaps}|{others}|d8|e8|d8|")
    line = line_of(tune)
    assert [(s.first, s.last) for s in hard_spots(line, finger(line, DG), 2)] == [(2, 3)]


def test_neighbours_are_those_that_are_played_next():
    """A hard bar at a part's end is not joined with what is only printed beside it."""
    tune = tune_of("d8|e8|f8|dafe c'dge':|\nd8|e8|f8|d8:|")
    found = spans(plan_practice(backing_of(tune), 10))
    assert Bars(4, 4) in found
    assert Bars(3, 4) in found
    assert not any(isinstance(span, Bars) and span.last > 4 for span in found)


def test_it_leads_up_to_the_tempo_that_is_asked_for(kettle):
    """At 80 per cent the last step is at 80, and no step is quicker; ladders only go up."""
    steps = [planned.step for planned in plan_practice(kettle, 20, 80).steps]
    assert float(steps[-1].tempo) == pytest.approx(0.8)
    for step in steps:
        assert all(low < high for low, high in pairwise(step.ladder))
        assert max([*step.ladder, step.tempo]) <= steps[-1].tempo


def test_quick_bars_begin_slower(kettle):
    """A reel's hard bars begin slower than those of a jig, whose notes are further apart."""
    reel = backing_of(read_tune(ROOT / "examples" / "forty-sacks-of-coal.abc").tune)
    first = [
        next(p.step.ladder[0] for p in plan_practice(each, 20).steps if p.step.edges)
        for each in (reel, kettle)
    ]
    assert first[0] < first[1]


def test_without_a_box_the_notes_decide(kettle):
    """Without a box a plan names what is hard in the notes, and nothing of bellows."""
    plan = plan_practice(backing_of(kettle.tune, box=False), 20)
    assert plan.spots
    assert not any("bellows" in planned.step.name for planned in plan.steps)


@pytest.mark.parametrize("minutes", [5, 20])
def test_a_tune_without_hard_bars_is_practised_all_the_same(minutes):
    """Where all bars are alike there is still a part, and the whole."""
    plan = plan_practice(backing_of(tune_of("D8|D8|D8|D8|"), box=False), minutes)
    assert plan.spots == ()
    assert all(isinstance(span, Whole) for span in spans(plan))


def test_no_step_is_too_slow_to_play():
    """In a tune of 12 beats a minute ladders begin no lower than 10 beats, the slowest there is;
    all of it can be played."""
    slow = parse_abc("X:1\nT:S\nM:4/4\nL:1/8\nQ:1/4=12\nK:D\nd2e2 g4|A8|dad2 d4|\n")
    backing = backing_of(slow)
    plan = plan_practice(backing, 10)
    assert min(min([*p.step.ladder, p.step.tempo]) for p in plan.steps) >= Fraction(10, 12)
    assert perform(backing.faces, plan.plan, slow).seconds == pytest.approx(plan.seconds, rel=0.01)


@pytest.mark.parametrize(
    ("minutes", "percent", "said"),
    [(2, 100, "2 minutes"), (181, 100, "181 minutes"), (20, 9, "9 per cent")],
)
def test_what_cannot_be_planned(kettle, minutes, percent, said):
    """Too few or too many minutes, and tempi out of range, are refused in words."""
    with pytest.raises(PracticeError, match=said):
        plan_practice(kettle, minutes, percent)


@pytest.mark.slow
@pytest.mark.skipif(collection_folder() is None, reason="the collection comes with music21")
@pytest.mark.parametrize("name", JUDGED)
def test_the_bars_are_those_that_a_player_would_choose(name):
    """In five tunes of Ryan's Mammoth Collection (it comes with music21) the plan practises the
    bars that a player judged hard."""
    tune = read_tune(collection_folder() / f"{name}.abc").tune
    line = line_of(tune)
    found = hard_spots(line, finger(line, DG), 3)
    chosen = {number for spot in found for number in range(spot.first, spot.last + 1)}
    assert JUDGED[name].keys() <= chosen
