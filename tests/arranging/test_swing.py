"""Swing: which pairs move, by how much, and that no bar gets longer.

Which notes are swung, and from where in the bar, is common practice, no source.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style
from backing.music.metre import parse_metre
from backing.music.swing import swing_unit, swung
from backing.music.tune import Note, Tuplet
from backing.parse.abc import parse_abc

TWO_TO_ONE = Fraction(2)


def lengths(dance, metre, music, unit="1/8", **manner):
    """The lengths of the melody's notes, as texts."""
    text = f"X:1\nT:Swing\nR:{dance}\nM:{metre}\nL:{unit}\nK:C\n{music}"
    arrangement = arrange(parse_abc(text), load_style("sustained"), Manner(**manner))
    return " ".join(str(event.length) for event in arrangement.tracks[0].events)


EVEN = "1/8 1/8 1/8 1/8 1/8 1/8 1/8 1/8"
LONG_SHORT = "1/6 1/12 1/6 1/12 1/6 1/12 1/6 1/12"
BY_DANCE = [
    ("hornpipe", "4/4", "CDEF GABc|", LONG_SHORT),
    ("hornpipe", "C|", "CDEF GABc|", LONG_SHORT),
    ("hornpipe", "2/2", "CDEF GABc|", LONG_SHORT),
    ("schottische", "4/4", "CDEF GABc|", LONG_SHORT),
    ("barndance", "4/4", "CDEF GABc|", LONG_SHORT),
    ("reel", "4/4", "CDEF GABc|", EVEN),
    ("strathspey", "4/4", "CDEF GABc|", EVEN),
    ("clog", "4/4", "CDEF GABc|", LONG_SHORT),
    ("march", "4/4", "CDEF GABc|", EVEN),
    ("", "4/4", "CDEF GABc|", EVEN),
    ("polka", "2/4", "CDEF|", "1/8 1/8 1/8 1/8"),
    ("hornpipe", "2/4", "C/D/E/F/ GA|", "1/12 1/24 1/12 1/24 1/8 1/8"),
    ("hornpipe", "3/2", "CDEF GABc defg|", " ".join(["1/8"] * 12)),
    ("jig", "6/8", "CDE FGA|", " ".join(["1/8"] * 6)),
    ("waltz", "3/4", "CDEFGA|", " ".join(["1/8"] * 6)),
]


@pytest.mark.parametrize(
    ("dance", "metre", "music", "expected"), BY_DANCE, ids=[f"{r[0]} {r[1]}" for r in BY_DANCE]
)
def test_which_dances_swing(dance, metre, music, expected):
    """Hornpipes but those in 3/2, and schottischen, swing 2 to 1; other dances are even.

    Common practice, no source; players speak of anything from even to 3 to 1
    (billtroxler.com/hornpipes2.html), 2 to 1 is a working value."""
    assert lengths(dance, metre, music) == expected


PAIRS = [
    ("quavers", "4/4", "CDEF GABc|", LONG_SHORT),
    ("crotchets stay", "4/4", "C2D2 E2F2|", "1/4 1/4 1/4 1/4"),
    ("semiquavers stay", "4/4", "C/D/E/F/ GA B2c2|", "1/16 1/16 1/16 1/16 1/6 1/12 1/4 1/4"),
    ("triplets stay", "4/4", "(3CDE FG A4|", "1/12 1/12 1/12 1/6 1/12 1/2"),
    ("off the beat stay", "4/4", "C2DE F2GA|", "1/4 1/6 1/12 1/4 1/6 1/12"),
    ("syncopation stays", "4/4", "CD2E F4|", "1/8 1/4 1/8 1/2"),
    ("a pair across beats stays", "4/4", "C3DE G3|", "3/8 1/8 1/8 3/8"),
    ("snaps stay", "4/4", "C<D E<F G4|", "1/16 3/16 1/16 3/16 1/2"),
    ("semiquavers in 2/4", "2/4", "C/D/E/F/ G2|", "1/12 1/24 1/12 1/24 1/4"),
    ("quavers in 3/4", "3/4", "CDEFGA|", "1/6 1/12 1/6 1/12 1/6 1/12"),
    ("compound", "6/8", "CDE F2G|", "1/8 1/8 1/8 1/4 1/8"),
    ("compound of nine", "9/8", "CDE F2G A3|", "1/8 1/8 1/8 1/4 1/8 3/8"),
    ("uneven", "7/8", "CDE FG AB|", "1/8 1/8 1/8 1/8 1/8 1/8 1/8"),
    ("free metre", "none", "CDEF|", "1/8 1/8 1/8 1/8"),
    ("a rest in a pair", "4/4", "zDEF G4|", "1/12 1/6 1/12 1/2"),
    ("chords", "4/4", "[CE][DF] G2 A4|", "1/6 1/12 1/4 1/2"),
]


@pytest.mark.parametrize(
    ("metre", "music", "expected"), [row[1:] for row in PAIRS], ids=[row[0] for row in PAIRS]
)
def test_which_pairs_move(metre, music, expected):
    """Only equal pairs on a beat that fill a quarter of the bar move; in 4/4 quavers, in
    2/4 semiquavers; never tuplets, dotted pairs, or what divides in three."""
    assert lengths("", metre, music, swing=TWO_TO_ONE) == expected


DOTTED = [
    ("hornpipe", None, "1/6 1/12 1/6 1/12 1/2"),
    ("schottische", None, "1/6 1/12 1/6 1/12 1/2"),
    ("hornpipe", Fraction(1), "3/16 1/16 1/8 1/8 1/2"),
    ("hornpipe", Fraction(3, 2), "3/20 1/10 3/20 1/10 1/2"),
    ("hornpipe", Fraction(3), "3/16 1/16 3/16 1/16 1/2"),
    ("reel", None, "3/16 1/16 1/8 1/8 1/2"),
    ("reel", TWO_TO_ONE, "3/16 1/16 1/6 1/12 1/2"),
    ("strathspey", None, "3/16 1/16 1/8 1/8 1/2"),
    ("clog", None, "1/6 1/12 1/6 1/12 1/2"),
]


@pytest.mark.parametrize(
    ("dance", "ratio", "expected"), DOTTED, ids=[f"{row[0]} {row[1]}" for row in DOTTED]
)
def test_dotted_pairs(dance, ratio, expected):
    """Written dotted pairs soften to the ratio in hornpipes, clogs and schottisches only
    (common practice, no source)."""
    assert lengths(dance, "4/4", "C>D EF G4|", swing=ratio) == expected


def test_a_pickup_swings_from_its_place_in_the_bar():
    """A pickup of two quavers is a pair; one of a single quaver stays an off-beat quaver."""
    assert lengths("hornpipe", "4/4", "CD|EFGA Bcde|").startswith("1/6 1/12 1/6 1/12")
    assert lengths("hornpipe", "4/4", "C|EFGA Bcde|").startswith("1/8 1/6 1/12")


def test_a_pickup_of_three_quavers_swings_its_last_two():
    """Of three quavers before the bar, the last two are the pair on the beat."""
    assert lengths("hornpipe", "4/4", "CDE|FGAB cdef|").startswith("1/8 1/6 1/12 1/6")


UNITS = [
    ("4/4", "1/4"), ("2/2", "1/4"), ("2/4", "1/8"), ("3/4", "1/4"), ("3/2", "1/4"),
    ("5/4", "1/4"), ("6/8", None), ("9/8", None), ("12/8", None), ("3/8", None), ("7/8", None),
    ("none", None),
]  # fmt: skip


@pytest.mark.parametrize(("metre", "unit"), UNITS, ids=[row[0] for row in UNITS])
def test_what_a_swung_pair_fills(metre, unit):
    """A swung pair fills a quarter of a bar in two- and four-time, else a crotchet."""
    assert swing_unit(parse_metre(metre)) == (None if unit is None else Fraction(unit))


SIXTEENTHS = st.sampled_from([1, 2, 2, 2, 3, 4, 6])


@st.composite
def bars(draw):
    """The notes of a bar of any length, some in tuplets."""
    at, notes = Fraction(0), []
    for sixteenths in draw(st.lists(SIXTEENTHS, max_size=12)):
        length = Fraction(sixteenths, 16)
        tuplet = Tuplet(3, 2) if draw(st.integers(0, 5)) == 0 else None
        notes.append(Note(at, length, tuplet=tuplet))
        at += length
    return notes


@pytest.mark.slow
@given(
    bars(),
    st.sampled_from(["4/4", "2/4", "2/2", "3/4", "3/2", "6/8", "5/4"]),
    st.fractions(1, 3, max_denominator=4),
    st.booleans(),
)
def test_swing_keeps_the_total(notes, metre, ratio, soften):
    """However a bar is swung, its notes still follow each other without gap or overlap and
    fill the same time; on-beat notes keep their onset."""
    spans = swung(notes, parse_metre(metre), Fraction(0), ratio, soften)
    at = Fraction(0)
    for note, (onset, length) in zip(notes, spans, strict=True):
        assert onset == at
        assert length > 0
        if note.tuplet:
            assert (onset, length) == (note.onset, note.length)
        at += length
    assert at == sum((note.length for note in notes), Fraction(0))
