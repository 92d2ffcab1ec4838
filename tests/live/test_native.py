"""Calls into C libraries: what no signal cuts short, what has an end, what stays off the screen."""

import os
import signal
import subprocess
import sys
import threading

import pytest

from backing.live.native import undisturbed

pytestmark = pytest.mark.slow


def run(program: str) -> "subprocess.CompletedProcess[str]":
    """Run a program of these lines."""
    command = [sys.executable, "-c", program]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def test_a_signal_waits_until_the_call_is_over(monkeypatch):
    """A signal that comes meanwhile is heeded right after, not lost (POSIX, pthread_sigmask)."""
    if not hasattr(signal, "pthread_kill"):
        pytest.skip("no signals as on Unix here")
    heard = []
    before = signal.signal(signal.SIGUSR1, lambda number, frame: heard.append(number))
    try:
        with undisturbed():
            signal.pthread_kill(threading.get_ident(), signal.SIGUSR1)
            during = list(heard)
    finally:
        signal.signal(signal.SIGUSR1, before)
    assert (during, heard) == ([], [signal.SIGUSR1])


def test_a_call_that_never_ends_ends_the_program():
    """A call that is not back in time ends the program, without a word."""
    ran = run(
        "import time\nfrom backing.live.native import bounded\nwith bounded(0.2): time.sleep(60)"
    )
    assert (ran.returncode, ran.stdout, ran.stderr) == (1, "", "")


def test_a_call_that_ends_in_time_changes_nothing():
    """After a call that was back in time the program goes on for as long as it wants."""
    ran = run(
        "import time\nfrom backing.live.native import bounded\n"
        "with bounded(0.2): pass\ntime.sleep(0.5)\nprint('on')"
    )
    assert (ran.returncode, ran.stdout) == (0, "on\n")


def test_only_our_own_words_reach_the_screen():
    """What a C library writes to stderr is not seen, what Python writes is, also while the
    library is hushed; afterwards stderr is as it was."""
    ran = run(
        "import os, sys\nfrom backing.live.native import hushed, own_screen\n"
        "with own_screen():\n"
        "    os.write(2, b'library 1 ')\n"
        "    print('one', file=sys.stderr)\n"
        "    with hushed():\n"
        "        os.write(2, b'library 2 ')\n"
        "        print('two', file=sys.stderr)\n"
        "    os.write(2, b'library 3 ')\n"
        "print('three', file=sys.stderr)\n"
        "os.write(2, b'four')\n"
    )
    assert (ran.returncode, ran.stderr) == (0, "one\ntwo\nthree\nfour")


@pytest.mark.parametrize("closed", ["import sys; sys.stderr = None", "import os; os.close(2)"])
def test_without_a_screen_nothing_fails(closed):
    """Where stderr is closed or not there, both do nothing."""
    ran = run(
        f"{closed}\nfrom backing.live.native import hushed, own_screen\n"
        "with own_screen(), hushed(): pass\nprint('on')"
    )
    assert (ran.returncode, ran.stdout) == (0, "on\n")


def test_devnull_is_not_left_open(tmp_path):
    """Hushing leaves no file open behind."""
    ran = run(
        "import os\nfrom backing.live.native import bounded, hushed, own_screen\n"
        "def count(): return len(os.listdir('/proc/self/fd'))\n"
        "before = count()\n"
        "for _ in range(9):\n"
        "    with own_screen(), hushed(), bounded(): pass\n"
        "print(count() - before)"
    )
    if not os.path.isdir("/proc/self/fd"):
        pytest.skip("open files are not listed here")
    assert ran.stdout == "0\n"
