"""Waiting for a moment as exactly as the machine can, and a process that may not be late."""

import gc
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from time import perf_counter, sleep

#: The last stretch of a wait is spent looking at the clock: sleeping may end late.
_WATCHED = 0.001
#: How long another thread of ours may hold the interpreter, in seconds.
_SWITCH = 0.0005
_PRIORITY = 10


@dataclass(frozen=True, slots=True)
class Clock:
    """A monotonic clock in seconds, and how to sleep on it; both are given in tests."""

    now: Callable[[], float] = perf_counter
    sleep: Callable[[float], None] = sleep

    def wait_until(self, moment: float) -> float:
        """Come back at a moment, not before; the time that it is then."""
        now = self.now()
        if moment - now > _WATCHED:
            self.sleep(moment - now - _WATCHED)
            now = self.now()
        while now < moment:
            now = self.now()
        return now


@contextmanager
def punctual() -> Iterator[bool]:
    """While this lasts, what runs here is seldom late.  True where the system grants it
    real-time scheduling (Linux: first in, first out; elsewhere an ordinary one).

    The garbage of before is put aside, so that it is not looked through again, and other
    threads of ours give way sooner.
    """
    before = sys.getswitchinterval()
    sys.setswitchinterval(_SWITCH)
    gc.collect()
    gc.freeze()
    granted = _scheduled(fifo=True)
    try:
        yield granted
    finally:
        if granted:
            _scheduled(fifo=False)
        gc.unfreeze()
        sys.setswitchinterval(before)


def _scheduled(*, fifo: bool) -> bool:
    """Ask the system for a way of scheduling for this thread; True where it is granted."""
    if sys.platform != "linux":
        return False
    with suppress(OSError):
        kind, priority = (os.SCHED_FIFO, _PRIORITY) if fifo else (os.SCHED_OTHER, 0)
        os.sched_setscheduler(0, kind, os.sched_param(priority))
        return True
    return False
