"""A course: what comes next, and where the player may go from there."""

from fractions import Fraction
from itertools import islice, pairwise

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.plan import LeadIn, Plan, Step
from backing.practice.stretch import Kind
from backing.practice.ways import WaysOn

#: Two repeated parts of two bars, each with a pickup of a crotchet; full bars are at places
#: 0, 1, 3, 4, 6, 7, 9, 10 of the whole, pickups between them.
TUNE = parse_abc(
    'X:1\nT:Way\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n|:D|"G"GABc|"D"dcB:|\n|:e|"C"dcBA|"G"G3:|'
)
ENDINGS = parse_abc("X:1\nT:Ends\nM:4/4\nL:1/4\nK:G\n|:GABc|1 dcBA:|2 d4|]\n|:e4|G4:|")
ARRANGED = arrange(TUNE, load_style("sustained"))
#: Two steps: an echoed part with a gap, then two bars, slower and without the bass.
PLAN = Plan(
    (
        Step(OneSection("A"), times=2, count_in=1, echo=True, gap=1),
        Step(Bars(3, 4), Fraction(1, 2), times=2, count_in=2, muted=frozenset({Role.BASS})),
    )
)


def course(step=None, *, endless=True, tune=TUNE):
    """A course through the tune."""
    arrangement = ARRANGED if tune is TUNE else arrange(tune, load_style("sustained"))
    plan = step if isinstance(step, Plan) else Plan((step or Step(),))
    return Course(arrangement, tune, plan, endless=endless)


def stretches(some, count):
    """The next stretches, as many as there are."""
    return list(islice(iter(some.next, None), count))


def test_steps_echoes_and_gaps_in_their_order():
    """Each step is counted in; each time through is answered by its echo, without the melody,
    and a gap comes between any two; then the next step, at its own tempo."""
    found = stretches(course(PLAN, endless=False), 99)
    assert [(s.step, s.kind.value, s.time) for s in found] == [
        (0, "count-in", 1), (0, "play", 1), (0, "gap", 1), (0, "echo", 1), (0, "gap", 1),
        (0, "play", 2), (0, "gap", 2), (0, "echo", 2),
        (1, "count-in", 1), (1, "play", 1), (1, "play", 2),
    ]  # fmt: skip
    assert [Role.MELODY in s.muted for s in found[1:8:2]] == [False, True, False, True]
    assert {s.muted for s in found[8:]} == {frozenset({Role.BASS})}
    assert [str(s.tempo) for s in found] == ["1/4 = 120"] * 8 + ["1/4 = 60"] * 3
    assert {s.times for s in found} == {2}


def test_the_last_step_of_an_endless_plan_goes_round():
    """Endless, the steps before the last have their times, and the last goes round."""
    found = stretches(course(PLAN), 40)
    assert [s.step for s in found[:10]] == [0] * 8 + [1, 1]
    assert [s.time for s in found[9:]] == list(range(1, 32))
    assert {s.times for s in found[8:]} == {0}


def test_a_jump_stays_in_its_step():
    """Sent to another bar of its span in the second step, that step begins again: its times,
    its tempo, its mutes; sent to the first, the plan goes on from there."""
    some = course(PLAN, endless=False)
    stretches(some, 10)
    some.turn(Target(Bars(3, 4), 1, 1), Fraction(30), Fraction(0))
    found = stretches(some, 99)
    assert [(s.step, s.time, s.first) for s in found] == [(1, 1, 1), (1, 2, 0)]
    assert {s.factor for s in found} == {Fraction(1, 2)}
    some.begin(Target(OneSection("A")), Fraction(40))
    assert [s.step for s in stretches(some, 99)] == [0] * 8 + [1] * 3


def test_a_span_elsewhere_keeps_the_manner_of_its_step():
    """Round and round in a bar of a step with echoes, every second time is an echo."""
    some = course(PLAN, endless=False)
    stretches(some, 2)
    some.turn(Target(Bars(2, 2)), Fraction(7), Fraction(0))
    kinds = [s.kind for s in stretches(some, 40)]
    assert kinds == [Kind.PLAY, Kind.GAP, Kind.ECHO, Kind.GAP] * 10


def test_it_goes_round_and_round():
    """Endless, a span comes again and again, each time where the one before ended."""
    found = stretches(course(Step(Bars(2, 2))), 200)
    assert [stretch.time for stretch in found[1:]] == list(range(1, 200))
    for stretch, following in pairwise(found):
        assert following.start == stretch.stop


def test_a_turn_goes_on_at_the_bar_line():
    """Turned, it goes on with the target at the position that is given; its pickup leads in
    where there is room, and bass and chords wait for the bar line."""
    some = course()
    stretches(some, 2)
    some.turn(Target(OneSection("B")), Fraction(7), Fraction(1, 4))
    stretch = some.next()
    assert stretch.start == 7
    assert stretch.sounding.begin is None
    assert stretch.sounding.left == 0
    some.turn(Target(OneSection("B")), Fraction(7), Fraction(1, 8))
    stretch = some.next()
    assert (stretch.start, stretch.sounding.begin, stretch.sounding.left) == (7, 0, 0)
    assert some.next().start == 9


def test_a_turn_into_the_middle():
    """A later bar of a span comes first once, then the span from its start."""
    some = course()
    stretches(some, 2)
    some.turn(Target(Whole(), 3), Fraction(7), Fraction(1, 4))
    stretch, following = stretches(some, 2)
    assert stretch.first == 3
    assert [bar.number for bar in stretch.frame][:3] == [1, 2, 2]
    assert stretch.sounding.begin == stretch.start - stretch.sounding.by - Fraction(1, 4)
    assert following.first == 0


def test_the_count_in_has_the_tempo_of_its_bar():
    """Counted in at a bar after a change of tempo, the clicks are at that bar's tempo."""
    tune = parse_abc("X:1\nT:T\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\nG4|A4|[Q:1/4=60]B4|c4|]\n")
    some = course(tune=tune)
    some.begin(Target(Whole(), 2), Fraction(5))
    count_in, stretch = stretches(some, 2)
    assert count_in.kind is Kind.COUNT_IN
    assert str(count_in.tempo) == "1/4 = 60"
    assert count_in.start == 5
    assert stretch.start == 6
    assert next(stretch.sounding.tempos).tempo == count_in.tempo


def test_a_count_in_is_as_long_as_the_speed_asks_for():
    """Played slower than asked, a waltz is counted in with one bar where two would do (see
    the usual count-in)."""
    tune = parse_abc("X:1\nT:W\nM:3/4\nL:1/4\nQ:1/4=120\nK:G\nGAB|c3|]\n")
    assert len(course(tune=tune).next().frame) == 2
    assert len(course(tune=tune).next(Fraction(3, 5)).frame) == 1


def test_without_a_count_in_a_later_pickup_comes_first():
    """With no count-in a bar in the middle begins with its pickup, as a bar of its own."""
    some = course(Step(count_in=0))
    some.begin(Target(Whole(), 3), Fraction(5))
    stretch = some.next()
    assert stretch.first == 2
    assert stretch.frame[0].length == Fraction(1, 4)


def test_where_it_stands_in_the_song():
    """A time through knows where its first bar stands in the tune as it is played."""
    some = course(Step(OneSection("B")))
    assert [stretch.song for stretch in stretches(some, 3)] == [0, 4, 4]
    some.turn(Target(Whole(), 9), Fraction(9), Fraction(0))
    assert some.next().song == 6


def test_places_are_those_of_full_bars():
    """A pickup in the middle goes with the bar that it leads to; the last goes round."""
    some = course()
    ways = WaysOn(some)
    assert [ways.place(some.start, place).bar for place in (-1, 0, 1, 2, 3, 5)] == [
        0, 0, 1, 3, 3, 6,
    ]  # fmt: skip
    assert ways.following(Target(Whole(), 1)) == Target(Whole(), 3)
    assert ways.following(Target(Whole(), 10)) == Target(Whole(), 0)


def test_bars_on_and_back():
    """Bars step over pickups, round and round; a loop of bars moves as a whole, and stays
    inside the tune."""
    ways = WaysOn(course())
    assert ways.step_bars(Target(Whole(), 3), -1).bar == 1
    assert ways.step_bars(Target(Whole(), 0), -1).bar == 10
    assert ways.step_bars(Target(Bars(2, 3)), 1).span == Bars(3, 4)
    assert ways.step_bars(Target(Bars(2, 3)), 5).span == Bars(3, 4)
    assert ways.step_bars(Target(Bars(2, 3)), -5).span == Bars(1, 2)


def test_parts_on_and_back():
    """Each time through a part is one to step to; in the middle, back is to its beginning."""
    ways = WaysOn(course())
    steps = [(0, 1), (4, 1), (10, 1), (10, -1), (9, -1), (1, -1)]
    found = [ways.step_sections(Target(Whole(), bar), by).bar for bar, by in steps]
    assert found == [3, 6, 0, 9, 6, 0]
    assert ways.step_sections(Target(OneSection("A")), 1).span == OneSection("B")
    assert ways.step_sections(Target(OneSection("B")), 1).span == OneSection("A")
    assert ways.step_sections(Target(Bars(2, 2)), 1).span == Bars(3, 3)


def test_one_bar_and_one_part():
    """The bar alone, and the part with the ending of this time through it."""
    ways = WaysOn(course(tune=ENDINGS))
    assert ways.bar_alone(Target(Whole(), 3)) == Target(Bars(3, 3))
    assert ways.section_alone(Target(Whole(), 0)).span == OneSection("A", 1)
    assert ways.section_alone(Target(Whole(), 2)).span == OneSection("A", 2)
    assert ways.section_alone(Target(Whole(), 4)).span == OneSection("B")


def test_the_whole_from_a_part():
    """From a loop, the whole tune is at the first time that the bar is played."""
    ways = WaysOn(course())
    assert ways.whole(Target(Bars(3, 3))) == Target(Whole(), 6)
    assert ways.whole(Target(Whole(), 9)) == Target(Whole(), 9)


@pytest.mark.parametrize(
    "go",
    [
        WaysOn.bar_alone, WaysOn.section_alone, WaysOn.whole, WaysOn.following,
        lambda ways, here: ways.step_bars(here, 1), lambda ways, here: ways.step_sections(here, 1),
    ],
)  # fmt: skip
@pytest.mark.parametrize("span", [Whole(), Bars(2, 3), OneSection("A")])
def test_every_way_stays_in_its_step(go, span):
    """Wherever it goes from the second step of a plan, it is in the second step."""
    assert go(WaysOn(course(PLAN)), Target(span, 0, 1)).step == 1


def test_sent_elsewhere_it_is_endless():
    """So many times holds for the span that was asked for; elsewhere it goes round."""
    some = course(Step(Bars(1, 1), times=2), endless=False)
    assert len(stretches(some, 9)) == 3
    some.turn(Target(Bars(1, 1)), Fraction(9), Fraction(0))
    assert len(stretches(some, 9)) == 2
    some.turn(Target(Bars(2, 2)), Fraction(9), Fraction(0))
    assert len(stretches(some, 9)) == 9


@pytest.mark.parametrize("lead_in", list(LeadIn))
@pytest.mark.parametrize("count_in", [None, 0, 3])
def test_how_long_a_step_takes_is_how_long_it_sounds(lead_in, count_in):
    """Its count-in, clicks or the tune's own last bars, counts as long as it lasts."""
    step = Step(Bars(1, 2), Fraction(2, 3), times=2, count_in=count_in, lead_in=lead_in, gap=1)
    some = course(step, endless=False)
    lasted = sum(60 * (s.stop - s.start) / s.tempo.wholes for s in stretches(some, 9))
    assert some.seconds(0) == lasted


def test_how_long_steps_take_goes_by_the_plan():
    """A player who is sent to bars of another tempo learns the same of the steps to come, whose
    tempi are others; of the bars that go round without an end nothing."""
    some = course(PLAN, endless=False)
    before = [some.seconds(step) for step in range(2)]
    (_, first) = stretches(some, 2)
    some.turn(Target(Bars(1, 1)), first.stop, Fraction(0))
    assert [some.seconds(step) for step in range(2)] == before
    assert some.seconds_from(Target(Bars(1, 1))) is None


def test_at_another_speed_a_count_in_may_be_shorter():
    """Three-time slower than 100 is counted in with one bar, quicker with two (a working value):
    what goes by is the speed at which it is played."""
    waltz = parse_abc("X:1\nT:Slow\nM:3/4\nL:1/4\nQ:1/4=90\nK:G\nGAB|G3|]")
    some = course(Step(), endless=False, tune=waltz)
    assert some.seconds(0) == (3 + 6) * Fraction(60, 90)
    assert some.seconds(0, Fraction(4, 3)) == (6 + 6) * Fraction(60, 90)


def test_how_long_a_step_of_many_rounds_takes_is_soon_told(monkeypatch):
    """A player asks at every beat: what a thousand rounds still take is not summed round by
    round, and is what they take one by one."""
    step = Step(Bars(1, 2), ladder=(Fraction(1, 2), Fraction(1)), every=300, gap=1, times=1000)
    some = course(step, endless=False)
    looked = []
    plain = Course.round
    monkeypatch.setattr(
        Course, "round", lambda *asked, **more: looked.append(1) or plain(*asked, **more)
    )
    here = Target(Bars(1, 2), time=1)
    # three bars a round with its gap, of four seconds each at half the tempo, then of two;
    # no gap after the last
    assert some.seconds_from(here) == 300 * 12 + 700 * 6 - 2
    assert some.seconds_from(here._replace(time=1000)) == 4
    assert len(looked) < 20
