"""The tune in one ear, the left hand in the other: in sound, as pan in MIDI, live."""

import numpy as np
import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import CHANNELS, Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Ears, Plan, Step
from backing.render.midi import render_midi
from backing.render.mix import reed_blocks

RATE = 16000
TUNE = parse_abc('X:1\nT:Two Ears\nM:2/4\nL:1/8\nQ:1/4=240\nK:G\n"G"G2B2|"D"d4|"C"e2c2|"G"B4|\n')
ARRANGED = arrange(TUNE, load_style("sustained"))


def performed(*steps):
    """The performance of some steps."""
    return perform(ARRANGED, Plan(steps), TUNE)


def sides(performance, role):
    """The energy of one track in the left and in the right ear, as shares of both."""
    tracks = tuple(t._replace(muted=t.role is not role) for t in performance.tracks)
    blocks = reed_blocks(performance._replace(tracks=tracks), RATE)
    energy = np.square(np.concatenate([block.wanted for block in blocks])).sum(axis=0)
    return energy / energy.sum()


@pytest.mark.slow
@pytest.mark.parametrize(("ears", "melody"), [(Ears.LEFT, [1, 0]), (Ears.RIGHT, [0, 1])])
def test_each_has_an_ear_of_its_own(ears, melody):
    """Of the melody nothing sounds in the other ear, of the left hand nothing in that one; the
    click is in both."""
    performance = performed(Step(Bars(1, 4), count_in=1, ears=ears))
    assert sides(performance, Role.MELODY) == pytest.approx(melody, abs=1e-6)
    assert sides(performance, Role.BASS) == pytest.approx(melody[::-1], abs=1e-6)
    assert sides(performance, Role.CHORDS) == pytest.approx(melody[::-1], abs=1e-6)
    assert sides(performance, Role.CLICK) == pytest.approx([0.5, 0.5], abs=0.1)


@pytest.mark.slow
def test_without_a_word_nothing_is_moved():
    """A practice in which nothing is said of ears, and one with both, sound alike."""
    plain, both = (performed(Step(Bars(1, 4), ears=ears)) for ears in (None, Ears.BOTH))
    assert plain.ears == ()
    for role in (Role.MELODY, Role.BASS, Role.CHORDS):
        assert sides(plain, role)[0] == pytest.approx(sides(both, role)[0], abs=0.15)
        assert min(sides(plain, role)) > 0.2


def test_ears_change_with_the_step(tracks_of):
    """In MIDI a pan stands where a step asks for ears, and where one after it has none."""
    performance = performed(
        Step(Bars(1, 2), count_in=1, ears=Ears.LEFT), Step(Bars(3, 4), count_in=1),
        Step(Bars(3, 4), count_in=0, ears=Ears.RIGHT),
    )  # fmt: skip
    tracks = tracks_of(render_midi(performance))

    def pans(role):
        return [
            (tick, m.value)
            for tick, m in tracks[role.value]
            if m.type == "control_change" and m.control == 10 and m.channel == CHANNELS[role] - 1
        ]

    bar = 2 * 960
    assert pans(Role.MELODY)[-3:] == [(0, 0), (3 * bar, 64), (6 * bar, 127)]
    assert pans(Role.BASS)[-3:] == [(0, 127), (3 * bar, 64), (6 * bar, 0)]
    assert {value for _, value in pans(Role.CLICK)} <= {64}


def test_live_sends_the_same_pans(stage, tracks_of):
    """The player moves each track to the ears that the file has, when the file does; it may say
    again what holds, for it may have been sent elsewhere."""
    plan = Plan((Step(Bars(1, 2), count_in=1, ears=Ears.LEFT), Step(Bars(3, 4), count_in=1)))
    played = stage.Stage((ARRANGED, TUNE), plan).play()
    sent = [
        (round(due, 3), message[0] & 0xF, message[2])
        for due, message in played.messages()
        if message[0] & 0xF0 == stage.CONTROL and message[1] == 10
    ]
    written = [
        (tick / 960 / 4, message.channel, message.value)
        for messages in tracks_of(render_midi(perform(ARRANGED, plan, TUNE))).values()
        for tick, message in messages
        if message.type == "control_change" and message.control == 10
    ]
    assert moved(sent) == moved(written)
    assert len(moved(sent)) == 4 + 3  # the click stays in the middle


def moved(pans):
    """Pans that change something, in order."""
    now, found = {}, []
    for moment, channel, value in sorted(pans, key=lambda pan: pan[0]):
        if now.get(channel) != value:
            found.append((moment, channel, value))
        now[channel] = value
    return sorted(found)
