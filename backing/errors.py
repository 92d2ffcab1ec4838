"""What can go wrong, said so that a player can mend it.

The tree::

    BackingError            anything that we refuse, with a hint what to do
    ├── TuneError           a tune that cannot be read: file, line, column, excerpt
    ├── DataError           a file that a player wrote, with faults: file, lines and places
    │   ├── StyleError      a style that is not known, or its file with faults
    │   └── BoxError        a box that is not known, or its file with faults
    ├── PracticeError       a practice that cannot be built: bars, section, tempo
    ├── FileError           a file that cannot be opened, read or written
    ├── PortError           a MIDI port or a sound card that is not to be had
    └── UsageError          what was typed cannot be understood, whatever the tune

Odd but playable music raises nothing: it is a `Notice`, collected on the tune
and shown.  `TuneError` and `Notice` are laid out by the same function, so that
both point at their place in the same way.
"""

from typing import NamedTuple


class BackingError(Exception):
    """A fault that the player can mend; `hint` says how.

    `exit_code` is what a command ends with: 1, or 2 where it was not understood.
    """

    exit_code = 1

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def text(self) -> str:
        """The whole message, hint included, as it is shown."""
        return lay_out("error", self.message, self.hint)


class TuneError(BackingError):
    """A tune that cannot be read; line and column count from 1, 0 is unknown."""

    def __init__(
        self,
        message: str,
        hint: str = "",
        *,
        source: str = "",
        line: int = 0,
        column: int = 0,
        excerpt: str = "",
    ) -> None:
        super().__init__(message, hint)
        self.source = source
        self.line = line
        self.column = column
        self.excerpt = excerpt

    def text(self) -> str:
        """The whole message, with its place and the line it stands in."""
        return lay_out(
            "error",
            self.message,
            self.hint,
            where=place(self.source, self.line, self.column),
            excerpt=self.excerpt,
            column=self.column,
        )


class DataError(BackingError):
    """A data file with faults: `faults` lists them all, each with its line and place."""

    def __init__(
        self, message: str, hint: str = "", *, source: str = "", faults: tuple[str, ...] = ()
    ) -> None:
        super().__init__(message, hint)
        self.source = source
        self.faults = faults

    def text(self) -> str:
        """The whole message, with every fault on a line of its own."""
        lines = "".join(f"\n  {fault}" for fault in self.faults)
        return lay_out("error", self.message + lines, self.hint, where=self.source)


class StyleError(DataError):
    """A style that is not known, or its file with faults."""


class BoxError(DataError):
    """A box that is not known, or its file with faults."""


class PracticeError(BackingError):
    """A practice that cannot be built from this tune."""


class FileError(BackingError):
    """A file that cannot be found, read or written."""


class PortError(BackingError):
    """A MIDI port or a sound card that is not there, is in use or cannot be made."""


class UsageError(BackingError):
    """Words of a player's that cannot be understood, or do not go together."""

    exit_code = 2


class Notice(NamedTuple):
    """Something odd but playable, with its place; line and column from 1, 0 unknown."""

    message: str
    hint: str = ""
    line: int = 0
    column: int = 0
    excerpt: str = ""

    def text(self, source: str = "") -> str:
        """The whole message as it is shown; `source` names the file."""
        return lay_out(
            "warning",
            self.message,
            self.hint,
            where=place(source, self.line, self.column),
            excerpt=self.excerpt,
            column=self.column,
        )


def place(source: str, line: int, column: int) -> str:
    """Where something stands, in words.

    >>> place("reel.abc", 7, 13)
    'reel.abc, line 7, column 13'
    """
    parts = [source] if source else []
    if line:
        parts.append(f"line {line}")
        if column:
            parts.append(f"column {column}")
    return ", ".join(parts)


def lay_out(
    kind: str, message: str, hint: str = "", *, where: str = "", excerpt: str = "", column: int = 0
) -> str:
    """One message: kind, place, what; the line with a caret under its column; the hint."""
    lines = [f"{kind}: {where}: {message}" if where else f"{kind}: {message}"]
    if excerpt and column:
        shown, caret = _window(excerpt, column - 1)
        lines += [f"       {shown}", f"       {' ' * caret}^"]
    if hint:
        lines.append(f"hint: {hint}")
    return "\n".join(lines)


def did_you_mean(word: str, known: "list[str] | tuple[str, ...]") -> str:
    """A suggestion for a mistyped word, or nothing.

    >>> did_you_mean("alternatng", ["sustained", "alternating"])
    'did you mean alternating?'
    """
    from difflib import get_close_matches

    lower = {name.lower(): name for name in known}
    found = get_close_matches(word.lower(), list(lower), n=1, cutoff=0.6)
    return f"did you mean {lower[found[0]]}?" if found else ""


def reason(error: OSError) -> str:
    """What the system says of a fault, in small letters.

    >>> reason(OSError(28, "No space left on device"))
    'no space left on device'
    """
    return (error.strerror or str(error)).lower()


def _window(line: str, at: int, width: int = 72) -> tuple[str, int]:
    """The piece of a long line round a place, and where the place lies in it."""
    line = line.replace("\t", " ")
    start = max(0, min(at - width // 2, len(line) - width))
    return line[start : start + width], at - start
