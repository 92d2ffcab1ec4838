"""The sheet of a page: lines of music as drawings that any browser shows, and where on them the
bars stand.

What is drawn is written anew, element by element, from a list of those that a drawing of music
has: whatever a text in the tune says, nothing in it can run.
"""

import re
from collections.abc import Sequence
from typing import Any, NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from backing.render.sheet.engraver import System
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.staff import lines_of

#: How wide the lines are in millimetres: on a tablet or paper, and on a phone.
WIDTHS = {"wide": 180.0, "narrow": 92.0}
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
_GLYPH = re.compile(r"#([0-9A-F]{4,5})\b")
#: A fill or a stroke that fetches something is none.
_COLOUR = re.compile(r"(?:none|currentColor|black|white|#[0-9a-fA-F]{3,6})$")
_SPACE = "{http://www.w3.org/2000/svg}"
_LINK = "{http://www.w3.org/1999/xlink}href"


class DrawnSheet(NamedTuple):
    """Lines of music, and the outlines (SVG paths) of the signs that they use, by name."""

    lines: list[dict[str, Any]]
    glyphs: dict[str, str]


def drawn_sheets(page: SheetPage) -> dict[str, DrawnSheet]:
    """The music of a page in each of the widths: of each line its drawing, and where its bars
    stand (index of the bar, left, right: per cent of the width)."""
    lines = lines_of(page, SheetLook(), list(WIDTHS.values()))
    return {width: _drawn(systems) for width, systems in zip(WIDTHS, lines, strict=True)}


def _drawn(systems: Sequence[System]) -> DrawnSheet:
    glyphs: dict[str, str] = {}
    return DrawnSheet([_line(system, glyphs) for system in systems], glyphs)


def _line(system: System, glyphs: dict[str, str]) -> dict[str, Any]:
    root = ElementTree.fromstring(system.svg)
    for group in root.iter(f"{_SPACE}g"):
        name = re.match(r"([0-9A-F]{4,5})-", group.get("id", ""))
        if name:
            glyphs[f"g{name[1]}"] = group[0].get("d", "")
    svg = cleaned(root)
    return {
        "svg": ElementTree.tostring(svg, encoding="unicode"),
        "part": system.part,
        "bars": [
            [each.bar, _share(each.left, system), _share(each.right, system)]
            for each in system.bars
        ],
    }


def _share(place: float, system: System) -> float:
    return round(100 * place / system.width, 2)


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
