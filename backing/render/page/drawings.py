"""The sheet of a page: lines of music as drawings that any browser shows, and where on them the
bars stand."""

import re
from collections.abc import Sequence
from typing import Any, NamedTuple
from xml.etree import ElementTree

from backing.render.page.cleaning import SPACE, cleaned
from backing.render.page.noteheads import across, notes_on_line
from backing.render.sheet.lines import System
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.staff import lines_of

#: How wide the lines are in millimetres: on a tablet or paper, and on a phone.
WIDTHS = {"wide": 180.0, "narrow": 92.0}
_GLYPH = re.compile(r"([0-9A-F]{4,5})-")
_USUAL = SheetLook()
#: In per cent of a line.
_BEFORE_A_NOTE = 3.0
#: A straight line, as a path.
_STRAIGHT = re.compile(r'<path d="(M[-\d]+ [-\d]+ L[-\d]+ [-\d]+)" (stroke-width="\d+")/>')


class DrawnSheet(NamedTuple):
    """Lines of music, and the outlines (SVG paths) of the signs that they use, by name."""

    lines: list[dict[str, Any]]
    glyphs: dict[str, str]


def drawn_sheets(page: SheetPage, look: SheetLook = _USUAL) -> dict[str, DrawnSheet]:
    """The music of a page in each of the widths: of each line its drawing, where its bars stand
    (index of the bar, left, right: per cent of the width), and in each bar the melody's notes
    (where in the bar, in whole notes; the middle of the head: per cent of width and height)."""
    lines = lines_of(page, look, list(WIDTHS.values()))
    return {width: _drawn(systems) for width, systems in zip(WIDTHS, lines, strict=True)}


def _drawn(systems: Sequence[System]) -> DrawnSheet:
    glyphs: dict[str, str] = {}
    return DrawnSheet([_line(system, glyphs) for system in systems], glyphs)


def _line(system: System, glyphs: dict[str, str]) -> dict[str, Any]:
    root = ElementTree.fromstring(system.svg)
    for group in root.iterfind(f"{SPACE}defs/{SPACE}g"):
        name = _GLYPH.match(group.get("id", ""))
        if name:
            glyphs[f"g{name[1]}"] = group[0].get("d", "")
    notes = notes_on_line(root, system)
    bars = [
        [each.bar, across(each.left, system), across(each.right, system)] for each in system.bars
    ]
    if bars and notes[0] and notes[0][0][0] == 0:  # it begins behind clef, signature, metre
        bars[0][1] = max(bars[0][1], round(notes[0][0][1] - _BEFORE_A_NOTE, 2))
    drawing = root.find(f"{SPACE}svg")
    assert drawing is not None
    return {
        "svg": with_joined_lines(cleaned(drawing)),
        "part": system.part,
        "bars": bars,
        "notes": notes,
    }


def with_joined_lines(svg: str) -> str:
    """A drawing in which straight lines after each other, all as wide, are one path: a staff is.

    >>> with_joined_lines('<path d="M0 1 L9 1" stroke-width="3"/>'
    ...                   '<path d="M0 2 L9 2" stroke-width="3"/>')
    '<path d="M0 1 L9 1 M0 2 L9 2" stroke-width="3"/>'
    """
    joined: list[str] = []
    at, width = 0, ""
    for line in _STRAIGHT.finditer(svg):
        if width == line[2] and line.start() == at:
            joined[-2] += f" {line[1]}"
        else:
            joined += [svg[at : line.start()], f'<path d="{line[1]}', f'" {line[2]}/>']
        at, width = line.end(), line[2]
    return "".join((*joined, svg[at:]))
