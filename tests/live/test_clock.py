"""Waiting for a moment, and a process that may not be late."""

import gc
import os
import sys

import pytest

from backing.live.clock import Clock, punctual


class Hand:
    """A clock turned by hand; sleeping takes longer than asked for."""

    def __init__(self, late=0.0):
        self.at, self.late, self.slept = 0.0, late, []

    def now(self):
        self.at += 1e-5
        return self.at

    def sleep(self, seconds):
        self.slept.append(seconds)
        self.at += seconds + self.late


@pytest.mark.parametrize("moment", [-1.0, 0.0, 0.0005, 0.003, 2.0])
@pytest.mark.parametrize("late", [0.0, 0.0004, 0.02])
def test_it_is_never_early(moment, late):
    """It comes back at the moment or after it, and says what time it is then."""
    hand = Hand(late)
    now = Clock(hand.now, hand.sleep).wait_until(moment)
    assert now >= moment
    assert now == hand.at
    assert now <= max(moment, 0.0) + max(0.0, late - 0.001) + 3e-5


def test_the_last_millisecond_is_not_slept():
    """It sleeps once, to a millisecond before the moment, for sleeping may end late."""
    hand = Hand()
    Clock(hand.now, hand.sleep).wait_until(1.0)
    assert hand.slept == [pytest.approx(0.999, abs=1e-4)]
    Clock(hand.now, hand.sleep).wait_until(hand.at + 0.0005)
    assert len(hand.slept) == 1


def state():
    """What `punctual` changes."""
    scheduling = ()
    if sys.platform == "linux":
        scheduling = os.sched_getscheduler(0), os.sched_getparam(0).sched_priority
    return sys.getswitchinterval(), gc.get_freeze_count(), scheduling


@pytest.mark.slow
def test_punctual_gives_back_what_it_took():
    """The switch interval, the garbage collector and the scheduling are as they were."""
    before = state()
    with punctual():
        assert sys.getswitchinterval() < before[0]
    assert state() == before


@pytest.mark.slow
def test_punctual_gives_back_after_a_fault():
    """An exception inside changes nothing of that."""
    before = state()
    with pytest.raises(KeyboardInterrupt), punctual():
        raise KeyboardInterrupt
    assert state() == before


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="real-time scheduling is asked for on Linux")
def test_real_time_scheduling_where_it_is_granted():
    """Where the system grants it, it is first in, first out, and children do not inherit it
    (sched(7): SCHED_RESET_ON_FORK)."""
    with punctual() as granted:
        kind = os.sched_getscheduler(0)
        assert granted == (kind == os.SCHED_FIFO | os.SCHED_RESET_ON_FORK)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="scheduling is asked for on Linux")
def test_scheduling_of_before_comes_back():
    """A process that runs as a batch job runs as one afterwards (sched(7))."""
    before = os.sched_getscheduler(0)
    os.sched_setscheduler(0, os.SCHED_BATCH, os.sched_param(0))
    try:
        with punctual():
            pass
        assert os.sched_getscheduler(0) == os.SCHED_BATCH
    finally:
        os.sched_setscheduler(0, before, os.sched_param(0))
