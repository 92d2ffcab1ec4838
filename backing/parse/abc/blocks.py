"""Lines of an ABC text and the blocks that they make between empty ones."""

from collections.abc import Sequence
from typing import NamedTuple

from backing.errors import Notice


class TextPlace(NamedTuple):
    """Where a line that was put right stands in the text: its number, how many signs stand
    before it, and the whole line."""

    number: int
    before: int
    text: str


class Pasted(NamedTuple):
    """Lines as they are meant, where each stands (nothing: as they are), what was done."""

    lines: Sequence[str]
    places: Sequence[TextPlace] = ()
    said: tuple[Notice, ...] = ()

    def written(self, at: int) -> str:
        """A line as it stands in the text."""
        return self.places[at].text if self.places else self.lines[at]


def is_number(line: str) -> bool:
    """True for the field that begins a tune; `X:|` is a rest before a bar line (clause 3)."""
    return line.startswith("X:") and line[2:3] not in ("|", ":")


def is_field(line: str) -> bool:
    """True for a field or a comment on a line of its own."""
    return (line[1:2] == ":" and (line[0].isalpha() or line[0] == "+")) or line[:1] == "%"


def next_block(lines: Sequence[str], at: int) -> int:
    """The next line that is not empty; past the last one where there is none."""
    count = len(lines)
    while at < count and not ((line := lines[at]) and line.strip()):
        at += 1
    return at


def block_end(lines: Sequence[str], at: int) -> int:
    """The next empty line, or the next that begins a tune."""
    stop = at + 1
    while stop < len(lines) and lines[stop].strip() and not is_number(lines[stop]):
        stop += 1
    return stop
