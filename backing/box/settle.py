"""The same bar gets the same buttons, each time through.

The cheapest way may finger a bar otherwise when it is repeated, for what comes before and
after.  Then one of the times through (the first, the second or the last) is taken for all: the
one with which the whole costs least, worked out exactly.  Where every time through agrees, as
in most tunes, nothing changes, and the way is the best of all.
"""

from collections.abc import Sequence

from backing.box.grips import Grip
from backing.box.line import Line
from backing.box.price import Stand
from backing.box.search import Search, Way

_Note = tuple[int, int]
_Ways = Sequence[Way | None]


def settled(search: Search, line: Line, stands: Sequence[Stand], ways: _Ways) -> _Ways:
    """The ways with one fingering for every written note."""
    notes = [(line.bars[moment.bar].written, moment.note) for moment in line.moments]
    for section in sorted(_odd_sections(line, notes, ways)):
        parts = sorted({bar.part for bar in line.bars if bar.section == section})
        tried = [
            search.best(line.moments, stands, _kept(line, notes, ways, parts, part, section))
            for part in dict.fromkeys((*parts[:2], parts[-1]))
        ]
        ways = min(tried, key=lambda best: best.cost).ways
    return ways


def _odd_sections(line: Line, notes: Sequence[_Note], ways: _Ways) -> set[str]:
    """The sections in which a note is fingered in two ways."""
    first: dict[_Note, Grip] = {}
    odd = set()
    for moment, note, way in zip(line.moments, notes, ways, strict=True):
        if way is not None and first.setdefault(note, way.grip) != way.grip:
            odd.add(line.bars[moment.bar].section)
    return odd


def _kept(
    line: Line, notes: Sequence[_Note], ways: _Ways, parts: list[int], part: int, section: str
) -> list[Grip | None]:
    """The grips of one time through a section for all of them, those of the others for bars
    that it leaves out; other sections keep what they have."""
    order = [part, *(other for other in parts if other != part)]
    chosen: dict[_Note, tuple[int, Grip]] = {}
    for moment, note, way in zip(line.moments, notes, ways, strict=True):
        bar = line.bars[moment.bar]
        if way is not None and bar.section == section:
            rank = order.index(bar.part)
            if note not in chosen or rank < chosen[note][0]:
                chosen[note] = (rank, way.grip)
    return [
        chosen[note][1] if note in chosen else (way.grip if way else None)
        for note, way in zip(notes, ways, strict=True)
    ]
