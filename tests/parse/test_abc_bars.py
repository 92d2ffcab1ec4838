"""Bar lines of ABC: how they look, what they repeat, where endings begin and stop.

Clauses are those of ABC 2.1.
"""

import pytest

from backing.errors import TuneError
from backing.parse.abc import parse_abc
from backing.parse.abc.tokens import read_bar_sign


def read(music, metre="4/4"):
    """The tune of this music in C."""
    return parse_abc(f"X:1\nM:{metre}\nL:1/8\nK:C\n{music}\n")


@pytest.mark.parametrize(
    ("sign", "close", "plays", "opens"),
    [
        # clause 4.8: the bar lines that it lists
        ("|", "|", 0, 0), ("||", "||", 0, 0), ("|]", "|]", 0, 0), ("[|", "[|", 0, 0),
        ("|:", "|", 0, 2), (":|", "|", 2, 0), ("::", "|", 2, 2), (":|:", "|", 2, 2),
        (":||:", "||", 2, 2), ("|::", "|", 0, 3), ("::|", "|", 3, 0), ("[|]", "|", 0, 0),
        # clause 4.8: any run of these signs counts; n colons mean n + 1 times
        ("||:", "||", 0, 2), (":||", "||", 2, 0), (":|]", "|]", 2, 0), ("[|:", "[|", 0, 2),
        ("|:::", "|", 0, 4), (":::|", "|", 4, 0), ("[|:::", "[|", 0, 4), ("|||", "||", 0, 0),
        (":|::", "|", 2, 3), ("::|:", "|", 3, 2), ("|::|", "|", 2, 2), (".|", "|", 0, 0),
    ],
)  # fmt: skip
def test_bar_signs(sign, close, plays, opens):
    """A bar line says how it looks and how often the strains beside it are played."""
    assert read_bar_sign(sign)[:3] == (close, plays, opens)


@pytest.mark.parametrize(
    "sign", ["|", "||", "|]", "[|", "|:", ":|", "::", ":|:", ":||:", "[|]", "|::", ":|]|:", "| |:"]
)
def test_bar_lines_divide_the_music(sign):
    """Every bar line ends a bar, wherever spaces stand (clause 4.8)."""
    for text in (f"C8{sign}D8|", f"C8 {sign} D8|", f"C8\n{sign}\nD8|"):
        tune = read(text)
        assert [len(bar) for bar in tune.melody.bars] == [1, 1]
        assert tune.notices == ()


@pytest.mark.parametrize(
    "music", ["|C8|D8|", "||C8||D8||", "C8||D8", "|:C8|D8", "[|C8|D8|]", "C8| |D8|"]
)
def test_bar_lines_without_notes_make_no_bars(music):
    """Between two bar lines without a note there is no bar (common practice, no source)."""
    assert len(read(music).bars) == 2


@pytest.mark.parametrize(("music", "bars"), [("C4.|D4|E8|", 2), ("C8.|D8|", 2), ("C2.|D2.|E4|", 1)])
def test_dotted_bar_lines(music, bars):
    """A dotted bar line divides a bar and closes only a full one (clause 4.8 names it; what
    it does is this project's choice)."""
    tune = read(music)
    assert len(tune.bars) == bars
    assert tune.notices == ()


@pytest.mark.parametrize(
    ("music", "endings"),
    [
        # clauses 4.9, 4.10: in brackets, or next to a bar line; lists and ranges
        ("|:C8|[1D8:|[2E8|]", "- 1 2"), ("|:C8|1D8:|2E8|]", "- 1 2"),
        ("|:C8| [1 D8:| [2 E8|]", "- 1 2"),
        ("|:C8[1D8:|[2E8|]", "- 1 2"), ("|:C8|1,2D8:|3E8|]", "- 1,2 3"),
        ("|:C8|[1-3D8:|[4E8|]", "- 1,2,3 4"),
        ("|:C8|[1,3,5-7D8:|[2,4E8:|", "- 1,3,5,6,7 2,4"), ("|:C8|[ 1D8:|[2E8|]", "- 1 2"),
        ("|:C8\n|1D8:|2E8|]", "- 1 2"), ("|:C8|[1.D8:|[2.E8|]", "- 1 2"),
        # clause 4.9: an ending stops at ||, :|, |] or [|
        ("|:C8|[1D8|E8:|[2F8|G8||A8|", "- 1 1 2 2 -"), ("|:C8|[1D8:|[2E8|]F8|", "- 1 2 -"),
        ("|:C8|[1D8:|[2E8[|F8|", "- 1 2 -"), ("|:C8|[1D8:|[2E8:|F8|", "- 1 2 -"),
        ("|:C8|[1D8:|[2E8|:F8|", "- 1 2 -"), ("|:C8|[1D8:|[2E8|F8|", "- 1 2 2"),
    ],
)  # fmt: skip
def test_endings(music, endings):
    """Endings begin at their number and stop at a strong bar line."""
    tune = read(music)
    assert " ".join(str(bar.ending or "-") for bar in tune.bars) == endings
    assert tune.notices == ()


def test_the_first_bar_of_an_ending():
    """The bar where an ending begins is marked, so that two endings in a row differ."""
    bars = read("|:C8|[1D8|E8:|[2F8|G8|]").bars
    assert [bar.ending.first for bar in bars if bar.ending] == [True, False, True, False]


@pytest.mark.parametrize("number", ["0", "101", "400", "1-400", "1,0"])
def test_endings_that_are_refused(number):
    """An ending's number past all reason is an error at its sign (clause 4.10)."""
    with pytest.raises(TuneError, match="ending") as caught:
        read(f"|:C8|[{number}D8:|")
    assert (caught.value.line, caught.value.column) == (5, 6)


def test_a_number_away_from_its_bar_line():
    """`| 1` is no ending (clause 4.9), and that is said."""
    tune = read("|:C8| 1 D8:|")
    assert [bar.ending for bar in tune.bars] == [None, None]
    assert [(notice.line, notice.column) for notice in tune.notices] == [(5, 7)]


def test_the_end_of_the_text_closes_the_last_bar():
    """Music without a last bar line ends with a bar all the same."""
    tune = read("C8|D8")
    assert [(bar.close, bar.length) for bar in tune.bars] == [("|", 1), ("", 1)]


@pytest.mark.parametrize(
    ("music", "labels"),
    [("P:A\nC8|D8|\nP:B\nE8|", ["A", "", "B"]), ("[P:A]C8|[P:B]D8|", ["A", "B"]),
     ("C8|\nP:Trio\nD8|", ["", "Trio"]), ("C8|[P:B]\nD8|", ["", "B"])],
)  # fmt: skip
def test_labels_of_sections(music, labels):
    """`P:` in the body labels the bar that comes next (clause 3.1.9)."""
    assert [bar.label for bar in read(music).bars] == labels


@pytest.mark.parametrize(
    ("music", "metre", "lengths"),
    [
        ("d|A6|B5:|", "6/8", "1/8 3/4 5/8"), ("C4|D8|", "4/4", "1/2 1"),
        ("(3CDE F6|G8|", "4/4", "1 1"),
        ("{ab}C8|", "4/4", "1"), ("C8|C|C3", "none", "1 1/8 3/8"), ("A>BA<B c4|", "4/4", "1"),
    ],
)  # fmt: skip
def test_lengths_of_bars(music, metre, lengths):
    """A bar lasts as long as its notes, grace notes left out."""
    assert " ".join(str(bar.length) for bar in read(music, metre).bars) == lengths


def test_a_pickup_and_the_last_bar_make_one():
    """A pickup and the last bar of what is repeated add up to a bar, and nothing is said
    (clause 4.8; common practice, no source)."""
    tune = read("|:d|e3 f3|D3 D2:|", "6/8")
    assert [str(bar.length) for bar in tune.bars] == ["1/8", "3/4", "5/8"]
    assert tune.notices == ()
