"""The one place that prints: data to stdout, talk to stderr.

What came from outside (titles, file names, lyrics) may hold anything; nothing of it reaches
a terminal as a command.
"""

import sys
from collections.abc import Iterable
from contextlib import suppress
from shutil import get_terminal_size
from typing import TYPE_CHECKING

from backing.errors import Notice
from backing.wording import count

if TYPE_CHECKING:
    from backing.files import Reading

MOST_NOTICES = 8
#: Columns where there is no window, and of the narrowest.
WIDTH, _NARROWEST = 80, 20
#: Signs that a terminal takes for commands, or that turn the direction of writing: C0 and
#: C1 controls but tab and line feed (ECMA-48), line separators, bidirectional controls
#: (Unicode Standard Annex 9).
_COMMANDS = dict.fromkeys(
    [*range(9), *range(11, 32), *range(127, 160), 0x2028, 0x2029, *range(0x202A, 0x202F),
     *range(0x2066, 0x206A)]
)  # fmt: skip


def clean(text: str) -> str:
    """A text without signs that a terminal would take for commands.

    >>> clean("A\\x1b]0;title\\x07 tune")
    'A]0;title tune'
    """
    return text.translate(_COMMANDS)


def window_width() -> int:
    """Columns of the window that is shown to, at least 20; 80 where it is none."""
    if sys.stdout is None or not sys.stdout.isatty():
        return WIDTH
    return max(get_terminal_size((WIDTH, 24)).columns, _NARROWEST)


def show(text: str) -> None:
    """A line, or lines, that were asked for, on stdout."""
    print(clean(text))


def give(text: str) -> None:
    """The text of a file, on stdout: to the letter, but to a terminal."""
    print(clean(text) if sys.stdout is None or sys.stdout.isatty() else text, end="")


def say(text: str) -> None:
    """A line of talk, on stderr."""
    if sys.stderr is not None:  # closed, it would be stdout's turn
        with suppress(OSError):
            print(clean(text), file=sys.stderr)


def warn(message: str, hint: str = "") -> None:
    """A warning that has no place in the file."""
    say(Notice(message, hint).text())


def say_reading(reading: "Reading", *more: Notice, most: int = MOST_NOTICES) -> None:
    """What there is to say about a file, the tune in it, and what more was found there."""
    say_notices((*reading.notices, *reading.tune.notices, *more), reading.name, most)


def say_notices(notices: Iterable[Notice], name: str = "", most: int = MOST_NOTICES) -> None:
    """What there is to say, about the file of this name; the first few, and how many more."""
    found = list(notices)
    for notice in found[:most]:
        say(notice.text(name))
    if len(found) > most:
        say(f"and {count(len(found) - most, 'more warning')}: backing look shows them all")
