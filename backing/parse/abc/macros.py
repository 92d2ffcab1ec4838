"""Macros of ABC: text that stands for other text (ABC 2.1 clause 9).

A static macro replaces its text.  A transposing one has an `n` for any note; in what
replaces it the letters h to z are notes so many steps away from it (n is the note).
"""

import re
from typing import NamedTuple

_NOTE = r"([A-Ga-g])([,']*)"
_LETTERS = "CDEFGAB"
_MOST_TARGET, _MOST_TEXT, _MOST_LINE = 31, 200, 20_000


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
    target (clause 3)."""
    new = parse_macro(value)
    return (*(macro for macro in macros if macro.target != new.target), new)


def expand(line: str, macros: tuple[Macro, ...]) -> Expanded:
    """A music line with its macros written out; quoted texts are left alone."""
    text = line
    columns, ends = tuple(range(1, len(line) + 2)), tuple(range(2, len(line) + 3))
    for macro in macros:
        pieces: list[str] = []
        places: list[int] = []
        stops: list[int] = []
        at = 0
        for match in macro.target.finditer(text):
            if text.count('"', 0, match.start()) % 2:
                continue
            new = _moved(macro.text, match[1], match[2]) if macro.moving else macro.text
            pieces += [text[at : match.start()], new]
            places += columns[at : match.start()]
            places += [columns[match.start()]] * len(new)
            stops += ends[at : match.start()]
            stops += [ends[match.end() - 1]] * len(new)
            at = match.end()
        text = "".join(pieces) + text[at:]
        columns, ends = (*places, *columns[at:]), (*stops, *ends[at:])
        if len(text) > _MOST_LINE:
            raise ValueError("the macros make the line too long")
    return Expanded(text, columns, ends)


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
