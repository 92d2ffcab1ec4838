"""Limits in seconds: cuts, trills and the shortest bass at any tempo of practice."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import TRILL, Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.limits import WHOLE_TICKS
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.presses import WHOLE, Seconds, key_presses, ticks

HEAD = "X:1\nT:Limits\nM:4/4\nL:1/8\nQ:1/4=120\nK:G\n"
CUTS = "{c}B4 {gf}e4|~B6 {c}B2|B4 {c}!fermata!B4|]"
TRILLS = "TB8|TB8|TB4 TA2 TBTA|{c}TB4 B4|]"


def played(body, percent=100, style="alternating"):
    """The performance of some bars, and its seconds."""
    tune = parse_abc(HEAD + body)
    step = Step(tempo=Fraction(percent, 100), count_in=0)
    performance = perform(arrange(tune, load_style(style)), Plan((step,)), tune)
    return performance, Seconds(performance.tempos, performance.start)


def lasting(body, percent=100, role=Role.MELODY, style="alternating"):
    """Second of the onset, seconds that it lasts, key, of each note."""
    performance, seconds = played(body, percent, style)
    return [
        (seconds.at(onset), seconds.at(stop) - seconds.at(onset), key)
        for onset, stop, key, _ in key_presses(performance.track(role).events)
    ]


def keys(body, percent=100):
    return [key for _, _, key in lasting(body, percent)]


@pytest.mark.parametrize("percent", [15, 40, 60, 100])
def test_a_cut_lasts_60_milliseconds_at_most(percent):
    """However slow, under a fermata too, cuts and taps stay a flick (60 ms is a working value)."""
    quick = [length for _, length, key in lasting(CUTS, percent) if key in (72, 79, 78, 69)]
    assert len(quick) == 7
    assert max(quick) <= 0.06 + 1e-9
    if percent < 100:
        assert min(quick) > 0.06 - 60 / (18 * 960)


def test_what_follows_a_cut_begins_early_and_ends_where_it_did():
    """A note takes what its cuts leave: the next note is where it was, nothing is silent."""
    slow = lasting("{gf}e4 B4|]", 25)
    assert [key for _, _, key in slow] == [79, 78, 76, 71]
    onsets = [round(onset, 2) for onset, _, _ in slow]
    assert onsets == [0, 0.06, 0.12, 4]
    assert slow[2][0] + slow[2][1] == pytest.approx(4, abs=0.001)


@pytest.mark.parametrize("percent", [20, 60, 100, 130, 200, 300])
def test_a_trill_has_eleven_notes_a_second_at_most(percent):
    """Notes of a trill begin at least an eleventh of a second apart at any tempo."""
    performance, seconds = played(TRILLS, percent)
    events = performance.track(Role.MELODY).events
    apart = [
        seconds.at(ticks(second.onset)) - seconds.at(ticks(first.onset))
        for first, second in pairwise(events)
        if first.origin == second.origin and first.limit == second.limit == TRILL
    ]
    assert len(apart) >= 4
    assert min(apart) >= 1 / 11 - 1e-9


def test_a_quicker_trill_has_fewer_notes_and_ends_on_its_note():
    """At the tune's own speed a trill keeps all its notes; quicker it has fewer, an odd number."""
    counts = [len(keys("TB8|]", percent)) for percent in (40, 60, 100, 200)]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[-1] >= 3
    for percent in (40, 60, 100, 200):
        found = keys("TB8|]", percent)
        assert (len(found) % 2, found[0], found[-1]) == (1, 71, 71)


@pytest.mark.parametrize(
    ("body", "percent", "expected"),
    [
        ("TB2|]", 100, [71, 72, 71, 72, 71]),
        ("TB2|]", 180, [71, 72, 71]),
        ("TB2|]", 250, [72, 71]),
        ("TB|]", 300, [71]),
    ],
)
def test_a_trill_without_room_is_a_note_from_above_or_the_note(body, percent, expected):
    """Where three notes have no room the upper one leads into the note; where these have
    none the note is plain."""
    assert keys(body, percent) == expected


def test_two_trills_on_one_note_stay_two():
    """Written twice, a trilled note is trilled twice, also round a repeat."""
    assert keys("|:TB8:|", 150) == 2 * keys("TB8|]", 150)


@given(percent=st.integers(20, 300), style=st.sampled_from(["alternating", "bass-runs", "polka"]))
def test_no_bass_is_shorter_than_110_milliseconds(percent, style):
    """A bass reed has time to speak at any tempo, but for one that is struck again before that
    or ends the tune (110 ms is a working value)."""
    body = '"G"G2B2 "D"d2c2|"Em"B2G2 "A7"A2c2|"D"d2f2 a4|"G"g8|]'
    found = lasting(body, percent, Role.BASS, style)
    performance, _ = played(body, percent, style)
    for place, (onset, length, key) in enumerate(found):
        again = [other for other, _, same in found[place + 1 :] if same == key]
        most = min([*again, performance.seconds]) - onset
        assert length >= min(0.11, most) - 0.001


def test_limits_are_kept_in_ticks_of_a_file():
    """The finest part of a crotchet is the one that files have."""
    assert WHOLE_TICKS == WHOLE


def test_a_slow_practice_keeps_the_notes():
    """Cuts and rolls have the same notes at every tempo; only trills may have fewer."""
    assert keys(CUTS, 20) == keys(CUTS, 100) == keys(CUTS, 200)
