"""Signals that wait while a file is brought into order."""

import os
import signal
import subprocess
import sys
import time
from threading import Thread

import pytest

from backing.files.held import HeldSignals

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX's")


@pytest.mark.parametrize(
    ("name", "code"),
    [("SIGTERM", 143), ("SIGHUP", 129), ("SIGQUIT", 131), ("SIGUSR1", 138), ("SIGXCPU", 152)],
)
def test_a_signal_waits(name, code):
    """What is under way is done; then the program ends, with the exit code of shells."""
    done = []

    def work():
        with HeldSignals() as signals:
            os.kill(os.getpid(), getattr(signal, name))
            done.append("first")
            signals.heed()
            done.append("second")

    with pytest.raises(SystemExit) as stop:
        work()
    assert (stop.value.code, done) == (code, ["first"])


def test_ctrl_c_waits_until_the_end():
    """Where nothing heeds it before, the end of the block does; then all is as it was."""
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    done = []

    def work():
        with HeldSignals():
            os.kill(os.getpid(), signal.SIGINT)
            done.append("all")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == ["all"]
    assert {number: signal.getsignal(number) for number in before} == before


def test_a_handler_of_others_is_asked_afterwards():
    """A handler that was there gets the signal in the end, once for each, and may go on."""
    heard = []
    before = signal.signal(signal.SIGTERM, lambda number, frame: heard.append(number))
    try:
        with HeldSignals() as signals:
            os.kill(os.getpid(), signal.SIGTERM)
            assert heard == []
            signals.heed()
            assert heard == [signal.SIGTERM]
            os.kill(os.getpid(), signal.SIGTERM)
        assert heard == [signal.SIGTERM] * 2
    finally:
        signal.signal(signal.SIGTERM, before)


def test_what_is_not_heard_stays_so():
    """A hang-up that nohup keeps from a program does not end it."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with HeldSignals() as signals:
            os.kill(os.getpid(), signal.SIGHUP)
            signals.heed()
        assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGHUP, before)


def test_in_another_thread_nothing_is_held():
    """Python sets handlers in the first thread only: elsewhere files are written all the same."""
    done = []

    def work():
        with HeldSignals() as signals:
            signals.heed()
            done.append("all")

    thread = Thread(target=work)
    thread.start()
    thread.join()
    assert done == ["all"]


_LONG = """
import time
from backing.files.held import HeldSignals
with HeldSignals():
    print("ready", flush=True)
    for _ in range(600):
        time.sleep(0.1)
"""


@pytest.mark.slow
def test_a_second_signal_does_not_wait():
    """Where something takes too long, asking again a second later ends it at once."""
    process = subprocess.Popen([sys.executable, "-c", _LONG], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    process.terminate()
    time.sleep(1.2)
    assert process.poll() is None
    process.terminate()
    process.communicate(timeout=30)
    assert process.returncode == 143
