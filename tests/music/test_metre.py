"""Metres beyond the table of felt beats: groups, feel, onsets, how they may be written."""

from fractions import Fraction
from itertools import accumulate

import pytest

from backing.music.metre import FREE, make_metre, parse_metre

#: Beats of these metres are common practice, no source.
EVERY = [
    "2/4", "3/4", "4/4", "5/4", "6/4", "7/4", "9/4", "2/2", "3/2", "4/2", "3/8", "5/8", "6/8",
    "7/8", "8/8", "9/8", "10/8", "11/8", "12/8", "15/8", "3/16", "6/16", "12/16", "C", "C|",
    "(2+2+3)/8", "(3+2+2)/8", "(2+3)/4", "(3+3+2)/8", "(2+2+2+3)/8",
]  # fmt: skip


@pytest.mark.parametrize("name", EVERY)
def test_beats_follow_each_other(name):
    """Every beat begins where the one before it ends, and the last ends with the bar."""
    metre = parse_metre(name)
    ends = list(accumulate(metre.beats))
    assert metre.beat_onsets() == (0, *ends[:-1])
    assert ends[-1] == metre.length


@pytest.mark.parametrize("name", EVERY)
def test_strong_beats_are_beats(name):
    """The first beat is strong, and every group of beats opens with a strong one."""
    metre = parse_metre(name)
    assert metre.strong[0] == 0
    assert len(metre.strong) == len(metre.groups)
    assert sum(metre.groups) == len(metre.beats)
    assert metre.strong[-1] < len(metre.beats)


@pytest.mark.parametrize(
    ("name", "count", "unit", "length"),
    [
        ("C", 4, 4, "1"), ("C|", 2, 2, "1"), ("4/4", 4, 4, "1"), ("2/2", 2, 2, "1"),
        (" 6/8 ", 6, 8, "3/4"), ("6 / 8", 6, 8, "3/4"), ("(3+2+2)/8", 7, 8, "7/8"),
        ("3+2+2/8", 7, 8, "7/8"), ("( 2 + 3 ) / 4", 5, 4, "5/4"), ("9/16", 9, 16, "9/16"),
    ],
)  # fmt: skip
def test_how_a_metre_may_be_written(name, count, unit, length):
    """ABC 2.1 clause 3.1.6: C is 4/4, C| is 2/2, sums count, brackets are optional."""
    metre = parse_metre(name)
    assert (metre.count, metre.unit, metre.length) == (count, unit, Fraction(length))


@pytest.mark.parametrize("name", ["none", "NONE", "", "  "])
def test_free_metre(name):
    """Without a metre there are no beats and no length of a bar (ABC 2.1 clause 3.1.6)."""
    assert parse_metre(name) == FREE
    assert (FREE.free, FREE.length, FREE.beats, str(FREE)) == (True, 0, (), "free")


@pytest.mark.parametrize(
    ("name", "shown"),
    [("C", "4/4"), ("C|", "2/2"), ("6/8", "6/8"), ("(3+2+2)/8", "7/8"), ("(2+3)/4", "5/4")],
)
def test_a_metre_is_shown_as_a_fraction(name, shown):
    """A metre is shown as its two numbers, however it was written."""
    assert str(parse_metre(name)) == shown


@pytest.mark.parametrize(
    ("name", "feel"),
    [
        ("4/4", "4/4"), ("2/2", "2/2"), ("C|", "2/2"), ("2/4", "2/4"), ("3/4", "3/4"),
        ("3/2", "3/2"), ("5/4", "5/4"), ("6/8", "6/8"), ("9/8", "9/8"), ("12/8", "12/8"),
        ("3/8", "3/8"), ("7/8", "7/8"), ("5/8", "5/8"), ("(2+3)/8", "5/8"),
    ],
)  # fmt: skip
def test_feel_of_a_metre_in_its_own_beats(name, feel):
    """Felt in its own beats a metre feels as it is written (common practice, no source)."""
    assert parse_metre(name).feel == feel


@pytest.mark.parametrize(
    ("name", "beats", "feel"),
    [
        ("4/4", "1/2 1/2", "2/2"), ("2/4", "1/2", "1/2"), ("2/2", "1/4 1/4 1/4 1/4", "4/4"),
        ("6/8", "1/4 1/4 1/4", "3/4"), ("8/8", "3/8 3/8 1/4", "8/8"),
    ],
)  # fmt: skip
def test_feel_of_a_metre_in_other_beats(name, beats, feel):
    """The same bar felt in other beats feels like the metre that they make."""
    changed = parse_metre(name).with_beats(*map(Fraction, beats.split()))
    assert changed.feel == feel
    assert changed.length == parse_metre(name).length
    assert sum(changed.groups) == len(changed.beats)


def test_beats_must_make_the_bar():
    """Beats that do not add up to the bar are refused."""
    with pytest.raises(ValueError, match="do not make a bar of 4/4"):
        parse_metre("4/4").with_beats(Fraction(3, 8), Fraction(3, 8))


@pytest.mark.parametrize(
    ("count", "unit"), [(0, 4), (-1, 4), (257, 4), (4, 3), (4, 0), (4, 256), (4, -4)]
)
def test_numbers_that_make_no_metre(count, unit):
    """A metre counts 1 to 256 of a note that is a power of two."""
    with pytest.raises(ValueError, match="is not a metre"):
        make_metre(count, unit)


@pytest.mark.parametrize(
    "name", ["c", "C||", "6/8/8", "6:8", "(3+2)", "(3+)/8", "(0+2)/8", "6/", "/8", "½"]
)
def test_what_is_no_metre_either(name):
    """Text that is nearly a metre is refused, not guessed at."""
    with pytest.raises(ValueError, match="is not a metre"):
        parse_metre(name)


@pytest.mark.parametrize(
    "name", ["2/4", "3/4", "4/4", "2/2", "3/2", "6/8", "9/8", "12/8", "5/4", "6/4", "9/4", "6/16"]
)
def test_beats_against_another_library(name):
    """Simple and compound metres have the beats that music21 gives them."""
    from music21.meter import TimeSignature

    theirs = TimeSignature(name)
    ours = parse_metre(name)
    assert len(ours.beats) == theirs.beatCount
    assert ours.beats[0] == Fraction(theirs.beatDuration.quarterLength) / 4


def test_a_metre_is_a_value():
    """Two readings of one name are equal, and may be used as keys."""
    assert len({parse_metre("6/8"), make_metre(6, 8), parse_metre("3/4")}) == 2


def test_a_single_note_is_one_beat():
    """A metre of one quaver or semiquaver is one beat long."""
    for name in ("1/8", "1/16"):
        assert parse_metre(name).beats == (parse_metre(name).length,)
