"""Signals that end a program are exceptions here, so that everything is put in order first."""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from types import FrameType

_ENDING = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK")
#: Signals to end that follow one another in so many seconds are one: a key held down.
_AT_ONCE = 1.0


@contextmanager
def ended_by_signals(*unheard: str) -> Iterator[None]:
    """A signal to end raises SystemExit, with the exit code that shells count, Ctrl-C
    KeyboardInterrupt; more of them at once are one.  Those `unheard` are not heeded."""
    asked = float("-inf")

    def end(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        since, asked = monotonic() - asked, monotonic()
        if since < _AT_ONCE:
            return
        if number == signal.SIGINT:
            raise KeyboardInterrupt
        sys.exit(128 + number)

    before = {}
    for name in (*_ENDING, *unheard):
        number = getattr(signal, name, None)
        if number is None or signal.getsignal(number) is signal.SIG_IGN:  # as nohup asks for
            continue
        before[number] = signal.signal(number, signal.SIG_IGN if name in unheard else end)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
