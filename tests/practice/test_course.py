"""A course: what comes next, and where the player may go from there."""

from fractions import Fraction
from itertools import islice, pairwise

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import move_events
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.course import Course, Target
from backing.practice.plan import Bars, OneSection, Plan, Step, Whole
from backing.practice.route import Kind, route

#: Two repeated parts of two bars, each with a pickup of a crotchet; full bars are at places
#: 0, 1, 3, 4, 6, 7, 9, 10 of the whole, pickups between them.
TUNE = parse_abc(
    'X:1\nT:Way\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n|:D|"G"GABc|"D"dcB:|\n|:e|"C"dcBA|"G"G3:|'
)
ENDINGS = parse_abc("X:1\nT:Ends\nM:4/4\nL:1/4\nK:G\n|:GABc|1 dcBA:|2 d4|]\n|:e4|G4:|")
ARRANGED = arrange(TUNE, load_style("sustained"))
ONE = Fraction(1)


def course(step=None, *, endless=True, tune=TUNE):
    """A course through the tune."""
    arrangement = ARRANGED if tune is TUNE else arrange(tune, load_style("sustained"))
    return Course(arrangement, tune, step or Step(), endless=endless)


def legs(some, count):
    """The next legs, as many as there are."""
    return list(islice(iter(lambda: some.next(ONE), None), count))


STEPS = {
    "whole": Step(times=3),
    "no count-in": Step(times=2, count_in=0),
    "part": Step(OneSection("B"), times=3),
    "bars": Step(Bars(1, 2), times=2, count_in=3),
    "last bar": Step(Bars(4, 4), times=2),
}


@pytest.mark.parametrize("step", STEPS.values(), ids=STEPS.keys())
def test_it_goes_the_way_of_the_route(step):
    """Left alone, its legs are the stretches of the route through the same step: bars, tempi,
    times and, once moved into their places, all events."""
    found = legs(course(step, endless=False), 99)
    expected = list(route(ARRANGED, Plan((step,)), TUNE))
    assert len(found) == len(expected)
    for leg, stretch in zip(found, expected, strict=True):
        assert leg.stretch.frame == stretch.frame
        assert (leg.stretch.kind, leg.stretch.pickup) == (stretch.kind, stretch.pickup)
        assert leg.stretch.tempo == stretch.tempo
        if stretch.piece is None:
            assert not leg.tracks
            continue
        assert (leg.stretch.time, leg.stretch.times) == (stretch.time, stretch.times)
        assert leg.stretch.piece.tempos == stretch.piece.tempos
        if leg.begin is None:
            for track, other in zip(leg.tracks, stretch.piece.tracks, strict=True):
                assert tuple(move_events(track.events, leg.by)) == other.events


def test_it_goes_round_and_round():
    """Endless, a span comes again and again, each time where the one before ended."""
    found = legs(course(Step(Bars(2, 2))), 200)
    assert [leg.stretch.time for leg in found[1:]] == list(range(1, 200))
    for leg, following in pairwise(found):
        assert following.stretch.start == leg.stretch.stop


def test_a_turn_goes_on_at_the_bar_line():
    """Turned, it goes on with the target at the position that is given; its pickup leads in
    where there is room, and bass and chords wait for the bar line."""
    some = course()
    legs(some, 2)
    some.turn(Target(OneSection("B")), Fraction(7), Fraction(1, 4))
    leg = some.next(ONE)
    assert leg.stretch.start == 7
    assert leg.begin is None
    assert leg.left == 0
    some.turn(Target(OneSection("B")), Fraction(7), Fraction(1, 8))
    leg = some.next(ONE)
    assert (leg.stretch.start, leg.begin, leg.left) == (7, 0, 0)
    assert some.next(ONE).stretch.start == 9


def test_a_turn_into_the_middle():
    """A later bar of a span comes first once, then the span from its start."""
    some = course()
    legs(some, 2)
    some.turn(Target(Whole(), 3), Fraction(7), Fraction(1, 4))
    leg, following = legs(some, 2)
    assert leg.place == 3
    assert [bar.number for bar in leg.stretch.frame][:3] == [1, 2, 2]
    assert leg.begin == leg.stretch.start - leg.by - Fraction(1, 4)
    assert following.place == 0


def test_the_count_in_has_the_tempo_of_its_bar():
    """Counted in at a bar after a change of tempo, the clicks are at that bar's tempo."""
    tune = parse_abc("X:1\nT:T\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\nG4|A4|[Q:1/4=60]B4|c4|]\n")
    some = course(tune=tune)
    some.begin(Target(Whole(), 2), Fraction(5))
    count_in, leg = legs(some, 2)
    assert count_in.stretch.kind is Kind.COUNT_IN
    assert str(count_in.stretch.tempo) == "1/4 = 60"
    assert count_in.stretch.start == 5
    assert leg.stretch.start == 6
    assert leg.stretch.piece.tempos[0].tempo == count_in.stretch.tempo


def test_without_a_count_in_a_later_pickup_comes_first():
    """With no count-in a bar in the middle begins with its pickup, as a bar of its own."""
    some = course(Step(count_in=0))
    some.begin(Target(Whole(), 3), Fraction(5))
    (leg,) = legs(some, 1)
    assert leg.place == 2
    assert leg.stretch.frame[0].length == Fraction(1, 4)


def test_where_it_stands_in_the_song():
    """A leg knows where its first bar stands in the tune as it is played."""
    some = course(Step(OneSection("B")))
    assert [leg.song for leg in legs(some, 3)] == [0, 4, 4]
    some.turn(Target(Whole(), 9), Fraction(9), Fraction(0))
    assert some.next(ONE).song == 6


def test_places_are_those_of_full_bars():
    """A pickup in the middle goes with the bar that it leads to; the last goes round."""
    some = course()
    assert [some.place(place).bar for place in (-1, 0, 1, 2, 3, 5)] == [0, 0, 1, 3, 3, 6]
    assert some.following(Target(Whole(), 1)) == Target(Whole(), 3)
    assert some.following(Target(Whole(), 10)) == Target(Whole(), 0)


def test_bars_on_and_back():
    """Bars step over pickups, round and round; a loop of bars moves as a whole, and stays
    inside the tune."""
    some = course()
    assert some.step_bars(Target(Whole(), 3), -1).bar == 1
    assert some.step_bars(Target(Whole(), 0), -1).bar == 10
    assert some.step_bars(Target(Bars(2, 3)), 1).span == Bars(3, 4)
    assert some.step_bars(Target(Bars(2, 3)), 5).span == Bars(3, 4)
    assert some.step_bars(Target(Bars(2, 3)), -5).span == Bars(1, 2)


def test_parts_on_and_back():
    """Each time through a part is one to step to; in the middle, back is to its beginning."""
    some = course()
    steps = [(0, 1), (4, 1), (10, 1), (10, -1), (9, -1), (1, -1)]
    found = [some.step_sections(Target(Whole(), bar), by).bar for bar, by in steps]
    assert found == [3, 6, 0, 9, 6, 0]
    assert some.step_sections(Target(OneSection("A")), 1).span == OneSection("B")
    assert some.step_sections(Target(OneSection("B")), 1).span == OneSection("A")
    assert some.step_sections(Target(Bars(2, 2)), 1).span == Bars(3, 3)


def test_one_bar_and_one_part():
    """The bar alone, and the part with the ending of this time through it."""
    some = course(tune=ENDINGS)
    bars = some.loop(Whole()).frame
    assert some.bar_alone(bars[3]) == Target(Bars(3, 3))
    assert some.section_alone(bars[0]).span == OneSection("A", 1)
    assert some.section_alone(bars[2]).span == OneSection("A", 2)
    assert some.section_alone(bars[4]).span == OneSection("B")


def test_the_whole_from_a_part():
    """From a loop, the whole tune is at the first time that the bar is played."""
    some = course()
    assert some.whole(Target(Bars(3, 3))) == Target(Whole(), 6)
    assert some.whole(Target(Whole(), 9)) == Target(Whole(), 9)


def test_sent_elsewhere_it_is_endless():
    """So many times holds for the span that was asked for; elsewhere it goes round."""
    some = course(Step(Bars(1, 1), times=2), endless=False)
    assert len(legs(some, 9)) == 3
    some.turn(Target(Bars(1, 1)), Fraction(9), Fraction(0))
    assert len(legs(some, 9)) == 2
    some.turn(Target(Bars(2, 2)), Fraction(9), Fraction(0))
    assert len(legs(some, 9)) == 9
