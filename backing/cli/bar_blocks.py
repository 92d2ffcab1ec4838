"""Bars as blocks of two lines, chords above notes, laid beside and under each other."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import NamedTuple

from backing.cli.bar_names import NameAt

#: A column of the rows of a part: so many full bars before it, and 0 for a pickup there, else 1.
BlockColumn = tuple[int, int]


class BarBlock(NamedTuple):
    """A bar, or a piece of a long one: its number, above the line at its left edge, what stands
    above its notes, its notes beat by beat, and the line after it."""

    number: str
    left: str
    above: tuple[NameAt, ...]
    beats: tuple[tuple[NameAt, ...], ...]
    right: str

    @property
    def lines(self) -> tuple[str, str]:
        """Its two lines."""
        start = max(len(self.number), len(self.left)) + 1
        above, notes = _laid(self.above, self.beats)
        return f"{self.number:<{start}}{above}", f"{self.left:<{start}}{notes}"

    @property
    def width(self) -> int:
        """How wide it is, with a space at its end."""
        return max(map(len, self.lines)) + 1


PlacedBlocks = list[tuple[BlockColumn, BarBlock]]


def _laid(above: Sequence[NameAt], beats: Sequence[Sequence[NameAt]]) -> tuple[str, str]:
    """Notes in a line, a wider gap between beats, and what stands above them: each over the
    name that is heard then."""
    upper, lower, at = "", "", 0
    names = [name for beat in beats for name in beat]
    opens = {beat[0].onset for beat in beats[1:]}
    for place, name in enumerate(names):
        words = []
        while at < len(above) and _is_over(above[at], names, place):
            words.append(above[at].text)
            at += 1
        lower += " " if place and name.onset in opens else ""
        if words:
            lower = lower.ljust(len(upper) + 1) if upper else lower
            upper = upper.ljust(len(lower)) + " ".join(words)
        lower += f"{name.text} "
    return upper, lower.rstrip()


def _is_over(mark: NameAt, names: Sequence[NameAt], place: int) -> bool:
    """True where a mark comes before the next name."""
    return place + 1 == len(names) or mark.onset < names[place + 1].onset


def pieces(block: BarBlock, width: int) -> Iterator[BarBlock]:
    """A block, or halves of it, beat by beat if it can be, that go into so many columns."""
    if block.width + len(block.right) <= width or len(list(chain(*block.beats))) == 1:
        yield block
        return
    first, second = _halves(block.beats)
    start = second[0][0].onset
    before = tuple(mark for mark in block.above if mark.onset < start)
    yield from pieces(block._replace(above=before, beats=first, right=""), width)
    rest = block._replace(
        number=" " * len(block.number),
        left=" " * len(block.left),
        above=block.above[len(before) :],
        beats=second,
    )
    yield from pieces(rest, width)


Beats = tuple[tuple[NameAt, ...], ...]


def _halves(beats: Beats) -> tuple[Beats, Beats]:
    if len(beats) > 1:
        half = len(beats) // 2
        return beats[:half], beats[half:]
    half = len(beats[0]) // 2
    return (beats[0][:half],), (beats[0][half:],)


# -- rows ------------------------------------------------------------------------------


def columns_of(rows: Iterable[PlacedBlocks]) -> dict[BlockColumn, int]:
    """Where each column begins, as wide as the widest block in it, and where the last ends."""
    widths: dict[BlockColumn, int] = {}
    for column, block in chain.from_iterable(rows):
        widths[column] = max(widths.get(column, 0), block.width)
    places: dict[BlockColumn, int] = {}
    at = 0
    for column in sorted(widths):
        places[column] = at
        at += widths[column]
    places[max(widths)[0] + 1, 0] = at
    return places


def row_lines(row: PlacedBlocks, places: dict[BlockColumn, int]) -> tuple[str, str]:
    """A row of blocks as two lines, each block where its column begins."""
    upper, lower = "", ""
    for column, block in row:
        one, other = block.lines
        upper = upper.ljust(places[column]) + one
        lower = lower.ljust(places[column]) + other
    column, block = row[-1]
    stop = min(at for other, at in places.items() if other > column)
    return upper.rstrip(), (lower.ljust(stop) + block.right).rstrip()
