"""Calls into C libraries that no signal may cut short, that may not last for ever, and that
shall not write on the screen."""

import faulthandler
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager

#: A call that is not back after so many seconds never will be: the program ends.
LONGEST = 10.0


@contextmanager
def undisturbed() -> Iterator[None]:
    """While this lasts no signal is delivered to this thread: one would cut short what rtmidi
    waits for, and with it what is still to be sent.  Signals that come are heeded after it."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows: no signal interrupts a call there
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def bounded(seconds: float = LONGEST) -> Iterator[None]:
    """End the program, with exit code 1, where this takes longer.

    A library that waits for a server that stands still holds the interpreter meanwhile: no
    thread of ours and no signal could end it.  The watch of `faulthandler` needs neither.
    """
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        faulthandler.dump_traceback_later(seconds, exit=True, file=nowhere)
        try:
            yield
        finally:
            faulthandler.cancel_dump_traceback_later()


@contextmanager
def hushed() -> Iterator[None]:
    """Keep what libjack and libasound write of themselves off the screen."""
    try:
        kept = os.dup(2)
    except OSError:  # there is no stderr at all
        yield
        return
    try:
        _close_stderr()
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


@contextmanager
def own_screen() -> Iterator[None]:
    """While this lasts stderr is Python's alone: what libraries write of themselves is seen
    nowhere, and nothing of ours is lost while they are hushed."""
    screen = sys.stderr
    if screen is None or not _is_stderr(screen):
        yield
        return
    kept = os.dup(2)
    try:
        screen.flush()
        sys.stderr = open(  # noqa: SIM115
            kept, "w", 1, screen.encoding, screen.errors, closefd=False
        )
        _close_stderr()
        yield
    finally:
        sys.stderr = screen
        os.dup2(kept, 2)
        os.close(kept)


def _is_stderr(stream: object) -> bool:
    """True where a stream writes to what C libraries call stderr."""
    try:
        os.fstat(2)
        return stream.fileno() == 2  # type: ignore[attr-defined,no-any-return]
    except (OSError, ValueError, AttributeError):  # closed, or no file
        return False


def _close_stderr() -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
