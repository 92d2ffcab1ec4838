"""Times through a tune: where it stops, what differs, which endings and styles they have."""

from fractions import Fraction
from itertools import islice

import pytest

from backing.arranging.arrange import arrange, arrange_faces
from backing.arranging.arrangement import Role
from backing.arranging.face import Face
from backing.arranging.faces import StyleTurns
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

HEAD = "X:1\nT:Times\nR:polka\nM:2/4\nL:1/8\nK:G\n"
TUNE = parse_abc(HEAD + '|:"G"G2B2|"D"A2F2|"G"G2B2|"D"d2"G"G2:|\n|:"C"e2c2|"G"d2B2|"D"A2F2|"G"G4:|')
ENDS = parse_abc(HEAD + '|:"G"G2B2|"D"A2F2|"G"G2B2|1 "D"d2"G"G2:|2 "G"G4|]')
POLKA, LIGHT, ALTERNATING = map(load_style, ("polka", "light", "alternating"))


def faces(*styles, tune=TUNE):
    """The tune's faces with these styles."""
    return arrange_faces(tune, StyleTurns(styles or (ALTERNATING,)))


def played(arranged, step, tune=TUNE):
    """What the left hand plays of a step without count-in."""
    performance = perform(arranged, Plan((step._replace(count_in=0),)), tune)
    return [(e.onset, e.pitches) for role in (Role.BASS, Role.CHORDS)
            for e in performance.track(role).events]  # fmt: skip


def inside(events, start, stop):
    """Those between two positions, from the first of them."""
    return [(onset - start, keys) for onset, keys in events if start <= onset < stop]


def test_a_tune_played_three_times_stops_once():
    """The first and the second time end as a section ends, the third as the tune does."""
    events = played(faces(), Step(times=3))
    bar = Fraction(1, 2)
    ends = [inside(events, time * 8 - bar, time * 8 + Fraction(0)) for time in (1, 2, 3)]
    assert ends[0] == ends[1] != ends[2]
    assert ends[2] == inside(played(faces(), Step()), 8 - bar, Fraction(8))


def test_the_second_time_round_is_heard_to_differ():
    """A part that goes round has a second time, and goes on like that."""
    events = played(faces(), Step(OneSection("A"), times=4))
    times = [
        inside(events, Fraction(2 * time), Fraction(2 * time) + Fraction(3, 2)) for time in range(4)
    ]
    lengths = perform(faces(), Plan((Step(OneSection("A"), times=3, count_in=0),)), TUNE)
    chords = [e.length for e in lengths.track(Role.CHORDS).events if e.onset < Fraction(1, 2)]
    later = [e.length for e in lengths.track(Role.CHORDS).events if 2 <= e.onset < Fraction(5, 2)]
    assert times[1] == times[2]
    assert chords != later


def test_bars_alone_never_vary():
    """A loop shorter than a section is the same each time, the last time too."""
    performance = perform(faces(), Plan((Step(Bars(7, 8), times=3, count_in=0),)), TUNE)
    for track in performance.tracks[1:3]:
        rounds = [
            [(e.onset - at, e.length, e.pitches) for e in track.events if at <= e.onset < at + 1]
            for at in (0, 1, 2)
        ]
        assert rounds[0] == rounds[1] == rounds[2]


def test_a_style_for_each_time():
    """Three styles for three times of a part; the last goes on."""
    one_by_one = [played(faces(style), Step(OneSection("A"))) for style in (POLKA, LIGHT)]
    events = played(faces(POLKA, LIGHT), Step(OneSection("A"), times=3))
    end = Fraction(3, 2)  # the last bar may stop
    assert inside(events, Fraction(0), end) == inside(one_by_one[0], Fraction(0), end)
    for time in (2, 4):
        assert inside(events, Fraction(time), time + end) == inside(one_by_one[1], Fraction(0), end)


@pytest.mark.parametrize(
    ("times", "endings"), [(1, [2]), (2, [1, 2]), (3, [2, 1, 2]), (0, [1, 2, 1, 2])]
)
def test_endings_by_turns(times, endings):
    """Counted from the end the last time has the last ending; without an end the first time has
    the first."""
    step = Step(OneSection("A"), times=times or 1, count_in=0)
    course = Course(faces(tune=ENDS), ENDS, Plan((step,)), endless=not times)
    found = list(islice(iter(course.next, None), len(endings)))
    assert [str(stretch.frame[-1].ending) for stretch in found] == list(map(str, endings))


def test_an_ending_that_is_asked_for_stays():
    """With an ending named every time has it."""
    step = Step(OneSection("A", 1), times=3, count_in=0)
    course = Course(faces(tune=ENDS), ENDS, Plan((step,)))
    assert [str(s.frame[-1].ending) for s in iter(course.next, None)] == ["1", "1", "1"]


@pytest.mark.parametrize("span", [Whole(), OneSection("A"), OneSection("B"), Bars(2, 3)])
def test_a_course_and_a_file_sound_the_same(span):
    """What is walked stretch by stretch is what is laid end to end, at every time."""
    step = Step(span, times=3, count_in=1)
    arranged = faces(ALTERNATING, POLKA)
    course = Course(arranged, TUNE, Plan((step,)))
    walked = [event for stretch in iter(course.next, None) for event in stretch.events(1)]
    assert walked == list(perform(arranged, Plan((step,)), TUNE).track(Role.BASS).events)


def test_the_last_time_is_said_while_it_sounds():
    """Told that this is the last time, an endless walk goes on from the next bar with the end
    that belongs to it, and is over; in a plan the next step follows."""
    arranged = faces()
    course = Course(arranged, TUNE, Plan((Step(count_in=0),)), endless=True)
    first, second = course.next(), course.next()
    assert (second.time, second.times) == (2, 0)
    course.turn(Target(Whole(), 3, last=True), Fraction(8) + Fraction(3, 2), Fraction(0))
    rest = list(iter(course.next, None))
    assert [(s.time, s.times, s.first) for s in rest] == [(2, 2, 3)]
    end = [e for e in rest[0].sounding.events(1) if e.onset >= Fraction(31, 2)]
    last = arranged(Face(2, last=True)).tracks[1].events
    assert [e.pitches for e in end] == [e.pitches for e in last if e.onset >= Fraction(15, 2)]
    assert first.time == 1

    course = Course(arranged, TUNE, Plan((Step(times=9, count_in=0), Step(Bars(1, 1), count_in=0))))
    course.next()
    course.turn(Target(Whole(), 1, last=True), Fraction(1, 2), Fraction(0))
    assert [(s.step, s.time) for s in iter(course.next, None)] == [(0, 1), (1, 1)]


def test_an_arrangement_alone_is_alike_each_time():
    """Without faces every time through sounds as the tune played once."""
    events = played(arrange(TUNE, ALTERNATING), Step(times=2))
    assert inside(events, Fraction(0), Fraction(8)) == inside(events, Fraction(8), Fraction(16))
