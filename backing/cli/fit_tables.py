"""The tables of `backing fit`: a tune on each box, and in each key."""

from collections.abc import Iterator, Sequence
from itertools import zip_longest
from textwrap import wrap
from typing import NamedTuple

from backing.box.fit import Fit
from backing.cli.fit_text import WIDTH
from backing.music.saying import moved_by
from backing.practice.compared import InKey, OnBoxes
from backing.wording import listed

#: No more notes than this are named, and a move takes no more room.
_MOST_NOTES, _MOVED_WIDTH = 6, 20
_HEADS = (
    "bellows        row   chords",
    "changes  crossings  at hand",
    "  a bar      a bar",
)


class _TableRow(NamedTuple):
    """What stands before the figures, cell by cell, and the fit that they are of."""

    cells: tuple[str, ...]
    fit: Fit


def boxes_table(found: Sequence[OnBoxes]) -> Iterator[str]:
    """The tune on each box, the best first."""
    yield from _table(("box",), [_TableRow((one.layout.name,), one.fit) for one in found])


def keys_table(found: Sequence[InKey]) -> Iterator[str]:
    """The tune in each key, the best first."""
    rows = [_TableRow((str(one.key), moved_by(one.semitones)), one.fit) for one in found]
    yield from _table(("key", "moved"), rows)


def _table(names: Sequence[str], rows: Sequence[_TableRow]) -> Iterator[str]:
    """Rows under a head, those with every note before those that lack some."""
    columns = zip(names, *(row.cells for row in rows), strict=True)
    widths = [min(max(map(len, column)), _MOVED_WIDTH) for column in columns]
    for place, head in enumerate(_HEADS):
        last = place == len(_HEADS) - 1
        cells = [f"{name if last else '':<{w}}" for name, w in zip(names, widths, strict=True)]
        yield "  ".join([*cells, head])
    for said, fits in (("every note is there", True), ("notes are missing", False)):
        here = [row for row in rows if row.fit.fits is fits]
        if here:
            yield ""
            yield f"{said}:"
        for row in here:
            yield from _lines(row, widths)


def _lines(row: _TableRow, widths: Sequence[int]) -> Iterator[str]:
    """A row, on as many lines as its longest cell takes."""
    figures = _figures(row.fit)
    rest = WIDTH - sum(widths) - 2 * len(widths) - len(figures) - 2
    columns = [*map(wrap, row.cells, widths), [figures], wrap(_notes(row.fit), rest)]
    for texts in zip_longest(*columns, fillvalue=""):
        cells = zip(texts, (*widths, len(figures), rest), strict=True)
        yield "  ".join(f"{text:<{width}}" for text, width in cells).rstrip()


def _figures(found: Fit) -> str:
    bars = max(sum(not bar.pickup for bar in found.line.bars), 1)
    share = "-" if found.share is None else f"{100 * found.share:.0f} %"
    changes, crossings = found.fingering.reversals / bars, found.fingering.crossings / bars
    return f"{changes:7.1f}  {crossings:9.1f}  {share:>7}"


def _notes(found: Fit) -> str:
    """What there is to say of its notes."""
    if not found.fits:
        return f"lacks {_named([str(note.pitch) for note in found.missing])}"
    if not found.accidentals:
        return f"{found.octave} octave"
    names = [str(note.pitch) for note in found.accidentals]
    where = "an accidental button" if len(names) == 1 else "accidental buttons"
    return f"{found.octave} octave, {_named(names)} on {where}"


def _named(names: Sequence[str]) -> str:
    """Notes by name; where there are many, the first of them."""
    more = len(names) - _MOST_NOTES + 1
    return listed(names if more < 2 else [*names[: _MOST_NOTES - 1], f"{more} more"])
