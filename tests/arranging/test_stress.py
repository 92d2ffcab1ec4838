"""How a melody is stressed by rule (working values: common practice, no source)."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.arranging.arrange import Manner, arrange
from backing.arranging.stress import Stress
from backing.files import load_style
from backing.parse.abc import parse_abc

#: Music of one bar and the stress of its notes, strongest 2: strong beats, other felt beats,
#: what falls between.
BARS = {
    ("2/4", "polka"): ("ABcd", [2, 0, 1, 0]),
    ("3/4", "waltz"): ("ABcdef", [2, 0, 1, 0, 1, 0]),
    ("4/4", "march"): ("ABcdefga", [2, 0, 1, 0, 2, 0, 1, 0]),
    ("4/4", "reel"): ("ABcdefga", [2, 0, 0, 0, 1, 0, 0, 0]),
    ("3/8", "waltz"): ("ABc", [2, 0, 0]),
    ("6/8", "jig"): ("ABcdef", [2, 0, 0, 1, 0, 0]),
    ("9/8", "slip jig"): ("ABcdefgab", [2, 0, 0, 1, 0, 0, 1, 0, 0]),
    ("3/2", "3/2 hornpipe"): ("A2B2c2d2e2f2", [2, 0, 1, 0, 1, 0]),
    ("5/4", ""): ("A2B2c2d2e2", [2, 1, 1, 2, 1]),
    ("7/8", ""): ("ABcdefg", [2, 0, 0, 1, 0, 1, 0]),
}


def bars_of(music, metre="4/4", dance="", **manner):
    """The velocities of the melody, bar by bar as it is played."""
    dance = f"R:{dance}\n" if dance else ""
    tune = parse_abc(f"X:1\n{dance}M:{metre}\nL:1/8\nK:C\n{music}\n")
    arrangement = arrange(tune, load_style("sustained"), Manner(**manner))
    return [
        [e.velocity for e in arrangement.tracks[0].events if bar.onset <= e.onset < bar.stop]
        for bar in arrangement.bars
    ]


@pytest.mark.parametrize(("metre", "dance"), BARS)
def test_the_felt_beats_are_stressed(metre, dance):
    """In every metre strong beats are stronger than other felt beats, and these than what falls
    between, by 2 per cent of the level at least, in each bar of a phrase."""
    music, stress = BARS[metre, dance]
    for bar in bars_of("|".join([music] * 4) + "|", metre, dance):
        heard = list(zip(stress, bar, strict=True))
        for one, other in product(heard, heard):
            if one[0] > other[0]:
                assert one[1] >= other[1] + 90 * 2 / 100


def test_the_values_of_a_reel():
    """A reel of quavers at mezzo forte (90) starts its phrase so, read and kept."""
    first, *_, last = bars_of("ABcdefga|" * 4, "4/4", "reel")
    assert first == [94, 87, 87, 87, 92, 87, 87, 88]
    assert last == [94, 85, 85, 84, 88, 83, 83, 82]


def test_a_pickup_is_lifted():
    """A pickup is softer than anything in the bar that it leads into."""
    pickup, bar, *_ = bars_of("GA|ABcdefga|ABcdefga|ABcdefga|ABcdef|", dance="hornpipe")
    assert max(pickup) < min(bar)


def test_a_phrase_grows_and_falls():
    """The same bar is strongest in the middle of its phrase and softest at its end; each phrase
    of four bars begins alike."""
    bars = bars_of("ABcdefga|" * 8, dance="reel")
    firsts = [bar[0] for bar in bars]
    assert firsts[0] < firsts[1] < firsts[2] > firsts[3]
    assert bars[3][-1] == min(map(min, bars))
    assert bars[:4] == bars[4:]


def test_plain_playing_is_even():
    """Without ornaments every note has the level in force, and so has free metre."""
    assert bars_of("GA|" + "ABcdefga|" * 4, ornaments=False)[1:] == [[90] * 8] * 4
    assert bars_of("ABcdefga|", metre="none") == [[90] * 8]


def test_marks_stay_on_top():
    """A dynamic changes the level that is stressed, an accent comes on top of it."""
    (soft,) = bars_of("!p!ABcdefga|", dance="reel")
    (usual,) = bars_of("ABcdefga|", dance="reel")
    (accented,) = bars_of("AB!accent!cdefga|", dance="reel")
    assert all(abs(s * 90 - u * 60) <= 90 for s, u in zip(soft, usual, strict=True))
    assert [a - u for a, u in zip(accented, usual, strict=True)] == [0, 0, 15, 0, 0, 0, 0, 0]


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.sampled_from([*BARS]), st.integers(1, 11), st.booleans())
def test_stress_stays_within_its_limit(kind, count, led_in):
    """Whatever the metre and the length of a phrase, no note is further than 12 per cent from
    the level in force."""
    metre, dance = kind
    music = "|".join([BARS[kind][0]] * count) + "|"
    bars = bars_of("A|" * led_in + music, metre, dance)
    assert all(abs(v - 90) <= 90 * 12 / 100 for bar in bars for v in bar)


def test_a_velocity_is_one_that_midi_has():
    """Stress takes no level out of 1 to 127."""
    assert Stress({(0, 1): 12}, -12).on(127, (0, 1)) == 127
    assert Stress({(0, 1): 12}, -12).on(1, (1, 8)) == 1
