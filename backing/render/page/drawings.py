"""The sheet of a page: lines of music as drawings that any browser shows, and where on them the
bars stand.

What is drawn is written anew, element by element, from a list of those that a drawing of music
has: whatever a text in the tune says, nothing in it can run.
"""

import re
from collections.abc import Iterator
from typing import Any, NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from backing.render.sheet.engraver import DrawnBar, System, height_on_line, place_on_line
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.staff import lines_of

#: How wide the lines are in millimetres: on a tablet or paper, and on a phone.
WIDTHS = {"wide": 180.0, "narrow": 92.0}
_USUAL = SheetLook()
_ELEMENTS = frozenset(
    {"svg", "g", "path", "polygon", "polyline", "rect", "ellipse", "text", "tspan", "use"}
)
_ATTRIBUTES = frozenset(
    {
        "d", "x", "y", "cx", "cy", "r", "rx", "ry", "points", "transform", "width", "height",
        "viewBox", "font-size", "font-style", "font-weight", "text-anchor", "stroke-width",
        "stroke-linecap", "stroke-linejoin", "stroke-dasharray", "stroke-opacity", "fill-opacity",
    }
)  # fmt: skip
#: Names that groups have for the style of their texts.
_CLASSES = frozenset({"ending", "fing", "reh", "tempo", "dir", "dynam", "mNum", "label"})
#: What the engraver keeps for itself, and shows nobody.
_HIDDEN = "placeholder"
_PLACED = re.compile(r"translate\((-?\d+), (-?\d+)\)")
#: In the tenths of a unit in which notes are drawn.
_HALF_A_HEAD = 106
#: In per cent of a line.
_BEFORE_A_NOTE = 3.0
_GLYPH = re.compile(r"#([0-9A-F]{4,5})\b")
#: A fill or a stroke that fetches something is none.
_COLOUR = re.compile(r"(?:none|currentColor|black|white|#[0-9a-fA-F]{3,6})$")
_SPACE = "{http://www.w3.org/2000/svg}"
_USE = f"{_SPACE}use"
_LINK = "{http://www.w3.org/1999/xlink}href"


class DrawnSheet(NamedTuple):
    """Lines of music, and the outlines (SVG paths) of the signs that they use, by name."""

    lines: list[dict[str, Any]]
    glyphs: dict[str, str]


def drawn_sheet(page: SheetPage, width: str, look: SheetLook = _USUAL) -> DrawnSheet:
    """The music of a page in one of the widths: of each line its drawing, where its bars stand
    (index of the bar, left, right: per cent of the width), and in each bar the melody's notes
    (where in the bar, in whole notes; the middle of the head: per cent of width and height)."""
    glyphs: dict[str, str] = {}
    lines = [_line(system, glyphs) for system in lines_of(page, look, WIDTHS[width])]
    return DrawnSheet(lines, glyphs)


def _line(system: System, glyphs: dict[str, str]) -> dict[str, Any]:
    root = ElementTree.fromstring(system.svg)
    for group in root.iter(f"{_SPACE}g"):
        name = re.match(r"([0-9A-F]{4,5})-", group.get("id", ""))
        if name:
            glyphs[f"g{name[1]}"] = group[0].get("d", "")
    svg = cleaned(root)
    measures = zip(_groups(root, "measure"), system.bars, strict=False)
    notes = [_notes(measure, bar, system) for measure, bar in measures]
    bars = [
        [each.bar, _across(each.left, system), _across(each.right, system)] for each in system.bars
    ]
    if bars and notes[0] and notes[0][0][0] == 0:  # it begins behind clef, signature, metre
        bars[0][1] = max(bars[0][1], round(notes[0][0][1] - _BEFORE_A_NOTE, 2))
    return {
        "svg": ElementTree.tostring(svg, encoding="unicode"),
        "part": system.part,
        "bars": bars,
        "notes": notes,
    }


def _notes(measure: Element, bar: DrawnBar, system: System) -> list[list[float]]:
    """Where the notes of a bar's melody stand; none where it is not certain which is which."""
    staff = next(_groups(measure, "staff"), measure)
    heads = list(_heads(staff))
    if len(heads) != len(bar.heads):
        return []
    return [
        [round(float(onset), 5), _across(place_on_line(x), system), _down(y, system)]
        for (x, y), onset in zip(heads, bar.heads, strict=True)
        if onset is not None
    ]


def _groups(element: Element, name: str) -> Iterator[Element]:
    return (g for g in element.iter(f"{_SPACE}g") if name in g.get("class", "").split())


def _heads(element: Element) -> Iterator[tuple[int, int]]:
    """The middles of the heads of notes, and of the first of each chord, as they are drawn."""
    for child in element:
        kinds = child.get("class", "").split()
        if "note" in kinds or "chord" in kinds:
            head = next(_groups(child, "notehead"), child)
            place = _PLACED.match(next((u.get("transform", "") for u in head.iter(_USE)), ""))
            if place:
                yield int(place[1]) + _HALF_A_HEAD, int(place[2])
        else:
            yield from _heads(child)


def _across(place: float, system: System) -> float:
    return round(100 * place / system.width, 2)


def _down(drawn: int, system: System) -> float:
    return round(100 * height_on_line(drawn) / system.height, 2)


def cleaned(element: Element) -> Element:
    """An element of a drawing with what is known of its attributes and of the elements in it."""
    found = Element(element.tag.removeprefix(_SPACE))
    for name, value in element.attrib.items():
        if name == "class":
            known = " ".join(each for each in value.split() if each in _CLASSES)
            if known:
                found.set("class", known)
        elif name in ("href", _LINK):
            glyph = _GLYPH.match(value)
            if glyph:
                found.set("href", f"#g{glyph[1]}")
        elif name in ("fill", "stroke"):
            if _COLOUR.match(value):
                found.set(name, value)
        elif name in _ATTRIBUTES:
            found.set(name, value)
    found.text, found.tail = element.text, element.tail
    for child in element:
        drawn = _HIDDEN not in child.get("class", "").split()
        if drawn and child.tag.removeprefix(_SPACE) in _ELEMENTS:
            found.append(cleaned(child))
        elif child.tail:  # a text goes on after what is left out
            _append_text(found, child.tail)
    return found


def _append_text(element: Element, text: str) -> None:
    if len(element):
        element[-1].tail = (element[-1].tail or "") + text
    else:
        element.text = (element.text or "") + text
