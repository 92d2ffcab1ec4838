"""The tune as it is played: parts, phrases, ties, tempi, whole numbers."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.arrange import Manner, arrange
from backing.box.line import line_of
from backing.files import load_style
from backing.music.played import as_played, grid_of, in_steps, later, phrase_at, tempos_of_bars
from backing.parse.abc import parse_abc

HEAD = "X:1\nM:4/4\nL:1/4\nK:C\n"
NINE = "C4|" * 9 + "|"
LENGTHS = st.fractions(-50, 50, max_denominator=97)


def played(music, head=HEAD, **how):
    """A tune in C as it is played."""
    return as_played(parse_abc(head + music), **how)


@pytest.mark.parametrize(
    ("count", "starts"),
    [
        (1, [0]), (4, [0]), (5, [0]), (6, [0, 4]), (8, [0, 4]), (9, [0, 4]), (10, [0, 4, 8]),
        (13, [0, 4, 8]), (16, [0, 4, 8, 12]),
    ],
)  # fmt: skip
def test_phrases_are_four_bars_and_no_bar_is_left_alone(count, starts):
    """Phrases of four bars; one bar left over belongs to the last phrase (common practice, no
    source)."""
    phrases = [phrase_at(position, count) for position in range(count)]
    assert sorted({phrase.start for phrase in phrases}) == starts
    assert sorted({phrase.stop for phrase in phrases}) == [*starts[1:], count]


def test_both_hands_begin_their_phrases_together():
    """In a section of nine bars the melody's phrases and the left hand's begin at bars 1 and
    5."""
    tune = parse_abc(HEAD + '"C"' + NINE)
    starts = [moment.onset for moment in line_of(tune).moments if moment.phrase]
    assert starts == [0, 4]
    assert [bar.onset for bar in as_played(tune).bars if bar.opens_phrase] == starts


def test_positions_count_full_bars_and_a_pickup_goes_with_the_next():
    """Each time through a section is a part of its own; its bars count from 0, pickups left
    out."""
    bars = played("|:C|CDEG|C3:|D|DEFG|C3|]").bars
    assert [(bar.part, bar.position, bar.pickup) for bar in bars] == [
        (0, 0, True), (0, 0, False), (0, 1, False),
        (1, 0, True), (1, 0, False), (1, 1, False),
        (2, 0, True), (2, 0, False), (2, 1, False),
    ]  # fmt: skip
    assert {bar.full for bar in bars} == {2}
    assert [bar.lead for bar in bars] == [bar.pickup for bar in bars]


def test_a_pickup_inside_a_section_is_no_bar_of_a_phrase():
    """A named section of two strains of four bars has two phrases of four, though a pickup
    stands between them, which is no start of a part."""
    music = "P:A\n|:C|CDEG|CDEG|CDEG|C3:|\n|:D|DEFG|DEFG|DEFG|C3:|\n"
    bars = played(music).bars
    opening = [bar for bar in bars if bar.opens_phrase]
    assert [bar.number for bar in opening] == [1, 1, 5, 5]
    inside = [bar for bar in bars if bar.pickup and not bar.lead]
    assert [bar.position for bar in inside] == [4]


def test_a_tie_joins_what_follows_at_once():
    """A tied note is struck once and held on, over a bar line and back to a repeat too; the
    other notes of a chord are struck."""
    strikes = [bar.strikes for bar in played("|:[CE]2-[CG]2|E2 C2-:|").struck]
    assert [(strike.keys, strike.held) for strike in strikes[0]] == [((60, 64), ()), ((67,), (60,))]
    assert [(strike.keys, strike.held) for strike in strikes[2]] == [((64,), (60,)), ((67,), (60,))]


def test_the_first_bar_after_a_tied_end_is_held_each_time_it_is_reached():
    """Where a first ending's last note is tied and a second ending's is not, the note after
    them sounds on from the one and is struck after the other."""
    text = "|:C2 C2|1 D2 C2-:|2 D2 E2|C4|"
    events = arrange(parse_abc(HEAD + text), load_style("sustained")).tracks[0].events
    onsets = [event.onset for event in events if event.pitches == (60,)]
    assert onsets == [0, Fraction(1, 2), Fraction(3, 2), Fraction(5, 2), 4]


def test_a_written_bar_sounds_as_it_is_reached():
    """A dynamic that comes later in the tune holds at the next time through."""
    tune = parse_abc(HEAD + "|:CDEG|!f!C4:|")
    plain = Manner(ornaments=False)  # without the stress of beats and phrases
    events = arrange(tune, load_style("sustained"), plain).tracks[0].events
    assert [event.velocity for event in events] == [90] * 4 + [105] * 6


def test_a_written_bar_has_the_tempo_of_its_place():
    """A mark at a bar's start counts for it, one inside it for the next bar."""
    tune = parse_abc(HEAD + "CDEG|[Q:1/4=60]CDEG|CD[Q:1/4=90]EG|C4|")
    own = as_played(tune).tempo
    beats = [tempo.beats for tempo in tempos_of_bars(tune, own)]
    assert beats == [own.beats, 60, 60, 90]


@pytest.mark.parametrize(
    ("head", "dance", "swing", "expected"),
    [
        ("R:hornpipe\n", "", None, (2, True)), ("R:hornpipe\n", "reel", None, (None, False)),
        ("R:hornpipe\n", "", 1, (None, False)), ("R:reel\n", "", Fraction(3, 2), (1.5, False)),
    ],
)  # fmt: skip
def test_the_swing_that_is_asked_for_stands_in_for_the_dances(head, dance, swing, expected):
    """Swing comes from the player, else the tune's dance, or from the dance that the player
    names (hornpipes 2 to 1: common practice, no source)."""
    text = f"X:1\n{head}M:4/4\nL:1/8\nK:C\nC8|\n"
    assert played("", text, dance=dance, swing=swing).swing == expected


def test_a_named_hornpipe_is_seen_in_the_metre_of_the_tune():
    """In 3/2 a hornpipe is one of its own, also where the player names it."""
    assert played("C6|", "X:1\nM:3/2\nL:1/4\nK:C\n", dance="hornpipe").dance.name == "3/2 hornpipe"


@pytest.mark.slow
@given(LENGTHS, LENGTHS)
def test_later_is_the_sum(position, by):
    """A position later by a length is their sum, on the common grid or off it."""
    assert later(position, by) == position + by


@pytest.mark.slow
@given(st.lists(LENGTHS, min_size=1))
def test_lengths_lie_on_their_grid(lengths):
    """In steps of its grid a length is whole, and as long as before."""
    grid = grid_of(lengths)
    assert [Fraction(in_steps(length, grid), grid) for length in lengths] == lengths
