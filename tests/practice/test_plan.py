"""Plans: which bars a span means, and what is said where a plan cannot be played."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.errors import PracticeError
from backing.files import load_style
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection, Whole, find_bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step, check_plan, check_speed

TUNE = parse_abc(
    "X:1\nT:Spans\nM:4/4\nL:1/4\nK:G\n|:D|GABc|dcBA|1 G3:|2 G4||\n|:BAGF|EFGA|1 B4:|2 A4:|3 G4|]"
)
PLAIN = parse_abc("X:1\nT:Plain\nM:4/4\nL:1/4\nK:G\nGABc|G4|]")

#: bars by index: 0 pickup, 1, 2, 3 (ending 1), 4 (ending 2); 5, 6, 7-9 (endings 1-3)
SPANS = [
    (Whole(), (0, 1, 2, 3, 4, 5, 6, 7, 8, 9)),
    (Bars(1, 1), (1,)),
    (Bars(1, 2), (1, 2)),
    (Bars(0, 1), (0, 1)),
    (Bars(0, 0), (0,)),
    (Bars(2, 4), (2, 3, 4)),
    (Bars(4, 5), (4, 5)),
    (Bars(1, 9), (1, 2, 3, 4, 5, 6, 7, 8, 9)),
    (Bars(9, 9), (9,)),
    (OneSection("A"), (0, 1, 2, 4)),
    (OneSection("a"), (0, 1, 2, 4)),
    (OneSection(" A "), (0, 1, 2, 4)),
    (OneSection("A", 2), (0, 1, 2, 4)),
    (OneSection("B"), (5, 6, 9)),
    (OneSection("B", 2), (5, 6, 8)),
    (OneSection("B", 3), (5, 6, 9)),
]


@pytest.mark.parametrize(("span", "indices"), SPANS, ids=[str(row[0]) for row in SPANS])
def test_which_written_bars_a_span_plays(span, indices):
    """Bars run straight, both ends played; a section has one of its endings."""
    assert find_bars(TUNE, span) == indices


def test_a_pickup_inside_a_range_is_played_and_one_after_it_is_not():
    """The pickup that leads into B shares a number with A's last bar: a range that goes on
    plays it, one that ends there does not."""
    tune = parse_abc("X:1\nT:P\nM:4/4\nL:1/4\nK:G\n|:D|GABc|G3:|\n|:B|ABAG|G3:|")
    assert find_bars(tune, Bars(1, 2)) == (1, 2)
    assert find_bars(tune, Bars(1, 3)) == (1, 2, 3, 4)


REFUSED = [
    (Bars(2, 1), "bars 2-1 run backwards", "give 1-2"),
    (Bars(10, 12), "there are no bars 10-12 here", "the tune has bars 0 to 9"),
    (Bars(10, 10), "there is no bar 10 here", "the tune has bars 0 to 9"),
    (Bars(8, 12), "there are no bars 8-12 here", "the tune has bars 0 to 9"),
    (OneSection("D"), "there is no section 'D'", "it has A, B"),
    (OneSection("A", 3), "section A has no ending 3", "it has 1, 2"),
    (OneSection("B", 4), "section B has no ending 4", "it has 1, 2, 3"),
]


@pytest.mark.parametrize(("span", "message", "hint"), REFUSED, ids=[str(r[0]) for r in REFUSED])
def test_what_the_tune_has_not(span, message, hint):
    """Bars, sections and endings that are not there are refused, and those that are named."""
    with pytest.raises(PracticeError) as caught:
        find_bars(TUNE, span)
    assert (caught.value.message, caught.value.hint) == (message, hint)


def test_a_tune_without_pickup_begins_with_bar_1():
    """Where there is no pickup, bar 0 is no bar."""
    with pytest.raises(PracticeError) as caught:
        find_bars(PLAIN, Bars(0, 1))
    assert caught.value.message == "there are no bars 0-1 here"
    assert caught.value.hint == "the tune has bars 1 to 2"


def test_an_ending_where_there_are_none():
    """A second ending of a section without endings is refused."""
    with pytest.raises(PracticeError) as caught:
        find_bars(PLAIN, OneSection("A", 2))
    assert caught.value.message == "section A has no ending 2"
    assert caught.value.hint == "it has none"


COUNTS = [
    (Step(times=0), "0 times", "give 1 to 1000"),
    (Step(times=-1), "-1 times", "give 1 to 1000"),
    (Step(times=1001), "1001 times", "give 1 to 1000"),
    (Step(count_in=-1), "a count-in of -1 bars", "give 0 to 64 bars"),
    (Step(count_in=65), "a count-in of 65 bars", "give 0 to 64 bars"),
    (Step(gap=-1), "a gap of -1 bars", "give 0 to 64 bars"),
    (Step(gap=65), "a gap of 65 bars", "give 0 to 64 bars"),
]


@pytest.mark.parametrize(("step", "message", "hint"), COUNTS, ids=[row[1] for row in COUNTS])
def test_counts_out_of_range(step, message, hint):
    """Times, count-in and gap have a range, and it is said."""
    with pytest.raises(PracticeError) as caught:
        check_plan(Plan((step,)), (TUNE,))
    assert (caught.value.message, caught.value.hint) == (message, hint)


@pytest.mark.parametrize(
    "step",
    [Step(times=1000), Step(count_in=0), Step(count_in=64), Step(gap=64), Step(echo=True)],
    ids=str,
)
def test_counts_at_the_edge_are_taken(step):
    """The ends of each range can be played."""
    check_plan(Plan((Step(), step)), (TUNE,))
    with pytest.raises(PracticeError):
        check_plan(Plan((step, Step(times=0))), (TUNE,))


TEMPI = [
    (Tempo(Fraction(9), Fraction(1, 4)), "the tempo would be 1/4 = 9"),
    (Tempo(Fraction(401), Fraction(1, 4)), "the tempo would be 1/4 = 401"),
    (Fraction(1, 100), "the tempo would be 1/4 = 1.2"),
    (Fraction(4), "the tempo would be 1/4 = 464"),
    (Tempo(Fraction(400), Fraction(4)), "the tempo would be 1/4 = 6400"),
    (Tempo(Fraction(10), Fraction(1, 64)), "the tempo would be 1/4 = 0.6"),
]


@pytest.mark.parametrize(("tempo", "message"), TEMPI, ids=[row[1] for row in TEMPI])
def test_a_tempo_out_of_range_is_refused(tempo, message):
    """Tempi from 10 to 400 beats a minute can be played, others are refused with the range."""
    arrangement = arrange(PLAIN, load_style("drone"))
    with pytest.raises(PracticeError) as caught:
        perform(arrangement, Plan((Step(tempo=tempo),)), PLAIN)
    assert caught.value.hint == "give 10 to 400 beats a minute"
    assert caught.value.message == message


@pytest.mark.parametrize("beats", [10, 400])
def test_the_slowest_and_the_fastest_tempo(beats):
    """Exactly 10 and exactly 400 beats a minute can be played."""
    arrangement = arrange(PLAIN, load_style("drone"))
    tempo = Tempo(Fraction(beats), Fraction(1, 4))
    performance = perform(arrangement, Plan((Step(tempo=tempo, count_in=0),)), PLAIN)
    assert performance.seconds == pytest.approx(8 * 60 / beats)


def test_too_many_bars_are_refused():
    """A practice of more than 20,000 bars is refused before it is built."""
    tune = parse_abc("X:1\nT:Long\nM:4/4\nL:1/4\nK:G\n" + "GABc|" * 21)
    arrangement = arrange(tune, load_style("drone"))
    with pytest.raises(PracticeError, match="21,000 bars to play in all"):
        perform(arrangement, Plan((Step(times=1000),)), tune)


def test_too_many_notes_are_refused():
    """A practice of more than 200,000 notes is refused, however few bars they stand in."""
    tune = parse_abc("X:1\nT:Quick\nM:none\nL:1/8\nK:G\n" + "A/64B/64" * 101 + "|")
    arrangement = arrange(tune, load_style("drone"))
    with pytest.raises(PracticeError, match="202,000 notes to play in all"):
        perform(arrangement, Plan((Step(times=1000),)), tune)


def test_bars_that_the_order_leaves_out():
    """A section that the tune's order never plays cannot be practised, and that is said."""
    tune = parse_abc("X:1\nT:Order\nP:AA\nM:4/4\nL:1/4\nK:G\nP:A\nGABc|\nP:B\nd4|\n")
    arrangement = arrange(tune, load_style("drone"))
    with pytest.raises(PracticeError) as caught:
        perform(arrangement, Plan((Step(OneSection("B")),)), tune)
    assert caught.value.message == "these bars are never played"
    assert caught.value.hint == "the tune's order leaves them out"


def test_what_a_file_can_hold_of_a_tempo():
    """Four to 1,600 crotchets a minute can be written, whatever the beat is (a MIDI file counts
    microseconds a crotchet in 24 bits: Standard MIDI Files 1.0, FF 51; 1,600 is a working
    value)."""
    for beats, unit in ((4, "1/4"), (1600, "1/4"), (2, "1/2"), (3200, "1/8")):
        check_speed(Tempo(Fraction(beats), Fraction(unit)))
    for beats, unit in ((3, "1/4"), (1601, "1/4"), (1, "1/2"), (3202, "1/8")):
        with pytest.raises(PracticeError, match="somewhere in the tune"):
            check_speed(Tempo(Fraction(beats), Fraction(unit)))
