"""Macros of ABC: text that stands for other text (ABC 2.1 clause 9).

A static macro replaces its text.  A transposing one has an `n` for any note; in what
replaces it the letters h to z are notes so many steps away from it (n is the note).
"""

import re
from typing import NamedTuple

from backing.parse.abc.limits import MOST_IN_FIELD, MOST_MACROS

_NOTE = r"([A-Ga-g])([,']*)"
_LETTERS = "CDEFGAB"
_MOST_TARGET, _MOST_TEXT = 31, 200


class Macro(NamedTuple):
    """What is replaced, by what, and whether any note fits."""

    target: re.Pattern[str]
    text: str
    moving: bool


class Expanded(NamedTuple):
    """A line with its macros written out; `columns` and `ends` have the source columns where
    each sign begins and ends."""

    text: str
    columns: tuple[int, ...]
    ends: tuple[int, ...]


def parse_macro(value: str) -> Macro:
    """The macro of an `m:` field; ValueError where it is none or too long."""
    target, equals, text = value.partition("=")
    target, text = target.strip(), text.strip()
    if not equals or not target:
        raise ValueError(f"{value!r} is not a macro like ~A2 = A/B/A/G/")
    if len(target) > _MOST_TARGET or len(text) > _MOST_TEXT:
        raise ValueError(f"the macro {target[:12]!r} is too long")
    stem = re.match(r"(.*)n(\d*(?:/\d*)?)$", target)
    if stem is None:
        return Macro(re.compile(re.escape(target)), text, moving=False)
    pattern = re.escape(stem[1]) + _NOTE + re.escape(stem[2]) + r"(?![\d/,'])"
    return Macro(re.compile(pattern), text, moving=True)


def with_macro(macros: tuple[Macro, ...], value: str) -> tuple[Macro, ...]:
    """The macros and the one of another `m:` field, which takes the place of one with the same
    target (clause 3).  ValueError where there are too many."""
    new = parse_macro(value)
    others = [macro for macro in macros if macro.target != new.target]
    if len(others) == MOST_MACROS:
        raise ValueError(f"more than {MOST_MACROS} macros")
    return (*others, new)


def expand(line: str, macros: tuple[Macro, ...]) -> Expanded:
    """A music line with its macros written out; quoted texts are left alone.

    ValueError where the line, before or after, is longer than 20,000 signs.
    """
    text = line
    _check_line(text)
    columns, ends = tuple(range(1, len(line) + 2)), tuple(range(2, len(line) + 3))
    for macro in macros:
        pieces: list[str] = []
        places: list[int] = []
        stops: list[int] = []
        at = counted = quotes = 0
        for match in macro.target.finditer(text):
            quotes += text.count('"', counted, match.start())
            counted = match.start()
            if quotes % 2:
                continue
            new = _moved(macro.text, match[1], match[2]) if macro.moving else macro.text
            pieces += [text[at : match.start()], new]
            places += columns[at : match.start()]
            places += [columns[match.start()]] * len(new)
            stops += ends[at : match.start()]
            stops += [ends[match.end() - 1]] * len(new)
            at = match.end()
        if not pieces:
            continue
        text = "".join(pieces) + text[at:]
        columns, ends = (*places, *columns[at:]), (*stops, *ends[at:])
        _check_line(text)
    return Expanded(text, columns, ends)


def _check_line(text: str) -> None:
    if len(text) > MOST_IN_FIELD:
        raise ValueError(f"a line with macros is longer than {MOST_IN_FIELD:,} signs")


def _moved(text: str, letter: str, marks: str) -> str:
    """The replacement with its letters h to z made into notes round this one."""
    place = _LETTERS.index(letter.upper()) + 7 * (
        marks.count("'") - marks.count(",") + letter.islower()
    )
    inside = False
    out = []
    for sign in text:
        inside ^= sign in '"!'
        if not inside and "h" <= sign <= "z":
            out.append(_letter(place + ord(sign) - ord("n")))
        else:
            out.append(sign)
    return "".join(out)


def _letter(place: int) -> str:
    """The note letter so many steps above middle C."""
    octave, step = divmod(place, 7)
    if octave >= 1:
        return _LETTERS[step].lower() + "'" * (octave - 1)
    return _LETTERS[step] + "," * -octave
