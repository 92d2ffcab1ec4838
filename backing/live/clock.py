"""Waiting for a moment as exactly as the machine can, and a process that may not be late."""

import gc
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
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
    interval = sys.getswitchinterval()
    with _real_time() as granted:
        try:
            sys.setswitchinterval(_SWITCH)
            gc.collect()
            gc.freeze()
            yield granted
        finally:
            gc.unfreeze()
            sys.setswitchinterval(interval)


@contextmanager
def _real_time() -> Iterator[bool]:
    """First in, first out for this thread where the system grants it, but not for threads
    and processes that it starts."""
    if sys.platform != "linux":
        yield False
        return
    before = os.sched_getscheduler(0), os.sched_getparam(0)
    try:
        kind = os.SCHED_FIFO | os.SCHED_RESET_ON_FORK
        os.sched_setscheduler(0, kind, os.sched_param(_PRIORITY))
    except OSError:
        yield False
        return
    try:
        yield True
    finally:
        os.sched_setscheduler(0, *before)
