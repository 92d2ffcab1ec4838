"""Laws of the player: whatever is asked for, whenever, and however it ends."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from backing.arranging.arrangement import Role
from backing.live import wire
from backing.live.actions import Action
from backing.live.shown import State
from backing.music.tempo import Tempo
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.plan import Click, Plan, Step
from backing.render.presses import ticks

pytestmark = pytest.mark.slow

TRIES = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
EXTRA = {
    "one bar": 'X:1\nT:One\nM:2/4\nL:1/8\nQ:1/4=400\nK:G\n"G"GA "D"Bd|]\n',
    "pickup and endings": (
        'X:1\nT:Ends\nM:6/8\nL:1/8\nQ:3/8=90\nK:G\n|:D|"G"GBd gdB|"C"cea "D"fed|'
        '1 "G"G3 "D"A2:|2 "G"G3 "G"G2|]\n|:d|"Em"e2g "D"fed|[Q:3/8=140]"C"c3 "D"!fermata!d3|'
        '"G"G3 G2:|\n'
    ),
    "free metre": 'X:1\nT:Free\nM:none\nL:1/4\nQ:1/4=90\nK:G\n"G"GABcd|"D"dc3 A|]\n',
}
ASKED = [action for action in Action if action is not Action.END]


@st.composite
def scripts(draw):
    """Actions at moments of the first half minute; some come close together."""
    moments = draw(st.lists(st.floats(-0.1, 30), max_size=25))
    some = draw(st.lists(st.sampled_from(ASKED), min_size=len(moments), max_size=len(moments)))
    return sorted(zip(moments, some, strict=True), key=lambda each: each[0])


MUSIC = {}


def music_of(stage, name):
    """One of the tunes, arranged once."""
    if name not in MUSIC:
        MUSIC[name] = stage.arranged(EXTRA.get(name, stage.TUNE), "sustained")
    return MUSIC[name]


def check_silent(stage, played):
    """Every note struck has been ended, none was struck twice, moments never go back, and the
    last messages silence every channel used."""
    messages = played.messages()
    assert not stage.still_sounding(messages)
    dues = [due for due, _ in messages]
    assert all(one <= other for one, other in pairwise(dues))
    channels = (1, 2, 3, 10)
    quiet = list(wire.quiet(channels))
    assert [message for _, message in messages[-len(quiet) :]] == quiet
    before = [message for _, message in messages[: -len(quiet)]]
    assert not stage.still_sounding([(0.0, message) for message in before])


@TRIES
@given(
    script=scripts(),
    name=st.sampled_from(["stage", *EXTRA]),
    step=st.sampled_from(
        [Step(), Step(Bars(1, 1)), Step(OneSection("A"), times=2), Step(Whole(), count_in=0)]
    ),
    endless=st.booleans(),
    sync=st.booleans(),
    muted=st.sets(st.sampled_from([Role.MELODY, Role.CHORDS, Role.CLICK])),
    away=st.none() | st.tuples(st.floats(0, 20), st.floats(0, 25)),
)
def test_no_note_is_left_or_struck_twice(stage, script, name, step, endless, sync, muted, away):
    """Whatever is asked for at whatever moment, every note has its end, no key is struck twice
    without an end between, and the moments of the messages never go back."""
    script = [*script, (31.0, Action.END)]
    played = stage.Stage(
        music_of(stage, name), step, script, endless=endless, sync=sync, muted=muted, away=away
    ).play()
    check_silent(stage, played)
    for due, at, _ in played.port.messages:
        assert at - due >= -1e-9


@st.composite
def plans(draw):
    """One to three steps, with all that a step may have."""

    def step():
        return Step(
            draw(st.sampled_from([Whole(), Bars(1, 1), Bars(1, 2), OneSection("A")])),
            draw(
                st.sampled_from(
                    [
                        Fraction(1),
                        Fraction(3, 5),
                        Tempo(Fraction(90), Fraction(1, 4)),
                        Tempo(Fraction(40), Fraction(1, 4)),
                    ]
                )
            ),
            times=draw(st.integers(1, 2)),
            muted=frozenset(draw(st.sets(st.sampled_from([Role.MELODY, Role.CHORDS, Role.CLICK])))),
            count_in=draw(st.sampled_from([None, 0, 1])),
            echo=draw(st.booleans()),
            gap=draw(st.integers(0, 1)),
            whole_pickup=draw(st.booleans()),
            click=draw(st.none() | st.sampled_from(Click)),
        )

    return Plan(tuple(step() for _ in range(draw(st.integers(1, 3)))))


EXTRA["ornaments"] = (
    'X:1\nT:Cuts\nM:3/4\nL:1/8\nQ:1/4=300\nK:G\n|:{cd}B2|"G"{a}g2 ~d4|"D"Ta4 {d}d2|Tf6|Tf6:|\n'
)
EXTRA["full last bar"] = (
    'X:1\nT:Full\nM:3/4\nL:1/8\nQ:1/4=150\nK:G\n|:D2|"G"G2B2d2|"D"A2F2D2:|\n|:d2|"C"c2e2g2|"G"G6:|\n'
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    plan=plans(),
    name=st.sampled_from(
        ["stage", "pickup and endings", "free metre", "full last bar", "ornaments"]
    ),
)
def test_every_plan_is_played_as_it_is_written(stage, plan, name):
    """The player sends what a file of the same plan has, note by note, at the same moments:
    steps, echoes, gaps, count-ins, mutes, tempi, endings, pickups."""
    music = music_of(stage, name)
    assume(not {*Role} - {Role.SECOND} <= frozenset.intersection(*(s.muted for s in plan.steps)))
    played = stage.Stage(music, plan).play()
    expected = stage.in_order(stage.written(music, plan)[0])
    found = [(due, *message) for due, message in played.messages() if message[0] < stage.CONTROL]
    found = stage.in_order(found)
    assert [each[1:] for each in found] == [each[1:] for each in expected]
    apart = [one[0] - other[0] for one, other in zip(found, expected, strict=True)]
    assert max(apart, default=0) - min(apart, default=0) < 1e-9
    check_silent(stage, played)


@TRIES
@given(script=scripts(), plan=plans(), name=st.sampled_from(["stage", "full last bar"]))
def test_a_plan_that_is_steered_leaves_no_note(stage, script, plan, name):
    """Whatever is asked for in a plan of several steps, every note has its end."""
    played = stage.Stage(
        music_of(stage, name), plan, [*script, (31.0, Action.END)], endless=True
    ).play()
    check_silent(stage, played)


JUMPS = [
    Action.THIS_SECTION, Action.WHOLE, Action.ASKED, Action.BAR_BACK, Action.BAR_ON,
    Action.SECTION_BACK, Action.SECTION_ON, Action.THIS_BAR,
]  # fmt: skip
EXTRA["no pickup"] = (
    'X:1\nT:Full\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n|:"G"GABc|"D"d4|"C"e2c2:|\n|:"G"B4|A2"D"F2|G4:|\n'
)
WAYS = [("stage", Step()), ("stage", Step(OneSection("B")))] + [
    ("no pickup", Step(span)) for span in (Whole(), Bars(2, 3))
]


@settings(max_examples=30, deadline=None)
@given(data=st.data(), way=st.sampled_from(WAYS), sync=st.booleans())
def test_jumps_never_break_the_beat(stage, data, way, sync):
    """However often it jumps, every beat clicks once, each fourth one accented, and MIDI
    clocks come 48 a second: no gap and nothing double at any bar line."""
    name, step = way
    moments = st.tuples(st.floats(2.01, 30), st.sampled_from(JUMPS))
    jumps = data.draw(st.lists(moments, max_size=30))
    script = [*sorted(jumps, key=lambda each: each[0]), (32.2, Action.END)]
    music = music_of(stage, name)
    played = stage.Stage(music, step, script, endless=True, sync=sync).play()
    clicks = played.onsets(10)
    assert [due for due, _ in clicks] == [place / 2 for place in range(65)]
    assert [key for _, key in clicks] == [77 if place % 4 else 76 for place in range(65)]
    clocks = [due for due, message in played.messages() if message == wire.CLOCK]
    assert clocks == pytest.approx([place / 48 for place in range(len(clocks))], abs=1e-6)
    check_silent(stage, played)


@settings(max_examples=80, deadline=None)
@given(moment=st.floats(0.0, 12.0), kind=st.sampled_from([KeyboardInterrupt, RuntimeError]))
def test_however_it_ends_all_is_silent(stage, moment, kind):
    """An exception or Ctrl-C out of the clock, a sleep or the port ends every note."""
    played = stage.Stage(endless=True)
    played.time.fault_at, played.time.fault = played.start + moment, kind()
    with pytest.raises(kind):
        played.play()
    check_silent(stage, played)
    assert played.shown[-1][1].state is State.ENDED


def test_ctrl_c_in_each_message(stage):
    """Ctrl-C while any one message of the first bars is being sent leaves no note sounding."""
    whole = stage.Stage(step=Step(count_in=0), actions=[(2.2, Action.END)]).play()
    for _, at, _ in whole.port.messages[:-17]:
        played = stage.Stage(step=Step(count_in=0))
        played.time.fault_at = at + stage.HAIR / 2
        with pytest.raises(KeyboardInterrupt):
            played.play()
        check_silent(stage, played)


def test_a_second_ctrl_c_is_silent_too(stage):
    """Ctrl-C once more while notes are being ended does not keep them sounding."""
    played = stage.Stage(actions=[(4.3, Action.END)])
    played.time.fault_at = played.start + 4.3 + 0.0082
    send, count = played.port.send, []

    def interrupted(message, due):
        send(message, due)
        if message[0] & 0xF0 == stage.CONTROL:
            count.append(message)
            if len(count) == 1:
                raise KeyboardInterrupt

    played.time.fault_at = float("inf")
    played.port.send = interrupted
    with pytest.raises(KeyboardInterrupt):
        played.play()
    check_silent(stage, played)


def test_nothing_happens_after_the_end(stage):
    """What is asked for after the end, or together with it, is not done."""
    played = stage.Stage(actions=[(4.3, Action.END), (4.3, Action.STOP_GO)]).play()
    check_silent(stage, played)
    count = len(played.messages())
    for action in Action:
        played.player.act(action)
    assert len(played.messages()) == count


# -- tempo ------------------------------------------------------------------------------


def positions(stage, played):
    """Each note-on's channel, key, and the moment that it was due."""
    return [(m[0], m[1], due) for due, m in played.messages() if m[0] & 0xF0 == stage.ON]


def test_a_change_of_tempo_acts_at_once(stage):
    """In the middle of a bar the next beat already comes at the new tempo; the place in the
    music does not jump, and nothing is lost or doubled."""
    plain = positions(stage, stage.Stage().play())
    played = stage.Stage(actions=[(4.25, Action.SLOWER)] * 2)
    found = positions(stage, played.play())
    assert [each[:2] for each in found] == [each[:2] for each in plain]
    changed = 4.25
    for (*_, due), (*_, own) in zip(found, plain, strict=True):
        if own < changed:
            assert due == pytest.approx(own, abs=1e-9)
        else:
            assert due == pytest.approx(changed + (own - changed) / 0.9, abs=0.001)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 30), st.sampled_from([Action.SLOWER, Action.FASTER])),
                max_size=200))  # fmt: skip
def test_after_many_changes_deadlines_are_exact(stage, changes):
    """After two hundred changes of tempo no event is lost or doubled, and every one comes where
    the sum of its stretches at each tempo says, to a hair."""
    changes = sorted(changes, key=lambda each: each[0])
    plain = positions(stage, stage.Stage().play())
    played = stage.Stage(actions=changes)
    anchors = []
    act = played.player.act

    def noted(action):
        act(action)
        anchors.append((played.time.at - played.start, played.player.sender.factor))

    played.player.act = noted
    found = positions(stage, played.play())
    assert [each[:2] for each in found] == [each[:2] for each in plain]
    own, moment, factor = 0.0, 0.0, Fraction(1)
    expected, left = [], list(anchors)
    for *_, music in plain:
        while left and own + (left[0][0] - moment) * float(factor) <= music:
            own += (left[0][0] - moment) * float(factor)
            moment, factor = left.pop(0)
        expected.append(moment + (music - own) / float(factor))
    late = [due - when for (*_, due), when in zip(found, expected, strict=True)]
    assert max(map(abs, late), default=0) < 5 * stage.HAIR * (1 + len(changes))


@pytest.mark.parametrize(
    ("action", "tempo", "last"),
    [(Action.FASTER, 120, 396), (Action.SLOWER, 120, 12), (Action.FASTER, 400, 400)],
)
def test_the_tempo_has_limits(stage, action, tempo, last):
    """Steps are five per cent of the tune's own tempo; it stays within 10 to 400 beats."""
    step = Step(tempo=Tempo(Fraction(tempo), Fraction(1, 4)))
    actions = [*((0.2, action) for _ in range(100)), (0.5, Action.END)]
    shown = stage.Stage(step=step, actions=actions).play().shown[-1][1]
    assert shown.tempo.beats == last


def test_odd_tempi_step_to_whole_fives(stage):
    """From 62 per cent faster is 65 and slower is 60."""
    for action, per_cent in ((Action.FASTER, 65), (Action.SLOWER, 60)):
        played = stage.Stage(
            step=Step(tempo=Fraction(62, 100)), actions=[(0.2, action), (0.5, Action.END)]
        ).play()
        assert played.shown[-1][1].factor == Fraction(per_cent, 100)


def test_a_tempo_change_in_the_count_in(stage):
    """In the count-in a change of tempo acts on its next click."""
    played = stage.Stage(actions=[(0.25, Action.FASTER)] * 20).play()
    clicks = [due for due, _ in played.onsets(10)]
    assert clicks[:3] == pytest.approx([0, 0.375, 0.625], abs=0.002)


# -- for long ---------------------------------------------------------------------------


def test_an_hour_round_and_round(stage):
    """After an hour of a bar of two beats its bar lines are still exact, and the player
    remembers no more than after a minute."""
    step = Step(tempo=Tempo(Fraction(100), Fraction(1, 4)))
    played = stage.Stage(
        music_of(stage, "one bar"), step, [(3600, Action.END)], endless=True, muted=[*Role]
    )
    sender = played.player.sender
    most = []
    inner = sender.ahead._enter

    def counted():
        ahead = sender.ahead
        kept = (ahead.cues, ahead._made, sender.notes, sender.timeline._seconds._ticks)
        most.append(sum(map(len, kept)))
        return inner()

    sender.ahead._enter = counted
    played.play()
    assert len(most) > 2990
    assert max(most) == max(most[:100])
    beat = next(shown.beat for _, shown in reversed(played.shown) if shown.beat)
    seconds = beat.bar.onset * 4 * 60 / 100 + 4 * Fraction(60, 100)  # counted in with two bars
    assert 3595 < seconds <= 3600
    assert sender.timeline.due(ticks(beat.bar.onset)) - played.start == pytest.approx(
        seconds, abs=1e-9
    )


def test_a_flood_of_actions(stage):
    """A thousand actions at once are all done, and every note still ends."""
    flood = [(4.3, ASKED[place % len(ASKED)]) for place in range(1000)]
    played = stage.Stage(actions=[*flood, (30, Action.END)], endless=True).play()
    assert not played.script.actions
    check_silent(stage, played)
