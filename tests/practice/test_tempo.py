"""How long a practice lasts, at whatever tempo."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.files import load_style
from backing.music.tempo import Tempo, parse_tempo
from backing.parse.abc import parse_abc
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

#: seconds = bars x (length of a bar / length of a beat) x 60 / beats a minute
SECONDS = [
    (8, "4/4", "1/4=120", 16.0),
    (8, "4/4", "1/4=60", 32.0),
    (8, "6/8", "3/8=120", 8.0),
    (8, "6/8", "3/8=80", 12.0),
    (16, "6/8", "3/8=60", 32.0),
    (8, "9/8", "3/8=90", 16.0),
    (8, "3/4", "1/4=100", 14.4),
    (8, "2/4", "1/4=90", 10.666667),
    (8, "2/2", "1/2=80", 12.0),
    (8, "7/8", "1/8=210", 16.0),
    (32, "4/4", "1/2=100", 38.4),
    (1, "12/8", "3/8=100", 2.4),
]
IDS = [f"{row[0]} bars of {row[1]} at {row[2]}" for row in SECONDS]


def bars(count, metre, tempo=""):
    """A tune of so many bars, one note each."""
    return parse_abc(f"X:1\nT:Bars\nM:{metre}\nL:1/1\n{tempo}K:G\n" + f"G{metre}|" * count)


def played(tune, **step):
    """The performance of one step, without count-in unless asked for."""
    step = {"count_in": 0, **step}
    return perform(arrange(tune, load_style("alternating")), Plan((Step(**step),)), tune)


@pytest.mark.parametrize(("count", "metre", "tempo", "seconds"), SECONDS, ids=IDS)
def test_seconds_at_the_tunes_own_tempo(count, metre, tempo, seconds):
    """So many bars at the tempo that the tune gives last so many seconds (arithmetic)."""
    performance = played(bars(count, metre, f"Q:{tempo}\n"))
    assert performance.seconds == pytest.approx(seconds, abs=1e-6)


@pytest.mark.parametrize(("count", "metre", "tempo", "seconds"), SECONDS, ids=IDS)
def test_seconds_at_a_tempo_that_is_asked_for(count, metre, tempo, seconds):
    """The same tempo asked for gives the same seconds, whatever the tune's own is."""
    asked = parse_tempo(tempo)
    for own in ("", "Q:1/4=77\n", "Q:3/8=111\n"):
        performance = played(bars(count, metre, own), tempo=asked)
        assert performance.seconds == pytest.approx(seconds, abs=1e-6)


@pytest.mark.parametrize("percent", [50, 60, 75, 80, 100, 110])
@pytest.mark.parametrize(("count", "metre", "tempo", "seconds"), SECONDS, ids=IDS)
def test_seconds_at_a_percentage(count, metre, tempo, seconds, percent):
    """At p per cent a tune lasts 100/p times as long."""
    performance = played(bars(count, metre, f"Q:{tempo}\n"), tempo=Fraction(percent, 100))
    assert performance.seconds == pytest.approx(seconds * 100 / percent, abs=1e-6)


@pytest.mark.parametrize(("count", "metre", "tempo", "seconds"), SECONDS, ids=IDS)
def test_a_count_in_of_one_bar_adds_one_bar(count, metre, tempo, seconds):
    """A count-in of one bar adds the time of one bar."""
    performance = played(bars(count, metre, f"Q:{tempo}\n"), count_in=1)
    assert performance.seconds == pytest.approx(seconds * (count + 1) / count, abs=1e-5)


def test_later_tempi_scale_with_the_first():
    """A percentage, or a tempo asked for, scales every tempo of the tune alike."""
    tune = parse_abc("X:1\nT:Two\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\nGABc|[Q:1/4=60]GABc|[Q:1/2=60]G4|")
    for tempo in (Fraction(1, 2), Tempo(Fraction(60), Fraction(1, 4))):
        performance = played(tune, tempo=tempo)
        beats = [(str(p.onset), p.tempo.wholes * 4) for p in performance.tempos]
        assert beats == [("0", 60), ("1", 30), ("2", 60)]
        assert performance.seconds == pytest.approx(2 * (2 + 4 + 2))


def test_a_tempo_in_another_unit_is_the_same_speed():
    """3/8 = 60 and 1/8 = 180 are the same speed."""
    tune = bars(4, "6/8")
    one = played(tune, tempo=Tempo(Fraction(60), Fraction(3, 8)))
    other = played(tune, tempo=Tempo(Fraction(180), Fraction(1, 8)))
    assert one.seconds == other.seconds == pytest.approx(8)


@pytest.mark.parametrize("dance", ["reel", "hornpipe", "morris"])
def test_one_dance_in_two_metres_lasts_as_long(dance):
    """So many bars of a dance last as long in 2/4 as in cut time, at its usual tempo."""

    def seconds(metre):
        """Eight bars of the dance in a metre."""
        head = f"X:1\nT:Same\nR:{dance}\nM:{metre}\nL:1/1\nK:G\n"
        return played(parse_abc(head + f"G{metre}|" * 8)).seconds

    assert seconds("2/4") == pytest.approx(seconds("2/2"))


def test_a_fermata_lasts_half_as_long_again():
    """A minim under a fermata at 120 crotchets lasts 1.5 seconds instead of 1."""
    tune = parse_abc("X:1\nT:F\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\nGA!fermata!B2|")
    assert played(tune).seconds == pytest.approx(1 + 1.5)
    assert played(tune, tempo=Fraction(1, 2)).seconds == pytest.approx(2 + 3)


def test_tempi_come_back_at_every_time_through():
    """A tune that slows down begins again at its first tempo."""
    tune = parse_abc("X:1\nT:R\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\nGABc|[Q:1/4=60]GABc|")
    performance = played(tune, times=2)
    assert [(str(p.onset), p.tempo.beats) for p in performance.tempos] == [
        ("0", 120), ("1", 60), ("2", 120), ("3", 60),
    ]  # fmt: skip
    assert performance.seconds == pytest.approx(2 * 6)
