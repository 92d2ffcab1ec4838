"""Cutting an arrangement: what sounds in a span."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import LEFT_HAND, Role, cut, join, shifted
from backing.files import load_style
from backing.parse.abc import parse_abc

TUNE = parse_abc(
    "X:1\nT:Cutting\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"
    '|:D|"G"G2-GA-|A4-|"C"A2c2|[Q:1/4=90]"D"A3:|\n|:e|"Em"e4|"N.C."B4|"D"A2"G"G2|G3:|'
)
STYLES = ("alternating", "sustained", "drone")
WHOLE = {style: arrange(TUNE, load_style(style)) for style in STYLES}
START, STOP = WHOLE["drone"].start, WHOLE["drone"].stop


def sixteenths(low, high):
    """Positions on a grid of sixteenths, and off it."""
    return st.integers(low * 16, high * 16).map(lambda n: Fraction(n, 16)) | st.fractions(
        low, high, max_denominator=7
    )


POINTS = st.lists(sixteenths(-1, 17), min_size=3, max_size=3, unique=True).map(sorted)


def events(arrangement, role):
    """The events of one role."""
    return next(track.events for track in arrangement.tracks if track.role is role)


def sounding(some):
    """How long each pitch sounds in all."""
    total = {}
    for event in some:
        for pitch in event.pitches:
            total[pitch] = total.get(pitch, 0) + event.length
    return total


@pytest.mark.slow
@given(st.sampled_from(STYLES), POINTS)
def test_a_cut_partitions(style, points):
    """Two cuts that meet hold together what one cut over both holds: bars, chord symbols,
    every onset of the melody once, and the left hand's whole sounding time."""
    a, b, c = points
    whole = cut(WHOLE[style], a, c)
    first, second = cut(WHOLE[style], a, b), cut(WHOLE[style], b, c)
    assert first.bars + second.bars == whole.bars
    assert first.chords + second.chords == whole.chords
    for role in LEFT_HAND:
        parts = events(first, role) + events(second, role)
        assert sounding(parts) == sounding(events(whole, role))
    melody = events(first, Role.MELODY) + events(second, Role.MELODY)
    assert [e.onset for e in melody] == [e.onset for e in events(whole, Role.MELODY)]


@pytest.mark.slow
@given(st.sampled_from(STYLES), POINTS)
def test_nothing_reaches_out_of_a_cut(style, points):
    """Every event of a cut begins and ends inside its span."""
    start, _, stop = points
    for track in cut(WHOLE[style], start, stop).tracks:
        for event in track.events:
            assert start <= event.onset < event.stop <= stop


@pytest.mark.slow
@given(st.sampled_from(STYLES), POINTS)
def test_a_cut_never_strikes_a_melody_note_again(style, points):
    """Each melody event of a cut begins where one of the whole tune does."""
    start, _, stop = points
    onsets = {event.onset for event in events(WHOLE[style], Role.MELODY)}
    assert {event.onset for event in events(cut(WHOLE[style], start, stop), Role.MELODY)} <= onsets


@pytest.mark.slow
@given(st.sampled_from(STYLES), POINTS)
def test_the_tempo_is_the_same_inside_a_cut(style, points):
    """At every sixteenth of a cut the tempo is that of the whole tune there."""
    start, _, stop = points
    piece = cut(WHOLE[style], start, stop)
    at = start
    while at < stop:
        assert piece.tempo_at(at) == WHOLE[style].tempo_at(at)
        at += Fraction(1, 16)


def test_held_chords_are_struck_again_at_the_cut():
    """A chord held over the cut is struck again exactly at its start, for what is left."""
    piece = cut(WHOLE["sustained"], Fraction(1), Fraction(2))
    for role in LEFT_HAND:
        (event,) = events(piece, role)
        assert (event.onset, event.stop) == (1, 2)


def test_a_melody_note_held_over_the_cut_is_silent():
    """The tied note that began before the cut does not sound in it."""
    piece = cut(WHOLE["sustained"], Fraction(1), Fraction(2))
    assert events(piece, Role.MELODY) == ()


def test_a_note_that_reaches_past_the_end_is_ended_there():
    """The tied note that begins in the cut's last beat lasts one beat in it."""
    piece = cut(WHOLE["sustained"], Fraction(0), Fraction(1))
    assert events(piece, Role.MELODY)[-1].length == Fraction(1, 4)


def test_an_event_that_ends_at_the_cut_is_not_in_it():
    """What stops where the span starts is outside: spans are half-open."""
    piece = cut(WHOLE["sustained"], Fraction(2), Fraction(3))
    assert {event.onset for event in events(piece, Role.BASS)} == {2}


def test_a_cut_over_everything_is_the_arrangement():
    """Cutting more than there is gives the arrangement itself."""
    assert cut(WHOLE["drone"], START - 1, STOP + 1) is WHOLE["drone"]


def test_muted_or_not_a_cut_keeps_the_track():
    """A cut keeps every track with its channel, program and level, even an empty one."""
    piece = cut(WHOLE["sustained"], Fraction(1), Fraction(2))
    assert [(t.role, t.channel, t.program, t.level) for t in piece.tracks] == [
        (t.role, t.channel, t.program, t.level) for t in WHOLE["sustained"].tracks
    ]


@pytest.mark.parametrize("by", ["1", "-1/4", "7/3", "0"])
def test_there_and_back(by):
    """Moved by a length and back again, an arrangement is as it was."""
    arrangement = WHOLE["alternating"]
    moved = shifted(arrangement, Fraction(by))
    assert moved.start == arrangement.start + Fraction(by)
    assert shifted(moved, -Fraction(by)) == arrangement


def test_pieces_joined_again_are_the_whole():
    """Cut at a bar line and joined, bars and melody are those of the whole."""
    at = Fraction(2)
    whole = WHOLE["alternating"]
    joined = join([cut(whole, START, at), cut(whole, at, STOP)])
    assert joined.bars == whole.bars
    assert joined.tracks[1:] == whole.tracks[1:]


def test_joined_pieces_lie_end_to_end():
    """A piece joined to another begins where that one stops, wherever it was before."""
    whole = WHOLE["alternating"]
    joined = join([cut(whole, Fraction(4), Fraction(5)), cut(whole, Fraction(0), Fraction(1))])
    assert [bar.onset for bar in joined.bars] == [4, 5]
    assert [bar.number for bar in joined.bars] == [1, 1]
