"""From here, to here: bars marked while they sound, and gone round in; and the steps of a
practice.

The tune of the stage: 120 crotchets a minute in 4/4, so that a bar lasts two seconds.
The count-in is at 0, the pickup at 1.5; bar n of the first time begins at 2n seconds; bar 4
is short, its last beat at 9.5 (and 17.5) is the pickup of what follows.
"""

from fractions import Fraction

import pytest

from backing.live.actions import Action
from backing.live.controls import Pedals, parse_controls
from backing.live.marks import MarkedBars
from backing.live.shown import State
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.plan import Plan, Step

#: The melody's first note in each bar, told by its key.
BAR = {1: 67, 2: 74, 3: 76, 4: 69, 5: 76, 6: 72, 7: 78, 8: 71}


def jumped(stage, *actions, step=None, stop=20.0, **options):
    """The stage after these actions, ended at a moment."""
    script = [*actions, (stop, Action.END)]
    return stage.Stage(step=step, actions=script, endless=True, **options).play()


def firsts(played, start, stop):
    """What the melody strikes at each whole bar of two seconds."""
    return [key for due, key in played.onsets(1) if start <= due < stop and due % 2 == 0]


def spans(played):
    """What it goes round in, each time that it changes."""
    found = []
    for _, shown in played.shown:
        if not found or shown.target.span != found[-1]:
            found.append(shown.target.span)
    return found


def marks(played):
    """What is marked, each time that it changes."""
    found = []
    for _, shown in played.shown:
        if not found or shown.marks != found[-1]:
            found.append(shown.marks)
    return found


def test_from_here_to_here_goes_round(stage):
    """Bars marked while they sound are gone round in from the next bar line on, without a gap or
    a double click."""
    played = jumped(stage, (4.3, Action.FROM_HERE), (6.9, Action.TO_HERE), stop=16.1)
    assert firsts(played, 4, 17) == [BAR[2], BAR[3], BAR[2], BAR[3], BAR[2], BAR[3], BAR[2]]
    assert spans(played) == [Whole(), Bars(2, 3)]
    assert marks(played) == [MarkedBars(), MarkedBars(first=2), MarkedBars()]
    clicks = [due for due, _ in played.onsets(10)]
    assert clicks == [0.5 * place for place in range(len(clicks))]


def test_the_ends_may_be_marked_in_either_order(stage):
    """Where the other end is marked first, or "to here" comes before "from here" in the tune, it
    goes round between them all the same."""
    played = jumped(stage, (4.3, Action.TO_HERE), (6.9, Action.FROM_HERE), stop=12.1)
    assert spans(played)[-1] == Bars(2, 3)
    assert MarkedBars(last=2) in marks(played)
    back = [(6.3, Action.FROM_HERE), (6.4, Action.BAR_BACK), (8.5, Action.TO_HERE)]
    assert spans(jumped(stage, *back, stop=12.1))[-1] == Bars(2, 3)


def test_the_same_bar_twice_is_that_bar_alone(stage):
    """From here to here in one bar is a loop of one bar."""
    played = jumped(stage, (4.3, Action.FROM_HERE), (4.6, Action.TO_HERE), stop=10.1)
    assert spans(played)[-1] == Bars(2, 2)
    assert firsts(played, 4, 11) == [BAR[2]] * 4


def test_a_later_mark_takes_the_place_of_the_former(stage):
    """Marked again, "from here" is where it was marked last."""
    played = jumped(
        stage, (2.3, Action.FROM_HERE), (4.3, Action.FROM_HERE), (6.3, Action.TO_HERE), stop=9
    )
    assert spans(played)[-1] == Bars(2, 3)


def test_a_pickup_goes_with_the_bar_that_it_leads_into(stage):
    """Marked in the pickup of the tune or of a part it is the bar that follows, by its printed
    number."""
    played = jumped(stage, (1.6, Action.FROM_HERE), (2.3, Action.TO_HERE), stop=5)
    assert spans(played)[-1] == Bars(1, 1)
    # bars 5 to 8 follow the second time through the A part, at 18 seconds
    played = jumped(stage, (17.6, Action.FROM_HERE), (20.3, Action.TO_HERE), stop=23)
    assert spans(played)[-1] == Bars(5, 6)


def test_the_bar_that_sounds_is_marked_while_another_is_on_its_way(stage):
    """Between asking for a jump and the bar line the bar that sounds is the one that is marked."""
    actions = [(4.3, Action.BAR_ON), (4.5, Action.FROM_HERE), (6.3, Action.TO_HERE)]
    assert spans(jumped(stage, *actions, stop=9))[-1] == Bars(2, 4)


def test_stopped_the_bar_where_it_goes_on_is_marked(stage):
    """Bars are marked without a sound too: the one where it goes on counts, and going on begins
    with the first of them, counted in."""
    actions = [
        (4.3, Action.STOP_GO), (4.5, Action.FROM_HERE), (4.6, Action.BAR_ON),
        (4.7, Action.BAR_ON), (4.8, Action.TO_HERE), (5.0, Action.STOP_GO),
    ]  # fmt: skip
    played = jumped(stage, *actions, stop=12)
    assert spans(played)[-1] == Bars(2, 4)
    stopped = next(shown for _, shown in reversed(played.shown) if shown.state is State.STOPPED)
    assert stopped.bar.number == 2
    assert played.onsets(1)[-1][0] > 7


def test_what_was_asked_for_takes_a_mark_away(stage):
    """Back to what was asked for at first no bar is marked any more; in the whole tune it is."""
    actions = [(2.3, Action.FROM_HERE), (2.5, Action.WHOLE), (4.3, Action.ASKED)]
    assert marks(jumped(stage, *actions, stop=7)) == [
        MarkedBars(),
        MarkedBars(first=1),
        MarkedBars(),
    ]


def test_marks_can_be_set_with_keys_and_pedals_of_a_player_s_own():
    """A file of controls names them like any other action."""
    own = parse_controls(
        '[keys]\nx = "from here"\n[midi]\n"controller 80" = "to here, round and round"\n'
        '"note 40" = "a step on"\n',
        "feet.toml",
    )
    assert own.keys["x"] is own.keys["f"] is Action.FROM_HERE
    pedals = Pedals(own)
    assert pedals.heard(bytes((0xB0, 80, 127))) is Action.TO_HERE
    assert pedals.heard(bytes((0x90, 40, 100))) is Action.STEP_ON


# -- what there is to see -------------------------------------------------------------------


def test_the_bar_is_shown_whatever_it_does(stage):
    """Counting in, on the way elsewhere and stopped the bar that comes is shown, while it sounds
    that one."""
    actions = [(4.3, Action.BAR_BACK), (6.3, Action.STOP_GO), (6.5, Action.BAR_ON)]
    shown = [each for _, each in jumped(stage, *actions, stop=8).shown]
    assert {each.bar.number for each in shown if each.beat is None} == {1}
    moving = [each for each in shown if each.moving and each.state is State.PLAYING]
    assert {(each.beat.bar.number, each.bar.number) for each in moving} == {(2, 1)}
    assert [each.bar.number for each in shown if each.state is State.STOPPED] == [1, 2]


def test_beats_are_counted_down_to_the_next_chord(stage):
    """In each moment the next chord is as many felt beats away as begin up to it: here a chord
    lasts a bar of four, the last bar of the A part and the pickup after it make one."""
    played = jumped(stage, stop=18.1)
    found = [
        (due, each.beat.place, each.coming, each.beats)
        for due, each in played.shown
        if each.beat and each.beat.stretch.in_tune
    ]
    assert found
    for due, place, coming, beats in found:
        if due < 16:
            assert beats == 4 - place, (due, coming)
    first = [each.beats for _, each in played.shown if each.beat and each.coming == "G"][:4]
    assert first == [4, 3, 2, 1]


def test_a_chord_inside_a_beat_comes_before_the_next_one(stage):
    """A chord that enters off the beat is no beat away on the beat before it."""
    text = 'X:1\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\n"G"G2 B"D"A|"G"G4|]\n'
    played = jumped(stage, step=Step(count_in=0), stop=1.9, music=stage.arranged(text))
    found = {(each.beat.bar.number, each.beat.place): (each.coming, each.beats)
             for _, each in played.shown if each.beat and each.chord == "G"}  # fmt: skip
    assert found[1, 0] == ("D", 1)
    assert found[1, 1] == ("D", 0)


# -- steps ----------------------------------------------------------------------------------

STEPS = Plan((Step(OneSection("A"), Fraction(1)), Step(Bars(6, 7), Fraction(1, 2)), Step()))


def steps(played):
    """(step, counts in) each time that one of them changes."""
    found = []
    for _, shown in played.shown:
        if shown.beat is None:
            continue
        stretch = shown.beat.stretch
        here = (stretch.step, not stretch.in_tune)
        if not found or here != found[-1]:
            found.append(here)
    return found


def test_a_step_on_and_back_is_counted_in(stage):
    """The next step of a practice begins at once with its count-in and its own tempo, and the one
    before again; how many there are is shown."""
    actions = [(4.3, Action.STEP_ON), (9.0, Action.STEP_BACK)]
    played = jumped(stage, *actions, step=STEPS, stop=13)
    assert steps(played) == [(0, True), (0, False), (1, True), (1, False), (0, True), (0, False)]
    tempos = {shown.target.step: shown.tempo.beats for _, shown in played.shown if shown.beat}
    assert tempos[1] == 60
    assert played.shown[-1][1].steps == 3


def test_elsewhere_in_a_change_it_lasts_without_an_end(stage):
    """A change of two tunes is steps in one, whose tempi may differ: sent to other bars in it, how
    long it still takes is not known."""
    change = Plan((Step(Bars(1, 1)), Step(Bars(5, 5), Fraction(1, 2), more=True), Step()))
    played = jumped(stage, (2.3, Action.BAR_ON), step=change, stop=9)
    left = [shown.left for _, shown in played.shown]
    assert left[0] > 0
    assert left[-1] is None


def test_there_is_no_step_before_the_first_or_after_the_last(stage):
    """Asked for a step that is not there, it goes on as it did; so it does where there is one
    step."""
    plain = jumped(stage, stop=8)
    for actions in ([(4.3, Action.STEP_ON)], [(4.3, Action.STEP_BACK)], [(4.3, Action.STAY)]):
        assert jumped(stage, *actions, stop=8).messages() == plain.messages()
    back = jumped(stage, (4.3, Action.STEP_BACK), step=STEPS, stop=8)
    assert back.messages() == jumped(stage, step=STEPS, stop=8).messages()


def test_stopped_a_step_on_waits(stage):
    """While it is stopped the step is chosen, and begins when it goes on."""
    actions = [(4.3, Action.STOP_GO), (4.5, Action.STEP_ON), (6.0, Action.STOP_GO)]
    played = jumped(stage, *actions, step=STEPS, stop=12)
    stopped = [shown for _, shown in played.shown if shown.state is State.STOPPED]
    assert [shown.target.step for shown in stopped] == [0, 1]
    assert not [due for due, _ in played.onsets(10) if 4.3 < due < 6]
    assert steps(played)[-1] == (1, False)


@pytest.mark.parametrize(("first", "last", "span"), [(5, 7, Bars(5, 7)), (7, 5, Bars(5, 7)),
                                                     (3, None, None), (None, 3, None)])  # fmt: skip
def test_marks_become_bars_once_both_are_there(first, last, span):
    """What lies between two marks is a span of bars, in the order of their numbers."""
    assert MarkedBars(first, last).span == span
