"""Where ink is on a drawn line of music, and which texts touch something there.

Ink is where the tables of the engraver have it: of each letter in Times, of each sign in its own
font; a beam or a curve is as many small boxes.
"""

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise
from typing import NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

#: What comes nearer than this touches, in the tenths of a unit in which lines are drawn: a quarter
#: of a staff space, for devices show texts in fonts of their own, whose letters are higher.
NEAR = 45.0
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_STEP = re.compile(r"([MLC])([^MLCZ]*)")
_GLYPH = re.compile(r"#([0-9A-F]{4,5})")
_BOXES = re.compile(
    r'<g c="(\w+)" x="([-\d.]+)" y="([-\d.]+)" w="([-\d.]+)" h="([-\d.]+)"(?: h-a-x="([\d.]+)")?'
)
#: Kinds of texts and signs: classes of groups in a drawing; others belong to what is around them.
_KINDS = frozenset({
    "dir", "harm", "syl", "label", "reh", "tempo", "dynam", "fing", "ending", "ornam", "notehead",
    "stem", "dots", "flag", "accid", "artic", "clef", "keySig", "meterSig", "rest", "mRest", "beam",
    "bTrem", "tie", "slur", "ledgerLines", "barLine", "tuplet", "tupletNum", "tupletBracket",
    "fermata", "trill", "mordent", "turn", "hairpin", "arpeg", "breath", "caesura", "octave",
    "staff",
})  # fmt: skip


class Ink(NamedTuple):
    """A box with something drawn in it; `owner` is the text or sign that it is of."""

    left: float
    top: float
    right: float
    bottom: float
    kind: str
    owner: int
    text: str = ""


class Collision(NamedTuple):
    """Two kinds of things that touch, and what they say where they are texts."""

    kinds: tuple[str, str]
    texts: tuple[str, str]


def inks(svg: str) -> list[Ink]:
    """All that is drawn in a line of music, in the tenths of a unit in which it is drawn."""
    drawing = ElementTree.fromstring(svg)
    found: list[Ink] = []
    for child in drawing:
        if not child.tag.endswith("defs"):
            _collect(child, "", [0], found)
    return found


def _collect(element: Element, kind: str, owners: list[int], found: list[Ink]) -> None:
    names = element.get("class", "").split()
    kind = next((name for name in names if name in _KINDS), kind)
    tag = element.tag.rpartition("}")[2]
    if tag == "text":
        owners[0] += 1
        found.extend(_text(element, kind, owners[0]))
        return
    if tag in _SHAPES:
        owners[0] += 1
        found.extend(Ink(*box, kind, owners[0]) for box in _SHAPES[tag](element))
    for child in element:
        _collect(child, kind, owners, found)


# -- shapes ---------------------------------------------------------------------------

Box = tuple[float, float, float, float]


def _numbers(text: str | None) -> list[float]:
    return [float(number) for number in _NUMBER.findall(text or "")]


def _use(element: Element) -> Iterator[Box]:
    link = next((v for k, v in element.attrib.items() if k.endswith("href")), "")
    glyph = _GLYPH.match(link)
    places = _numbers(element.get("transform"))
    if glyph and len(places) >= 3:
        x, y, scale = places[:3]
        left, low, wide, high, _ = _table("Leipzig", "")[chr(int(glyph[1], 16))]
        yield (x + left * scale, y - (low + high) * scale, x + (left + wide) * scale,
               y - low * scale)  # fmt: skip


def _path(element: Element) -> Iterator[Box]:
    """A path that is no sign: straight lines, and ties and slurs (cubic curves)."""
    if element.get("transform"):
        return
    half = float(element.get("stroke-width", "0")) / 2
    at = (0.0, 0.0)
    for step, rest in _STEP.findall(element.get("d", "")):
        numbers = _numbers(rest)
        points = list(zip(numbers[::2], numbers[1::2], strict=False))
        if step == "M":
            at, points = points[0], points[1:]
        if step == "C":
            for first, second, last in zip(points[::3], points[1::3], points[2::3], strict=False):
                yield from _pieces([_on_curve(at, first, second, last, n / 16) for n in range(17)],
                                   half)  # fmt: skip
                at = last
        else:
            for point in points:
                yield from _pieces(_on_line(at, point), half)
                at = point


def _on_curve(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float],
              d: tuple[float, float], t: float) -> tuple[float, float]:  # fmt: skip
    u = 1 - t
    x, y = (u**3 * a[n] + 3 * u * u * t * b[n] + 3 * u * t * t * c[n] + t**3 * d[n] for n in (0, 1))
    return x, y


def _on_line(a: tuple[float, float], b: tuple[float, float]) -> list[tuple[float, float]]:
    count = 1 if a[0] == b[0] or a[1] == b[1] else 16
    return [(a[0] + (b[0] - a[0]) * n / count, a[1] + (b[1] - a[1]) * n / count)
            for n in range(count + 1)]  # fmt: skip


def _pieces(points: Sequence[tuple[float, float]], half: float) -> Iterator[Box]:
    for (x, y), (right, bottom) in pairwise(points):
        yield (min(x, right) - half, min(y, bottom) - half, max(x, right) + half,
               max(y, bottom) + half)  # fmt: skip


def _polyline(element: Element) -> Iterator[Box]:
    numbers = _numbers(element.get("points"))
    points = list(zip(numbers[::2], numbers[1::2], strict=True))
    half = float(element.get("stroke-width", "0")) / 2
    for a, b in pairwise(points):
        yield from _pieces(_on_line(a, b), half)


def _polygon(element: Element) -> Iterator[Box]:
    """A beam: a slanted bar with two upright edges; else the whole of it."""
    numbers = _numbers(element.get("points"))
    points = list(zip(numbers[::2], numbers[1::2], strict=True))
    edges = sorted({x for x, _ in points})
    if len(points) != 4 or len(edges) != 2:
        xs, ys = numbers[::2], numbers[1::2]
        yield min(xs), min(ys), max(xs), max(ys)
        return
    left, right = (sorted(y for x, y in points if x == edge) for edge in edges)
    for n in range(16):
        start, stop = n / 16, (n + 1) / 16
        tops = [left[0] + (right[0] - left[0]) * t for t in (start, stop)]
        lows = [left[1] + (right[1] - left[1]) * t for t in (start, stop)]
        width = edges[1] - edges[0]
        yield edges[0] + width * start, min(tops), edges[0] + width * stop, max(lows)


def _rect(element: Element) -> Iterator[Box]:
    x, y, wide, high = (float(element.get(name, "0")) for name in ("x", "y", "width", "height"))
    yield x, y, x + wide, y + high


def _ellipse(element: Element) -> Iterator[Box]:
    x, y, rx, ry = (float(element.get(name, "0")) for name in ("cx", "cy", "rx", "ry"))
    yield x - rx, y - ry, x + rx, y + ry


_SHAPES = {
    "use": _use, "path": _path, "polyline": _polyline, "polygon": _polygon, "rect": _rect,
    "ellipse": _ellipse,
}  # fmt: skip


# -- texts ----------------------------------------------------------------------------


def _text(element: Element, kind: str, owner: int) -> list[Ink]:
    """The letters of a text, one box each."""
    runs = list(_runs(element, 0.0, False, False))
    whole = "".join(text for text, *_ in runs).replace("\u00a0", " ").strip()
    if not whole:
        return []
    x, y = float(element.get("x", "0")), float(element.get("y", "0"))
    reach = sum(_table(*font)[sign][4] * size for text, size, font in runs for sign in text
                if sign in _table(*font))  # fmt: skip
    anchor = next((e.get("text-anchor") for e in element.iter() if e.get("text-anchor")), "start")
    x -= {"end": reach, "middle": reach / 2}.get(anchor or "", 0.0)
    found: list[Ink] = []
    for text, size, font in runs:
        for sign in text:
            left, low, wide, high, advance = _table(*font).get(sign, (0.05, 0.0, 0.4, 0.7, 0.5))
            if wide and high:
                found.append(Ink(x + left * size, y - (low + high) * size,
                                 x + (left + wide) * size, y - low * size, kind, owner,
                                 whole))  # fmt: skip
            x += advance * size
    return found


def _runs(
    element: Element, size: float, bold: bool, italic: bool
) -> Iterator[tuple[str, float, tuple[str, str]]]:
    size = float(element.get("font-size", f"{size}px").removesuffix("px"))
    bold = element.get("font-weight", "bold" if bold else "") == "bold"
    italic = element.get("font-style", "italic" if italic else "") == "italic"
    style = "-" * (bold or italic) + "-".join(["bold"] * bold + ["italic"] * italic)
    if element.text and element.text.strip("\n "):
        yield element.text, size, ("Times", style)
    for child in element:
        yield from _runs(child, size, bold, italic)


@lru_cache(maxsize=8)
def _table(font: str, style: str) -> dict[str, tuple[float, float, float, float, float]]:
    """Of each sign where its ink is, and how far it reaches: in ems for letters, in the drawing's
    own units for music signs."""
    folder = files("verovio").joinpath("data")
    place = folder.joinpath("text", f"{font}{style}.xml") if font == "Times" else None
    text = (place or folder.joinpath(f"{font}.xml")).read_text(encoding="utf-8")
    em = 2048.0 if font == "Times" else 1.0
    found: dict[str, tuple[float, float, float, float, float]] = {}
    for code, x, y, wide, high, reach in _BOXES.findall(text):
        sign = bytes.fromhex(code).decode("utf-8") if font == "Times" else chr(int(code, 16))
        numbers = (float(x), float(y), float(wide), float(high), float(reach or wide))
        found[sign] = tuple(number / em for number in numbers)  # type: ignore[assignment]
    if font == "Times":
        found["\u00a0"] = found[" "]
    return found


# -- what touches -----------------------------------------------------------------------


def collisions(svg: str, near: float = NEAR) -> list[Collision]:
    """Texts that touch something, each pair once."""
    drawn = inks(svg)
    letters = [ink for ink in drawn if ink.text]
    signs = [ink for ink in drawn if not ink.text]
    found: dict[tuple[int, int], Collision] = {}
    for at, letter in enumerate(letters):
        for other in (*letters[at + 1 :], *signs):
            pair = (letter.owner, other.owner)
            if pair[0] == pair[1] or pair in found or _framed(letter, other):
                continue
            if _touch(letter, other, near):
                first, second = sorted([(letter.kind, letter.text), (other.kind, other.text)])
                found[pair] = Collision((first[0], second[0]), (first[1], second[1]))
    return list(found.values())


def _touch(letter: Ink, other: Ink, near: float) -> bool:
    """Whether two boxes come so near; lines of text may stand nearer above each other."""
    above = near / 4 if other.text else near
    return (
        letter.left - near < other.right
        and other.left < letter.right + near
        and letter.top - above < other.bottom
        and other.top < letter.bottom + above
    )


def _framed(letter: Ink, other: Ink) -> bool:
    """Whether something is the frame of a text: a box that it stands in, an ending's bracket."""
    framed = letter.kind in ("reh", "dir", "ending", "tuplet")
    return framed and letter.kind == other.kind and not other.text
