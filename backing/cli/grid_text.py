"""A chord grid as text: bars between bar lines, rows one under the other."""

from collections.abc import Iterator, Sequence
from itertools import chain
from textwrap import wrap

from backing.cli.speech import dance_words
from backing.music.tune import Jump, Tune
from backing.render.chord_grid import GOES_ON, SAME, GridCell, GridPart, GridRow, chord_grid

_NUMBER = 5
_OPENING = (Jump.SEGNO, Jump.CODA)
_SIGNS = {
    SAME: f"{SAME} as the bar before",
    GOES_ON: f"{GOES_ON} the chord goes on for another part of the bar",
    "N.C.": "N.C. no chord",
}


class _Box:
    """A bar as it is printed: what stands at its left edge, in it, and at its right edge."""

    def __init__(self, cell: GridCell) -> None:
        opens = ":" * (cell.opens_repeat - 1) if cell.opens_repeat else ""
        ending = f"{cell.ending}" if cell.ending else ""
        self.left = opens + ending
        self.right = ":" * (cell.plays - 1) if cell.plays else ""
        metre = [f"({cell.metre})"] if cell.metre else []
        before = [str(jump) for jump in cell.jumps if jump in _OPENING]
        after = [str(jump) for jump in cell.jumps if jump not in _OPENING]
        pickup = ["pickup"] if cell.pickup else []
        self.inside = " ".join([*pickup, *metre, *before, *cell.words, *after])


def grid_lines(tune: Tune, width: int) -> Iterator[str]:
    """The chord grid of a tune in lines of so many columns, as far as a bar goes into them."""
    parts = chord_grid(tune)
    yield from wrap(tune.title, width)
    kind = f"{dance_words(tune)}, {tune.metre}, {tune.key}"
    yield from wrap(kind, width, initial_indent="  ", subsequent_indent="  ")
    sizes = _sizes(parts)
    most = max((width - _NUMBER - 2) // (sum(sizes) + 3), 1)
    for part in parts:
        yield ""
        yield f"{part.name} part"
        for row in part.rows:
            yield from (_line(piece, sizes) for piece in _cut(row, _share(part, most)))
    yield from _key(parts, width)


def _cells(parts: Sequence[GridPart]) -> Iterator[GridCell]:
    return chain.from_iterable(row.cells for part in parts for row in part.rows)


def _sizes(parts: Sequence[GridPart]) -> tuple[int, int, int]:
    """How wide every box is at its left edge, inside, and at its right edge."""
    boxes = [_Box(cell) for cell in _cells(parts)]
    return (
        max(len(box.left) for box in boxes),
        max(len(box.inside) for box in boxes),
        max(len(box.right) for box in boxes),
    )


def _share(part: GridPart, most: int) -> int:
    """How many boxes stand in a row of a part: the phrase, half of it, or whatever goes in."""
    size = max(row.column + len(row.cells) for row in part.rows)
    while size > most and size > 1:
        size = (size + 1) // 2
    return size


def _cut(row: GridRow, size: int) -> Iterator[GridRow]:
    """A row as rows of so many boxes at most."""
    column, start = row.column % size, 0
    while start < len(row.cells):
        stop = start + size - column
        yield GridRow(column, row.cells[start:stop])
        start, column = stop, 0


def _line(row: GridRow, sizes: tuple[int, int, int]) -> str:
    """A row of boxes, the number of its first bar before it."""
    left, inside, right = sizes
    text = "".join(
        f"|{box.left:<{left}} {box.inside:<{inside}} {box.right:>{right}}"
        for box in map(_Box, row.cells)
    )
    number = next((cell.number for cell in row.cells if not cell.pickup), row.cells[0].number)
    return f"{number:>{_NUMBER}} {' ' * (row.column * (sum(sizes) + 3))}{text}|"


def _key(parts: Sequence[GridPart], width: int) -> Iterator[str]:
    """What the signs mean that were printed."""
    written = {word for cell in _cells(parts) for word in cell.words}
    said = [text for sign, text in _SIGNS.items() if sign in written]
    if said:
        yield ""
        yield from wrap("; ".join(said), width)
