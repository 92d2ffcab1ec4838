"""XML elements with text, and how long each printed note is."""

import re
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from backing.music.tempo import Tempo
from backing.music.tune import Note

#: The same said as what is allowed takes 5 ms to compile.
_NOT_ALLOWED = re.compile("[\0-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
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


def beat_unit(tempo: Tempo) -> tuple[Tempo, str, int]:
    """A tempo as it can be printed, in quarter notes where its own unit is no printed note;
    type and dots of its unit."""
    for length, name, dots in PRINTED:
        if length == tempo.unit:
            return tempo, name, dots
    return tempo.in_unit(Fraction(1, 4)), "quarter", 0


def add(parent: Element, tag: str, text: object, **attributes: str) -> Element:
    """An element with text in it."""
    element = SubElement(parent, tag, attributes)
    element.text = allowed(str(text))
    return element


def allowed(text: str) -> str:
    """The text without the signs that XML 1.0 does not allow."""
    return _NOT_ALLOWED.sub("", text)


class PrintedNote(NamedTuple):
    """One printed note: what it lasts, its type and dots, the ratio of its tuplet."""

    length: Fraction
    type: str
    dots: int
    ratio: tuple[int, int] = (1, 1)


def pieces_of(note: Note) -> tuple[PrintedNote, ...]:
    """The printed notes that make up one length; a type of "" where none fits."""
    return _pieces(note.length, (note.tuplet.notes, note.tuplet.normal) if note.tuplet else None)


@lru_cache(maxsize=4096)
def _pieces(length: Fraction, tuplet: tuple[int, int] | None) -> tuple[PrintedNote, ...]:
    ratio = tuplet or (1, 1)
    left = length * ratio[0] / ratio[1]
    odd = left.denominator
    while odd % 2 == 0:
        odd //= 2
    if odd > 1 and tuplet is None:
        ratio = odd, 1 << (odd.bit_length() - 1)
        left = length * ratio[0] / ratio[1]
        odd = 1
    pieces: list[PrintedNote] = []
    while odd == 1 and left and len(pieces) < 40:
        fitting = (printed for printed in PRINTED if printed[0] <= left)
        plain, name, dots = next(fitting, (Fraction(0), "", 0))
        if not plain:
            break
        pieces.append(PrintedNote(plain * ratio[1] / ratio[0], name, dots, ratio))
        left -= plain
    return tuple(pieces) if pieces and not left else (PrintedNote(length, "", 0),)
