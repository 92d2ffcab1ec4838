"""Words in the columns of a terminal."""

import re
from collections.abc import Iterable, Sequence
from unicodedata import combining, east_asian_width

#: Texts of signs that take one column each: Latin, dashes and dots, arrows, lines and blocks.
_NARROW = re.compile("[ -\u02ff\u2010-\u2027\u2190-\u21ff\u2500-\u259f]*")
#: Columns between two texts that stand side by side.
_WORD_GAP = 3


def fitting(text: str, width: int) -> str:
    """As much of a text as fits into so many columns.

    >>> fitting("bar 12", 5), fitting("日本", 3)
    ('bar 1', '日')
    """
    if _NARROW.fullmatch(text):
        return text[: max(width, 0)]
    for at, sign in enumerate(text):
        width -= _columns_of(sign)
        if width < 0:
            return text[:at]
    return text


def columns_wide(text: str) -> int:
    """How many columns of a terminal a text takes.

    >>> columns_wide("bar 12"), columns_wide("日本")
    (6, 4)
    """
    return len(text) if _NARROW.fullmatch(text) else sum(map(_columns_of, text))


def wrapped(texts: Iterable[str], columns: int) -> list[str]:
    """Texts in lines of so many columns, broken between words.

    >>> wrapped(["only bars 5-6", "round 2 of 8"], 9)
    ['only bars', '5-6', 'round 2', 'of 8']
    """
    lines = []
    for text in texts:
        line = ""
        for word in text.split(" "):
            longer = f"{line} {word}" if line else word
            if line and columns_wide(longer) > columns:
                lines.append(fitting(line, columns))
                longer = word
            line = longer
        lines.append(fitting(line, columns))
    return lines


def _columns_of(sign: str) -> int:
    return 0 if combining(sign) else 2 if east_asian_width(sign) in "WF" else 1


def flowed(texts: Sequence[str], columns: int, rows: int) -> tuple[list[str], list[str]]:
    """Texts side by side in so many lines, and those for which there is no room."""
    lines: list[str] = []
    over: list[str] = []
    for text in texts:
        wide = columns_wide(text)
        if lines and columns_wide(lines[-1]) + _WORD_GAP + wide <= columns:
            lines[-1] += " " * _WORD_GAP + text
        elif len(lines) < rows and wide <= columns:
            lines.append(text)
        else:
            over.append(text)
    return lines, over


def in_order(texts: Sequence[str], columns: int) -> list[str]:
    """Texts side by side, in as many lines as they need."""
    lines: list[str] = []
    for text in filter(None, texts):
        if lines and columns_wide(lines[-1]) + _WORD_GAP + columns_wide(text) <= columns:
            lines[-1] += " " * _WORD_GAP + text
        else:
            lines += wrapped([text], columns)
    return lines
