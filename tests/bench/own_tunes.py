"""Compare the tunes of examples/ with open collections: what each comes near, how each moves.

    python tests/bench/own_tunes.py [FOLDER ...] [--tunes FILE ...] [--limit 80] [--chance 60]

The collections come with the music21 package (`COLLECTIONS` of `readers.py`); a FOLDER has
further books in ABC.  Every four bars of a part of ours are laid over every four bars of
every tune in such a metre, cell by cell.  A cell is half a beat (in 3/8 half a quaver), or
a quaver where beats divide in three: 32 cells for four bars of a reel, 24 for those of a jig
or waltz.  Counted are the cells in which the same degree of the scale sounds, whatever key,
mode and octave (all seven transpositions are tried).  The largest share is printed with both
places, the first of those that are equal.

Beside it stand the shares of repeated notes, steps, thirds and leaps among the intervals,
and those of the collections, dance by dance.  `--chance` does the same for so many tunes of
the collections, each beside all tunes with another title: how near real tunes come to each
other.  The exit code is 1 where a tune of ours does not stay below the limit, which is a
working value, as the cells are.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import NamedTuple

import numpy as np
from readers import COLLECTIONS, SEED, corpus

from backing.errors import BackingError
from backing.music.metre import Metre
from backing.music.tune import Note, Tune
from backing.parse.abc import split_book, tune_of

EXAMPLES = Path(__file__).parents[2] / "examples"
BARS = 4
LETTERS = "CDEFGAB"
SILENT = -1
#: Dances that dozens of tunes of the collections name.
COMMON = ("reel", "jig", "slip jig", "hornpipe")


class Named(NamedTuple):
    """A tune, and the book that it stands in."""

    tune: Tune
    book: str


class Window(NamedTuple):
    """Four bars: whose, the number of the first, the degrees in their cells."""

    owner: Named
    first: int
    degrees: tuple[int, ...]


class Nearest(NamedTuple):
    """The largest share of equal degrees, and where."""

    share: float
    ours: Window
    theirs: Window

    def __str__(self) -> str:
        tune, book = self.theirs.owner
        return (f"{self.share:4.0%}  bars {self.ours.first}-{self.ours.first + BARS - 1}: "
                f"{tune.title} ({book}), from bar {self.theirs.first}")  # fmt: skip


# -- reading -------------------------------------------------------------------------


def tunes_of(paths: Iterable[Path]) -> Iterator[Named]:
    """The tunes of some books; what is no tune or cannot be read is left out."""
    for path in paths:
        for text in split_book(path.read_text(encoding="utf-8", errors="replace")):
            try:
                yield Named(tune_of(text), path.stem)
            except BackingError:
                continue


def open_tunes(folders: list[Path]) -> list[Named]:
    """The tunes of the collections, and of further folders."""
    places = [corpus() / name for name in COLLECTIONS] + folders
    return [named for place in places for named in tunes_of(sorted(place.glob("*.abc")))]


# -- how near -------------------------------------------------------------------------


@cache
def grid_of(metre: Metre) -> tuple[Fraction, ...]:
    """Where the cells of a bar begin; none in metres that are not compared.

    >>> from backing.music.metre import parse_metre
    >>> [len(grid_of(parse_metre(text))) for text in ("C|", "2/4", "6/8", "3/4", "3/8", "5/4")]
    [8, 8, 6, 6, 6, 0]
    """
    if metre.count in (2, 4):
        cells = 8
    elif metre.count == 3:
        cells = 12 if metre.unit == 2 else 6
    else:
        cells = metre.count if metre.unit == 8 and metre.count in (6, 9, 12) else 0
    return tuple(metre.length * n / cells for n in range(cells))


def kind_of(metre: Metre) -> tuple[int, bool]:
    """What four bars have in common with those they are laid over: cells, and beats of three."""
    return len(grid_of(metre)), metre.unit == 8 and metre.count > 3


def degree_of(note: Note) -> int:
    """Letter and octave of the highest pitch as one number; `SILENT` for a rest."""
    if note.rest:
        return SILENT
    pitch = max(note.pitches, key=lambda pitch: pitch.midi)
    return 7 * pitch.octave + LETTERS.index(pitch.step)


def heard_in(notes: tuple[Note, ...], grid: tuple[Fraction, ...]) -> list[int]:
    """The degree, octaves folded, that sounds in each cell of a bar."""
    found = []
    for at in grid:
        inside = [note for note in notes if note.onset <= at < note.onset + note.length]
        degree = degree_of(inside[-1]) if inside else SILENT
        found.append(degree % 7 if degree != SILENT else SILENT)
    return found


def windows_of(owner: Named) -> Iterator[tuple[tuple[int, bool], Window]]:
    """Every four full bars of a part with the kind of their metre, pickups left out."""
    tune = owner.tune
    for section in tune.sections:
        indices = [i for i in range(section.start, section.stop) if not tune.bars[i].pickup]
        for place in range(len(indices) - BARS + 1):
            four = indices[place : place + BARS]
            metres = {tune.bars[index].metre for index in four}
            grid = grid_of(tune.bars[four[0]].metre)
            if len(metres) > 1 or not grid:
                continue
            cells = [cell for i in four for cell in heard_in(tune.melody.bars[i], grid)]
            yield kind_of(*metres), Window(owner, tune.bars[four[0]].number, tuple(cells))


class Laid:
    """The four bars of many tunes, laid in tables, one for each kind of metre."""

    def __init__(self, tunes: Iterable[Named]) -> None:
        self.windows: dict[tuple[int, bool], list[Window]] = {}
        for owner in tunes:
            for kind, window in windows_of(owner):
                self.windows.setdefault(kind, []).append(window)
        self.tables = {
            kind: np.array([window.degrees for window in windows], dtype=np.int8)
            for kind, windows in self.windows.items()
        }

    def nearest(self, owner: Named) -> Nearest | None:
        """What comes nearest to a tune, of tunes with another title."""
        best: Nearest | None = None
        for kind, window in windows_of(owner):
            if kind not in self.tables:
                continue
            shares = shares_of(window.degrees, self.tables[kind])
            for place in np.argsort(-shares, kind="stable"):
                if best is not None and shares[place] <= best.share:
                    break
                theirs = self.windows[kind][place]
                if theirs.owner.tune.title != owner.tune.title:
                    best = Nearest(float(shares[place]), window, theirs)
                    break
        return best


def shares_of(degrees: tuple[int, ...], table: np.ndarray) -> np.ndarray:
    """For each row of a table the share of cells that are equal in the best transposition."""
    ours = np.array(degrees, dtype=np.int8)
    sounding = (ours != SILENT) & (table != SILENT)
    shift = np.where(sounding, (table - ours) % 7, SILENT)
    counts = np.array([np.count_nonzero(shift == step, axis=1) for step in range(7)])
    best: np.ndarray = counts.max(axis=0) / len(degrees)
    return best


# -- how it moves ---------------------------------------------------------------------


def moves_of(tune: Tune) -> Counter[str]:
    """How many intervals of each kind the melody has; a tied note is one, a rest ends a line."""
    found: Counter[str] = Counter()
    notes = [note for bar in tune.melody.bars for note in bar]
    for one, other in pairwise(notes):
        if one.rest or other.rest or one.ties:
            continue
        size = abs(degree_of(other) - degree_of(one))
        found[("same", "steps", "thirds")[size] if size < 3 else "leaps"] += 1
    return found


def in_words(moves: Counter[str]) -> str:
    """The shares of the kinds of intervals."""
    total = moves.total() or 1
    return "  ".join(f"{kind} {moves[kind] / total:.2f}"
                     for kind in ("same", "steps", "thirds", "leaps"))  # fmt: skip


def print_dances(tunes: list[Named]) -> None:
    """How the tunes of the collections move, dance by dance, as R: names them."""
    print("\nhow the collections move")
    for dance in COMMON:
        of_it = [named.tune for named in tunes if named.tune.dance == dance]
        moves = sum((moves_of(tune) for tune in of_it), Counter[str]())
        print(f"  {dance:13}{len(of_it):6,} tunes  {in_words(moves)}")


def print_chance(laid: Laid, tunes: list[Named], count: int) -> None:
    """How near tunes of the collections come to those with another title."""
    chosen = Random(SEED).sample(tunes, min(count, len(tunes)))
    shares = sorted(near.share for named in chosen if (near := laid.nearest(named)))
    print(f"\n{len(shares)} tunes of the collections, each beside the others")
    for part in (10, 25, 50, 75, 90):
        print(f"  {part} % of them come no nearer than {shares[len(shares) * part // 100]:.0%}")


def main() -> int:
    """Print how near and how; 1 where a tune of ours comes too near."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folders", nargs="*", type=Path, metavar="FOLDER", help="more ABC books")
    parser.add_argument("--tunes", nargs="+", type=Path, help="these instead of examples/")
    parser.add_argument("--limit", type=float, default=80, help="too near, in per cent")
    parser.add_argument("--chance", type=int, default=0, help="tunes of the collections tried")
    asked = parser.parse_args()
    tunes = open_tunes(asked.folders)
    laid = Laid(tunes)
    print(f"{len(tunes):,} tunes of {len(COLLECTIONS) + len(asked.folders)} collections, "
          f"{sum(map(len, laid.windows.values())):,} times four bars\n")  # fmt: skip
    too_near = 0
    for own in tunes_of(asked.tunes or sorted(EXAMPLES.glob("*.abc"))):
        near = laid.nearest(own)
        mark = near is not None and near.share * 100 >= asked.limit
        too_near += mark
        print(f"{own.tune.title}, {own.tune.dance or 'no dance'}\n  {in_words(moves_of(own.tune))}")
        print(f"  {near or 'nothing in such a metre'}{'  TOO NEAR' if mark else ''}")
    print_dances(tunes)
    if asked.chance:
        print_chance(laid, tunes, asked.chance)
    return 1 if too_near else 0


if __name__ == "__main__":
    sys.exit(main())
