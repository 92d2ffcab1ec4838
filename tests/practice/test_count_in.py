"""The count-in: how many bars, the clicks in it, and the pickup over its end."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.clicks import ACCENT_KEY, BEAT_KEY
from backing.practice.passages import Bars, OneSection
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.practice.route import route
from backing.practice.stretch import Kind

PICKUP = "X:1\nT:Pickup\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n|:D|GABc|dcB:|\n|:e|dcBA|G3:|"


def one_bar(metre, dance="", tempo=""):
    """A tune of one bar in a metre."""
    length = {"C|": "2/2", "none": "1"}.get(metre, metre)
    return f"X:1\nT:Bar\nR:{dance}\nM:{metre}\nL:1/1\n{tempo}K:G\nG{length}|]"


def walk(text, *steps, style="alternating"):
    """The stretches of a plan."""
    tune = parse_abc(text)
    return list(route(arrange(tune, load_style(style)), Plan(steps or (Step(),)), tune))


def played(text, *steps, style="alternating"):
    """The performance of a plan."""
    tune = parse_abc(text)
    return perform(arrange(tune, load_style(style)), Plan(steps or (Step(),)), tune)


def clicks(performance):
    """(onset, key, velocity) of each click."""
    return [(e.onset, e.pitches[0], e.velocity) for e in performance.track(Role.CLICK).events]


COUNTS = [
    ("4/4", "", "", 1, 4),
    ("4/4", "reel", "", 2, 4),
    ("C|", "", "", 2, 4),
    ("2/4", "polka", "", 2, 4),
    ("6/8", "jig", "", 2, 4),
    ("12/8", "slide", "", 1, 4),
    ("3/4", "", "Q:1/4=99\n", 1, 3),
    ("3/4", "", "Q:1/4=100\n", 2, 6),
    ("3/4", "waltz", "", 2, 6),
    ("3/4", "air", "", 1, 3),
    ("9/8", "slip jig", "", 2, 6),
    ("9/8", "slip jig", "Q:3/8=60\n", 1, 3),
    ("3/2", "hornpipe", "", 1, 3),
    ("3/8", "bourrée", "", 4, 4),
    ("5/4", "", "", 1, 5),
    ("5/8", "", "", 2, 4),
    ("7/8", "", "Q:1/8=300\n", 2, 6),
    ("none", "", "", 1, 4),
]


@pytest.mark.parametrize(
    ("metre", "dance", "tempo", "bars", "beats"),
    COUNTS,
    ids=[" ".join(row[:3]).strip() for row in COUNTS],
)
def test_the_usual_count_in(metre, dance, tempo, bars, beats):
    """At least four felt beats are counted in; three-time slower than 100 takes one bar,
    quicker two.

    Common practice, no source."""
    text = one_bar(metre, dance, tempo)
    first, *_ = walk(text)
    assert first.kind is Kind.COUNT_IN
    assert len(first.frame) == bars
    assert sum(1 for onset, _, _ in clicks(played(text)) if onset < 0) == beats


def test_a_slowed_waltz_is_counted_in_with_one_bar():
    """The tempo that is played decides, not the tune's own: a waltz at 60 per cent takes one
    bar."""
    text = one_bar("3/4", "waltz")
    assert len(walk(text, Step(tempo=Fraction(3, 5)))[0].frame) == 1
    assert len(walk(text, Step(tempo=Tempo(Fraction(80), Fraction(1, 4))))[0].frame) == 1


@pytest.mark.parametrize(("pickup", "bars"), [("", 1), ("D", 2)])
def test_a_slow_waltz_with_a_pickup_is_counted_in_with_two_bars(pickup, bars):
    """Over the end of a bar of three the pickup leaves two clicks alone: two bars then (common
    practice, no source)."""
    text = f"X:1\nT:Waltz\nM:3/4\nL:1/4\nQ:1/4=80\nK:G\n{pickup}|GAB|G3|"
    assert len(walk(text)[0].frame) == bars


@pytest.mark.parametrize("bars", [1, 2, 3, 8, 64])
def test_the_count_in_that_is_asked_for(bars):
    """A count-in of n bars lasts n full bars before bar 1, which stays at 0."""
    performance = played(PICKUP, Step(count_in=bars))
    assert performance.start == -bars
    assert [bar.index for bar in performance.bars[: bars + 1]] == [-1] * bars + [1]
    assert performance.bars[bars].onset == 0


def test_the_pickup_sounds_inside_the_last_bar_of_the_count_in():
    """Clicks 1 2 3, then the pickup on 4: the count-in is no longer for it
    (crescendomusicloft.com/how-to-count-pickups)."""
    performance = played(PICKUP, Step(count_in=1))
    assert performance.start == -1
    melody = performance.track(Role.MELODY).events
    assert (melody[0].onset, melody[1].onset) == (Fraction(-1, 4), 0)


def test_clicks_go_on_softer_under_the_pickup():
    """Under the pickup of a count-in the click goes on, softer than any other (common
    practice, no source)."""
    found = clicks(played(PICKUP, Step(count_in=1)))
    before = [velocity for onset, _, velocity in found if onset < Fraction(-1, 4)]
    under = [velocity for onset, _, velocity in found if Fraction(-1, 4) <= onset < 0]
    assert len(before) == 3
    assert len(under) == 1
    assert max(under) < min(before)
    assert all(velocity >= min(before) for onset, _, velocity in found if onset >= 0)


def test_no_count_in_starts_at_the_pickup():
    """Without a count-in the first thing is the pickup, with its click on beat 4."""
    performance = played(PICKUP, Step(count_in=0))
    assert performance.start == Fraction(-1, 4)
    assert performance.bars[0].index == 0
    assert performance.bars[1].onset == 0
    assert clicks(performance)[0][:2] == (Fraction(-1, 4), BEAT_KEY)


def test_no_count_in_and_no_pickup_starts_at_bar_1():
    """Without count-in and pickup the start is 0."""
    assert played(one_bar("4/4"), Step(count_in=0)).start == 0


def test_the_first_beat_has_a_click_of_its_own():
    """Beat 1 is the high wood block and stronger, the others the low one.

    General MIDI 1 percussion map (RP-003): 76 high wood block, 77 low wood block; that beat 1
    stands out is common practice, no source."""
    assert (ACCENT_KEY, BEAT_KEY) == (76, 77)
    found = clicks(played(one_bar("4/4"), Step(count_in=1)))
    assert [key for _, key, _ in found] == [76, 77, 77, 77] * 2
    assert [str(onset) for onset, _, _ in found[:4]] == ["-1", "-3/4", "-1/2", "-1/4"]
    assert found[0][2] > found[1][2] == found[2][2]


@pytest.mark.parametrize(
    ("metre", "dance", "onsets"),
    [
        ("6/8", "jig", "0 3/8"),
        ("4/4", "reel", "0 1/2"),
        ("9/8", "slip jig", "0 3/8 3/4"),
        ("7/8", "", "0 3/8 5/8"),
        ("3/2", "hornpipe", "0 1/2 1"),
        ("3/8", "", "0"),
        ("none", "", "0 1/4 1/2 3/4"),
    ],
)
def test_the_click_is_the_felt_beat(metre, dance, onsets):
    """Clicks fall on the felt beats: a jig's dotted crotchets, a reel's minims; free metre
    clicks in crotchets (common practice, no source)."""
    found = clicks(played(one_bar(metre, dance), Step(count_in=0)))
    assert [str(onset) for onset, _, _ in found] == onsets.split()


def test_the_count_in_of_a_section_is_in_its_own_metre_and_pickup():
    """A section's count-in ends with that section's own pickup (common practice, no source)."""
    performance = played(PICKUP, Step(OneSection("B"), count_in=1))
    melody = performance.track(Role.MELODY).events
    assert (melody[0].onset, melody[0].pitches) == (Fraction(-1, 4), (76,))
    assert performance.bars[1].number == 3


def test_bars_from_1_have_the_pickup_and_later_ones_have_none():
    """Bars that a pickup leads into are played with it; bar 2 on its own has none."""
    first = played(PICKUP, Step(Bars(1, 1), count_in=1)).track(Role.MELODY).events
    second = played(PICKUP, Step(Bars(2, 2), count_in=1)).track(Role.MELODY).events
    assert first[0].onset == Fraction(-1, 4)
    assert second[0].onset == 0


def test_a_count_in_keeps_the_tunes_tempo_under_a_first_fermata():
    """A fermata on the first note does not slow the count-in before it (common practice, no
    source)."""
    text = "X:1\nT:Held\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n!fermata!G2AB|G4|"
    first, *_ = walk(text, Step(count_in=1))
    assert first.tempo.beats == 120
    assert played(text, Step(count_in=1)).seconds == pytest.approx(2 + 4 + 0.5)


def test_a_count_in_before_a_slower_part_goes_at_its_tempo():
    """A part with a tempo of its own is counted in at that tempo (common practice, no source)."""
    text = "X:1\nT:Two\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n|:GABc:|\n[Q:1/4=60]|:G4:|"
    assert walk(text, Step(OneSection("B"), count_in=1))[0].tempo.beats == 60
