"""A tune's music as text: bars with their numbers, chords above, the notes by name."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import chain

from backing.cli.bar_blocks import BarBlock, PlacedBlocks, columns_of, pieces, row_lines
from backing.cli.bar_names import GOES_ON, REST, TOGETHER, TRIPLET, NameAt, beat_names
from backing.music.dance import felt
from backing.music.played import PHRASE, Strike, beats_in, dance_for, struck_in
from backing.music.rows import BarRow, phrase_rows
from backing.music.tune import Bar, Jump, Section, Tune

#: No row has more bars, whatever the phrase.
_MOST = PHRASE + 1
_OPENING = (Jump.SEGNO, Jump.CODA)


class MusicText:
    """The bars of a tune as text; `dance` stands in for the one that it names."""

    def __init__(self, tune: Tune, dance: str = "") -> None:
        self._tune = tune
        self._dance = dance_for(tune, dance)
        strikes = strikes_of(tune)
        self._names = [self._beats(index, strikes[index]) for index in range(len(tune.bars))]

    def _beats(self, index: int, strikes: Sequence[Strike]) -> tuple[tuple[NameAt, ...], ...]:
        bar = self._tune.bars[index]
        marks = [symbol.onset for symbol in bar.chords]
        beats = beats_in(bar, felt(bar.metre, self._dance))
        notes = self._tune.melody.bars[index]
        return tuple(beat_names(notes, strikes, beats, bar.length, marks))

    def section(self, section: Section, width: int) -> Iterator[str]:
        """A section in lines of so many columns, a phrase a row or as much of one as goes in."""
        rows = [*phrase_rows(self._tune.bars, section, lambda _: True)]
        return self._lines(rows, width, _MOST)

    def bars(self, indices: Sequence[int], width: int) -> Iterator[str]:
        """Some bars, by index, in lines of so many columns."""
        return self._lines([BarRow(0, tuple(indices))], width, PHRASE)

    def _lines(self, rows: Sequence[BarRow], width: int, most: int) -> Iterator[str]:
        for place, (above, notes) in enumerate(self._pairs(rows, width, most)):
            if place and above:
                yield ""
            if above:
                yield above
            yield notes

    def _pairs(self, rows: Sequence[BarRow], width: int, most: int) -> list[tuple[str, str]]:
        """The rows, `most` bars in each, or halves and quarters of that if more do not go into
        so many columns."""
        size = min(max(row.column + len(self._with_leads(row)) for row in rows), most)
        while size:
            table = [
                self._row(column, piece) for row in rows for column, piece in self._cut(row, size)
            ]
            places = columns_of(table)
            pairs = [row_lines(row, places) for row in table]
            if max(map(len, chain.from_iterable(pairs))) <= width:
                return pairs
            size = (size + 1) // 2 if size > 1 else 0
        blocks = [self._block(index) for row in rows for index in row.bars]
        alone: list[PlacedBlocks] = [
            [((0, 1), piece)] for block in blocks for piece in pieces(block, width)
        ]
        return [row_lines(row, columns_of([row])) for row in alone]

    def _cut(self, row: BarRow, size: int) -> Iterator[tuple[int, list[list[int]]]]:
        """A row as rows of so many full bars at most, each with the column that it starts in."""
        groups = self._with_leads(row)
        column, start = row.column % size, 0
        while start < len(groups):
            stop = start + size - column
            yield column, groups[start:stop]
            start, column = stop, 0

    def _with_leads(self, row: BarRow) -> list[list[int]]:
        """The full bars of a row, each after the pickups that lead into it."""
        found: list[list[int]] = [[]]
        for index in row.bars:
            found[-1].append(index)
            if not self._tune.bars[index].pickup:
                found.append([])
        return [group for group in found if group]

    def _row(self, column: int, groups: Sequence[Sequence[int]]) -> PlacedBlocks:
        row: PlacedBlocks = []
        before: Bar | None = None
        for place, group in enumerate(groups, column):
            for index in group:
                full = 0 if self._tune.bars[index].pickup else 1
                row.append(((place, full), self._block(index, before)))
                before = self._tune.bars[index]
        return row

    def _block(self, index: int, before: Bar | None = None) -> BarBlock:
        """A bar as a block, after the one `before` it in its row."""
        bar = self._tune.bars[index]
        closing = ":" * (before.plays - 1) if before is not None and before.plays else ""
        opening = ":" * (bar.opens_repeat - 1) if bar.opens_repeat else ""
        ending = f"{bar.ending})" if bar.ending and bar.ending.first else ""
        return BarBlock(
            "" if bar.pickup and bar.number else str(bar.number),
            f"{closing}|{opening}{ending}",
            tuple(self._above(index)),
            self._names[index],
            _closing_line(bar),
        )

    def _above(self, index: int) -> Iterator[NameAt]:
        """What stands above the notes of a bar: signs to jump by, a new metre, chords."""
        bar, start = self._tune.bars[index], Fraction(0)
        metre = self._tune.bars[index - 1].metre if index else self._tune.metre
        yield from (NameAt(start, str(jump)) for jump in bar.jumps if jump in _OPENING)
        if bar.metre != metre:
            yield NameAt(start, f"({bar.metre})")
        yield from (NameAt(symbol.onset, str(symbol.chord)) for symbol in bar.chords)
        yield from (NameAt(bar.length, str(jump)) for jump in bar.jumps if jump not in _OPENING)

    def key(self) -> str:
        """What the signs mean that stand in its bars."""
        words = {name.text for bar in self._names for beat in bar for name in beat}
        written = set("".join(words))
        said = ["C to B from middle C up, c to b an octave higher"]
        said += ["c' above that"] if "'" in written else []
        said += ["B, below"] if "," in written else []
        said += ["names between two gaps share a beat evenly"]
        said += [f"{GOES_ON} the note goes on"] if GOES_ON in written else []
        said += [f"{REST} rest"] if REST in written else []
        said += [f"D{TOGETHER}A struck together"] if TOGETHER in written else []
        said += ["{c} grace note"] if "{" in written else []
        said += [f"{TRIPLET}3 A B c) triplet"] if TRIPLET in written else []
        return "; ".join(said)


def strikes_of(tune: Tune) -> list[tuple[Strike, ...]]:
    """What is struck of each note of the melody, bar by bar in written order."""
    found: list[tuple[Strike, ...]] = []
    tied: tuple[int, ...] = ()
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        strikes, tied = struck_in(notes, bar.length, tied)
        found.append(strikes)
    return found


def _closing_line(bar: Bar) -> str:
    if bar.plays:
        return ":" * (bar.plays - 1) + "|"
    return "||" if bar.close in ("||", "|]", "[|") else "|"
