"""The tunes of examples/ are ours: beside open collections, by tests/bench/own_tunes.py.

The collections (Ryan's Mammoth, Aird's Airs, O'Neill's of 1850) come with the music21 package.
"""

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from backing.parse.abc import parse_abc

BENCH = Path(__file__).parent / "bench"
HEAD = "X:1\nT:{}\nM:{}\nL:1/8\nK:{}\n"
FOUR = "GABG E2DE|GABd e2dB|cBAG FGAF|GBAF G4|"


@pytest.fixture(scope="module")
def own_tunes(bench: Callable[[str], ModuleType]) -> ModuleType:
    """The benchmark's functions."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(BENCH)
        return bench("own_tunes")


def nearest(own_tunes: ModuleType, body: str, other: str, key: str = "G") -> float:
    """How near a body comes to another one."""
    ours = own_tunes.Named(parse_abc(HEAD.format("Ours", "4/4", "G") + body), "ours")
    theirs = own_tunes.Named(parse_abc(HEAD.format("Theirs", "2/2", key) + other), "book")
    near = own_tunes.Laid([theirs]).nearest(ours)
    return near.share if near else 0.0


@pytest.mark.parametrize(
    ("key", "other"),
    [
        ("G", FOUR),
        ("G", "gabg e2de|gabd' e'2d'b|c'bag fgaf|gbaf g4|"),
        ("D", "DEFD B,2A,B,|DEFA B2AF|GFED CDEC|DFEC D4|"),
        ("Ador", "ABcA F2EF|ABce f2ec|dcBA GABG|AcBG A4|"),
        ("G", "d8|e8|" + FOUR + "d8|"),
    ],
    ids=["itself", "an octave up", "another key", "another mode", "in the middle"],
)
def test_a_melody_is_known_again(own_tunes, key, other):
    """Another octave, key or mode, and bars before it, hide nothing."""
    assert nearest(own_tunes, FOUR, other, key) == 1


def test_a_cell_that_differs_counts(own_tunes):
    """One quaver of 32 that is another is a thirty-second part; a rest is equal to nothing."""
    assert nearest(own_tunes, FOUR, "c" + FOUR[1:]) == 31 / 32
    assert nearest(own_tunes, FOUR, "z" + FOUR[1:]) == 31 / 32


def test_other_metres_are_not_compared(own_tunes):
    """A jig is not laid over a reel."""
    jig = own_tunes.Named(parse_abc(HEAD.format("Ours", "6/8", "G") + "GAB cde|" * 4), "ours")
    reel = own_tunes.Named(parse_abc(HEAD.format("Theirs", "4/4", "G") + FOUR), "book")
    assert own_tunes.Laid([reel]).nearest(jig) is None


def test_how_a_melody_moves(own_tunes):
    """Repeated notes, steps, thirds and leaps are counted; a tie and a rest make no interval."""
    tune = parse_abc(HEAD.format("t", "4/4", "G") + "GGABd-|dgz2 g2e2|")
    moves = own_tunes.moves_of(tune)
    assert moves == {"same": 1, "steps": 2, "thirds": 2, "leaps": 1}


@pytest.mark.slow
def test_none_of_ours_comes_near_a_printed_tune(own_tunes):
    """No four bars of an example share four fifths of their cells with a tune of the collections
    (a working value)."""
    places = [own_tunes.corpus() / name for name in ("ryansMammoth", "airdsAirs", "oneills1850")]
    books = [path for place in places for path in sorted(place.glob("*.abc"))]
    laid = own_tunes.Laid(own_tunes.tunes_of(books))
    ours = list(own_tunes.tunes_of(sorted(own_tunes.EXAMPLES.glob("*.abc"))))
    assert len(ours) >= 15
    near = {own.tune.title: laid.nearest(own) for own in ours}
    assert {title: str(found) for title, found in near.items() if found.share >= 0.8} == {}
