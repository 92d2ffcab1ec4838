"""Tempi: how long a tune lasts, and what a tempo may look like."""

from fractions import Fraction

import pytest

from backing.music.metre import parse_metre
from backing.music.tempo import FeltBeats, Tempo, decimal, parse_tempo

#: Seconds of so many bars = bars * bar length / beat * 60 / beats a minute, and microseconds
#: a quarter note (Standard MIDI Files 1.0, tempo event): worked out by hand.
SECONDS = [
    (8, "4/4", "1/4=120", "16", 500000), (8, "4/4", "1/4=60", "32", 1000000),
    (8, "6/8", "3/8=120", "8", 333333), (8, "6/8", "3/8=80", "12", 500000),
    (16, "6/8", "3/8=60", "32", 666667), (8, "9/8", "3/8=90", "16", 444444),
    (8, "3/4", "1/4=100", "14.4", 600000), (8, "2/4", "1/4=90", "32/3", 666667),
    (8, "2/2", "1/2=80", "12", 375000), (8, "7/8", "1/8=210", "16", 571429),
    (32, "4/4", "1/2=100", "38.4", 300000), (1, "12/8", "3/8=100", "2.4", 400000),
]  # fmt: skip


@pytest.mark.parametrize(("bars", "metre", "text", "seconds", "quarter"), SECONDS)
def test_seconds(bars, metre, text, seconds, quarter):
    """Bars at a tempo last exactly so many seconds, and a quarter so many microseconds."""
    tempo = parse_tempo(text)
    length = bars * parse_metre(metre).length
    assert length / tempo.wholes * 60 == Fraction(seconds)
    assert round(60_000_000 / (tempo.wholes * 4)) == quarter


@pytest.mark.parametrize(
    ("percent", "text"),
    [(50, "1/2 = 54"), (100, "1/2 = 108"), (75, "1/2 = 81"), (110, "1/2 = 118.8")],
)
def test_a_percentage(percent, text):
    """A percentage of a tempo keeps its unit."""
    assert str(Tempo(Fraction(108), Fraction(1, 2)).scaled(Fraction(percent, 100))) == text


@pytest.mark.parametrize(("metre", "unit"), [("6/8", "3/8"), ("4/4", "1/4"), ("2/2", "1/2")])
def test_a_bare_number_counts_the_felt_beat(metre, unit):
    """A bare number counts the note that the tune is felt in."""
    beat = parse_metre(metre).beats[0]
    assert parse_tempo("60").in_unit(beat) == Tempo(Fraction(60), Fraction(unit))


@pytest.mark.parametrize(
    ("text", "beats", "unit"),
    [("60", "60", ""), (" 60 ", "60", ""), ("67.5", "135/2", ""), ("67,5", "135/2", ""),
     ("3/8=60", "60", "3/8"), ("3/8 = 60", "60", "3/8"), ("1/2=10", "10", "1/2"),
     ("400", "400", "")],
)  # fmt: skip
def test_what_a_tempo_looks_like(text, beats, unit):
    """A tempo is a number, or a note length and a number; decimals are exact."""
    felt = FeltBeats(Fraction(beats))
    assert parse_tempo(text) == (felt.in_unit(Fraction(unit)) if unit else felt)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fast", "is not a tempo"), ("", "is not a tempo"), ("1/4=", "is not a tempo"),
        ("=60", "is not a tempo"), ("-60", "is not a tempo"), ("1e3", "is not a tempo"),
        ("nan", "is not a tempo"), ("0/4=60", "is not a note length"),
        ("1/0=60", "is not a note length"), ("9", "outside 10 to 400"),
        ("400.1", "outside 10 to 400"), ("1/4=9.9", "outside 10 to 400"), ("60%", "is not a tempo"),
    ],
)  # fmt: skip
def test_what_is_no_tempo(text, said):
    """Anything else is refused; tempi lie between 10 and 400 beats a minute."""
    with pytest.raises(ValueError, match=said):
        parse_tempo(text)


@pytest.mark.parametrize(
    ("number", "text"), [("60", "60"), ("336/5", "67.2"), ("100/3", "33.3"), ("119.96", "120")]
)
def test_tempi_are_read_out_with_one_decimal(number, text):
    """Tempi are shown with one decimal at most, and none where it would be 0."""
    assert decimal(Fraction(number)) == text
