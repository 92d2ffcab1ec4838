"""Repeats, endings, orders of sections and jumps: which bars are played when."""

import pytest

from backing.errors import TuneError
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc

#: Letters stand for the bars' notes; a full bar is one note of eight quavers, a pickup
#: (lower case here) one quaver.  ABC 2.1 clauses 4.8 (repeats), 4.9 and 4.10 (endings).
WRITTEN = [
    ("|:A|B:|C|]", "A B A B C"),
    ("A|B:|C|D:|", "A B A B C D C D"),
    ("A|B||C|D:|E|]", "A B C D C D E"),
    ("|:A|B::C|D:|", "A B A B C D C D"),
    ("|:A|B:|:C|D:|", "A B A B C D C D"),
    ("|:A|B:||:C|D:|", "A B A B C D C D"),
    ("|::A|B::|C|]", "A B A B A B C"),
    ("|:A|1B:|2C|]", "A B A C"),
    ("A|B|1C:|2D|]", "A B C A B D"),
    ("|:A|B|1C|D:|2E|F|]", "A B C D A B E F"),
    ("|:A|[1-3B:|[4C|]", "A B A B A B A C"),
    ("|:A|[1,3B:|[2,4C:|D|]", "A B A C A B A C D"),
    ("d|A|B:|e|C|D:|", "d A B d A B e C D e C D"),
    ("d|:A|B:|", "d A B A B"),
    # common practice, no source: the sign at the end of the last ending adds no repeat
    ("|:A|1B:|2C:|D|]", "A B A C D"),
    ("|:A|1B:|2C||D|E:|", "A B A C D E D E"),
    ("|:A|1B:|2C|:D|E:|", "A B A C D E D E"),
    ("|:A||B:|", "A B A B"),
    ("A|B|]", "A B"),
]


def played(text, header=""):
    """The letters of the bars in the order in which they are played."""
    music = (
        "".join(f"{sign}8" if sign.isupper() else sign for sign in text)
        .replace("d", "d")
        .replace("e", "e")
    )
    tune = parse_abc(f"X:1\nM:4/4\nL:1/8\n{header}K:C\n{music}\n")
    names = [bar[0].pitches[0].step for bar in tune.melody.bars]
    lower = [bar.pickup for bar in tune.bars]
    return " ".join(
        names[b.index].lower() if lower[b.index] else names[b.index] for b in unfold(tune)
    )


@pytest.mark.parametrize(("written", "expected"), WRITTEN, ids=[row[0] for row in WRITTEN])
def test_repeats_and_endings(written, expected):
    """Repeats and endings are played as ABC 2.1 clauses 4.8 to 4.10 say."""
    assert played(written) == expected


@pytest.mark.parametrize(
    ("order", "expected"),
    [("AAB", "A A B"), ("A2.B3", "A A B B B"), ("(AB)2A", "A B A B A"), ("B3", "B B B")],
)
def test_an_order_of_sections_is_followed(order, expected):
    """The header's `P:` gives the order of the labelled sections (ABC 2.1 clause 3.1.9)."""
    tune = parse_abc(f"X:1\nM:4/4\nL:1/8\nP:{order}\nK:C\nP:A\nA8|\nP:B\nB8|\n")
    names = [tune.melody.bars[bar.index][0].pitches[0].step for bar in unfold(tune)]
    assert " ".join(names) == expected


def test_a_section_keeps_its_repeats_in_an_order():
    """A section named in an order plays with its own repeats each time it is named."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nP:AB\nK:C\nP:A\n|:A8:|\nP:B\nB8|\n")
    assert [bar.index for bar in unfold(tune)] == [0, 0, 1]


def test_an_order_counts_the_endings():
    """`P:A4` with endings 1 to 4 means four times in all (ABC 2.1 clause 4.10)."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nP:A4\nK:C\nP:A\n|:A8|[1,3B8:|[2C8:|[4D8|]\n")
    assert [bar.index for bar in unfold(tune)] == [0, 1, 0, 2, 0, 1, 0, 3]


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        # MusicXML 4.0, element `sound`: dacapo, dalsegno jump the first time, tocoda the
        # second; common practice, no source: no repeats after a jump
        ("A8|!fine!B8|C8!D.C.!|]", "A B C A B"),
        ("A8|!segno!B8|!fine!C8|D8!D.S.!|]", "A B C D B C"),
        ("A8|B8!dacoda!|C8!D.C.!|!coda!D8|]", "A B C A B D"),
        ("A8|!coda!B8|C8!D.C.!|!coda!D8|]", "A B C A B D"),
        ("|:A8|1B8:|2C8|D8!D.C.!|]", "A B A C D A C D"),
    ],
)
def test_jumps(written, expected):
    """D.C., D.S., fine and coda are played where they are written as decorations (ABC 2.1
    clause 4.14)."""
    tune = parse_abc(f"X:1\nM:4/4\nL:1/8\nK:C\n{written}\n")
    names = [tune.melody.bars[bar.index][0].pitches[0].step for bar in unfold(tune)]
    assert " ".join(names) == expected


def test_the_time_through_is_counted():
    """Every bar as played says which time through it belongs to."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nK:C\n|:A8|1B8:|2C8|]\n")
    assert [(bar.index, bar.time) for bar in unfold(tune)] == [(0, 1), (1, 1), (0, 2), (2, 2)]


@pytest.mark.slow
def test_endless_repeats_are_refused():
    """Repeats that make more than 20,000 bars are an error."""
    music = "|" + ":" * 90 + "A8|" * 300 + ":" * 90 + "|"
    with pytest.raises(TuneError, match="more than 20,000 bars"):
        unfold(parse_abc(f"X:1\nM:4/4\nL:1/8\nK:C\n{music}\n"))


def test_notes_repeated_without_end_are_refused():
    """Repeats that make more than 200,000 notes are an error, however short the notes are."""
    notes = "A/128B/128" * 1_000
    head = "X:1\nM:none\nL:1/8\nK:C\n"
    assert len(unfold(parse_abc(f"{head}|{':' * 99}{notes}{':' * 99}|\n"))) == 100
    with pytest.raises(TuneError, match="more than 200,000 notes"):
        unfold(parse_abc(f"{head}|{':' * 99}{notes}c/128{':' * 99}|\n"))
