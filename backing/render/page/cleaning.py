"""Drawings of music as a page has them: written anew, element by element, from a list of those
that such a drawing has.  Whatever a text in the tune says, nothing in it can run.
"""

import re
from collections.abc import Mapping
from html import escape
from xml.etree.ElementTree import Element

from backing.render.sheet.text_width import text_width

SPACE = "{http://www.w3.org/2000/svg}"
_NAMES = ("svg", "g", "path", "polygon", "polyline", "rect", "ellipse", "text", "tspan", "use")
_ELEMENTS = {f"{SPACE}{name}": name for name in _NAMES}
_ATTRIBUTES = frozenset(
    {
        "d", "x", "y", "cx", "cy", "r", "rx", "ry", "points", "transform", "width", "height",
        "viewBox", "font-size", "font-style", "font-weight", "text-anchor", "stroke-width",
        "stroke-linecap", "stroke-linejoin", "stroke-dasharray", "stroke-opacity", "fill-opacity",
    }
)  # fmt: skip
#: Elements that show nothing themselves: without attributes only what is in them is written.
_HOLLOW = frozenset({"g", "tspan"})
_TEXTS = frozenset({"text", "tspan"})
_LINKS = frozenset({"href", "{http://www.w3.org/1999/xlink}href"})
_COLOURED = frozenset({"fill", "stroke"})
#: What the engraver keeps for itself, and shows nobody.
_HIDDEN = "placeholder"
_GLYPH = re.compile(r"#([0-9A-F]{4,5})\b")
#: A fill or a stroke that fetches something is none.
_COLOUR = re.compile(r"(?:none|currentColor|black|white|#[0-9a-fA-F]{3,6})$")
#: The stroke that page.css gives to all that is drawn.
_USUAL = ("stroke", "currentColor")
#: What says how letters look.
_LETTERS = frozenset({"font-size", "font-style", "font-weight"})
_SIZE = re.compile(r"([\d.]+)px$")
_SPECIAL = re.compile('[&<>"]')
#: Spaces that a browser leaves out.
_LEFT_OUT = re.compile("^ |  | $")


def cleaned(element: Element) -> str:
    """An element of a drawing with what is known of its attributes and of the elements in it.

    Groups that say nothing are left out, and a text keeps to the room that the engraver made for
    it, whatever font it is shown in.
    """
    parts: list[str] = []
    _write(element, _ELEMENTS[element.tag], {}, parts)
    return "".join(parts)


def _write(element: Element, name: str, around: Mapping[str, str], parts: list[str]) -> None:
    """Write an element that is known; `around` is how letters look where it stands."""
    known = _known(element)
    looks = around
    if name in _TEXTS:
        while (only := _only_in(element)) is not None:
            element = only
            known |= _known(element)
    if known and not known.keys().isdisjoint(_LETTERS):
        looks = {**around, **{key: known[key] for key in _LETTERS & known.keys()}}
    text = element.text
    if name in _TEXTS and not len(element):
        if name == "text" and not (text and text.strip()):
            return
        known |= _room(text or "", looks)
    tagged = known or name not in _HOLLOW
    if tagged:
        said = "".join([f' {key}="{_plain(value)}"' for key, value in known.items()])
        parts.append(f"<{name}{said}>")
    opened = len(parts)
    if text:
        parts.append(_plain(text))
    for child in element:
        kind = _drawn_as(child)
        if kind:
            _write(child, kind, looks, parts)
        if child.tail:  # a text goes on after what is left out
            parts.append(_plain(child.tail))
    if not tagged:
        return
    if len(parts) > opened:
        parts.append(f"</{name}>")
    elif name in _HOLLOW:
        parts.pop()
    else:
        parts[-1] = f"{parts[-1][:-1]}/>"


def _plain(text: str) -> str:
    return escape(text) if _SPECIAL.search(text) else text


def _known(element: Element) -> dict[str, str]:
    """The attributes of an element that may be shown."""
    found: dict[str, str] = {}
    for name, value in element.items():
        if name in _ATTRIBUTES:
            found[name] = value
        elif name in _LINKS:
            glyph = _GLYPH.match(value)
            if glyph:
                found["href"] = f"#g{glyph[1]}"
        elif name in _COLOURED and (name, value) != _USUAL and _COLOUR.match(value):
            found[name] = value
    return found


def _drawn_as(element: Element) -> str:
    """The name of an element that may be shown; "" for others."""
    name = _ELEMENTS.get(element.tag, "")
    return "" if name and _HIDDEN in element.get("class", "") else name


def _only_in(element: Element) -> Element | None:
    """The element that is all that a text holds."""
    if len(element) == 1 and not (element.text or element[0].tail) and _drawn_as(element[0]):
        return element[0]
    return None


def _room(text: str, looks: Mapping[str, str]) -> dict[str, str]:
    """The attributes that hold a text to the room that it has; a browser leaves spaces out."""
    size = _SIZE.match(looks.get("font-size", ""))
    bold, italic = looks.get("font-weight") == "bold", looks.get("font-style") == "italic"
    width = text_width(text, bold=bold, italic=italic)
    if size is None or not width or _LEFT_OUT.search(text):
        return {}
    reach = round(float(size[1]) * width)
    return {"textLength": f"{reach}", "lengthAdjust": "spacingAndGlyphs"}
