"""What a moment is written to: a window of the terminal, one line of an old console, or a stream
that only takes what is told."""

import os
import sys
from collections.abc import Sequence
from typing import Protocol

from backing.cli.flow import fitting
from backing.cli.key_table import KeyRow, key_pages, key_table
from backing.cli.moment import line
from backing.cli.printing import clean
from backing.cli.stand import stand
from backing.live.shown import Shown

#: A screen of its own and back, the cursor hidden and shown, all cleared, the rest of a line
#: cleared (ECMA-48; DEC private modes 25 and 1049 as xterm's control sequences have them).
_ENTER, _LEAVE = "\x1b[?1049h\x1b[?25l", "\x1b[H\x1b[2J\x1b[?25h\x1b[?1049l"
_CLEAR, _CLEAR_REST = "\x1b[2J", "\x1b[K"
#: What stands in for signs that an old terminal has not.
_PLAIN = str.maketrans("█▀▄─→–↑↓←…♯♭°ø", "#^_->-^v<.#bo0")
#: Columns and lines of a terminal that does not tell.
_USUAL = (80, 24)


class TellOnly:
    """A stream that only takes what is told."""

    def __init__(self, keys: Sequence[KeyRow] = (), widest: str = "") -> None:
        self._keys, self._widest = keys, widest

    def say(self, text: str) -> None:
        """Say something that stays."""
        _write(_told_lines(text))

    def show(self, shown: Shown) -> None:
        """Show a moment."""

    def turn_keys(self) -> None:
        """Show the keys, or what comes after what is shown of them."""
        self.say(key_table(self._keys))

    def hide_keys(self) -> None:
        """Show the music again."""

    def look(self) -> None:
        """See whether the window has another size."""

    def leave(self) -> None:
        """Leave the terminal as it was."""


class OneLine(TellOnly):
    """An old console that knows no control sequences: one line that is written over."""

    _last = ""

    def say(self, text: str) -> None:
        """Lines that stay; the moving one goes on below them."""
        _write(f"{self._clear()}{_told_lines(text)}{self._last}")

    def show(self, shown: Shown) -> None:
        """Show a moment."""
        self._last = fitting(clean(line(shown)), window_size()[0] - 1)
        _write(self._clear() + self._last)

    def leave(self) -> None:
        """Leave a fresh line."""
        _write(self._clear())

    def _clear(self) -> str:
        return f"\r{' ' * (window_size()[0] - 1)}\r"


class WholeWindow(TellOnly):
    """The whole window, on a screen of its own: what was there before comes back, with what was
    told below it."""

    _shown: Shown | None = None
    _page = 0
    _size = (0, 0)

    def __init__(self, keys: Sequence[KeyRow] = (), widest: str = "") -> None:
        super().__init__(keys, widest)
        self._told: list[str] = []
        self._drawn: list[str] = []

    def say(self, text: str) -> None:
        """Say something that stays, in the window and after it."""
        self._told.append(text)
        self._draw()

    def show(self, shown: Shown) -> None:
        """Show a moment."""
        if self._shown is None:
            _write(_ENTER)
        self._shown = shown
        self._draw()

    def turn_keys(self) -> None:
        """Show the keys in place of the music; page by page, then the music again."""
        self._page += 1
        self._draw()

    def hide_keys(self) -> None:
        """Show the music again."""
        if self._page:
            self._page = 0
            self._draw()

    def look(self) -> None:
        """Draw all anew where the window has another size."""
        if window_size() != self._size:
            self._draw()

    def leave(self) -> None:
        """Go back to what was there before; what was told is below it."""
        back = _LEAVE if self._shown else ""
        _write(back + "".join(map(_told_lines, self._told)))

    def _draw(self) -> None:
        """Write the lines that are new."""
        if self._shown is None:
            return
        size = window_size()
        text = _CLEAR if size != self._size else ""
        before = [] if text else self._drawn
        lines = [clean(each) for each in self._lines(self._shown, *size)]
        lines += [""] * (size[1] - len(lines))
        for row, each in enumerate(lines):
            if row >= len(before) or before[row] != each:
                text += f"\x1b[{row + 1};1H{each}{_CLEAR_REST}"
        self._size, self._drawn = size, lines
        if text:
            _write(text)

    def _lines(self, shown: Shown, columns: int, rows: int) -> list[str]:
        """What is to stand there: one column is left free, where a cursor would go on to the
        next line."""
        if self._page:
            pages = key_pages(self._keys, columns - 1, rows)
            if self._page <= len(pages):
                return pages[self._page - 1][:rows]
            self._page = 0
        told = [clean(each) for each in self._told]
        return stand(shown, columns - 1, rows, told=told, widest=self._widest)


class Glass(Protocol):
    """Makes what a moment is written to."""

    def __call__(self, keys: Sequence[KeyRow] = (), widest: str = "") -> TellOnly:
        """With the table of keys and the widest chord symbol of the tune."""


def find_glass() -> Glass:
    """What there is to write to."""
    if sys.stderr is None or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        return TellOnly
    return WholeWindow if _knows_sequences() else OneLine


def _knows_sequences() -> bool:
    """True where control sequences are heeded; an old console of Windows knows none, a newer one
    is told to heed them."""
    if sys.platform != "win32":
        return True
    import ctypes
    import msvcrt

    heeds = 4  # ENABLE_VIRTUAL_TERMINAL_PROCESSING (Microsoft, SetConsoleMode)
    try:
        kernel, mode = ctypes.windll.kernel32, ctypes.c_uint32()
        console = ctypes.c_void_p(msvcrt.get_osfhandle(sys.stderr.fileno()))
        known = kernel.GetConsoleMode(console, ctypes.byref(mode))
        return bool(known and kernel.SetConsoleMode(console, mode.value | heeds))
    except (OSError, ValueError, AttributeError):
        return False


def window_size() -> tuple[int, int]:
    """Columns and lines of the terminal that is written to; 80 and 24 where it does not say."""
    try:
        columns, rows = os.get_terminal_size(sys.stderr.fileno())
    except (OSError, ValueError, AttributeError):
        return _USUAL
    return columns or _USUAL[0], rows or _USUAL[1]


def _told_lines(text: str) -> str:
    return "".join(f"{clean(each)}\n" for each in text.splitlines())


def _write(text: str) -> None:
    """Write at once, past Python's buffer: its lock, held by a thread that a terminal which
    stands still has stopped for good, would end the program with a crash."""
    try:
        sys.stderr.flush()
        raw = getattr(sys.stderr.buffer, "raw", sys.stderr.buffer)
        data = _encoded(text, sys.stderr.encoding)
        while data:
            data = data[raw.write(data) :]
    except (OSError, ValueError, AttributeError, TypeError):  # it is closed
        pass


def _encoded(text: str, encoding: str) -> bytes:
    try:
        return text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate(_PLAIN).encode(encoding, errors="replace")
