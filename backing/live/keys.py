"""Keys pressed in a terminal, one by one, without Enter."""

import codecs
import os
import re
import select
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import Event, Thread

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
_KEY = re.compile(r"\x1b(\[\d+\$|\[\[[A-E]|\[[0-?]*[ -/]*[@-Z\\-~]|O[A-Za-z])|(.)", re.DOTALL)
#: The beginning of a sequence, whose rest may come with the next read.
_BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|\[\[|O)?\Z")
#: Keys that Windows tells in two parts (Microsoft's C run-time library, _getwch).
_WINDOWS = {"H": "up", "P": "down", "K": "left", "M": "right", "G": "home", "O": "end",
            "I": "page up", "Q": "page down", "R": "insert", "S": "delete"}  # fmt: skip
_LOOK = 0.1


def keys_in(text: str) -> list[str]:
    r"""The keys that a terminal's text stands for, by name; signs are their own names.

    >>> keys_in("b \x1b[A\x1b[6~")
    ['b', 'space', 'up', 'page down']
    """
    found = []
    for sequence, sign in _KEY.findall(text):
        if sequence:
            name = _SEQUENCES.get(_without_modifier(sequence), "")
            found += [name] if name else []
        elif name := _SIGNS.get(sign, sign.lower() if sign.isprintable() else ""):
            found.append(name)
    return found


def _without_modifier(sequence: str) -> str:
    for held, plain in _HELD:
        sequence = held.sub(plain, sequence)
    return sequence


class Typed:
    """What a terminal sends, read by read: a key may come in two pieces."""

    def __init__(self) -> None:
        self._decoder = codecs.getincrementaldecoder("utf-8")("ignore")
        self._begun = ""

    def keys(self, data: bytes) -> list[str]:
        """The keys that are whole now."""
        text = self._begun + self._decoder.decode(data)
        begun = _BEGUN.search(text)
        at = begun.start() if begun else len(text)
        self._begun = text[at:]
        return keys_in(text[:at])

    def rest(self) -> list[str]:
        """The keys in what was begun and did not go on: Escape by itself."""
        text, self._begun = self._begun, ""
        return keys_in(text)


@contextmanager
def listening(pressed: Callable[[str], None]) -> Iterator[bool]:
    """While this lasts, `pressed` is told each key, on a thread of its own.

    False where there is no terminal to press keys in.  The terminal is left as it was.
    """
    done = Event()
    if sys.platform == "win32":
        with _on_thread(lambda: _read_windows(pressed, done), done):
            yield sys.stdin is not None and sys.stdin.isatty()
        return
    number = _terminal()
    if number is None:
        yield False
        return
    import termios
    import tty

    before = termios.tcgetattr(number)
    try:
        tty.setcbreak(number, termios.TCSANOW)
        with _on_thread(lambda: _read(number, pressed, done), done):
            yield True
    finally:
        # at once: a terminal that stands still would be waited for; one that is closed fails
        with suppress(termios.error):
            termios.tcsetattr(number, termios.TCSANOW, before)
        os.close(number)


def _terminal() -> int | None:
    """The terminal that keys come from: also where standard input is a tune."""
    try:
        if sys.stdin is not None and sys.stdin.isatty():
            number = os.dup(sys.stdin.fileno())
        elif sys.stderr is not None and sys.stderr.isatty():
            number = os.open("/dev/tty", os.O_RDONLY)
        else:
            return None
    except OSError:
        return None
    if _is_ours(number):
        return number
    os.close(number)
    return None


def _is_ours(number: int) -> bool:
    """False for a program in the background: the system stops it when it asks for keys."""
    try:
        return os.tcgetpgrp(number) == os.getpgrp()
    except OSError:  # it is no shell's terminal
        return True


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
    typed = Typed()
    with suppress(OSError):  # the terminal is closed
        while not done.is_set():
            if not select.select([number], [], [], _LOOK)[0]:
                found = typed.rest()
            elif data := os.read(number, 1024):
                found = typed.keys(data)
            else:
                return
            for key in found:
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
                for key in keys_in(sign):
                    pressed(key)
