"""Work for all cores: processes of our own, each with one thing to do at a time.

One or two jobs are done without any.

A process that dies takes nothing with it but what it was at; when we stop, or are killed, the
others end at once.  Signals to end are for the first process alone.
"""

import os
import signal
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from itertools import chain, islice
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from types import TracebackType
from typing import Any, Generic, Self, TypeVar

from backing.cli.garbage import collect_seldom
from backing.errors import BackingError

Task = TypeVar("Task")
Done = TypeVar("Done")
_READY = "ready"
_SECONDS_TO_END = 5.0
#: So few jobs are done here, in less time than a process takes to begin.
_HERE = 2
#: So many jobs a process does before another takes its place: a page leaves about 0.2 MB behind.
_EACH = 250
#: The same way of starting on every system: nothing of ours is half copied.
_CONTEXT = get_context("spawn")


class Workers(Generic[Task, Done]):
    """In a `with` block: processes that each call `prepare(*told)` once, and what that gives for
    each job.  All of it, and the answers, must be what pickle takes.

    There are `most` at a time, without it one for each core; after so many jobs `each` gives its
    place to a new one, so that what libraries keep never fills the memory.
    """

    def __init__(
        self,
        prepare: Callable[..., Callable[[Task], Done]],
        *told: object,
        most: int = 0,
        each: int = _EACH,
    ) -> None:
        self._start, self._most, self._each = (prepare, told), most or cores(), each
        self._processes: dict[Connection, BaseProcess] = {}
        self._done: Counter[Connection] = Counter()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for process in self._processes.values():  # all at once: it takes a moment
            process.terminate()
        for connection in list(self._processes):
            self._end(connection)

    def answers(self, jobs: Iterable[Task]) -> Iterator[tuple[Task, Done | None]]:
        """Each job with its answer, in the order in which they come; None where the process died.

        A job is asked for when there is a process for it, and before the answer of the last one
        is given, so that the processes work meanwhile.  Raises BackingError where none can be
        started.
        """
        todo = iter(jobs)
        first = list(islice(todo, _HERE + 1))
        if len(first) <= _HERE:
            yield from zip(first, map(self._start[0](*self._start[1]), first), strict=True)
            return
        todo = chain(first, todo)
        at_work: dict[Connection, Task] = {}
        ready: set[Connection] = set()
        for job in todo:
            at_work[self._new(job)] = job
            if len(at_work) == self._most:
                break
        while at_work:
            for one in wait(list(at_work)):
                connection: Any = one
                try:
                    answer = connection.recv()
                except (EOFError, OSError):
                    answer = None
                    self._end(connection)
                    if connection not in ready:
                        raise _not_started() from None
                if answer == _READY:
                    ready.add(connection)
                    continue
                done = at_work.pop(connection)
                for job in todo:
                    at_work[self._next(connection, job)] = job
                    break
                yield done, answer

    def _next(self, connection: Connection, job: Task) -> Connection:
        """The process that is at this job: the one that did one just now, or another instead."""
        self._done[connection] += 1
        if connection in self._processes:
            if self._done[connection] < self._each and _sent(connection, job):
                return connection
            self._end(connection)
        return self._new(job)

    def _new(self, job: Task) -> Connection:
        """A new process that is at this job."""
        ours, theirs = _CONTEXT.Pipe()
        process = _CONTEXT.Process(target=_work, args=(theirs, *self._start), daemon=True)
        try:
            with _interrupts_wait():
                process.start()
        except OSError:
            raise _not_started() from None
        self._processes[ours] = process
        theirs.close()
        _sent(ours, job)  # where it died already that is seen when it should answer
        return ours

    def _end(self, connection: Connection) -> None:
        process = self._processes.pop(connection)
        connection.close()
        process.terminate()
        process.join(_SECONDS_TO_END)
        if process.exitcode is None:
            process.kill()
            process.join()


def cores() -> int:
    """How many processor cores there are for us."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _sent(connection: Connection, job: object) -> bool:
    with suppress(OSError):
        connection.send(job)
        return True
    return False


def _not_started() -> BackingError:
    return BackingError(
        "the processes that are to do the work end before they begin",
        "there may be too little memory; close other programs and try again",
    )


def _work(
    connection: Connection, prepare: Callable[..., Callable[[Task], Done]], told: tuple[Any, ...]
) -> None:
    """What a process does: job by job until there is nobody any more who would ask."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answer = prepare(*told)
    collect_seldom()
    with suppress(EOFError, OSError):
        connection.send(_READY)
        while True:
            connection.send(answer(connection.recv()))


@contextmanager
def _interrupts_wait() -> Iterator[None]:
    """Ctrl-C waits, and the processes that begin meanwhile never hear it: a terminal sends it to
    all of them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
