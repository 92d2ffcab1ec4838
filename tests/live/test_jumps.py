"""Stop and go, jumps, loops: where the player goes on when asked.

The tune of the stage: 120 crotchets a minute in 4/4, so that a bar lasts two seconds.
The count-in is at 0, the pickup at 1.5; bar n of the first time begins at 2n seconds; bar 4
is short, its last beat at 9.5 (and 17.5) is the pickup of what follows.
"""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange_faces
from backing.arranging.arrangement import Role
from backing.arranging.faces import StyleTurns
from backing.files import load_style
from backing.live.actions import Action
from backing.live.shown import State
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

pytestmark = pytest.mark.slow

#: The melody's first note in each bar, told by its key.
BAR = {1: 67, 2: 74, 3: 76, 4: 69, 5: 76, 6: 72, 7: 78, 8: 71}
PICKUP_A, PICKUP_B = 62, 71
IN_BAR_2 = 4.3


def jumped(stage, *actions, step=None, stop=20.0, **options):
    """The stage after these actions, ended at a moment."""
    script = [*actions, (stop, Action.END)]
    return stage.Stage(step=step, actions=script, endless=True, **options).play()


def melody(played, start, stop):
    """The melody's onsets in a span of seconds."""
    return [(due, key) for due, key in played.onsets(1) if start <= due < stop]


def firsts(played, start, stop):
    """What the melody strikes at each whole bar of two seconds."""
    return [key for due, key in melody(played, start, stop) if due % 2 == 0]


def beats_from(played, first=0.0):
    """The clicks from a moment on, which must be half a second apart."""
    clicks = [due for due, _ in played.onsets(10) if due >= first]
    assert clicks == [first + 0.5 * place for place in range(len(clicks))]
    return clicks


def test_round_and_round_in_this_bar(stage):
    """From the next bar line on the bar that sounds comes again and again, without a gap or
    a double click, and its held bass is struck each time."""
    played = jumped(stage, (IN_BAR_2, Action.THIS_BAR), stop=14.1)
    assert firsts(played, 4, 14) == [BAR[2]] * 5
    assert len(beats_from(played)) == 29
    assert {6.0, 8.0, 10.0, 12.0} <= {due for due, _ in played.onsets(2)}


def test_round_and_round_in_this_part(stage):
    """From the next bar line on the part begins; its pickup sounds in the rest of the bar."""
    played = jumped(stage, (IN_BAR_2, Action.THIS_SECTION), stop=24.1)
    assert melody(played, 5, 6.1) == [(5.0, 72), (5.5, PICKUP_A), (6.0, BAR[1])]
    assert firsts(played, 6, 24) == [BAR[1], BAR[2], BAR[3], BAR[4]] * 2 + [BAR[1]]
    assert [key for due, key in melody(played, 13, 14)] == [66, PICKUP_A]
    beats_from(played)


def test_a_pickup_that_comes_too_late_is_left_out(stage):
    """A jump asked for when the pickup should have begun goes to the first full bar."""
    played = jumped(stage, (5.49, Action.THIS_SECTION), stop=7)
    assert melody(played, 5, 6.1) == [(5.0, 72), (5.5, 71), (6.0, BAR[1])]


def test_a_pickup_ends_the_note_before_it(stage):
    """Where a jump's pickup begins, the melody's note of the old place ends."""
    step = Step(Bars(8, 8))
    played = jumped(stage, (2.3, Action.ASKED), step=step, stop=6)
    assert firsts(played, 2, 6) == [BAR[8]] * 2
    played = jumped(stage, (2.3, Action.SECTION_BACK), step=Step(OneSection("B")), stop=6)
    sounding = [kind for due, kind, _ in played.notes(1) if abs(due - 3.5) < 1e-6]
    assert sounding == [stage.OFF, stage.ON]


def test_the_whole_goes_on_after_the_bar(stage):
    """From a loop the whole tune goes on with the bar after the one that sounds."""
    played = jumped(stage, (IN_BAR_2, Action.THIS_BAR), (8.5, Action.WHOLE), stop=16.1)
    assert firsts(played, 4, 16) == [BAR[2], BAR[2], BAR[2], BAR[3], BAR[4], BAR[1]]
    beats_from(played)


def test_what_was_asked_for_comes_back(stage):
    """What was asked for at first begins at the next bar line, wherever the player is."""
    step = Step(Bars(6, 7))
    played = jumped(stage, (2.3, Action.SECTION_BACK), (4.3, Action.ASKED), step=step, stop=8.1)
    assert firsts(played, 2, 8) == [BAR[6], BAR[1], BAR[6]]


@pytest.mark.parametrize("channel", [2, 3])
def test_a_chord_that_is_jumped_into_ends_with_its_harmony(stage, channel):
    """A chord that is held from bar 1 is struck in bar 2, where a jump goes, and ends with bar
    2, where the next one begins (common practice, no source)."""
    text = 'X:1\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"G"GABc|dcBA|"D"d4|"G"G4|]\n'
    script = [(4.5, Action.BAR_BACK), (11.0, Action.END)]
    step = Step(count_in=0)
    played = stage.Stage(stage.arranged(text), step, script, endless=True).play()
    struck = [key for due, key in played.onsets(channel) if due == 6]
    ended = [key for due, kind, key in played.notes(channel) if kind == stage.OFF and due == 8]
    assert struck
    assert sorted(ended) == struck


JUMPS = {
    "a bar on": ([Action.BAR_ON], BAR[4]),
    "two bars on": ([Action.BAR_ON] * 2, BAR[1]),
    "a bar back": ([Action.BAR_BACK], BAR[1]),
    "two bars back": ([Action.BAR_BACK] * 2, BAR[8]),
    "there and back": ([Action.BAR_BACK, Action.BAR_ON], BAR[2]),
    "round the back": ([Action.BAR_BACK] * 3, BAR[7]),
    "a part on": ([Action.SECTION_ON], BAR[1]),
    "two parts on": ([Action.SECTION_ON] * 2, BAR[5]),
    "a part back": ([Action.SECTION_BACK], BAR[1]),
}


@pytest.mark.parametrize(("actions", "first"), JUMPS.values(), ids=JUMPS.keys())
def test_jumps_while_it_sounds(stage, actions, first):
    """Bars and parts on and back, pressed once or more, are gone to at the next bar line: back
    from the bar that sounds, a bar on past the one that would have come."""
    played = jumped(stage, *((IN_BAR_2, action) for action in actions), stop=8.1)
    assert firsts(played, 4, 8) == [BAR[2], first]
    beats_from(played)


def test_a_part_on_in_the_last_bar_of_a_part(stage):
    """In the last bar of a part "a part on" goes to the next part, and leaves none out."""
    parts = "".join(
        f"P:{part}\n{note}4|{note}4||\n" for part, note in zip("ABC", "GBd", strict=True)
    )
    music = stage.arranged(f"X:1\nT:Parts\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n{parts}")
    played = stage.Stage(music, actions=[(4.3, Action.SECTION_ON)]).play()
    assert [key for _, key in played.onsets(1)] == [67, 67, 71, 71, 74, 74]


STOPPED = {
    "go": ([], BAR[2]),
    "a bar on": ([Action.BAR_ON], BAR[3]),
    "two bars on": ([Action.BAR_ON] * 2, BAR[4]),
    "a bar back": ([Action.BAR_BACK], BAR[1]),
    "two bars back": ([Action.BAR_BACK] * 2, BAR[8]),
    "two parts on": ([Action.SECTION_ON] * 2, BAR[5]),
    "a part back": ([Action.SECTION_BACK], BAR[1]),
    "this bar": ([Action.THIS_BAR], BAR[2]),
    "this part": ([Action.THIS_SECTION], BAR[1]),
    "whole": ([Action.THIS_BAR, Action.WHOLE], BAR[2]),
}


@pytest.mark.parametrize(("actions", "first"), STOPPED.values(), ids=STOPPED.keys())
def test_stop_and_go(stage, actions, first):
    """While stopped it is silent; it goes on with a count-in, at the bar where it stopped or
    where the player has gone meanwhile."""
    between = ((5.0, action) for action in actions)
    played = jumped(stage, (IN_BAR_2, Action.STOP_GO), *between, (10, Action.STOP_GO), stop=13)
    silent = [due for due, kind, _ in played.notes() if IN_BAR_2 + 0.01 < due < 10.1]
    assert not silent
    again = [due for due, _ in played.onsets(10) if due > 10]
    assert again == pytest.approx([10.1, 10.6, 11.1, 11.6, 12.1, 12.6], abs=0.005)
    assert next(key for due, key in played.onsets(1) if due > 12.05) == first
    states = [shown.state for _, shown in played.shown]
    assert State.STOPPED in states
    assert states[-1] is State.ENDED


def test_the_pickup_of_a_part_sounds_in_the_count_in(stage):
    """A part in the middle of the tune is counted in, its pickup in the last beat."""
    actions = [(IN_BAR_2, Action.STOP_GO), (5, Action.SECTION_ON), (5, Action.SECTION_ON)]
    played = jumped(stage, *actions, (10, Action.STOP_GO), stop=13)
    assert [key for due, key in played.onsets(1) if due > 10][:2] == [PICKUP_B, BAR[5]]
    assert len([due for due, _ in played.onsets(10) if 10 < due < 12.05]) == 4


def test_a_jump_in_a_short_bar_lets_it_end(stage):
    """A short bar that a pickup completes is one bar: a jump comes after its last beat, and
    the pickup into what would have followed is left out."""
    played = jumped(stage, (8.2, Action.BAR_BACK), stop=11)
    assert melody(played, 8, 10.1) == [(8.0, BAR[4]), (9.0, 66), (10.0, BAR[3])]
    beats_from(played)


def test_a_jump_in_the_last_bar(stage):
    """In the last bar of a pass, when the next one is already made ready, a jump goes where
    it was asked to; nothing of the next pass sounds."""
    step = Step(Bars(1, 2))
    played = jumped(stage, (5.0, Action.BAR_ON), step=step, stop=10.1)
    assert firsts(played, 2, 10) == [BAR[1], BAR[2], BAR[2], BAR[3]]
    assert PICKUP_A not in [key for due, key in melody(played, 2, 10)]
    beats_from(played)


def test_a_jump_in_the_count_in_counts_in_anew(stage):
    """A jump asked for in the count-in begins that place's count-in at once."""
    played = jumped(stage, (0.7, Action.BAR_ON), stop=4)
    assert [due for due, _ in played.onsets(10)][:3] == pytest.approx([0, 0.5, 0.8], abs=0.005)
    assert next(key for due, key in played.onsets(1)) == BAR[2]


def test_a_jump_in_the_breath_counts_in_too(stage):
    """A jump right after "again", before its first click, is counted in all the same."""
    played = jumped(stage, (4.3, Action.AGAIN), (4.35, Action.BAR_ON), stop=8)
    clicks = [due for due, _ in played.onsets(10) if due > 4.3]
    assert clicks[:4] == pytest.approx([4.45, 4.95, 5.45, 5.95], abs=0.005)
    assert next(key for due, key in played.onsets(1) if due > 4.3) == BAR[2]


def test_again(stage):
    """Again goes back to the count-in at once, and then to the loop's beginning."""
    played = jumped(stage, (IN_BAR_2 + 2, Action.AGAIN), stop=9)
    clicks = [due for due, _ in played.onsets(10) if due > 6.3]
    assert clicks[:4] == pytest.approx([6.4, 6.9, 7.4, 7.9], abs=0.005)
    assert [key for due, key in played.onsets(1) if due > 6.3][:2] == [PICKUP_A, BAR[1]]
    ended = [due for due, kind, _ in played.notes(2) if kind == stage.OFF and 6 < due < 6.4]
    assert max(ended) == pytest.approx(6.3, abs=0.005)


def test_a_loop_of_bars_moves_along_the_tune(stage):
    """A loop of two bars moves by a bar, and stays inside the tune."""
    step = Step(Bars(6, 7))
    played = jumped(stage, *((2.3, Action.BAR_ON) for _ in range(5)), step=step, stop=8.1)
    assert firsts(played, 2, 8) == [BAR[6], BAR[7], BAR[8]]


@pytest.mark.parametrize("times", [1, 3])
def test_so_many_times(stage, times):
    """A loop ends after its times, at its last bar line."""
    played = stage.Stage(step=Step(Bars(2, 2), times=times), endless=False).play()
    assert firsts(played, 0, 99) == [BAR[2]] * times
    assert played.shown[-1][0] == pytest.approx(2 + 2 * times, abs=0.01)


def test_a_jump_makes_it_endless(stage):
    """Sent elsewhere, a practice of so many times goes round until it is ended."""
    played = stage.Stage(
        step=Step(Bars(2, 2)), actions=[(2.3, Action.BAR_ON), (30, Action.END)]
    ).play()
    assert firsts(played, 2, 30) == [BAR[2]] + [BAR[3]] * 13


def test_what_sounds_is_shown(stage):
    """The place that it goes on from is shown at once, with a sign until the bar line."""
    played = jumped(stage, (IN_BAR_2, Action.THIS_BAR), stop=8)
    moving = [(at, shown.target) for at, shown in played.shown if shown.moving]
    assert moving[0][0] == pytest.approx(IN_BAR_2, abs=0.02)
    assert {target.span for _, target in moving} == {Bars(2, 2)}
    assert moving[-1][0] < 6.0
    assert played.shown[0][1].target.span == Whole()


def test_a_place_that_comes_twice_is_kept(stage):
    """Stopped in a part that an order of parts plays twice, it goes on in that one."""
    music = stage.arranged("X:1\nT:Twice\nM:4/4\nL:1/4\nQ:1/4=120\nP:ABA\nK:G\n"
                           "P:A\nG4|A4|\nP:B\nB4|c4|]\n")  # fmt: skip
    played = stage.Stage(
        music, actions=[(12.3, Action.STOP_GO), (13, Action.STOP_GO), (17.0, Action.END)]
    ).play()
    assert [key for _, key in played.onsets(1)][-2:] == [69, 69]
    assert played.shown[-1][1].target.bar == 5


def test_the_chord_in_force_is_shown_after_a_jump(stage):
    """A bar without a chord symbol of its own shows the one that still holds."""
    music = stage.arranged('X:1\nT:Held\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"G"G4|A4|"D"d4|c4|]\n')
    played = stage.Stage(music, actions=[(6.3, Action.BAR_BACK)]).play()
    chords = [(shown.beat.bar.number, shown.chord) for at, shown in played.shown if 8.05 < at < 10]
    assert set(chords) == {(2, "G")}


def test_a_port_that_vanishes(stage):
    """While the port is gone it pauses and says so; when it is back, it is silenced, told its
    instruments again, and the bar where it stopped is counted in."""
    opening = (b"\xc0\x15",)
    played = jumped(stage, stop=13, away=(IN_BAR_2, 9.0), opening=opening)
    at, _shown = next(each for each in played.shown if each[1].state is State.GONE)
    assert at == pytest.approx(IN_BAR_2, abs=0.01)
    back = [(due, message) for due, message in played.messages() if due > 8.9]
    assert [message[0] & 0xF0 for _, message in back[:16]] == [stage.CONTROL] * 16
    assert back[16][1] == opening[0]
    assert back[17][1][0] == stage.ON | 9
    assert next(key for due, key in played.onsets(1) if due > 9) == BAR[2]
    assert not [due for due, kind, _ in played.notes() if IN_BAR_2 + 0.02 < due < 9.0]


def test_a_port_that_vanishes_while_it_is_stopped(stage):
    """One that comes back while the music is stopped is told its instruments again, and the
    music stays stopped; the screen says that it is away."""
    opening = (b"\xc0\x15",)
    stop = (IN_BAR_2, Action.STOP_GO)
    played = jumped(stage, stop, stop=13, away=(6.0, 9.0), opening=opening)
    back = [(due, message) for due, message in played.messages() if 8.9 < due < 12.9]
    assert [message[0] & 0xF0 for _, message in back] == [stage.CONTROL] * 16 + [0xC0]
    states = [shown.state for at, shown in played.shown if 6 < at < 12]
    assert states == [State.GONE, State.STOPPED]


def test_asking_for_music_while_the_port_is_gone(stage):
    """Go, asked for while the port is gone, is done when it is back."""
    asked = [(IN_BAR_2, Action.STOP_GO), (7.0, Action.STOP_GO)]
    played = jumped(stage, *asked, stop=13, away=(6.0, 9.0))
    assert not [due for due, *_ in played.notes() if IN_BAR_2 + 0.02 < due < 9.0]
    assert next(due for due, _ in played.onsets(10) if due > 6) == pytest.approx(9.1, abs=0.02)


def test_a_port_that_is_not_there_at_first(stage):
    """Where the port is gone at the start, it begins when there is one."""
    played = jumped(stage, stop=9, away=(-1, 3.0), muted=[Role.BASS])
    assert next(due for due, _ in played.onsets(10) if due > 0.05) == pytest.approx(3.1, abs=0.01)


def test_bars_that_are_never_played_are_not_gone_to(stage):
    """A loop is not moved onto bars that the order of parts leaves out."""
    music = stage.arranged("X:1\nT:Left out\nM:4/4\nL:1/4\nQ:1/4=120\nP:AC\nK:G\n"
                           "P:A\nG4|]\nP:B\nB4|]\nP:C\nd4|]\n")  # fmt: skip
    played = stage.Stage(
        music, Step(Bars(1, 1)), [(2.3, Action.BAR_ON), (6.1, Action.END)], endless=True
    ).play()
    assert {key for _, key in played.onsets(1)} == {67}


#: Bar 1 with a gap, then bar 5, each counted in with one bar.
TWO = Plan((Step(Bars(1, 1), times=2, gap=1, count_in=1), Step(Bars(5, 5), times=2, count_in=1)))


def test_stopped_in_a_gap_the_next_time_comes(stage):
    """Stopped in a gap, it goes on with a count-in and the loop's first bar, its times counted
    from there."""
    actions = [(4.3, Action.STOP_GO), (5.0, Action.STOP_GO)]
    played = stage.Stage(step=TWO, actions=actions).play()
    assert [key for _, key in melody(played, 7.0, 9.0)][:1] == [BAR[1]]
    assert played.shown[-1][1].beat.stretch.step == 1


def test_a_jump_in_a_gap_waits_for_the_bar_line(stage):
    """A jump asked for in a gap comes at its next bar line, and the beat goes on; the loop
    there has its gaps too."""
    played = stage.Stage(
        step=TWO, actions=[(4.3, Action.BAR_ON), (11, Action.END)], endless=True
    ).play()
    assert firsts(played, 2, 11) == [BAR[1], BAR[2], BAR[2]]
    assert played.onsets(10)[8][0] == 4.0
    beats_from(played)


def test_again_in_the_second_step_stays_there(stage):
    """In the count-in of the second step, and in its bars, "again" begins that step anew."""
    for moment in (8.3, 10.3):
        played = stage.Stage(step=TWO, actions=[(moment, Action.AGAIN)]).play()
        keys = [key for _, key in melody(played, moment + 2, 99)]
        assert next(key for key in keys if key in BAR.values()) == BAR[5]
        assert played.shown[-1][1].beat.stretch.step == 1
        assert played.shown[-1][1].beat.stretch.time == 2


def test_what_was_asked_for_is_what_its_step_asks_for(stage):
    """Sent elsewhere in the second step, what was asked for is that step's span."""
    actions = [(10.3, Action.BAR_ON), (12.3, Action.ASKED), (16.1, Action.END)]
    played = stage.Stage(step=TWO, actions=actions).play()
    assert firsts(played, 10, 16) == [BAR[5], BAR[6], BAR[5]]


def test_this_is_the_last_time(stage):
    """Told in the second time through that it is the last, an endless practice plays it to its
    end, with the end of the tune that belongs to it, and is over."""
    tune = parse_abc(
        'X:1\nT:Last\nR:polka\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\n"G"G2B2|"D"A2F2|"G"G2B2|"G"G4|]'
    )
    faces = arrange_faces(tune, StyleTurns((load_style("alternating"),)))
    step = Step(count_in=0)
    told = stage.Stage((faces, tune), step, [(5.0, Action.LAST_TIME)], endless=True).play()
    ended = perform(faces, Plan((step._replace(times=2),)), tune)
    assert max(told.onsets(1))[0] < 8.2
    for role, channel in ((Role.BASS, 2), (Role.CHORDS, 3)):
        last = [e.pitches for e in ended.track(role).events if e.onset >= Fraction(7, 2)]
        heard = [key for at, key in told.onsets(channel) if at > 6.9]
        assert heard
        assert sorted(heard) == sorted(key for keys in last for key in keys)
