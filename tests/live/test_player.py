"""Straight play: a player sends what a file of the same practice holds."""

from fractions import Fraction
from io import BytesIO
from itertools import groupby, pairwise
from pathlib import Path

import mido
import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.errors import PracticeError
from backing.files import load_style, read_tune
from backing.live.actions import Action
from backing.live.shown import State
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.passages import Bars, OneSection
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

EXAMPLES = Path(__file__).parents[2] / "examples"
BOOKS = sorted(EXAMPLES.glob("*.abc"))
#: A pickup longer than the last bar's room; a note held into a fermata; tempo and metre change.
ODD = {
    "long pickup": "M:4/4\nL:1/4\nQ:1/4=96\nK:G\nGA|\"G\"BGBd|\"D\"dcA2|\"G\"B3:|",
    "fermata and tempi": 'M:3/4\nL:1/4\nQ:1/4=120\nK:G\nD|"G"G!fermata!B2|[Q:1/4=80]"D"A3|"G"G2|]',
    "metres": 'M:6/8\nL:1/8\nK:D\nA|"D"dfd "A"ecA|[M:3/4]"D"d2 f2 a2|[M:2/4]"G"b2 "D"a2|]',
    "free metre": 'M:none\nL:1/4\nQ:1/4=90\nK:G\n"G"GABcd|"D"dc3 A|]',
    "ornaments": 'M:3/4\nL:1/8\nQ:1/4=100\nK:G\n{cd}B2|"G"{a}g2 ~d4|"D"Ta4 {d}!fermata!d2|'
    '[Q:1/4=300]Tf6|Tf6|"G"{g}TB2 {fg}A2 G2|"D"G2 ~f2|]',
    "one bar": 'M:2/4\nL:1/8\nK:G\n"G"GA "D"Bd|]',
    "one short bar": 'M:4/4\nL:1/4\nK:G\n"G"GAB|]',
    "uneven": 'M:7/8\nL:1/8\nK:G\n"G"GAB "D"cd "G"ed|"G"(3GAB (3cde "D"fga|]',
}  # fmt: skip
STEPS = {
    "whole": Step(),
    "whole three times": Step(times=3),
    "no count-in": Step(count_in=0, times=2),
    "slower": Step(tempo=Fraction(3, 5), times=2),
    "a tempo": Step(tempo=Tempo(Fraction(77), Fraction(1, 4))),
    "first bar": Step(Bars(1, 1), times=3),
    "part": Step(OneSection("A"), times=3, count_in=1),
}


def odd(name, style="alternating"):
    """One of the odd little tunes."""
    tune = parse_abc(f"X:1\nT:Odd\n{ODD[name]}\n")
    return arrange(tune, load_style(style)), tune


def check_the_same(stage, music, step):
    """What is played is what is written, note by note, at the same moments."""
    played = stage.Stage(music, step).play()
    expected, seconds = stage.written(music, step)
    expected = stage.in_order(expected)
    first = expected[0][0]
    found = [
        (due + first, *message) for due, message in played.messages() if message[0] < stage.CONTROL
    ]
    found = stage.in_order(found)
    assert [each[1:] for each in found] == [each[1:] for each in expected]
    late = [one[0] - other[0] for one, other in zip(found, expected, strict=True)]
    assert max(map(abs, late)) < 1e-9
    ended = played.shown[-1]
    assert ended[1].state is State.ENDED
    assert seconds <= ended[0] + first < seconds + 0.01


@pytest.mark.slow
@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
@pytest.mark.parametrize("style", ["alternating", "sustained", "bass-runs"])
def test_examples_are_played_as_they_are_written(stage, path, style):
    """Every example is played key by key as its file has it, at the file's seconds."""
    tune = read_tune(path).tune
    check_the_same(stage, (arrange(tune, load_style(style)), tune), Step())


@pytest.mark.slow
@pytest.mark.parametrize("name", ODD)
@pytest.mark.parametrize("step", STEPS.values(), ids=STEPS.keys())
def test_odd_tunes_are_played_as_they_are_written(stage, name, step):
    """Pickups, fermatas, changes of tempo and metre, free metre: loops of them are played
    as their files have them."""
    check_the_same(stage, odd(name), step)


@pytest.mark.slow
@pytest.mark.parametrize("step", STEPS.values(), ids=STEPS.keys())
def test_steps_are_played_as_they_are_written(stage, step):
    """Loops with pickups and held chords across their seams are played as files have them."""
    check_the_same(stage, stage.arranged(), step)


PLANS = {
    "two steps": Plan((Step(OneSection("A"), times=2), Step(Bars(2, 3), Fraction(3, 5)))),
    "echo": Plan((Step(Bars(1, 2), times=2, echo=True),)),
    "gap": Plan((Step(OneSection("B"), times=3, gap=1),)),
    "echo and gap": Plan((Step(Bars(1, 1), times=2, echo=True, gap=2, count_in=1),)),
    "one after the other without a count-in": Plan(
        (Step(OneSection("A"), count_in=0), Step(OneSection("B"), count_in=0))
    ),
    "each mutes another": Plan(
        (
            Step(Bars(1, 2), muted=frozenset({Role.MELODY})),
            Step(Bars(1, 2), muted=frozenset({Role.BASS, Role.CLICK}), count_in=1),
            Step(Bars(1, 2), Tempo(Fraction(90), Fraction(1, 4)), count_in=0),
        )
    ),
}


@pytest.mark.parametrize("style", ["alternating", "sustained"])
@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS.keys())
def test_plans_are_played_as_they_are_written(stage, plan, style):
    """Several steps, echoes, gaps, each with its own tempo, count-in and mutes, are played as
    their file has them."""
    check_the_same(stage, stage.arranged(style=style), plan)


def test_what_is_muted_is_shown_stretch_by_stretch(stage):
    """In an echo the screen tells that the melody is left out, in the time before and the gap
    that it is not; what sounds is called by its kind."""
    plan = Plan((Step(Bars(1, 1), times=2, count_in=1, echo=True, gap=1),))
    shown = stage.Stage(step=plan).play().shown
    found = dict.fromkeys(
        (s.beat.stretch.kind.value, s.beat.stretch.time, Role.MELODY in s.muted)
        for _, s in shown
        if s.beat
    )
    assert list(found) == [
        ("count-in", 1, False), ("play", 1, False), ("gap", 1, False), ("echo", 1, True),
        ("play", 2, False), ("gap", 2, False), ("echo", 2, True),
    ]  # fmt: skip


ECHOED = Plan((Step(Bars(1, 1), times=3, count_in=1, echo=True),))


def bars_with_melody(played):
    """The bars of two seconds, from bar 1 on, in which the melody is struck."""
    return {int(due // 2) for due, _ in played.onsets(1) if due >= 2}


def test_a_melody_turned_on_sounds_in_echoes_too(stage):
    """Turned on in an echo, the melody sounds in it and from then on; turned off again there,
    it is left out of echoes only, as planned."""
    assert bars_with_melody(stage.Stage(step=ECHOED).play()) == {1, 3, 5}
    turned = [(4.1, Action.MELODY)]
    on = stage.Stage(step=ECHOED, actions=turned).play()
    assert bars_with_melody(on) == {1, 2, 3, 4, 5, 6}
    again = stage.Stage(step=ECHOED, actions=[*turned, (4.2, Action.MELODY)]).play()
    assert bars_with_melody(again) == {1, 3, 5}


def test_a_melody_turned_off_is_off_in_every_stretch(stage):
    """Turned off in a time through, the melody is silent there and in the echo."""
    off = stage.Stage(step=ECHOED, actions=[(2.1, Action.MELODY)]).play()
    assert not [due for due, _ in off.onsets(1) if due > 2.1]


def test_a_tempo_change_acts_on_every_step(stage):
    """Faster by a sixth in a step at 60 per cent, the next step, at 80, is faster by a sixth
    too; per cent are of the tune's own tempo."""
    plan = Plan((Step(Bars(1, 1), Fraction(3, 5)), Step(Bars(1, 1), Fraction(4, 5), count_in=1)))
    shown = stage.Stage(step=plan, actions=[(0.2, Action.FASTER)] * 2).play().shown
    factors = dict.fromkeys((s.beat.stretch.step, s.factor) for _, s in shown if s.beat)
    assert list(factors)[1:] == [(0, Fraction(70, 100)), (1, Fraction(14, 15))]


@pytest.mark.parametrize(
    ("beats", "action", "per_cent"),
    [
        (380, Action.FASTER, [100, 105]),  # 399 beats a minute
        (380, Action.SLOWER, [100, 95, 90, 85]),
        (11, Action.FASTER, [100, 105, 110, 115]),
        (11, Action.SLOWER, [100, 95]),  # 10.45 beats a minute
    ],
)
def test_a_tempo_change_stays_in_bounds(stage, beats, action, per_cent):
    """Each step is five per cent of the tune's own tempo; past 10 and 400 beats a minute nothing
    changes."""
    music = stage.arranged(f"X:1\nM:4/4\nL:1/4\nQ:1/4={beats}\nK:G\n" + '"G"GGGG|' * 4)
    second = 60 / beats
    actions = [(second * at, action) for at in (1.5, 2.5, 3.5)]
    shown = stage.Stage(music, actions=actions).play().shown
    factors = dict.fromkeys(s.factor * 100 for _, s in shown if s.beat)
    assert list(factors) == per_cent


def test_a_step_slower_goes_to_the_next_five_per_cent(stage):
    """From 62 per cent slower is 60 and faster is 65, and from 60 slower is 55."""
    for start, action, stop in ((62, "SLOWER", 60), (62, "FASTER", 65), (60, "SLOWER", 55)):
        step = Step(Bars(1, 1), Fraction(start, 100))
        shown = stage.Stage(step=step, actions=[(0.2, Action[action])]).play().shown
        assert [s.factor * 100 for _, s in shown if s.beat][-1] == stop


@pytest.mark.slow
@pytest.mark.parametrize("name", ODD)
def test_mido_reads_the_same(stage, name):
    """The messages are those that mido reads from our file, in its order and at its times,
    but for the file's whole microseconds a quarter."""
    step = Step(times=2)
    music = odd(name)
    performance = perform(music[0], Plan((step,)), music[1])
    file = mido.MidiFile(file=BytesIO(render_midi(performance, single_track=True)))
    seconds, read = 0.0, []
    for message in file:
        seconds += message.time
        if message.type in ("note_on", "note_off"):
            read.append((seconds, *message.bytes()))
    played = stage.Stage(music, step).play().messages()
    first = read[0][0]
    found = [(due + first, *message) for due, message in played if message[0] < stage.CONTROL]
    one, other = stage.in_order(found), stage.in_order(read)
    assert [each[1:] for each in one] == [each[1:] for each in other]
    quarters = seconds / 0.15  # at most: 400 quarters a minute
    for mine, theirs in zip(one, other, strict=True):
        assert mine[0] == pytest.approx(theirs[0], abs=0.5e-6 * quarters + 1e-6)


def test_offs_come_first_and_the_left_hand_last(stage):
    """At one moment notes end first, then click, melody, bass and chords sound (common
    practice on a wire that takes a millisecond a message)."""
    rank = {10: 1, 1: 2, 2: 3, 3: 4}
    sent = [
        (round(due, 9), 0 if message[0] & 0xF0 == stage.OFF else rank[(message[0] & 0xF) + 1])
        for due, message in stage.Stage(step=Step(times=2)).play().messages()
        if message[0] < stage.CONTROL
    ]
    assert sent == sorted(sent)


def test_no_message_is_sent_before_it_is_due(stage):
    """Every message is sent at its moment or just after it, never before."""
    played = stage.Stage().play()
    for due, at, _ in played.port.messages:
        assert 0 <= at - due < 0.002


def test_the_opening_comes_first(stage):
    """Instruments and levels are sent before the first note."""
    opening = (b"\xc0\x15", b"\xb0\x07\x6e")
    sent = [message for _, message in stage.Stage(opening=opening).play().messages()]
    assert tuple(sent[:2]) == opening
    assert sent[2][0] & 0xF0 == stage.ON


def test_a_muted_melody_is_silent_from_the_start(stage):
    """What the step mutes is not heard, the rest is."""
    played = stage.Stage(muted=[Role.MELODY]).play()
    assert not played.notes(1)
    assert played.notes(2)
    assert played.notes(10)


def test_muting_ends_and_withholds(stage):
    """A muted track's sounding notes end at once, later ones are withheld."""
    played = stage.Stage(actions=[(4.1, Action.CHORDS)]).play()
    offs = [due for due, kind, _ in played.notes(3) if kind == stage.OFF]
    ons = [due for due, kind, _ in played.notes(3) if kind == stage.ON]
    assert max(offs) == pytest.approx(4.1, abs=0.01)
    assert max(ons) < 4.1


@pytest.mark.parametrize("muted", [(), (Role.CHORDS,)])
def test_unmuting_strikes_held_chords_again(stage, muted):
    """A held chord sounds again as soon as its track does (common practice, no source)."""
    actions = [(4.6, Action.CHORDS)] if muted else [(4.1, Action.CHORDS), (4.6, Action.CHORDS)]
    played = stage.Stage(actions=actions, muted=muted).play()
    again = [key for due, key in played.onsets(3) if 4.59 < due < 4.65]
    whole = stage.Stage().play()
    held = [key for due, key in whole.onsets(3) if due == 4.0]
    assert held
    assert again == held
    later = [each for each in played.onsets(3) if each[0] > 4.7]
    assert later == [each for each in whole.onsets(3) if each[0] > 4.7]


@pytest.mark.parametrize("role", [Role.BASS, Role.CHORDS])
def test_a_chord_struck_again_lasts_no_longer_than_its_harmony(stage, role):
    """A chord that is struck again in its middle ends when it would have ended."""
    action = Action.BASS if role is Role.BASS else Action.CHORDS
    channel = 2 if role is Role.BASS else 3
    played = stage.Stage(actions=[(4.1, action), (4.6, action)]).play()
    whole = stage.Stage().play()

    def ends(heard):
        notes = [(round(due, 2), kind, key) for due, kind, key in heard.notes(channel)]
        return sorted(note for note in notes if note[1] == stage.OFF and note[0] > 4.7)

    assert ends(whole)
    assert ends(played) == ends(whole)


def test_unmuting_does_not_strike_what_is_over(stage):
    """A chord whose time is over is not struck when its track sounds again."""
    actions = [(3.9, Action.CHORDS), (3.95, Action.STOP_GO), (5.0, Action.CHORDS)]
    played = stage.Stage(actions=[*actions, (6.0, Action.END)]).play()
    assert not [due for due, _ in played.onsets(3) if due > 3.9]


def test_a_muted_melody_note_is_not_struck_late(stage):
    """A melody note that began before its track was muted again is not struck in its middle."""
    played = stage.Stage(actions=[(4.3, Action.MELODY)], muted=[Role.MELODY]).play()
    assert next(due for due, _ in played.onsets(1)) == 5.0


def test_the_count_in_always_clicks(stage):
    """A muted click is silent, but counts in (design of the count-in; no source)."""
    played = stage.Stage(step=Step(count_in=2), muted=[Role.CLICK]).play()
    assert [due for due, _ in played.onsets(10)] == [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5]


def test_what_is_shown(stage):
    """Bar, beat, chord and the next one are shown as they come, within a few milliseconds."""
    shown = stage.Stage(step=Step(count_in=1)).play().shown
    at, first = next(each for each in shown if each[1].beat and each[1].beat.bar.number == 2)
    assert at == pytest.approx(4.0, abs=0.02)
    assert (first.beat.place, first.beat.beats, first.beat.number) == (0, 4, 1)
    assert (first.chord, first.coming) == ("D", "C")
    assert str(first.tempo) == "1/4 = 120"
    beats = [(at, s.beat) for at, s in shown if s.beat is not None]
    moments = sorted({round(at, 1) for at, beat in beats})
    assert len({id(beat) for _, beat in beats}) == 4 * 17
    assert moments[1] == 0.5


@pytest.mark.parametrize(
    ("music", "halves"),
    [
        ('|:"G"GABc|dc:|:BA|"D"d4:|', ["01", "23"]),
        ('|:"G"GABc|d3/2:|:c/BA|"D"d4:|', ["01", "123"]),
    ],
)
def test_a_bar_in_two_halves_goes_on_with_its_beats(stage, music, halves):
    """Where a repeat stands inside a bar, the second half goes on with the beats of the first;
    one that begins off the beat has its start as one more (working choice, no source)."""
    head = "X:1\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"
    played = stage.Stage(stage.arranged(f"{head}{music}\n"), Step(count_in=0)).play()
    beats = {id(shown.beat): shown.beat for _, shown in played.shown if shown.beat is not None}
    bars = groupby(beats.values(), key=lambda beat: beat.bar)
    found = [(bar.number, "".join(str(beat.place) for beat in own)) for bar, own in bars]
    once, twice = [(1, "0123"), (2, halves[0])], [(2, halves[1]), (3, "0123")]
    assert found == once * 2 + twice * 2


def test_the_tempo_shown_is_the_one_in_force(stage):
    """Where the tune changes its tempo, the new one is shown."""
    shown = stage.Stage(odd("fermata and tempi")).play().shown
    tempos = {each.beat.bar.number: str(each.tempo) for _, each in shown if each.beat}
    assert tempos[1] == "1/4 = 120"
    assert tempos[2] == tempos[3] == "1/4 = 80"


@pytest.mark.parametrize("tempo", [Fraction(0), Fraction(1, 100), Fraction(20)])
def test_a_tempo_that_makes_no_sense_is_refused(stage, tempo):
    """A step whose tempo lies outside 10 to 400 beats a minute is refused at once."""
    with pytest.raises(PracticeError, match="the tempo would be"):
        Course(*stage.arranged(), Plan((Step(tempo=tempo),)))


def test_a_practice_that_is_not_there_is_refused(stage):
    """Bars that the tune has not are refused at once."""
    with pytest.raises(PracticeError, match="there is no bar 99"):
        Course(*stage.arranged(), Plan((Step(Bars(99, 99)),)))


def test_after_a_standstill_the_music_goes_on_from_there(stage):
    """Where the machine stood still for long, what was missed is not played all at once: the
    music goes on where it was, as evenly as before."""
    played = stage.Stage()
    sleep = played.time.go

    def stands_still(seconds):
        sleep(15.0 if not stood and played.time.at - played.start > 3 else seconds)
        stood.extend([1] if played.time.at - played.start > 15 else [])

    stood = []
    played.player.clock = stage.Clock(played.time.now, stands_still)
    played.play()
    beats = [due for due, _ in played.onsets(10)]
    apart = [after - before for before, after in pairwise(beats)]
    assert len([gap for gap in apart if gap > 10]) == 1
    assert min(apart) == pytest.approx(apart[0], abs=0.01)


def test_limits_and_clicks_follow_a_change_of_tempo(stage):
    """Slowed down while it plays, cuts stay at 60 ms and slow beats are subdivided, from the next
    bar on."""
    tune = parse_abc("X:1\nT:Cut\nM:2/4\nL:1/8\nQ:1/4=60\nK:G\n" + "{c}B2 B2|" * 12)
    slower = [(0.1, Action.SLOWER)] * 10
    played = stage.Stage((arrange(tune, load_style("alternating")), tune), Step(count_in=0), slower)
    notes = played.play().notes(1)
    starts = [due for due, kind, key in notes if (kind, key) == (stage.ON, 72)]
    stops = [due for due, kind, key in notes if (kind, key) == (stage.OFF, 72)]
    lasted = [stop - start for start, stop in zip(starts, stops, strict=True)]
    assert len(lasted) == 12
    assert max(lasted[1:]) <= 0.06 + 1e-9
    clicks = [due for due, _ in played.onsets(10) if due > starts[1] - 0.01]
    assert {round(other - one, 2) for one, other in pairwise(clicks)} == {1.0}


@pytest.mark.parametrize("at", [0.1, 1.9, 1.985, 5.5, 7.3, 9.99, 12.1])
def test_a_change_of_tempo_changes_no_note(stage, at):
    """Whenever the tempo is changed, a little before a bar line, in a pickup, at a seam, the notes
    and beats are those of the file, in its order, each once."""
    step = Step(times=3, count_in=1)
    slower = [(at, Action.SLOWER)] * 2 + [(at + 0.5, Action.FASTER)]
    played = stage.Stage(step=step, actions=slower).play()
    expected, _ = stage.written(stage.arranged(), step)
    found = [
        (message[0], message[1])
        for _, message in played.messages()
        if message[0] & 0xF0 in (stage.ON, stage.OFF)
    ]
    assert sorted(found) == sorted((status, key) for _, status, key, _ in expected)
    struck = [each for each in found if each[0] & 0x10]
    assert struck == [(status, key) for _, status, key, _ in expected if status & 0x10]
    assert stage.still_sounding(played.messages()) == set()
    beats = [
        (beat.stretch.kind, beat.stretch.time, beat.number, beat.place)
        for _, shown in played.shown
        if (beat := shown.beat) is not None
    ]
    assert [beat for beat, _ in groupby(beats)] == sorted({*beats}, key=beats.index)
