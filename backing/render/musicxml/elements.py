"""XML elements with text, and how long each printed note is."""

import re
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from backing.music.tune import Note

_NOT_ALLOWED = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TYPES = {
    Fraction(2): "breve", Fraction(1): "whole", Fraction(1, 2): "half",
    Fraction(1, 4): "quarter", Fraction(1, 8): "eighth", Fraction(1, 16): "16th",
    Fraction(1, 32): "32nd", Fraction(1, 64): "64th", Fraction(1, 128): "128th",
    Fraction(1, 256): "256th", Fraction(1, 512): "512th",
}  # fmt: skip
#: What one printed note can last, the longest first: type, dots.
PRINTED = sorted(
    ((plain * (2 - Fraction(1, 2**dots)), name, dots)
     for plain, name in _TYPES.items() for dots in (0, 1, 2)),
    reverse=True,
)  # fmt: skip


def add(parent: Element, tag: str, text: object, **attributes: str) -> Element:
    """An element with text in it."""
    element = SubElement(parent, tag, attributes)
    element.text = allowed(str(text))
    return element


def allowed(text: str) -> str:
    """The text without the signs that XML 1.0 does not allow."""
    return _NOT_ALLOWED.sub("", text)


@dataclass(frozen=True, slots=True)
class PrintedNote:
    """One printed note: what it lasts, its type and dots, the ratio of its tuplet."""

    length: Fraction
    type: str
    dots: int
    ratio: tuple[int, int] = (1, 1)


def pieces_of(note: Note) -> list[PrintedNote]:
    """The printed notes that make up one length; a type of "" where none fits."""
    ratio = (note.tuplet.notes, note.tuplet.normal) if note.tuplet else (1, 1)
    left = note.length * ratio[0] / ratio[1]
    odd = left.denominator
    while odd % 2 == 0:
        odd //= 2
    if odd > 1 and note.tuplet is None:
        ratio = odd, 1 << (odd.bit_length() - 1)
        left = note.length * ratio[0] / ratio[1]
        odd = 1
    pieces: list[PrintedNote] = []
    while odd == 1 and left and len(pieces) < 40:
        fitting = (printed for printed in PRINTED if printed[0] <= left)
        length, name, dots = next(fitting, (Fraction(0), "", 0))
        if not length:
            break
        pieces.append(PrintedNote(length * ratio[1] / ratio[0], name, dots, ratio))
        left -= length
    return pieces if pieces and not left else [PrintedNote(note.length, "", 0)]
