"""The chord grid of a tune: bars as boxes in rows, for whoever accompanies.

What stands where, as values: a page and a terminal draw the same.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from backing.music.chord import Chord
from backing.music.metre import Metre
from backing.music.played import chords_before
from backing.music.rows import phrase_rows
from backing.music.tune import Bar, Ending, Jump, Tune

#: Into no more parts than this a bar is divided to show where its chords fall.
_MOST_PARTS = 16
SAME, GOES_ON = "%", "."


class GridChord(NamedTuple):
    """A chord in a box: from where in the bar it is played, and how long, in whole notes."""

    chord: Chord
    onset: Fraction
    length: Fraction


class GridCell(NamedTuple):
    """One bar: its number as printed, and its chords, those that go on from before included.

    `same` marks a bar that has the chords of the one before it in its row.  `opens_repeat`
    and `plays` are the counts of repeat signs at its start and end (0: none); `ending` is the
    times through at which it is played, where an ending begins here; `metre` is named where
    it is a new one; `jumps` are the signs at its start and end, `close` its bar line.
    """

    number: int
    length: Fraction
    chords: tuple[GridChord, ...]
    beats: tuple[Fraction, ...]
    same: bool = False
    pickup: bool = False
    opens_repeat: int = 0
    plays: int = 0
    ending: Ending | None = None
    metre: Metre | None = None
    jumps: tuple[Jump, ...] = ()
    close: str = "|"

    @property
    def words(self) -> tuple[str, ...]:
        """What is written in the box, from left to right.

        One chord, or chords that share the bar evenly, stand alone; of others each part of
        the bar has its chord, or "." where the one before goes on.  "%": as the bar before
        (common practice, no source); nothing where no chord has been named yet.
        """
        if self.same:
            return (SAME,)
        names = tuple(str(one.chord) for one in self.chords)
        lengths = {one.length for one in self.chords}
        if not names or (len(lengths) == 1 and not self.chords[0].onset):
            return names
        starts = {one.onset: name for one, name in zip(self.chords, names, strict=True)}
        return tuple(starts.get(place, GOES_ON) for place in self._places()) or names

    def _places(self) -> tuple[Fraction, ...]:
        """The starts of the felt beats where they are uneven and hold all its chords, else of
        the fewest equal parts of the bar that do; none where those would be too many."""
        onsets = {one.onset for one in self.chords}
        beats = tuple(sum(self.beats[:place], Fraction(0)) for place in range(len(self.beats)))
        if len(set(self.beats)) > 1 and onsets.issubset(beats) and sum(self.beats) == self.length:
            return beats
        parts = lcm(*((onset / self.length).denominator for onset in onsets))
        if parts > _MOST_PARTS:
            return ()
        return tuple(self.length * place / parts for place in range(parts))


class GridRow(NamedTuple):
    """Boxes in a row; the first stands in this column, from 0: an ending stands under the
    first one."""

    column: int
    cells: tuple[GridCell, ...]


class GridPart(NamedTuple):
    """A part of the tune by its name, row by row."""

    name: str
    rows: tuple[GridRow, ...]


def chord_grid(tune: Tune) -> tuple[GridPart, ...]:
    """The chord grid of a tune, part by part: a row is a phrase of four bars, one bar left
    over with it.

    Pickups have no box, but where a chord is named in one.

    >>> from backing.parse.abc import parse_abc
    >>> grid = chord_grid(parse_abc('X:1\\nM:4/4\\nL:1/4\\nK:G\\n"G"G4|G4|"C"e2"D"d2|"G"G4|'))
    >>> [cell.words for cell in grid[0].rows[0].cells]
    [('G',), ('%',), ('C', 'D'), ('G',)]
    """
    chords = tuple(map(_chords_of, tune.bars, chords_before(tune)))
    return tuple(
        GridPart(
            section.name,
            tuple(
                GridRow(row.column, _cells(tune, row.bars, chords))
                for row in phrase_rows(tune.bars, section, _names_chords)
            ),
        )
        for section in tune.sections
    )


def _names_chords(bar: Bar) -> bool:
    return bool(bar.chords)


def _chords_of(bar: Bar, before: Chord | None) -> tuple[GridChord, ...]:
    """The chords of a bar into which the one before goes on, each named once."""
    starts = [(symbol.onset, symbol.chord) for symbol in bar.chords if symbol.onset < bar.length]
    if before is not None and (not starts or starts[0][0] > 0):
        starts.insert(0, (Fraction(0), before))
    heard = [one for at, one in enumerate(starts) if not at or one[1] != starts[at - 1][1]]
    stops = [onset for onset, _ in heard[1:]] + [bar.length] * bool(heard)
    return tuple(
        GridChord(chord, onset, stop - onset)
        for (onset, chord), stop in zip(heard, stops, strict=True)
    )


# -- rows ------------------------------------------------------------------------------


def _cells(
    tune: Tune, row: Sequence[int], chords: Sequence[tuple[GridChord, ...]]
) -> tuple[GridCell, ...]:
    bars, cells = tune.bars, list[GridCell]()
    for index in row:
        bar, first = bars[index], _with_lead(bars, index)
        ending = bar.ending if bar.ending and bar.ending.first else None
        opens = bar.opens_repeat or bars[first].opens_repeat
        apart = opens or ending or not cells
        metre = bars[first - 1].metre if first else tune.metre
        jumps = bars[first].jumps if first < index else ()
        cells.append(
            GridCell(
                bar.number, bar.length, chords[index], bar.metre.beats,
                not apart and _alike(cells[-1], bar.length, chords[index]),
                bar.pickup, opens, bar.plays, ending,
                bar.metre if bar.metre != metre else None, (*jumps, *bar.jumps), bar.close,
            )
        )  # fmt: skip
    return tuple(cells)


def _with_lead(bars: Sequence[Bar], index: int) -> int:
    """The index of the pickup before a bar, where it has no box: its signs go to the bar."""
    lead = index > 0 and bars[index - 1].pickup and not bars[index - 1].chords
    return index - lead


def _alike(before: GridCell, length: Fraction, chords: tuple[GridChord, ...]) -> bool:
    """True where a bar has the chords of the one before it, at the same places."""
    return bool(chords) and before.length == length and before.chords == chords
