"""Usual tempi: bars a minute agree however a dance is written down."""

from fractions import Fraction

import pytest

from backing.music.dance import DANCES, TWO_TO_ONE, dance_of, felt, find_dance, usual_tempo
from backing.music.dance_words import words_for
from backing.music.metre import FREE, parse_metre


def bars_a_minute(dance, metre):
    """How many bars of this dance go by in a minute."""
    written = parse_metre(metre)
    return usual_tempo(written, dance_of(dance, written)).wholes / written.length


@pytest.mark.parametrize(
    ("dance", "metres"),
    [
        ("reel", ["2/4", "4/4", "2/2", "C", "C|"]), ("hornpipe", ["2/4", "4/4", "2/2", "C|"]),
        ("strathspey", ["2/4", "4/4", "2/2"]), ("schottische", ["2/4", "4/4", "2/2"]),
        ("clog", ["2/4", "4/4", "2/2"]), ("morris", ["2/4", "4/4", "2/2"]),
        ("waltz", ["3/4", "3/8"]), ("bourrée", ["3/4", "3/8"]),
    ],
)  # fmt: skip
def test_the_same_bars_a_minute_in_every_notation(dance, metres):
    """A bar of a dance lasts as long in semiquavers as in quavers (common practice, no
    source)."""
    assert len({bars_a_minute(dance, metre) for metre in metres}) == 1


@pytest.mark.parametrize(
    ("dance", "metre", "half"),
    [("jig", "6/8", "12/8"), ("slide", "6/8", "12/8"), ("single jig", "6/8", "12/8"),
     ("polka", "2/4", "4/4"), ("march", "2/4", "4/4")],
)  # fmt: skip
def test_a_long_bar_holds_two_short_ones(dance, metre, half):
    """Written in bars of twice the length, half as many go by in a minute (common
    practice, no source)."""
    assert bars_a_minute(dance, metre) == 2 * bars_a_minute(dance, half)


#: The range of felt beats a minute: the pages beside the rows of backing/music/dance.py, else
#: from memory; the ends are rounded.
RANGES = [
    ("reel", "4/4", "1/2", 90, 124), ("jig", "6/8", "3/8", 100, 127),
    ("slip jig", "9/8", "3/8", 100, 144), ("slide", "12/8", "3/8", 125, 150),
    ("single jig", "6/8", "3/8", 110, 140), ("hornpipe", "4/4", "1/4", 110, 200),
    ("hornpipe", "3/2", "1/2", 84, 104), ("polka", "2/4", "1/4", 108, 143),
    ("waltz", "3/4", "1/4", 110, 180), ("mazurka", "3/4", "1/4", 100, 120),
    ("schottische", "4/4", "1/4", 90, 128), ("march", "4/4", "1/4", 105, 125),
    ("march", "6/8", "3/8", 105, 125), ("strathspey", "4/4", "1/4", 92, 128),
    ("bourrée", "3/8", "3/8", 50, 75), ("air", "3/4", "1/4", 60, 80), ("air", "4/4", "1/4", 60, 80),
]  # fmt: skip


@pytest.mark.parametrize(("dance", "metre", "unit", "slowest", "fastest"), RANGES)
def test_usual_tempi_lie_in_their_range(dance, metre, unit, slowest, fastest):
    """The usual tempo is counted in felt beats and lies in its range (sources above)."""
    written = parse_metre(metre)
    tempo = usual_tempo(written, dance_of(dance, written))
    assert tempo.unit == Fraction(unit)
    assert slowest <= tempo.beats <= fastest


@pytest.mark.parametrize("metre", ["2/4", "3/4", "4/4", "2/2", "6/8", "9/8", "5/4", "7/8", "none"])
def test_every_metre_has_a_usual_tempo(metre):
    """Without a dance the metre gives a tempo that can be played, in its first beat."""
    written = parse_metre(metre)
    tempo = usual_tempo(written, None)
    assert 10 <= tempo.beats <= 400
    assert tempo.unit == (Fraction(1, 4) if written == FREE else written.beats[0])


@pytest.mark.parametrize("dance", DANCES, ids=[dance.name for dance in DANCES])
def test_every_dance_is_found_by_its_words(dance):
    """Each dance is found by each word that it lists, or by a longer name of it."""
    for word in words_for(dance.name):
        found = find_dance(word)
        assert found is not None
        assert word in words_for(found.name)


@pytest.mark.parametrize("dance", DANCES, ids=[dance.name for dance in DANCES])
def test_every_dance_can_be_played_in_its_metres(dance):
    """In each of its metres a dance has a playable tempo, and felt beats that fill the bar."""
    for metre in dance.bars:
        written = parse_metre(metre)
        assert sum(felt(written, dance).beats) == written.length
        assert 10 <= usual_tempo(written, dance).beats <= 400


@pytest.mark.parametrize(
    ("dance", "metre", "beats"),
    [
        ("reel", "4/4", 2), ("reel", "2/2", 2), ("reel", "2/4", 2), ("hornpipe", "4/4", 4),
        ("jig", "6/8", 2), ("slip jig", "9/8", 3), ("polka", "2/4", 2), ("waltz", "3/4", 3),
        ("morris", "4/4", 2), ("bourrée", "4/4", 2), ("bourrée", "3/8", 1),
        ("3/2 hornpipe", "3/2", 3), ("march", "4/4", 4), ("strathspey", "4/4", 4),
    ],
)  # fmt: skip
def test_how_many_beats_are_felt(dance, metre, beats):
    """So many beats are felt in a bar of the dance (common practice, no source)."""
    assert len(felt(parse_metre(metre), find_dance(dance)).beats) == beats


def test_a_hornpipe_in_three_two_is_another_dance():
    """The hornpipe in 3/2 is felt in minims and is not swung (common practice, no source)."""
    metre = parse_metre("3/2")
    old = dance_of("hornpipe", metre)
    assert (old.name, old.swing) == ("3/2 hornpipe", None)
    assert usual_tempo(metre, old).unit == Fraction(1, 2)
    assert dance_of("hornpipe", parse_metre("4/4")).swing == TWO_TO_ONE


@pytest.mark.parametrize("text", ["", "  ", "unheard-of", "reeling", "marching"])
def test_words_that_name_no_dance(text):
    """Other words name no dance, or one whose name begins them."""
    found = dance_of(text, parse_metre("4/4"))
    assert found is None or text.startswith(words_for(found.name))
