"""The bar map and the tempo map of an arrangement."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style
from backing.parse.abc import parse_abc

HALF, QUARTER, DOTTED = Fraction(1, 2), Fraction(1, 4), Fraction(3, 8)


def arranged(music, metre="4/4", unit="1/4", head="", **manner):
    """The arrangement of a tune in C."""
    text = f"X:1\nT:Map\nM:{metre}\nL:{unit}\n{head}K:C\n{music}"
    return arrange(parse_abc(text), load_style("sustained"), Manner(**manner))


def onsets(arrangement):
    """Onsets of the bars, as texts."""
    return [str(bar.onset) for bar in arrangement.bars]


MAPS = {
    "no pickup": ("CDEG|C4|", "0 1"),
    "a pickup": ("C|CDEG|C3|", "-1/4 0 1"),
    "a pickup of two notes": ("CD|CDEG|C2|", "-1/2 0 1"),
    "repeated with its pickup": ("|:C|CDEG|C3:|", "-1/4 0 1 7/4 2 3"),
    "repeated without": ("C|:CDEG|C4:|", "-1/4 0 1 2 3"),
    "a pickup before B": ("CDEG|C3||D|DEFG|C4|", "0 1 7/4 2 3"),
    "endings": ("|:CDEG|1 C4:|2 G4|]", "0 1 2 3"),
    "a long bar": ("CDEGA|C4|", "0 5/4"),
    "a short bar": ("CDE|F3|CDEG|", "-3/4 0 3/4"),
}


@pytest.mark.parametrize(("music", "expected"), MAPS.values(), ids=MAPS.keys())
def test_where_the_bars_fall(music, expected):
    """The first full bar starts at 0, a pickup before it is negative, and bars follow each
    other as long as their notes are."""
    assert onsets(arranged(music)) == expected.split()


@pytest.mark.parametrize(("music", "expected"), MAPS.values(), ids=MAPS.keys())
def test_bars_lie_end_to_end(music, expected):
    """Each bar starts where the one before it stops; the melody stays inside."""
    arrangement = arranged(music)
    for bar, following in zip(arrangement.bars, arrangement.bars[1:], strict=False):
        assert following.onset == bar.stop
    assert str(arrangement.start) == expected.split()[0]
    for track in arrangement.tracks:
        for event in track.events:
            assert arrangement.start <= event.onset < event.stop <= arrangement.stop


def test_bars_say_where_they_stand():
    """A played bar knows its written number, part, time through and ending."""
    arrangement = arranged("|:C|CDEG|1 C3:|2 G3||\n|:D|DEFG|C3:|")
    bars = [(bar.number, bar.section, bar.time, str(bar.ending or "")) for bar in arrangement.bars]
    assert bars == [
        (0, "A", 1, ""), (1, "A", 1, ""), (2, "A", 1, "1"),
        (0, "A", 2, ""), (1, "A", 2, ""), (3, "A", 2, "2"),
        (3, "B", 1, ""), (4, "B", 1, ""), (5, "B", 1, ""),
        (3, "B", 2, ""), (4, "B", 2, ""), (5, "B", 2, ""),
    ]  # fmt: skip


FELT = [
    ("4/4", "reel", (HALF, HALF)),
    ("C|", "reel", (HALF, HALF)),
    ("2/4", "reel", (QUARTER, QUARTER)),
    ("4/4", "bourrée", (HALF, HALF)),
    ("4/4", "morris", (HALF, HALF)),
    ("4/4", "hornpipe", (QUARTER,) * 4),
    ("4/4", "", (QUARTER,) * 4),
    ("3/4", "waltz", (QUARTER,) * 3),
    ("6/8", "jig", (DOTTED, DOTTED)),
    ("9/8", "slip jig", (DOTTED,) * 3),
    ("12/8", "slide", (DOTTED,) * 4),
    ("3/8", "bourrée", (DOTTED,)),
    ("3/2", "hornpipe", (HALF,) * 3),
    ("5/8", "", (DOTTED, QUARTER)),
    ("7/8", "", (DOTTED, QUARTER, QUARTER)),
    ("11/8", "", (DOTTED, DOTTED, DOTTED, QUARTER)),
    ("none", "", (QUARTER, QUARTER)),
]


@pytest.mark.parametrize(
    ("metre", "dance", "beats"), FELT, ids=[f"{row[1]} {row[0]}" for row in FELT]
)
def test_felt_beats(metre, dance, beats):
    """A bar's beats are the felt ones: a reel in 4/4 beats in minims, a jig in dotted
    crotchets, free metre in crotchets (common practice, no source)."""
    length = {"C|": "4/4", "none": "2/4"}.get(metre, metre)
    arrangement = arranged(f"C{length}|", metre, "1/1", f"R:{dance}\n")
    found = arrangement.bars[0].beats()
    assert tuple(length for _, length, _ in found) == beats
    places = list(range(len(beats)))
    assert [place for _, _, place in found] == places


def test_the_beats_of_a_pickup_are_those_of_the_end_of_its_bar():
    """A pickup of one crotchet in 4/4 is beat 4, one of a quaver has no beat of its own."""
    crotchet = arranged("C|CDEG|C3|").bars[0]
    quaver = arranged("C/|CDEG|C7/2|").bars[0]
    assert crotchet.beats() == [(0, QUARTER, 3)]
    assert quaver.beats() == []


def test_beats_start_again_where_a_bar_is_too_long():
    """A bar of five crotchets in 4/4 beats four, then one again."""
    assert [place for _, _, place in arranged("CDEGA|C4|").bars[0].beats()] == [0, 1, 2, 3, 0]


def test_a_new_metre_inside_the_tune():
    """Bars after a change of metre have their own beats."""
    arrangement = arranged("CDEG|[M:3/4]CDE|C3|")
    assert [len(bar.beats()) for bar in arrangement.bars] == [4, 3, 3]
    assert onsets(arrangement) == ["0", "1", "7/4"]


# -- tempi ---------------------------------------------------------------------


def tempi(arrangement):
    """(onset, tempo) pairs, as texts."""
    return [(str(placed.onset), str(placed.tempo)) for placed in arrangement.tempos]


OWN = [
    ("4/4", "Q:1/4=100\n", "1/4 = 100"),
    ("6/8", "Q:1/4=90\n", "3/8 = 60"),
    ("6/8", "Q:3/8=60\n", "3/8 = 60"),
    ("2/2", "Q:1/4=160\n", "1/2 = 80"),
    ("4/4", "R:reel\nQ:1/4=200\n", "1/2 = 100"),
    ("4/4", "R:reel\n", "1/2 = 108"),
    ("2/4", "R:reel\n", "1/4 = 108"),
    ("6/8", "R:jig\n", "3/8 = 112"),
    ("9/8", "R:slip jig\n", "3/8 = 120"),
    ("3/4", "R:waltz\n", "1/4 = 138"),
    ("2/4", "R:polka\n", "1/4 = 126"),
    ("4/4", "R:hornpipe\n", "1/4 = 150"),
    ("4/4", "R:schottische\n", "1/4 = 104"),
    ("3/4", "R:mazurka\n", "1/4 = 110"),
    ("3/2", "R:hornpipe\n", "1/2 = 92"),
]


@pytest.mark.parametrize(
    ("metre", "head", "expected"), OWN, ids=[f"{r[0]} {r[1].strip()}" for r in OWN]
)
def test_the_tempo_is_counted_in_felt_beats(metre, head, expected):
    """Whatever note a tune gives its tempo in, it is counted in the felt beat; without a
    tempo it is the dance's usual one (middle values of common practice, no source)."""
    assert tempi(arranged(f"C{metre}|", metre, "1/1", head)) == [("0", expected)]


def test_a_tempo_inside_the_tune_counts_from_its_place():
    """A tempo mark in the second bar begins there, at every time through; the first bar goes
    at its own."""
    arrangement = arranged("|:CDEG|[Q:1/4=60]CDEG:|", head="Q:1/4=120\n")
    assert tempi(arrangement) == [
        ("0", "1/4 = 120"), ("1", "1/4 = 60"), ("2", "1/4 = 120"), ("3", "1/4 = 60"),
    ]  # fmt: skip


def test_the_tempo_begins_with_the_pickup():
    """The first tempo stands at the pickup's onset."""
    assert tempi(arranged("C|CDEG|C3|", head="Q:1/4=120\n")) == [("-1/4", "1/4 = 120")]


FERMATAS = {
    "at the end": ("CDE!fermata!G|", [("3/4", 80), ("1", 120)]),
    "inside": ("C!fermata!D2G|", [("1/4", 80), ("3/4", 120)]),
    "inverted": ("C!invertedfermata!D2G|", [("1/4", 80), ("3/4", 120)]),
    "the short sign": ("CHD2G|", [("1/4", 80), ("3/4", 120)]),
    "before a new tempo": (
        "!fermata!CD[Q:1/4=60]EG|", [("0", 80), ("1/4", 120), ("1/2", 60)]
    ),
    "after a new tempo": (
        "CD[Q:1/4=60]!fermata!EG|", [("1/2", 40), ("3/4", 60)]
    ),
}  # fmt: skip


@pytest.mark.parametrize(("music", "expected"), FERMATAS.values(), ids=FERMATAS.keys())
def test_a_fermata_slows_its_note(music, expected):
    """A note under a fermata goes at two thirds of the tempo, half as long again (common
    practice, no source); the tempo comes back after it."""
    found = tempi(arranged(music, head="Q:1/4=120\n"))
    assert found[0] == ("0", "1/4 = 120")
    in_force = dict(found)  # of two at one place the later one holds
    assert in_force == {"0": "1/4 = 120", **{at: f"1/4 = {beats}" for at, beats in expected}}


def test_plain_leaves_fermatas_out():
    """Without ornaments a fermata changes no tempo."""
    arrangement = arranged("CDE!fermata!G|", head="Q:1/4=120\n", ornaments=False)
    assert tempi(arrangement) == [("0", "1/4 = 120")]


def test_the_tempo_in_force_at_a_position():
    """The tempo at a position is the latest that began there or before it."""
    arrangement = arranged("CDEG|[Q:1/4=60]CDEG|", head="Q:1/4=120\n")
    found = [arrangement.tempo_at(Fraction(at, 4)).beats for at in (-1, 0, 3, 4, 5, 99)]
    assert found == [120, 120, 120, 60, 60, 60]


def test_chord_symbols_stand_where_they_sound():
    """Chord symbols are kept as written, at every time through."""
    arrangement = arranged('|:"G"G2"D7"A2:|')
    assert [(str(text.onset), text.text) for text in arrangement.chords] == [
        ("0", "G"), ("1/2", "D7"), ("1", "G"), ("3/2", "D7"),
    ]  # fmt: skip
