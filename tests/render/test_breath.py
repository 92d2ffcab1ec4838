"""The pressure of a box's bellows: a dip before each new breath, and nowhere else.

A dip of at most 1 dB for about 30 ms, and that two felt beats make a breath, are working values.
"""

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role
from backing.arranging.breathing import BellowsSpan
from backing.files import load_box, load_style, read_tune
from backing.parse.abc import parse_abc
from backing.practice.on_box import on_box
from backing.practice.passages import Bars
from backing.practice.performance import perform, perform_seamless
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi
from backing.render.mix import reed_blocks

RATE = 48000
EXAMPLES = Path(__file__).parent.parent.parent / "examples"
#: Seconds of a dip, between the frames in which it is a hundredth of a decibel.
DIP = 0.028
BEAT = Fraction(1, 4)


def boxed(source="the-lamplighters-round", box="D/G", style="alternating"):
    """A tune of ours (a name or a text) arranged over the bellows of a box, and the tune."""
    tune = parse_abc(source) if "\n" in source else read_tune(EXAMPLES / f"{source}.abc").tune
    played = load_style(style)
    side = on_box(tune, played, Manner(), load_box(box)).side
    return arrange(tune, played, side=side), tune


def practised(music, **step):
    arrangement, tune = music
    return perform(arrangement, Plan((Step(**step),)), tune)


def sounded(performance, **more):
    """All frames, both sides together."""
    blocks = reed_blocks(performance, RATE, **more)
    return np.concatenate([block.wanted for block in blocks]).sum(axis=1).astype(np.float64)


def decibels_apart(performance, **more):
    """Frame by frame, how much louder it is than the same without bellows, in dB."""
    one, other = sounded(performance, **more), sounded(performance._replace(bellows=()), **more)
    loud = np.abs(other) > 1e-5
    found = np.zeros(len(other))
    found[loud] = 20 * np.log10(np.abs(one[loud] / other[loud]))
    return found


def dips(apart):
    """First and last second, and depth in dB, of each dip."""
    low = np.flatnonzero(np.abs(apart) > 0.01)
    pieces = np.split(low, np.flatnonzero(np.diff(low) > RATE // 100) + 1) if len(low) else []
    return [(piece[0] / RATE, piece[-1] / RATE, apart[piece].min()) for piece in pieces]


def turns(performance, clock, way=""):
    """Second of each change of the bellows, and for how many felt beats the new way is held."""
    second, found = clock(performance), []
    for span in performance.bellows:
        if way not in ("", span.way):
            found.append((second(span.start), (span.stop - span.start) / span.beat))
        way = span.way
    return found


def held_tone(build, *ways):
    """Eight seconds of one note, over bellows of ways with their lengths in felt beats."""
    at, spans = Fraction(0), []
    for way, beats in ways:
        spans.append(BellowsSpan(at, at + beats * BEAT, way, BEAT))
        at += beats * BEAT
    tone = build({Role.MELODY: [("0", "4", [69], 90)]}, bars=4)
    return tone._replace(bellows=tuple(spans))


def test_a_new_breath_dips_by_a_decibel_for_30_milliseconds(build):
    """The effective value of a held note falls by 0.5 to 1 dB in the 30 ms before the bellows
    turn, and by nothing (0.05 dB) at any other time."""
    tone = held_tone(build, ("push", 4), ("pull", 12))
    window = np.ones(RATE // 110) / (RATE // 110)  # four periods of A
    sizes = [
        np.sqrt(np.convolve(np.square(sounded(each, tremolo=0.0)), window, "same"))
        for each in (tone, tone._replace(bellows=()))
    ]
    fallen = 20 * np.log10(sizes[0][RATE // 10 : 7 * RATE] / sizes[1][RATE // 10 : 7 * RATE])
    assert -1 <= fallen.min() < -0.5
    low = np.flatnonzero(fallen < -0.05) / RATE + 0.1
    assert low[0] == pytest.approx(2 - 0.03, abs=0.005)
    assert low[-1] == pytest.approx(2, abs=0.005)
    assert fallen.max() < 0.05


@pytest.mark.slow
@pytest.mark.parametrize("name", ["the-lamplighters-round", "the-lock-keepers-kettle"])
def test_dips_are_at_changes_into_ways_that_are_held(name, clock):
    """Through a whole tune on a box each change of the bellows into a way that is held for two
    felt beats has its dip: at most 1 dB, 30 ms, over where the new note begins; there is none
    elsewhere, so that no two are nearer than two felt beats."""
    performance = practised(boxed(name))
    found = dips(decibels_apart(performance))
    changes = turns(performance, clock)
    held = [second for second, beats in changes if beats >= 2]
    assert 5 < len(held) < len(changes)
    assert len(found) == len(held)
    for (first, last, depth), second in zip(found, held, strict=True):
        assert -1 <= depth < -0.8
        assert last - first == pytest.approx(DIP, abs=0.001)
        assert second - 0.03 <= first < last <= second
    two_beats = 2 * 60 / float(performance.tempos[0].tempo.beats)
    assert all(other - one >= two_beats - 0.001 for one, other in pairwise(held))


@pytest.mark.slow
def test_quick_changes_do_not_pump():
    """Where a reel on a B/C box changes 115 times in 32 bars and holds no way for two felt beats,
    nothing of the pressure moves: the sound is the same, frame by frame, as without bellows."""
    performance = practised(boxed("ice-on-the-tiller", "B/C"))
    assert len(performance.bellows) == 116
    assert np.array_equal(sounded(performance), sounded(performance._replace(bellows=())))


@pytest.mark.slow
@pytest.mark.parametrize("percent", [40, 60, 150])
def test_a_dip_is_as_short_at_any_tempo(percent, clock):
    """Practised slower or faster the same changes dip, for 30 ms."""
    music = boxed()
    usual = practised(music)
    performance = practised(music, tempo=Fraction(percent, 100))
    held = [second for second, beats in turns(performance, clock) if beats >= 2]
    assert len(held) == sum(beats >= 2 for _, beats in turns(usual, clock))
    found = dips(decibels_apart(performance))
    assert [round(last - first, 3) for first, last, _ in found] == [DIP] * len(held)
    assert all(abs(last - second) < 0.003 for (_, last, _), second in zip(found, held, strict=True))


@pytest.mark.slow
def test_the_left_hand_alone_dips_with_the_tune_that_is_muted(clock):
    """With the melody muted the left hand dips where it does with it; the click never does."""
    music = boxed()
    both, alone = practised(music), practised(music, muted=frozenset({Role.MELODY}))
    assert alone.bellows == both.bellows
    held = [second for second, beats in turns(both, clock) if beats >= 2]
    for first, _, depth in dips(decibels_apart(alone, tremolo=0.0)):
        assert depth >= -1
        assert any(second - 0.031 < first < second for second in held)
    quiet = frozenset({Role.MELODY, Role.BASS, Role.CHORDS})
    clicks = practised(music, muted=quiet)
    assert dips(decibels_apart(clicks)) == []


#: On a D/G box bars 1 and 2 are all push, bars 3 and 4 all pull.
FOUR_BARS = "X:1\nT:In and out\nM:4/4\nL:1/4\nQ:1/4=120\nK:D\ndfad|fdfa|egeg|gege|]\n"


def test_the_bellows_of_four_bars():
    """What the next tests rest on: two bars of push, two of pull."""
    arrangement, _ = boxed(FOUR_BARS)
    assert arrangement.bellows == (
        BellowsSpan(Fraction(0), Fraction(2), "push", BEAT),
        BellowsSpan(Fraction(2), Fraction(4), "pull", BEAT),
    )


def test_loops_dip_at_the_seam_too():
    """A loop that comes back from pull to push takes a breath there each time, but not before the
    first note; where it stays on the push there is none."""
    music = boxed(FOUR_BARS)
    whole = practised(music, times=3, count_in=0)
    assert [round(last, 1) for _, last, _ in dips(decibels_apart(whole))] == [4, 8, 12, 16, 20]
    stays = practised(music, span=Bars(1, 2), times=3, count_in=0)
    assert [span.way for span in stays.bellows] == ["push"] * 3
    assert dips(decibels_apart(stays)) == []


def test_a_loop_without_a_seam_dips_at_its_end():
    """In a file that goes round the dip before its beginning lies at its end, once."""
    arrangement, tune = boxed(FOUR_BARS)
    loop = perform_seamless(arrangement, Step(), tune)
    found = dips(decibels_apart(loop, loops=True)[: round(loop.seconds * RATE)])
    assert [round(last, 1) for _, last, _ in found] == [4, 8]
    assert all(-1 <= depth < -0.8 and last - first < 0.03 for first, last, depth in found)
    part = perform_seamless(arrangement, Step(span=Bars(2, 3)), tune)
    assert [(span.start, span.stop, span.way) for span in part.bellows] == [
        (0, 1, "push"), (1, 2, "pull")
    ]  # fmt: skip


def test_bellows_change_no_note():
    """A MIDI file is the same to the byte with and without the bellows."""
    performance = practised(boxed())
    assert render_midi(performance) == render_midi(performance._replace(bellows=()))


def test_without_a_box_there_are_no_bellows():
    """Without a box nothing is known of the bellows, and nothing dips."""
    tune = parse_abc(FOUR_BARS)
    assert practised((arrange(tune, load_style("alternating")), tune)).bellows == ()
