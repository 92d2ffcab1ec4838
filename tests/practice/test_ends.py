"""How a practice begins and closes: lead-ins, closes, a dance's times (common practice, no
source, where nothing else is said)."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange_faces
from backing.arranging.arrangement import Role
from backing.arranging.faces import StyleTurns
from backing.errors import PracticeError
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.ends import LEAD_IN_BARS
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.performance import perform, perform_seamless
from backing.practice.plan import Close, LeadIn, Plan, Step, check_plan, with_first_part

HEAD = "X:1\nT:Ends\nR:polka\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\n"
TUNE = parse_abc(
    HEAD + '|:D|"G"G2B2|"D"A2F2|"G"G2B2|"D"d2d:|\n|:d|"C"e2c2|"G"d2B2|"D7"A2F2|"G"G3:|'
)
WALTZ = parse_abc("X:1\nT:W\nM:3/4\nL:1/4\nQ:1/4=90\nK:G\n" + '"G"GBd|"C"c2e|"D"dcA|"G"G3|]')
NAKED = parse_abc("X:1\nT:N\nM:3/8\nL:1/8\nK:none\nabc|def|]")
G, C, D = {55, 59, 62}, {55, 60, 64}, {57, 62, 66}


def faces(tune, style="alternating"):
    """The tune for each time through."""
    return arrange_faces(tune, StyleTurns((load_style(style),)))


def played(step, tune=TUNE, plan=None):
    """A step, or a plan, laid end to end."""
    return perform(faces(tune), plan or Plan((step,)), tune)


def sounds(performance, role, start=None, stop=None):
    """(onset, length, keys) of a track between two positions."""
    return [
        (e.onset, e.length, set(e.pitches))
        for e in performance.track(role).events
        if (start is None or e.onset >= start) and (stop is None or e.onset < stop)
    ]


def test_a_held_chord_under_the_clicks():
    """The first harmony sounds from the first click to the tune."""
    found = played(Step(count_in=2, lead_in=LeadIn.HELD))
    assert sounds(found, Role.CHORDS, stop=Fraction(0)) == [(-1, 1, G)]
    assert sounds(found, Role.BASS, stop=Fraction(0)) == [(-1, 1, {43, 55})]
    assert len(sounds(found, Role.CLICK, stop=Fraction(0))) == 4


def test_four_beats_of_chords():
    """Bass and chord go by turns on the beats of the count-in; the clicks can be muted there."""
    found = played(Step(lead_in=LeadIn.CHORDS, muted=frozenset({Role.CLICK})))
    quarter, eighth = Fraction(1, 4), Fraction(1, 8)
    assert sounds(found, Role.BASS, stop=Fraction(0)) == [
        (-1, eighth, {43, 55}), (-1 + 2 * quarter, eighth, {43, 55}),
    ]  # fmt: skip
    assert sounds(found, Role.CHORDS, stop=Fraction(0)) == [
        (-1 + quarter, eighth, G), (-quarter, eighth, G),
    ]  # fmt: skip
    assert found.track(Role.CLICK).muted
    assert [m.text for m in found.markers][:1] == ["lead-in"]


def test_the_last_bars_of_the_first_strain_lead_in():
    """Two bars of the tune come before it, without a count-in; the pickup sounds in the second
    as it does in the tune."""
    found = played(Step(lead_in=LeadIn.TUNE))
    before = sounds(found, Role.MELODY, stop=Fraction(0))
    tune = sounds(played(Step(count_in=0)), Role.MELODY)
    lead = [
        (onset - 2, length, keys) for onset, length, keys in tune if 1 <= onset < Fraction(15, 8)
    ]
    assert before[:-1] == lead
    assert before[-1] == (Fraction(-1, 8), Fraction(1, 8), {62})
    assert found.start == -1
    counted = played(Step(lead_in=LeadIn.TUNE, count_in=1))
    assert [m.text for m in counted.markers if m.text in ("count-in", "lead-in")] == [
        "count-in", "lead-in",
    ]  # fmt: skip


def test_where_no_tune_leads_in():
    """A player who jumps, or begins in the middle, is counted in by clicks."""
    course = Course(faces(TUNE), TUNE, Plan((Step(lead_in=LeadIn.TUNE),)), endless=True)
    assert course.next().kind.value == "lead-in"
    course.begin(course.asked(0)._replace(bar=2), Fraction(9))
    assert course.next().kind.value == "count-in"


def test_the_last_chord_is_held():
    """Bass and chord of the last bar ring to its end; what comes before is as it was."""
    stop, held = played(Step()), played(Step(close=Close.HELD))
    last = stop.stop - Fraction(1, 2)
    for role, keys in ((Role.BASS, {43, 55}), (Role.CHORDS, G)):
        ((onset, length, found),) = sounds(held, role, start=last)
        assert found == keys
        assert onset + length == held.stop
        assert sounds(held, role, stop=last) == sounds(stop, role, stop=last)
    assert held.stop == stop.stop


def test_a_tag_of_two_chords():
    """After the last bar the last change of harmony comes again, bass and chord together."""
    stop, tag = played(Step(times=2)), played(Step(times=2, close=Close.TAG))
    assert tag.stop == stop.stop + Fraction(1, 2)
    third = Fraction(1, 6)
    assert sounds(tag, Role.BASS, start=stop.stop) == [
        (stop.stop, third, {50, 62}), (stop.stop + Fraction(1, 4), third, {43, 55}),
    ]  # fmt: skip
    assert [keys for _, _, keys in sounds(tag, Role.CHORDS, start=stop.stop)] == [D, G]
    assert [m.text for m in tag.markers][-2:] == ["tag", "end"]


def test_slowing_down():
    """Through the last two bars it gets slower from beat to beat, to three fifths, once."""
    found = played(Step(times=2, close=Close.SLOW))
    beats = [float(t.tempo.beats) for t in found.tempos]
    assert beats[0] == 120
    assert beats[1:] == pytest.approx([104, 88, 72])
    assert found.tempos[1].onset > found.stop - 1


@pytest.mark.parametrize("close", list(Close))
def test_bars_alone_do_not_close(close):
    """A loop of bars is the same with every close."""
    plain, closed = (
        played(Step(Bars(7, 8), times=2)),
        played(Step(Bars(7, 8), times=2, close=close)),
    )
    assert closed.tracks == plain.tracks
    assert closed.tempos == plain.tempos


@pytest.mark.parametrize("lead_in", list(LeadIn))
@pytest.mark.parametrize("close", list(Close))
@pytest.mark.parametrize("tune", [TUNE, WALTZ, NAKED], ids=lambda tune: tune.title)
def test_every_pair_for_every_metre(tune, close, lead_in):
    """Whatever leads in and closes: bars lie end to end, nothing sounds before or after them,
    and a walk sounds as the file does."""
    step = Step(times=2, lead_in=lead_in, close=close)
    found = played(step, tune)
    for before, after in zip(found.bars, found.bars[1:], strict=False):
        assert before.onset + before.length == after.onset
    for track in found.tracks:
        assert all(found.start <= e.onset and e.stop <= found.stop for e in track.events)
    course = Course(faces(tune), tune, Plan((step,)))
    walked = [e for s in iter(course.next, None) if s.sounding for e in s.sounding.events(2)]
    assert walked == list(found.track(Role.CHORDS).events)


def test_a_seamless_loop_has_neither():
    """A loop without a seam begins and ends in the tune."""
    plain = perform_seamless(faces(TUNE), Step(), TUNE)
    asked = Step(lead_in=LeadIn.TUNE, close=Close.TAG)
    assert perform_seamless(faces(TUNE), asked, TUNE) == plain


def test_once_to_yourself():
    """The first part once, then the dance, without a stop or a click bar between."""
    plan = with_first_part(Plan((Step(times=2, count_in=1),)), TUNE)
    assert [step.span for step in plan.steps] == [OneSection("A"), Whole()]
    found = played(None, plan=plan)
    numbers = [bar.number for bar in found.bars if not bar.begins]
    assert numbers[:9] == [0, 1, 2, 3, 4, 1, 2, 3, 4]
    assert [m.text for m in found.markers].count("count-in") == 1
    for before, after in zip(found.bars, found.bars[1:], strict=False):
        assert before.onset + before.length == after.onset


def test_seven_times_thirty_two_bars():
    """Bars once through are counted with all repeats, pickups making up for short bars; other
    numbers are refused with what the tune has."""
    check_plan(Plan((Step(times=7, each=16),)), (TUNE,))
    with pytest.raises(PracticeError) as error:
        check_plan(Plan((Step(times=7, each=32),)), (TUNE,))
    assert error.value.message == "7 times 32 bars: the tune has 16 bars once through"
    assert LEAD_IN_BARS == 2
