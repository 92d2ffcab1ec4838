"""Reading a player's TOML file key by key, so that all its faults are reported at once.

Styles, boxes, costs and controls are such files.
"""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from backing.data.file_kind import FaultAt, FileKind, refuse
from backing.data.key_path import KeyPath, in_words, shown
from backing.data.toml_text import toml_data
from backing.errors import did_you_mean
from backing.wording import either

#: More keys than these are not listed for a player who has mistyped one.
_MOST_LISTED = 12
#: A no-break space is part of a text.
_SPACES = re.compile(r"[ \t\r\n]+")


class KeyFault(NamedTuple):
    """A fault at a key: its path, and what is wrong there."""

    path: KeyPath
    message: str


class DataReader:
    """Checks a file's data and keeps every fault with its key path.

    `kind` tells what sort of file it is; the constructor raises that kind's error where the
    text is not TOML.
    """

    kind: FileKind

    def __init__(self, text: str, source: str) -> None:
        self.text_read, self.source = text, source
        self.data = toml_data(text, source, self.kind)
        self.faults: list[KeyFault] = []

    def fault(self, path: KeyPath, message: str) -> None:
        """Keep a fault."""
        self.faults.append(KeyFault(path, message))

    def check(self) -> None:
        """Raise the kind's error where there are faults, each with its line and place."""
        if self.faults:
            from backing.data.key_lines import key_lines

            lines = key_lines(self.text_read)
            placed = [
                FaultAt(_line(path, lines), in_words(path, self.kind.items), message)
                for path, message in self.faults
            ]
            refuse(self.kind, self.source, placed)

    def line(self, path: KeyPath) -> int:
        """The line of a key, from 1; 0 where it is not known."""
        from backing.data.key_lines import key_lines

        return key_lines(self.text_read).get(path, 0)

    # -- what stands at a key ---------------------------------------------------

    def known(self, data: dict[str, Any], path: KeyPath, keys: Sequence[str]) -> None:
        """A fault for every key that is none of these."""
        for key in data:
            if key not in keys:
                listed = f"known here are {', '.join(keys)}" if len(keys) <= _MOST_LISTED else ""
                near = did_you_mean(key[:40], list(keys)) or listed
                self.fault((*path, key), f"unknown key; {near}" if near else "unknown key")

    def text(self, data: dict[str, Any], key: str, path: KeyPath = ()) -> str:
        """A text that must be there."""
        value = data.get(key)
        if not isinstance(value, str) or not value.strip():
            said = f'expected a text in "quotes", got {shown(value)}'
            self.fault((*path, key), "missing" if value is None else said)
            return ""
        return " ".join(_SPACES.split(value.strip()))

    def flag(self, data: dict[str, Any], key: str, path: KeyPath = ()) -> bool:
        """True or false; true where nothing is said."""
        value = data.get(key, True)
        if not isinstance(value, bool):
            self.fault((*path, key), f"expected true or false, got {shown(value)}")
            return True
        return value

    def table(self, value: object, path: KeyPath, example: str) -> dict[str, Any]:
        """A table; an empty one where something else stands."""
        if isinstance(value, dict):
            return value
        self.fault(path, f"expected {example}, got {shown(value)}")
        return {}

    def tables(
        self, data: dict[str, Any], key: str, path: KeyPath, example: str
    ) -> list[tuple[KeyPath, dict[str, Any]]]:
        """A list of tables that must be there, each with its path."""
        items = data.get(key)
        if not isinstance(items, list) or not items:
            said = f"expected {example}, got {shown(items)}"
            self.fault((*path, key), f"missing; expected {example}" if items is None else said)
            return []
        found = []
        for at, item in enumerate(items):
            if isinstance(item, dict):
                found.append(((*path, key, at), item))
            else:
                self.fault((*path, key, at), f"expected {example}, got {shown(item)}")
        return found

    def word(self, value: object, path: KeyPath, words: Sequence[str]) -> str | None:
        """One of these words; None at a fault."""
        if value in words:
            return str(value)
        near = did_you_mean(value[:40], list(words)) if isinstance(value, str) else ""
        said = "missing" if value is None else f"unknown: {shown(value)}"
        self.fault(path, f"{said}; {near or f'expected {either(words)}'}")
        return None

    def words(self, value: object, path: KeyPath, words: Sequence[str]) -> tuple[str, ...]:
        """One word, or a list of them, all of them known."""
        if not isinstance(value, list):
            word = self.word(value, path, words)
            return (word,) if word else ()
        found = [self.word(item, (*path, at), words) for at, item in enumerate(value)]
        return tuple(word for word in found if word)

    def whole(self, value: object, path: KeyPath, least: int, most: int, of: str) -> int:
        """A whole number of something, in a range; its end at a fault."""
        if isinstance(value, int) and not isinstance(value, bool) and least <= value <= most:
            return value
        self.fault(path, f"expected {least} to {most} {of}, got {shown(value)}")
        return most

    def number(self, value: object, path: KeyPath, least: Fraction, most: Fraction) -> Fraction:
        """A number in a range; its end at a fault."""
        number = plain_number(value)
        if number is not None and least <= number <= most:
            return number
        self.fault(path, f"expected a number from {least} to {most}, got {shown(value)}")
        return most


def _line(path: KeyPath, lines: dict[KeyPath, int]) -> int:
    """The line of a key; of the table around one that is missing."""
    return next((lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in lines), 0)


def plain_number(value: object) -> Fraction | None:
    """A number of the file, None for anything else."""
    if isinstance(value, int | Fraction) and not isinstance(value, bool):
        return Fraction(value)
    return None
