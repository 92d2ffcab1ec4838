"""Small things that every part of the reader says or reads: numbers, names, notices."""

import re
from fractions import Fraction
from xml.etree.ElementTree import Element

from backing.errors import Notice, TuneError

_DECIMAL = re.compile(r"\s*[+-]?\d{1,9}(?:\.\d{1,9})?\s*$")


def text_of(element: Element | None, path: str = "") -> str:
    """The text of an element or of one in it, "" where there is none."""
    found = element.find(path) if element is not None and path else element
    return (found.text or "").strip() if found is not None else ""


def number_of(text: str) -> Fraction:
    """An exact number from decimal text; ValueError for anything else.

    >>> number_of("2.5")
    Fraction(5, 2)
    """
    if not _DECIMAL.match(text):
        raise ValueError(f"{text.strip()[:20]!r} is not a number")
    return Fraction(text.strip())


def bounded_number(text: str, low: int, high: int) -> int:
    """A whole number between two bounds; ValueError for anything else."""
    number = number_of(text)
    if number.denominator != 1 or not low <= number <= high:
        raise ValueError(f"{text.strip()[:20]!r} is not a whole number from {low} to {high}")
    return int(number)


class Remarks:
    """What is odd but playable, each said once, with the part and the bar that it is in."""

    def __init__(self) -> None:
        self.notices: list[Notice] = []
        self._said: set[str] = set()

    def add(self, where: str, message: str, hint: str = "") -> None:
        """A notice about a place; the same message is not said of a second place."""
        if message not in self._said:
            self._said.add(message)
            self.notices.append(Notice(f"{where}: {message}", hint))


def fault(where: str, message: object, hint: str = "") -> TuneError:
    """An error about a place."""
    return TuneError(f"{where}: {message}", hint)
