"""MIDI clock, start, stop and song position (MIDI 1.0 Detailed Specification, System Real
Time and System Common Messages)."""

from itertools import pairwise

import pytest

from backing.live import wire
from backing.live.actions import Action
from backing.practice.passages import Bars, OneSection
from backing.practice.plan import Plan, Step

CLOCK, START, CONTINUE, STOP, POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2


def synced(stage, *actions, step=None, stop=20.0, music=None):
    """The stage with MIDI clock after these actions, ended at a moment."""
    script = [*actions, (stop, Action.END)]
    return stage.Stage(music, step, script, endless=True, sync=True).play()


def song(played):
    """(moment, what is said) but for notes, controllers and clocks."""
    return [
        (round(due, 3), message[0] if len(message) == 1 else message)
        for due, message in played.messages()
        if message[0] >= 0xF0 and message != wire.CLOCK
    ]


def clocks(played, start=0.0, stop=99.0):
    """The moments of the clocks."""
    return [due for due, message in played.messages()
            if message == wire.CLOCK and start <= due < stop]  # fmt: skip


def test_24_clocks_a_quarter(stage):
    """At 120 crotchets a minute a clock comes each 20.833 ms (24 a quarter), from the first
    click of the count-in through every seam."""
    found = clocks(synced(stage, step=Step(OneSection("A")), stop=19.99))
    assert len(found) == 20 * 48
    assert found == pytest.approx([place / 48 for place in range(len(found))], abs=1e-9)


def test_the_song_starts_with_the_first_full_bar(stage):
    """Start comes after the count-in, at the first full bar, and the clock there after it."""
    played = synced(stage, stop=3)
    assert song(played) == [(2.0, START), (pytest.approx(3.0, abs=0.01), STOP)]
    there = [message for due, message in played.messages() if abs(due - 2.0) < 1e-6]
    there = [message for message in there if message[0] & 0xF0 != stage.OFF]
    assert there[:2] == [wire.START, wire.CLOCK]
    assert there[2][0] & 0xF0 == stage.ON


def test_without_a_count_in_the_pickup_comes_before_the_song(stage):
    """A first pickup is counted by the clock, and Start comes after it."""
    played = synced(stage, step=Step(count_in=0), stop=3)
    assert song(played)[0] == (0.5, START)
    assert len(clocks(played, 0, 0.4999)) == 24


def test_nothing_is_sent_while_stopped(stage):
    """Stopped, it sends Stop once and no clock; it goes on with a count-in, song position and
    Continue."""
    played = synced(stage, (4.3, Action.STOP_GO), (8, Action.STOP_GO), stop=11)
    assert song(played) == [
        (2.0, START),
        (pytest.approx(4.3, abs=0.01), STOP),
        (pytest.approx(10.1, abs=0.01), wire.song_position(16)),
        (pytest.approx(10.1, abs=0.01), CONTINUE),
        (pytest.approx(11.0, abs=0.01), STOP),
    ]
    assert not clocks(played, 4.31, 8.1)
    assert len(clocks(played, 8.1, 10.095)) == 96


def test_a_jump_tells_the_place(stage):
    """At a jump the running song stops, is told its place in sixteenths (of six clocks), and
    goes on; bar 4 of a tune in 4/4 is 48 sixteenths from its start."""
    played = synced(stage, (4.3, Action.BAR_ON), stop=6.5)
    assert song(played)[1:4] == [(6.0, STOP), (6.0, wire.song_position(48)), (6.0, CONTINUE)]


def test_a_seam_tells_the_place(stage):
    """Each time round in a loop the song goes back to where the loop stands in the tune."""
    played = synced(stage, step=Step(Bars(2, 3)), stop=10.5)
    place = wire.song_position(16)
    assert song(played) == [
        (2.0, place), (2.0, CONTINUE),
        (6.0, STOP), (6.0, place), (6.0, CONTINUE),
        (10.0, STOP), (10.0, place), (10.0, CONTINUE),
        (pytest.approx(10.5, abs=0.01), STOP),
    ]  # fmt: skip


def test_the_song_stands_still_in_a_gap(stage):
    """In a gap, and while a later step is counted in, the song is stopped and the clock ticks
    on; then it goes on from its place."""
    plan = Plan((Step(Bars(2, 2), times=2, gap=1, count_in=1), Step(Bars(3, 3), count_in=1)))
    played = stage.Stage(step=plan, sync=True).play()
    second, third = wire.song_position(16), wire.song_position(32)
    assert song(played) == [
        (2.0, second), (2.0, CONTINUE), (4.0, STOP),
        (6.0, second), (6.0, CONTINUE), (8.0, STOP),
        (10.0, third), (10.0, CONTINUE), (pytest.approx(12.0, abs=0.01), STOP),
    ]  # fmt: skip
    assert clocks(played) == pytest.approx([place / 48 for place in range(12 * 48)], abs=1e-9)


def test_again_stops_the_song(stage):
    """The count-in of "again" comes before the song: it stops, and starts after it."""
    played = synced(stage, (4.3, Action.AGAIN), stop=7)
    assert [what for _, what in song(played)] == [START, STOP, START, STOP]
    assert song(played)[1][0] == pytest.approx(4.3, abs=0.005)


def test_clocks_follow_the_tempo(stage):
    """After a change of tempo the clocks come at the new one: five per cent faster."""
    played = synced(stage, (4.3, Action.FASTER), stop=6)
    gaps = [b - a for a, b in pairwise(clocks(played, 4.33, 6))]
    assert gaps == pytest.approx([1 / 48 / 1.05] * len(gaps), abs=1e-9)


def test_no_sync_unless_asked(stage):
    """Without `sync` no system message is sent."""
    assert all(message[0] < 0xF0 for _, message in stage.Stage().play().messages())


def test_the_song_ends_with_the_practice(stage):
    """At the end of all times Stop comes at the last bar line."""
    played = stage.Stage(step=Step(Bars(2, 2)), sync=True).play()
    assert song(played)[-1] == (pytest.approx(4.0, abs=0.001), STOP)
    assert len(clocks(played)) == 192


@pytest.mark.slow
def test_the_display_is_not_starved(stage):
    """Between clocks that come every four milliseconds beats are still shown."""
    music = stage.arranged("X:1\nT:Fast\nM:4/4\nL:1/4\nQ:1/4=400\nK:G\nGABc|dcBA|GABc|G4|]\n")
    played = stage.Stage(music, Step(times=4), sync=True).play()
    bars = {id(shown.beat.bar) for _, shown in played.shown if shown.beat}
    assert len(bars) == 17
