"""Laws that hold for every tune and every plan, tried on invented ones."""

import re
from fractions import Fraction
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.errors import PracticeError
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection, Whole, endings_of
from backing.practice.performance import perform, perform_seamless
from backing.practice.plan import Click, Plan, Step
from backing.practice.route import route
from backing.practice.stretch import Kind

pytestmark = pytest.mark.slow

TRIES = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

STYLES = {name: load_style(name) for name in ("alternating", "sustained", "drone")}
#: quavers in a bar
METRES = {"4/4": 8, "3/4": 6, "6/8": 6, "2/4": 4, "9/8": 9, "3/2": 12, "7/8": 7}
DANCES = ["", "reel", "jig", "hornpipe", "waltz"]
CHORDS = ["", "", '"G"', '"D7"', '"Em"', '"C/E"', '"N.C."']
NOTES = ["G", "A", "B", "c", "d", "z", "[GB]", "{c}B", ".d", "!fermata!e", "f", "G-"]


@st.composite
def music(draw, quavers):
    """Notes that fill so many quavers, with a chord symbol here and there."""
    found = []
    while quavers:
        length = draw(st.integers(1, min(4, quavers)))
        found.append(draw(st.sampled_from(CHORDS)) + draw(st.sampled_from(NOTES)) + str(length))
        quavers -= length
    return "".join(found)


@st.composite
def strains(draw, full):
    """A strain, repeated or not, with or without a pickup and endings."""
    pickup = draw(st.integers(0, 2))
    bars = [draw(music(full)) for _ in range(draw(st.integers(1, 3)))]
    last = draw(music(full - pickup if draw(st.booleans()) else full))
    lead = draw(music(pickup)) + "|" if pickup else ""
    body = lead + "|".join(bars)
    form = draw(st.integers(0, 2))
    if form == 0:
        return f"|:{body}|{last}:|"
    if form == 1:
        return f"|:{body}|1 {last}:|2 {draw(music(full))}||"
    return f"{body}|{last}||"


@st.composite
def tunes(draw):
    """A small tune in ABC notation."""
    metre = draw(st.sampled_from(sorted(METRES)))
    head = f"X:1\nT:Invented\nR:{draw(st.sampled_from(DANCES))}\nM:{metre}\nL:1/8\n"
    tempo = draw(st.sampled_from(["", "Q:1/4=100\n"]))
    body = "\n".join(draw(strains(METRES[metre])) for _ in range(draw(st.integers(1, 3))))
    assume(re.search(r"[a-gA-G]", re.sub(r'"[^"]*"', "", body)))
    return parse_abc(f"{head}{tempo}K:G\n{body}\n")


@st.composite
def steps(draw, tune):
    """Something to practise in a tune."""
    last = max(bar.number for bar in tune.bars)
    first = draw(st.integers(1, last))
    sections = [section.name for section in tune.sections]
    span = draw(
        st.sampled_from([Whole(), Bars(first, draw(st.integers(first, last)))])
        | st.sampled_from(sections).map(OneSection)
    )
    return Step(
        span=span,
        tempo=draw(st.sampled_from([Fraction(1), Fraction(3, 5), Fraction(11, 10)])),
        times=draw(st.integers(1, 3)),
        count_in=draw(st.sampled_from([None, 0, 1, 2])),
        echo=draw(st.booleans()),
        gap=draw(st.sampled_from([0, 0, 1])),
        whole_pickup=draw(st.booleans()),
    )


@st.composite
def practices(draw):
    """A tune, its arrangement and a step that can be played."""
    tune = draw(tunes())
    arrangement = arrange(tune, STYLES[draw(st.sampled_from(sorted(STYLES)))])
    return tune, arrangement, draw(steps(tune))


def one_ending(tune, span):
    """The same span, a section with its last ending each time."""
    if isinstance(span, OneSection) and span.ending is None:
        return span._replace(ending=max(endings_of(tune, span.name), default=None))
    return span


def performed(tune, arrangement, *some):
    """The performance of some steps."""
    return perform(arrangement, Plan(some), tune)


@TRIES
@given(practices())
def test_bars_lie_end_to_end_and_hold_everything(practice):
    """The bars of a performance run from its start to its stop without a gap, and every
    event sounds inside."""
    performance = performed(*practice)
    at = performance.start
    for bar in performance.bars:
        assert bar.onset == at
        assert bar.length > 0
        at = bar.stop
    assert at == performance.stop
    for track in performance.tracks:
        for event in track.events:
            assert performance.start <= event.onset < event.stop <= performance.stop
            assert 1 <= event.velocity <= 127
            assert all(0 <= pitch <= 127 for pitch in event.pitches)


@TRIES
@given(tunes())
def test_notes_fill_their_bars(tune):
    """The notes of every written bar last as long as the bar."""
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        assert sum((note.length for note in notes), Fraction(0)) == bar.length


@TRIES
@given(practices(), st.sampled_from([Role.MELODY, Role.BASS, Role.CHORDS]))
def test_muting_takes_one_track_and_nothing_else(practice, role):
    """Muting a track marks that track as muted and leaves all else as it was."""
    tune, arrangement, step = practice
    if step.echo and role is Role.MELODY:
        step = step._replace(echo=False)
    plain = performed(tune, arrangement, step)
    muted = performed(tune, arrangement, step._replace(muted=frozenset({role})))
    assert muted == plain._replace(
        tracks=tuple(
            track._replace(muted=True) if track.role is role else track for track in plain.tracks
        ),
    )


@TRIES
@given(practices(), st.integers(2, 5))
def test_a_loop_of_n_lasts_n_times_one(practice, times):
    """n times through last n times as long as once, count-in left out: the last bar and the
    pickup make one bar.  A pickup that is asked for whole makes them longer where it has no
    room, which is said."""
    tune, arrangement, step = practice
    step = step._replace(echo=False, gap=0, count_in=0, whole_pickup=False)
    step = step._replace(span=one_ending(tune, step.span))
    once = performed(tune, arrangement, step._replace(times=1))
    looped = performed(tune, arrangement, step._replace(times=times))
    assert looped.stop == once.stop * times
    whole = performed(tune, arrangement, step._replace(times=times, whole_pickup=True))
    said = any("played whole" in notice for notice in whole.notices)
    assert (whole.stop > looped.stop) is said


@TRIES
@given(practices())
def test_a_seamless_loop_is_the_middle_of_many(practice):
    """A loop without a seam lasts as long and sounds as the same times through in the middle
    of three times as many, echoes and gaps included."""
    tune, arrangement, step = practice
    loop = perform_seamless(arrangement, step, tune)
    plan = Plan((step._replace(times=3 * step.times, count_in=0),))
    starts = [
        stretch.start
        for stretch in route(arrangement, plan, tune)
        if stretch.kind is Kind.PLAY and stretch.time % step.times == 1 % step.times
    ]
    many = perform(arrangement, plan, tune)
    assert loop.stop - loop.start == starts[2] - starts[1]
    for track, other in zip(loop.tracks, many.tracks, strict=True):
        middle = [e for e in other.events if starts[1] <= e.onset < starts[2]]
        moved = [e._replace(onset=e.onset + starts[1] - loop.start) for e in track.events]
        assert moved == middle


@TRIES
@given(practices())
def test_half_the_tempo_doubles_the_seconds(practice):
    """At half the tempo everything lasts twice as long and sounds the same, a click on the
    beats too; but what has a limit in seconds may last another part of its beat."""
    tune, arrangement, step = practice
    step = step._replace(count_in=2, click=Click.BEATS)
    full = performed(tune, arrangement, step._replace(tempo=Fraction(1)))
    try:
        half = performed(tune, arrangement, step._replace(tempo=Fraction(1, 2)))
    except PracticeError:
        pytest.fail("half of a usual tempo can be played")
    assert half.seconds == pytest.approx(2 * full.seconds)
    for one, other in zip(half.tracks, full.tracks, strict=True):
        if any(event.limit for event in (*one.events, *other.events)):
            assert _unlimited(one) == _unlimited(other)
        else:
            assert one == other
    assert half.bars == full.bars


def _unlimited(track):
    """The keys of the events that have no limit in seconds; what follows a cut may begin
    earlier."""
    return [(event.pitches, event.velocity) for event in track.events if event.limit is None]


@TRIES
@given(practices())
def test_every_beat_clicks_once(practice):
    """There is a click on the first beat of every full bar and never two at once."""
    performance = performed(*practice)
    onsets = [event.onset for event in performance.track(Role.CLICK).events]
    assert len(onsets) == len(set(onsets))
    assert {bar.onset for bar in performance.bars if not bar.begins} <= set(onsets)


@TRIES
@given(practices())
def test_each_time_through_sounds_alike(practice):
    """From its first full bar on, every time through but the last has the same melody, bass
    and chords."""
    tune, arrangement, step = practice
    span = one_ending(tune, step.span)
    plan = Plan((step._replace(span=span, times=4, gap=0, echo=False),))
    plays = [
        SimpleNamespace(
            tracks=[s.sounding.events(place) for place in range(len(arrangement.tracks))],
            down=next((b.onset for b in s.frame if not b.begins), s.start),
        )
        for s in route(arrangement, plan, tune)
        if s.kind is Kind.PLAY
    ]
    shapes = [
        [
            [(e.onset - s.down, e.length, e.pitches) for e in events if e.onset >= s.down]
            for events in s.tracks
        ]
        for s in plays
    ]
    assert shapes[0] == shapes[1] == shapes[2]
    assert [len(track) for track in shapes[3]] == [len(track) for track in shapes[1]]


@TRIES
@given(practices())
def test_held_chords_begin_each_time_through(practice):
    """Where a chord is in force at the start of a time through, it is struck there."""
    tune, _arrangement, step = practice
    sustained = arrange(tune, STYLES["drone"])
    for stretch in route(sustained, Plan((step,)), tune):
        if stretch.sounding is not None:
            downbeat = next(bar.onset for bar in stretch.frame if not bar.begins)
            assert downbeat in [e.onset for e in stretch.sounding.events(1)]


@TRIES
@given(practices(), practices())
def test_steps_follow_each_other(practice, other):
    """Two steps in one plan last together as long as each alone, where both are counted in."""
    tune, arrangement, step = practice
    first = step._replace(count_in=1)
    second = other[2]._replace(span=step.span, count_in=2)
    together = performed(tune, arrangement, first, second)
    alone = performed(tune, arrangement, first), performed(tune, arrangement, second)
    assert together.stop - together.start == sum(one.stop - one.start for one in alone)
    assert together.seconds == pytest.approx(sum(one.seconds for one in alone))
