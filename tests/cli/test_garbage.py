"""Garbage is looked for seldom, but it is."""

import gc

import pytest

from backing.cli.garbage import collect_seldom


@pytest.fixture
def as_before():
    """The collector is left as it was found."""
    thresholds, enabled = gc.get_threshold(), gc.isenabled()
    yield
    gc.unfreeze()
    gc.set_threshold(*thresholds)
    (gc.enable if enabled else gc.disable)()


@pytest.mark.usefixtures("as_before")
def test_rings_of_objects_are_found_again():
    """Where looking was stopped it goes on, and rings made later are collected."""
    gc.disable()
    collect_seldom()
    assert gc.isenabled()
    gc.collect()
    before = gc.get_stats()[0]["collected"]
    for _ in range(3 * gc.get_threshold()[0]):
        ring = []
        ring.append(ring)
    assert gc.get_count()[0] <= gc.get_threshold()[0]
    assert gc.get_stats()[0]["collected"] - before >= gc.get_threshold()[0]
