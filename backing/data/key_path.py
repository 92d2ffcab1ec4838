"""Where something stands in a file and what stands there, in words."""

import re
from collections.abc import Mapping
from datetime import date, datetime, time
from fractions import Fraction

from backing.wording import ordinal

#: Where a value stands: keys, and in a list its place, counted from 0.
KeyPath = tuple[str | int, ...]

_MOST_SHOWN = 40
_MOST_ITEMS = 8
_PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]+$")
#: A table of tables, each called by its own name: "variant fifths".
_NAMED = "variant"


def in_words(path: KeyPath, items: Mapping[str, str]) -> str:
    """A place in words; `items` says what one item of a list is called.

    >>> in_words(("figure", 1, "strokes", 0, "degree"), {"figure": "figure", "strokes": "stroke"})
    'second figure, first stroke, degree'
    >>> in_words(("variant", "thin", "chord"), {}), in_words(("without", 1), {})
    ('variant thin, chord', 'second of without')
    """
    words: list[str] = []
    for before, part in zip(("", *path), path, strict=False):
        if isinstance(part, int):
            item = items.get(str(before))
            words[-1] = f"{ordinal(part + 1)} {item or f'of {words[-1]}'}"
        elif before == _NAMED and len(words) == 1:
            words[-1] += f" {key_shown(part)}"
        else:
            words.append(key_shown(part))
    return ", ".join(words)


def key_shown(key: str) -> str:
    """A key as it may be shown: quoted where a file must quote it, never endless."""
    return key if len(key) <= _MOST_SHOWN and _PLAIN_KEY.match(key) else shown(key)


def shown(value: object) -> str:
    """A value as it may be shown: nothing endless.

    >>> shown("D"), shown(True), shown(Fraction(3, 2)), shown([1, {}]), len(shown("x" * 1000))
    ("'D'", 'true', '1.5', '[1, a table]', 40)
    """
    try:
        said = _said(value)
    except ValueError:  # Python writes out no whole number of more than 4,300 digits
        return "a number of thousands of digits"
    return said if len(said) <= _MOST_SHOWN else f"{said[: _MOST_SHOWN - 3]}..."


def _said(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case Fraction():
            return str(float(value))
        case datetime() | date() | time():
            return str(value)
        case dict():
            return "a table"
        case list():
            return f"[{', '.join(_said(item) for item in value[:_MOST_ITEMS])}]"
        case str():
            return repr(value[: 2 * _MOST_SHOWN])
        case _:
            return repr(value)
