"""Music signs in Verovio's texts, which no text font has: drawn, or written as plain text.

Verovio sets accidentals of chord letters, and the note of a tempo, as text in its own music
font.  The accidentals have plain signs; other signs are drawn from the outlines that Verovio
brings (SMuFL glyphs by their code points).
"""

import re
from functools import lru_cache
from importlib.resources import files
from typing import NamedTuple
from xml.etree import ElementTree

from backing.render.sheet.look import TEXT_FONT

#: Accidentals of chord letters (SMuFL 1.4, "Chord symbols", "Figured bass", "Standard
#: accidentals").
_PLAIN = {
    "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯", "\ued64": "♭♭",
    "\uea63": "♭♭", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯",
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "♯♯", "\ue264": "♭♭",
}  # fmt: skip
_FONT = "Leipzig"
_TEXT = re.compile(r'<text x="(-?\d+)" y="(-?\d+)"([^>]*)>(.*?)</text>', re.DOTALL)
_MUSIC = re.compile(rf'<tspan font-family="{_FONT}" font-size="(\d+)px">([^<]*)</tspan>')
_HOLLOW = re.compile(r"<tspan[^>]*></tspan>")
#: The size of chord letters against that of their music signs in Verovio's drawings.
_LETTERS = 405 / 720
_EM = 1000


class Glyph(NamedTuple):
    """The outline of a music sign, in an em of 1000 with y upwards, and how wide it is."""

    outline: str
    advance: float


def with_text_fonts(svg: str) -> str:
    """A drawing of Verovio's whose texts need no font but our own."""
    svg = svg.replace('font-family="Times, serif"', f'font-family="{TEXT_FONT}"')
    svg = svg.replace(' font-family="Times"', "")
    return _TEXT.sub(_mended, svg) if f'font-family="{_FONT}"' in svg else svg


def _mended(text: re.Match[str]) -> str:
    x, y, more, inside = int(text[1]), int(text[2]), text[3], text[4]
    drawn: list[str] = []
    right = float(x)

    def mend(music: re.Match[str]) -> str:
        nonlocal right
        size, signs = int(music[1]), music[2]
        plain = "".join(_PLAIN.get(sign, "") for sign in signs)
        if plain:
            return f'<tspan font-size="{round(size * _LETTERS)}px">{plain}</tspan>'
        for sign in "".join(signs.split()):
            glyph = glyph_of(sign)
            drawn.append(_placed(glyph, right, y, size))
            right += glyph.advance * size / _EM
        return ""

    inside = _bare(_MUSIC.sub(mend, inside))
    return f'{"".join(drawn)}<text x="{round(right)}" y="{y}"{more}>{inside}</text>'


def _bare(inside: str) -> str:
    """Without elements that hold nothing, and the room between elements: the place of a text
    holds for its first letter, be it a space."""
    before, inside = "", re.sub(r">\s+<", "><", inside.strip())
    while inside != before:
        before, inside = inside, _HOLLOW.sub("", inside)
    return inside


def _placed(glyph: Glyph, x: float, y: float, size: int) -> str:
    scale = size / _EM
    return (
        f'<path transform="translate({x:.1f}, {y}) scale({scale:g}, -{scale:g})" '
        f'd="{glyph.outline}" stroke="none"/>'
    )


@lru_cache(maxsize=64)
def glyph_of(sign: str) -> Glyph:
    """A music sign of Verovio's font."""
    code = f"{ord(sign):04X}"
    folder = files("verovio").joinpath("data")
    outline = ElementTree.fromstring(folder.joinpath(_FONT, f"{code}.xml").read_bytes())[0].get("d")
    return Glyph(outline or "", _advances()[code])


@lru_cache(maxsize=1)
def _advances() -> dict[str, float]:
    text = files("verovio").joinpath("data", f"{_FONT}.xml").read_text(encoding="utf-8")
    return {code: float(wide) for code, wide in re.findall(r'c="(\w+)"[^>]*h-a-x="([\d.]+)"', text)}


#: Notes with stems up, and the dot (SMuFL 1.4, "Individual notes").
_NOTES = {"breve": "\ue1d0", "whole": "\ue1d2", "half": "\ue1d3", "quarter": "\ue1d5",
          "eighth": "\ue1d7", "16th": "\ue1d9", "32nd": "\ue1db"}  # fmt: skip
_DOT = "\ue1e7"
_HIGHEST, _LOWEST = 880, -140


def note_drawing(kind: str, dots: int) -> str:
    """A single note as a drawing (SVG): its type by the names of MusicXML, and its dots."""
    placed, right = [], 0.0
    for sign in _NOTES.get(kind, _NOTES["quarter"]) + _DOT * dots:
        glyph = glyph_of(sign)
        placed.append(_placed(glyph, right, _HIGHEST, _EM))
        right += glyph.advance + 40
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {right:.0f} {_HIGHEST - _LOWEST}">'
        f"{''.join(placed)}</svg>"
    )
