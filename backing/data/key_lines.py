"""On which line of a TOML text each key and each item of a list stands.

`tomllib` reads the values and tells no lines, so this goes through the text a second time,
where there are faults to be placed.  The text is one that `tomllib` has read: what is wrong
in it is not looked for.
"""

import re
import tomllib
from bisect import bisect_left

from backing.data.key_path import KeyPath

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY_PART = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""")
#: Three quotes may be followed by one or two that belong to the text.
_TEXT = re.compile(
    r'''"""(?:[^\\]|\\.)*?"{3,5}(?!")|'{3}.*?'{3,5}(?!')|"(?:[^"\\\n]|\\.)*"|'[^'\n]*\'''', re.S
)
#: Numbers, dates, true and false.
_BARE = re.compile(r"[^,\]}\n#]+")


def key_lines(text: str) -> dict[KeyPath, int]:
    """The line of each key, table and item, counted from 1; an item's path has its place.

    Nothing where the text cannot be followed: no line is better than a wrong one.

    >>> key_lines('a = 1\\n[[b]]\\nc = [2,\\n3]')
    {('a',): 1, ('b',): 2, ('b', 0): 2, ('b', 0, 'c'): 3, ('b', 0, 'c', 0): 3, ('b', 0, 'c', 1): 4}
    """
    scanner = _KeyScanner(text)
    try:
        scanner.document()
    except (ValueError, RecursionError):
        return {}
    return scanner.found


class _LostError(ValueError):
    """The text is not what was expected."""


class _KeyScanner:
    """Walks through a text, from key to key."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[KeyPath, int] = {}
        self._ends = [at for at, sign in enumerate(text) if sign == "\n"]
        #: How many tables each list of tables ([[figure]]) has so far.
        self._counts: dict[KeyPath, int] = {}

    def document(self) -> None:
        table: KeyPath = ()
        self.blank()
        while self.at < len(self.text):
            if self.took("[["):
                table = self.table_of_list()
                self.must("]]")
            elif self.took("["):
                table = self.keys(())
                self.must("]")
            else:
                self.pair(table)
            self.blank()

    def table_of_list(self) -> KeyPath:
        """The head of a further table of a list."""
        start = self.at
        path = self.keys((), last=False)
        number = self._counts.get(path, 0)
        self._counts[path] = number + 1
        self.record((*path, number), start)
        return (*path, number)

    def pair(self, table: KeyPath) -> None:
        path = self.keys(table)
        self.must("=")
        self.value(path)

    def keys(self, path: KeyPath, *, last: bool = True) -> KeyPath:
        """A key, dotted or not; inside a list of tables the path goes by its last one."""
        while True:
            self.blank()
            start = self.at
            path = (*path, self.key_part())
            self.record(path, start)
            self.blank()
            dotted = self.took(".")
            if path in self._counts and (dotted or last):
                path = (*path, self._counts[path] - 1)
            if not dotted:
                return path

    def key_part(self) -> str:
        part = self.match(_KEY_PART)
        if part[0] == '"':
            return str(tomllib.loads(f"key = {part}")["key"])
        return part.strip("'")

    def value(self, path: KeyPath) -> None:
        self.blank()
        if self.took("["):
            self.items(path)
        elif self.took("{"):
            while not self.closed("}"):
                self.pair(path)
        else:
            self.match(_TEXT if self.text[self.at : self.at + 1] in ("'", '"') else _BARE)

    def items(self, path: KeyPath) -> None:
        number = 0
        while not self.closed("]"):
            self.record((*path, number), self.at)
            self.value((*path, number))
            number += 1

    def closed(self, sign: str) -> bool:
        """True at the end of a list or table; else the next item begins here."""
        self.blank()
        self.took(",")
        self.blank()
        return self.took(sign)

    # -- steps ------------------------------------------------------------------

    def record(self, path: KeyPath, at: int) -> None:
        self.found.setdefault(path, bisect_left(self._ends, at) + 1)

    def blank(self) -> None:
        self.match(_BLANK)

    def match(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if not found:
            raise _LostError
        self.at = found.end()
        return found[0]

    def took(self, sign: str) -> bool:
        here = self.text.startswith(sign, self.at)
        self.at += len(sign) if here else 0
        return here

    def must(self, sign: str) -> None:
        self.blank()
        if not self.took(sign):
            raise _LostError
