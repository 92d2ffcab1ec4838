"""What a player's file is, and how one with faults is refused."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple, NoReturn

from backing.errors import DataError

_MOST_LISTED = 40


class FileKind(NamedTuple):
    """A kind of file that players write: what it is called, which error its faults raise, where
    there is a pattern for it, and what an item of each list in it is called."""

    noun: str
    error: type[DataError]
    pattern: str
    items: Mapping[str, str] = MappingProxyType({})


class FaultAt(NamedTuple):
    """A fault of a file: its line (from 1; 0 where it is not known), its place in words, what
    is wrong."""

    line: int
    where: str
    message: str

    def text(self) -> str:
        """The fault as it is listed.

        >>> FaultAt(3, "first figure, bars", "missing").text()
        'line 3, first figure, bars: missing'
        >>> FaultAt(0, "title", "missing").text(), FaultAt(0, "", "the file is empty").text()
        ('title: missing', 'the file is empty')
        """
        places = [f"line {self.line}"] if self.line else []
        places += [self.where] if self.where else []
        return ": ".join([", ".join(places), self.message] if places else [self.message])


def refuse(kind: FileKind, source: str, faults: Sequence[FaultAt]) -> NoReturn:
    """Raise the kind's error with all faults, in the order of their lines."""
    ordered = sorted(faults, key=lambda fault: fault.line or float("inf"))
    said = list(dict.fromkeys(fault.text() for fault in ordered))
    count = f"{len(said)} fault{'s' if len(said) > 1 else ''}"
    if len(said) > _MOST_LISTED:
        said[_MOST_LISTED:] = [f"and {len(said) - _MOST_LISTED} more"]
    raise kind.error(f"{count} in the {kind.noun}", kind.pattern, source=source, faults=tuple(said))
