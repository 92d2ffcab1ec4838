"""Where on a drawn line the notes of the melody stand."""

import re
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from backing.render.page.cleaning import SPACE
from backing.render.sheet.lines import DrawnBar, System, height_on_line, place_on_line

_PLACED = re.compile(r"translate\((-?\d+), (-?\d+)\)")
#: In the tenths of a unit in which notes are drawn.
_HALF_A_HEAD = 106
_GROUP, _USE = f"{SPACE}g", f"{SPACE}use"


def notes_on_line(root: Element, system: System) -> list[list[list[float]]]:
    """Of each bar on a line the notes of the melody: where in the bar they begin (whole notes),
    and the middles of their heads (per cent of the line's width and height).

    None in a bar where it is not certain which drawn note is which.
    """
    measures = zip(_groups(root, "measure"), system.bars, strict=False)
    return [_notes(measure, bar, system) for measure, bar in measures]


def _notes(measure: Element, bar: DrawnBar, system: System) -> list[list[float]]:
    """Where the notes of a bar's melody stand; none where it is not certain which is which."""
    staff = next(_groups(measure, "staff"), measure)
    heads = list(_heads(staff))
    if len(heads) != len(bar.heads):
        return []
    return [
        [round(float(onset), 5), across(place_on_line(x, system.left), system), _down(y, system)]
        for (x, y), onset in zip(heads, bar.heads, strict=True)
        if onset is not None
    ]


def _groups(element: Element, name: str) -> Iterator[Element]:
    return (g for g in element.iter(_GROUP) if name in g.get("class", "").split())


def _heads(element: Element) -> Iterator[tuple[int, int]]:
    """The middles of the heads of notes, and of the first of each chord, as they are drawn."""
    for child in element.iterfind(_GROUP):
        kinds = child.get("class", "").split()
        if "note" in kinds or "chord" in kinds:
            head = next(_groups(child, "notehead"), child)
            place = _PLACED.match(next((u.get("transform", "") for u in head.iter(_USE)), ""))
            if place:
                yield int(place[1]) + _HALF_A_HEAD, int(place[2])
        else:
            yield from _heads(child)


def across(place: float, system: System) -> float:
    """Per cent of a line's width."""
    return round(100 * place / system.width, 2)


def _down(drawn: int, system: System) -> float:
    return round(100 * height_on_line(drawn) / system.height, 2)
