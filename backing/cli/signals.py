"""Signals that end a program are exceptions here, so that everything is put in order first."""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from types import FrameType

#: All that end a program where nothing else is said, and come from outside (signal(7); SIGBREAK
#: is of Windows).  Not those that a fault inside raises, which leave no way on, and none that
#: no program can heed.
_ENDING = (
    "SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK", "SIGUSR1", "SIGUSR2", "SIGALRM",
    "SIGVTALRM", "SIGPROF", "SIGPIPE", "SIGPOLL", "SIGPWR", "SIGSTKFLT", "SIGXCPU", "SIGXFSZ",
    "SIGABRT", "SIGTRAP", "SIGSYS",
)  # fmt: skip
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

    ignored = {number for name in unheard if (number := getattr(signal, name, None))}
    before = {}
    for number in (*_ending(), *ignored):
        if signal.getsignal(number) is signal.SIG_IGN:  # as nohup asks for
            continue
        before[number] = signal.signal(number, signal.SIG_IGN if number in ignored else end)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _ending() -> Iterator[int]:
    """The numbers of the signals that end a program here."""
    for name in _ENDING:
        if number := getattr(signal, name, None):
            yield number
    if hasattr(signal, "SIGRTMIN"):
        yield from range(signal.SIGRTMIN, signal.SIGRTMAX + 1)
