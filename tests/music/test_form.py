"""Bar numbers, pickups, sections, bars of the wrong length, and the dances' usual ways."""

from dataclasses import replace
from fractions import Fraction

import pytest

from backing.music.dance import DANCES, dance_of, felt, find_dance, usual_tempo
from backing.music.form import lay_out_form, odd_lengths
from backing.music.metre import parse_metre
from backing.music.played import as_played
from backing.parse.abc import parse_abc


def tune(music, metre="6/8", header=""):
    """A tune in D of this music."""
    return parse_abc(f"X:1\nM:{metre}\nL:1/8\n{header}K:D\n{music}\n")


@pytest.mark.parametrize(
    ("music", "numbers"),
    [
        ("A6|B6|A6|]", [1, 2, 3]),
        ("d|A6|B5:|", [0, 1, 2]),
        ("d|A6|B5:|e|A6|B5:|", [0, 1, 2, 2, 3, 4]),
        ("d|A6|B6:|e|A6|B5:|", [0, 1, 2, 2, 3, 4]),
        ("|:A6|1B6:|2d6|A6|]", [1, 2, 3, 4]),
        ("A6|B5|A6|]", [1, 2, 3]),
    ],
)
def test_bar_numbers(music, numbers):
    """Full bars count from 1 in written order, endings going on; a pickup is bar 0; two
    short bars that complete each other share a number (common practice, no source)."""
    assert [bar.number for bar in tune(music).bars] == numbers


@pytest.mark.parametrize(
    ("music", "sections"),
    [
        ("|:A6|B6:|:d6|e6:|", [("A", 0, 2), ("B", 2, 4)]),
        ("A6|B6:|d6|e6:|", [("A", 0, 2), ("B", 2, 4)]),
        ("A6|B6||d6|e6|]", [("A", 0, 2), ("B", 2, 4)]),
        ("f|A6|B5:|f|d6|e5:|", [("A", 0, 3), ("B", 3, 6)]),
        ("f|:A6|B5:|f|:d6|e5:|", [("A", 0, 3), ("B", 3, 6)]),
        ("|:A6|1B6:|2d6||e6|f6:|", [("A", 0, 3), ("B", 3, 5)]),
        ("A6|B6|]", [("A", 0, 2)]),
        ("P:A\nA6|\nP:B\nB6|\nP:A\nd6|", [("A", 0, 1), ("B", 1, 2), ("A2", 2, 3)]),
        ("A6|\nP:A\nB6|", [("B", 0, 1), ("A", 1, 2)]),
    ],
)
def test_sections(music, sections):
    """Sections come from labels, else from repeats and double bars; a pickup alone belongs
    to what follows (labels: ABC 2.1 clause 3.1.9; the rest is common practice, no source)."""
    found = [(s.name, s.start, s.stop) for s in tune(music).sections]
    assert found == sections


@pytest.mark.parametrize(
    "music",
    [
        "d|A6|B5:|e|A6|B5:|", "d|A6|1B5:|2B5||e|A6|B5|]", "A6|B6|]", "d|A6|B5|]",
        "d|:A6|B5:|", "A6|B5:|d|A6|B6|]",
    ],
)  # fmt: skip
def test_bars_that_a_pickup_explains(music):
    """A short bar that a pickup completes is not odd (common practice, no source)."""
    assert tune(music).notices == ()


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ("A6|B5|A6|]", "bar 2 lasts 5/8, the metre is 6/8"),
        ("A6|B7|A6|]", "bar 2 lasts 7/8, the metre is 6/8"),
        ("A6|B4:|d|A6|B6|]", "bar 2 lasts 4/8, the metre is 6/8"),
    ],
)
def test_bars_of_the_wrong_length(music, said):
    """A bar of the wrong length is played as written, with a warning at its end."""
    (notice,) = tune(music).notices
    assert notice.message == said
    assert notice.line == 5
    assert notice.excerpt[notice.column - 1] in ":|"


def test_free_metre_has_no_wrong_bars():
    """In free metre a bar lasts as long as its notes."""
    free = tune("A6|B3|d|", metre="none")
    assert free.notices == ()
    assert not any(bar.pickup for bar in free.bars)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("reel", "reel"), ("Scotch Reel", "reel"), ("double jig", "jig"), ("Slip-Jig", "slip jig"),
        ("slipjig", "slip jig"), ("single jig", "single jig"), ("hornpipe", "hornpipe"),
        ("triple hornpipe", "3/2 hornpipe"), ("highland fling", "strathspey"),
        ("Valse", "waltz"), ("bourrée", "bourrée"), ("schottische", "schottische"),
        ("barn dance", "schottische"), ("slow air", "air"), ("gavotte", None), ("prejigger", None),
    ],
)  # fmt: skip
def test_dances_by_their_words(text, name):
    """A dance is found by the words that it goes by (common practice, no source)."""
    found = find_dance(text)
    assert (found.name if found else None) == name


@pytest.mark.parametrize(
    ("dance", "metre", "unit", "beats"),
    [
        # working values, no source, within the ranges of backing/music/dance.py
        ("reel", "4/4", "1/2", 108), ("reel", "2/2", "1/2", 108), ("reel", "2/4", "1/4", 108),
        ("jig", "6/8", "3/8", 112), ("slip jig", "9/8", "3/8", 120), ("slide", "12/8", "3/8", 132),
        ("hornpipe", "4/4", "1/4", 150), ("waltz", "3/4", "1/4", 138), ("march", "4/4", "1/4", 116),
        ("mazurka", "3/4", "1/4", 110), ("schottische", "4/4", "1/4", 104),
        ("hornpipe", "3/2", "1/2", 92), ("bourrée", "3/8", "3/8", 60), ("", "6/8", "3/8", 112),
    ],
)  # fmt: skip
def test_usual_tempi(dance, metre, unit, beats):
    """Every dance has its usual tempo in felt beats; bars a minute agree across metres
    (working values, no source)."""
    found = usual_tempo(parse_metre(metre), dance_of(dance, parse_metre(metre)))
    assert (found.unit, found.beats) == (Fraction(unit), beats)


def test_felt_beats_of_dances():
    """A reel in 4/4 is felt in minims, a hornpipe is not; hornpipes, clogs and
    schottisches swing (common practice, no source)."""
    four = parse_metre("4/4")
    assert felt(four, find_dance("reel")).beats == (Fraction(1, 2), Fraction(1, 2))
    assert felt(four, find_dance("hornpipe")).beats == four.beats
    swung = ["hornpipe", "clog", "schottische"]
    assert [dance.name for dance in DANCES if dance.swing] == swung


def test_a_labelled_part_has_the_pickup_before_it():
    """The pickup before a label belongs to the part that the label names; a pickup that has a
    label itself begins there."""
    music = "P:A\nd|A6|B5:|\nP:B\ne|A6|B5:|"
    assert [bar.section for bar in tune(music).bars] == ["A", "A", "A", "B", "B", "B"]
    before = "P:A\nd|A6|B5:|e|[P:B]A6|B5:|"
    assert [bar.section for bar in tune(before).bars] == ["A", "A", "A", "B", "B", "B"]
    short = "P:A\nA6||e|[P:B]B6|B5:|"
    assert [bar.section for bar in tune(short).bars] == ["A", "B", "B", "B"]
    bars = "P:A\nA6|B6|[P:B]A6|B6|"
    assert [bar.section for bar in tune(bars).bars] == ["A", "A", "B", "B"]


def test_more_parts_than_letters():
    """After Z the parts go on with AA, after AZ with BA."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    names = [bar.section for bar in tune("A6:|" * 53).bars]
    assert names == [*letters, *(f"A{letter}" for letter in letters), "BA"]


def test_the_room_of_a_short_bar():
    """A short bar lacks what its metre has more, one that a pickup completes as well; a full
    one and a long one lack nothing, a pickup nothing after it."""
    bars = as_played(tune("d2|A6|B4|A6A2|A3|")).bars
    assert [bar.room * 8 for bar in bars] == [0, 0, 2, 0, 3]


def test_beats_without_a_metre():
    """In free metre a bar has a beat each crotchet, counted through to its end."""
    (bar,) = as_played(tune("AAAAAA", "none")).bars
    assert [(at * 4, place) for at, _, place in bar.beats()] == [(0, 0), (1, 1), (2, 2)]


def test_a_short_bar_before_a_new_part():
    """A short bar that completes the pickup may stand wherever a part ends: nothing is odd."""
    assert odd_lengths(tune("P:A\nd|A6|B5|\nP:B\ne|A6|B5|").bars) == []
    (notice,) = odd_lengths(tune("d|A6|B5|A6|B5|").bars)
    assert notice.message == "bar 2 lasts 5/8, the metre is 6/8"


def test_bars_are_laid_out_anew():
    """Bars without numbers and sections get those that they have when they are read."""
    bars = tune("P:A\nd|A6|B5:|\nP:B\ne|A6|1B5:|2c6|]").bars
    bare = [replace(bar, number=0, section="", pickup=False) for bar in bars]
    assert lay_out_form(bare) == bars
