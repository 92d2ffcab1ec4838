"""The way through a plan: stretches end to end, times, gaps, echoes, steps, mutes."""

import itertools
from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, Join, OneSection, find_bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.practice.route import route
from backing.practice.stretch import Kind

TUNE = parse_abc(
    'X:1\nT:Way\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n|:D|"G"GABc|"D"dcB:|\n|:e|"C"dcBA|"G"G3:|'
)
ARRANGED = arrange(TUNE, load_style("alternating"))
COUNT, PLAY, ECHO, GAP = Kind.COUNT_IN, Kind.PLAY, Kind.ECHO, Kind.GAP
ONE, TWO = Bars(1, 1), Bars(2, 2)

PLANS = {
    "once": ((Step(count_in=1),), [COUNT, PLAY]),
    "no count-in": ((Step(count_in=0),), [PLAY]),
    "three times": ((Step(TWO, times=3, count_in=1),), [COUNT, PLAY, PLAY, PLAY]),
    "with gaps": ((Step(TWO, times=3, gap=2),), [COUNT, PLAY, GAP, PLAY, GAP, PLAY]),
    "with echoes": ((Step(TWO, times=2, echo=True),), [COUNT, PLAY, ECHO, PLAY, ECHO]),
    "gaps and echoes": (
        (Step(TWO, times=2, echo=True, gap=1),),
        [COUNT, PLAY, GAP, ECHO, GAP, PLAY, GAP, ECHO],
    ),
    "two steps": ((Step(ONE), Step(TWO, times=2)), [COUNT, PLAY, COUNT, PLAY, PLAY]),
    "steps without counts": ((Step(TWO, count_in=0),) * 3, [PLAY] * 3),
    "sections": (
        (Step(OneSection("A"), times=2), Step(OneSection("B"), count_in=0)),
        [COUNT, PLAY, PLAY, PLAY],
    ),
    "faster each step": (
        tuple(Step(TWO, Fraction(p, 100), count_in=0) for p in (50, 60, 70)),
        [PLAY] * 3,
    ),
}


def walk(*steps):
    """The stretches of a plan."""
    return list(route(ARRANGED, Plan(steps), TUNE))


@pytest.mark.parametrize(("steps", "kinds"), PLANS.values(), ids=PLANS.keys())
def test_what_comes_after_what(steps, kinds):
    """Count-in, times through, echoes and gaps come in this order."""
    assert [stretch.kind for stretch in walk(*steps)] == kinds


@pytest.mark.parametrize("steps", [row[0] for row in PLANS.values()], ids=PLANS.keys())
def test_stretches_lie_end_to_end(steps):
    """Every stretch starts where the one before it stops, and so does every bar."""
    stretches = walk(*steps)
    for stretch, following in itertools.pairwise(stretches):
        assert following.start == stretch.stop
    bars = perform(ARRANGED, Plan(steps), TUNE).bars
    for bar, following in itertools.pairwise(bars):
        assert following.onset == bar.stop


@pytest.mark.parametrize("steps", [row[0] for row in PLANS.values()], ids=PLANS.keys())
def test_the_first_full_bar_is_at_0(steps):
    """Whatever the plan, its first full bar of music starts at 0."""
    full = [bar for bar in perform(ARRANGED, Plan(steps), TUNE).bars if bar.index >= 0]
    assert next(bar.onset for bar in full if not bar.begins) == 0


@pytest.mark.parametrize("steps", [row[0] for row in PLANS.values()], ids=PLANS.keys())
def test_everything_sounds_inside(steps):
    """No event begins before the performance or ends after it; each track is in order."""
    performance = perform(ARRANGED, Plan(steps), TUNE)
    for track in performance.tracks:
        onsets = [event.onset for event in track.events]
        assert onsets == sorted(onsets)
        for event in track.events:
            assert performance.start <= event.onset < event.stop <= performance.stop


def test_stretches_know_step_and_time():
    """A stretch says which step it belongs to and which time through it is."""
    stretches = walk(Step(ONE, count_in=1), Step(TWO, times=2, count_in=0))
    assert [(s.step, s.time, s.times) for s in stretches] == [
        (0, 1, 1), (0, 1, 1), (1, 1, 2), (1, 2, 2),
    ]  # fmt: skip


def test_an_echo_is_without_the_melody():
    """In an echo the melody rests and the backing goes on as before."""
    performance = perform(ARRANGED, Plan((Step(TWO, echo=True, count_in=1),)), TUNE)
    melody = [event.onset for event in performance.track(Role.MELODY).events]
    bass = [event.onset for event in performance.track(Role.BASS).events]
    assert melody
    assert all(0 <= onset < 1 for onset in melody)
    half = len(bass) // 2
    assert bass[half:] == [onset + 1 for onset in bass[:half]]


def test_only_clicks_in_a_gap():
    """In the bars of a gap nothing sounds but the click."""
    performance = perform(ARRANGED, Plan((Step(TWO, times=2, gap=2, count_in=0),)), TUNE)
    for track in performance.tracks[:3]:
        assert track.events
        assert not [e for e in track.events if 1 <= e.onset < 3]
    clicks = [e.onset for e in performance.track(Role.CLICK).events if 1 <= e.onset < 3]
    assert clicks == [1 + Fraction(at, 4) for at in range(8)]


def test_a_pickup_sounds_at_the_end_of_a_gap():
    """The pickup of the next time sounds inside the last bar of the gap, over soft clicks."""
    performance = perform(ARRANGED, Plan((Step(ONE, times=2, gap=1, count_in=1),)), TUNE)
    assert Fraction(7, 4) in [e.onset for e in performance.track(Role.MELODY).events]
    velocities = {e.onset: e.velocity for e in performance.track(Role.CLICK).events}
    assert velocities[Fraction(7, 4)] < velocities[Fraction(3, 2)]


@pytest.mark.parametrize("role", [Role.MELODY, Role.BASS, Role.CHORDS])
def test_a_muted_track_keeps_its_events(role):
    """Muting a track marks it and changes nothing else: no other track, not its events."""
    plain = perform(ARRANGED, Plan((Step(),)), TUNE)
    muted = perform(ARRANGED, Plan((Step(muted=frozenset({role})),)), TUNE)
    assert muted.track(role).muted
    assert muted.track(role).events == plain.track(role).events
    for track in muted.tracks:
        if track.role is not role:
            assert track == plain.track(track.role)
    assert (muted.bars, muted.tempos, muted.seconds) == (plain.bars, plain.tempos, plain.seconds)


def test_a_track_muted_in_one_step_sounds_in_the_other():
    """A step that mutes the melody leaves its events out of that step only."""
    steps = (Step(TWO, count_in=0), Step(TWO, muted=frozenset({Role.MELODY}), count_in=0))
    melody = perform(ARRANGED, Plan(steps), TUNE).track(Role.MELODY)
    assert not melody.muted
    assert melody.events
    assert all(event.onset < 1 for event in melody.events)


def test_a_muted_click_still_counts_in():
    """With the click muted the count-in sounds and nothing after it."""
    step = Step(muted=frozenset({Role.CLICK}), count_in=2)
    click = perform(ARRANGED, Plan((step,)), TUNE).track(Role.CLICK)
    assert not click.muted
    assert [event.onset for event in click.events] == [Fraction(at, 4) for at in range(-8, 0)]


def test_a_muted_click_without_count_in_is_muted():
    """With the click muted and no count-in the whole click track is muted and kept."""
    step = Step(muted=frozenset({Role.CLICK}), count_in=0)
    click = perform(ARRANGED, Plan((step,)), TUNE).track(Role.CLICK)
    assert click.muted
    assert len(click.events) > 4


def test_steps_have_their_own_tempi():
    """Each step goes at its own tempo, its count-in too."""
    steps = (
        Step(TWO, Fraction(1, 2), count_in=1),
        Step(TWO, Tempo(Fraction(90), Fraction(1, 4)), count_in=1),
    )
    performance = perform(ARRANGED, Plan(steps), TUNE)
    assert [(str(p.onset), str(p.tempo)) for p in performance.tempos] == [
        ("-1", "1/4 = 60"), ("1", "1/4 = 90"),
    ]  # fmt: skip
    assert performance.seconds == pytest.approx(8 + 8 * 60 / 90)


def test_markers_name_what_is_played():
    """Markers name the count-in, each time through, part and bar, a pickup where it begins
    inside the bar before, and the end."""
    performance = perform(ARRANGED, Plan((Step(OneSection("A"), times=2, count_in=1),)), TUNE)
    assert [(str(marker.onset), marker.text) for marker in performance.markers] == [
        ("-1", "count-in"),
        ("0", "time through 1 of 2"), ("-1/4", "A part"), ("-1/4", "bar 0"),
        ("0", "bar 1"), ("1", "bar 2"),
        ("2", "time through 2 of 2"), ("7/4", "A part"), ("7/4", "bar 0"),
        ("2", "bar 1"), ("3", "bar 2"), ("15/4", "end"),
    ]  # fmt: skip


def test_chord_symbols_go_along():
    """Chord symbols stand in the performance wherever their bars are played."""
    performance = perform(ARRANGED, Plan((Step(OneSection("A"), times=2, count_in=1),)), TUNE)
    assert [(str(text.onset), text.text) for text in performance.chords] == [
        ("0", "G"), ("1", "D"), ("2", "G"), ("3", "D"),
    ]  # fmt: skip


def test_a_part_that_leads_into_itself_ends_with_its_first_ending():
    """The join of a part with itself goes from its first ending to its beginning; that with
    another part goes on from its last ending."""
    tune = parse_abc("X:1\nM:4/4\nL:1/4\nK:G\n|:GABc|1dcBA:|2G4|:edcB|A4:|")
    assert find_bars(tune, Join("A", "A", 1)) == (1, 0)
    assert find_bars(tune, Join("A", "B", 1)) == (2, 3)
