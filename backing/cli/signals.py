"""Signals that end a program are exceptions here, so that everything is put in order first."""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

_ENDING = ("SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK")


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """A signal to end raises SystemExit, with the exit code that shells count."""

    def end(number: int, frame: FrameType | None) -> None:
        sys.exit(128 + number)

    before = {}
    for name in _ENDING:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:  # as by nohup
            before[number] = signal.signal(number, end)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
