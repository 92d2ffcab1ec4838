"""Signals that end a program wait while a file is brought into order."""

import signal
import sys
from collections.abc import Callable
from threading import current_thread, main_thread
from time import monotonic
from types import FrameType, TracebackType
from typing import Any, Self

#: Those that come from outside and end a program.
_ENDING = (
    "SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK", "SIGUSR1", "SIGUSR2", "SIGXCPU",
    "SIGPOLL", "SIGPWR",
)  # fmt: skip
#: A second one after so many seconds does not wait.
_PATIENCE = 1.0

#: What answers a signal: a function, or what the system does.
_SignalAnswer = Callable[[int, FrameType | None], Any] | int


class HeldSignals:
    """In a `with` block signals wait until `heed`, or until its end; each is then answered as
    it would have been.

    So a program ends only between two steps, never in the middle of one.  Where it waits for
    long, a second signal is heeded at once.  In other threads than the first, where Python
    lets no signal in, nothing is held.
    """

    def __init__(self) -> None:
        self._before: dict[int, _SignalAnswer] = {}
        self._waiting: list[int] = []
        self._since = 0.0

    def __enter__(self) -> Self:
        if current_thread() is main_thread():
            for name in _ENDING:
                number = getattr(signal, name, None)
                before = None if number is None else signal.getsignal(number)
                # Not heard at all: as nohup asks for, or for a handler outside of Python.
                if number is not None and before not in (None, signal.SIG_IGN):
                    self._before[number] = before
                    signal.signal(number, self._hold)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for number, before in self._before.items():
            signal.signal(number, before)
        self.heed()

    def heed(self) -> None:
        """Answer what has come: mostly KeyboardInterrupt or SystemExit is raised, with the
        exit code that shells count."""
        while self._waiting:
            number = self._waiting.pop(0)
            before = self._before[number]
            if callable(before):
                before(number, None)
            else:
                sys.exit(128 + number)

    def _hold(self, number: int, frame: FrameType | None) -> None:
        late = bool(self._waiting) and monotonic() - self._since > _PATIENCE
        if not self._waiting:
            self._since = monotonic()
        self._waiting.append(number)
        if late:
            self.heed()
