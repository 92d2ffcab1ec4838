"""Keys pressed in a terminal, one by one, without Enter."""

import os
import re
import select
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event, Thread
from typing import IO

#: What terminals send for keys that are no sign (ECMA-48; xterm's control sequences; rxvt's
#: arrows with Shift or Ctrl).
_SEQUENCES = {
    "[A": "up", "[B": "down", "[C": "right", "[D": "left", "OA": "up", "OB": "down",
    "OC": "right", "OD": "left", "[a": "up", "[b": "down", "[c": "right", "[d": "left",
    "Oa": "up", "Ob": "down", "Oc": "right", "Od": "left", "[H": "home", "OH": "home",
    "[1~": "home", "[7~": "home", "[F": "end", "OF": "end", "[4~": "end", "[8~": "end",
    "[5~": "page up", "[6~": "page down", "[2~": "insert", "[3~": "delete", "OM": "enter",
}  # fmt: skip
_SIGNS = {" ": "space", "\r": "enter", "\n": "enter", "\t": "tab", "\x7f": "backspace",
          "\b": "backspace", "\x1b": "escape"}  # fmt: skip
#: A key with Shift, Ctrl or Alt has a number inside the sequence, in rxvt a sign behind it; it
#: counts as the key.
_HELD = ((re.compile(r"\[1;\d+([A-Z])"), r"[\1"), (re.compile(r"\[(\d+)(?:;\d+~|[$^@])"), r"[\1~"))
#: A sequence (ECMA-48 5.4, rxvt's with Shift, those of the Linux console's F keys, SS3 and a
#: letter), or a sign.
_KEY = re.compile(
    r"\x1b(\[\d+\$|\[\[[A-E]|\[[0-?]*[ -/]*[@-Z\\-~]|O[A-Za-z])|(.)", re.DOTALL
)
#: The beginning of a sequence, whose rest may come with the next read.
_BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|\[\[|O)?\Z")
#: Keys that Windows tells in two parts (Microsoft's C run-time library, _getwch).
_WINDOWS = {"H": "up", "P": "down", "K": "left", "M": "right", "G": "home", "O": "end",
            "I": "page up", "Q": "page down", "R": "insert", "S": "delete"}  # fmt: skip
_LOOK = 0.1


def keys_of(text: str) -> list[str]:
    r"""The keys that a terminal's text stands for, by name; signs are their own names.

    >>> keys_of("b \x1b[A\x1b[6~")
    ['b', 'space', 'up', 'page down']
    """
    found = []
    for sequence, sign in _KEY.findall(text):
        if sequence:
            for held, plain in _HELD:
                sequence = held.sub(plain, sequence)
            found += [_SEQUENCES[sequence]] if sequence in _SEQUENCES else []
        elif name := _SIGNS.get(sign, sign.lower() if sign.isprintable() else ""):
            found.append(name)
    return found


@contextmanager
def listening(pressed: Callable[[str], None]) -> Iterator[bool]:
    """While this lasts, `pressed` is told each key, on a thread of its own.

    False where there is no terminal to press keys in.  The terminal is left as it was.
    """
    done = Event()
    if sys.platform == "win32":
        with _on_thread(lambda: _read_windows(pressed, done), done):
            yield sys.stdin.isatty()
        return
    terminal = _terminal()
    if terminal is None:
        yield False
        return
    import termios
    import tty

    with terminal:
        number = terminal.fileno()
        before = termios.tcgetattr(number)
        try:
            tty.setcbreak(number)
            with _on_thread(lambda: _read(number, pressed, done), done):
                yield True
        finally:
            termios.tcsetattr(number, termios.TCSADRAIN, before)


def _terminal() -> IO[bytes] | None:
    """The terminal that keys come from: also where standard input is a tune."""
    try:
        if sys.stdin is not None and sys.stdin.isatty():
            return os.fdopen(os.dup(sys.stdin.fileno()), "rb", buffering=0)
        if not sys.stderr.isatty():
            return None
        return open("/dev/tty", "rb", buffering=0)
    except OSError:
        return None


@contextmanager
def _on_thread(read: Callable[[], None], done: Event) -> Iterator[None]:
    thread = Thread(target=read, name="keys", daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join(1)


def _read(number: int, pressed: Callable[[str], None], done: Event) -> None:
    while not done.is_set():
        if not select.select([number], [], [], _LOOK)[0]:
            continue
        data = os.read(number, 1024)
        if not data:
            return
        for key in keys_of(data.decode("utf-8", errors="ignore")):
            pressed(key)


def _read_windows(pressed: Callable[[str], None], done: Event) -> None:
    import msvcrt

    while not done.wait(_LOOK / 5):
        while msvcrt.kbhit():  # type: ignore[attr-defined,unused-ignore]
            sign = msvcrt.getwch()  # type: ignore[attr-defined,unused-ignore]
            if sign in "\x00\xe0":
                name = _WINDOWS.get(msvcrt.getwch(), "")  # type: ignore[attr-defined,unused-ignore]
                if name:
                    pressed(name)
            else:
                for key in keys_of(sign):
                    pressed(key)
