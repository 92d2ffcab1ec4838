"""The table of the built-in sound, and what its values mean."""

import numpy as np
import pytest

from backing.arranging.arrangement import Role
from backing.practice.clicks import ACCENT_KEY, BEAT_KEY
from backing.render.timbre import Register, timbres

PLAIN = Register((0, -6, -12, -18, -24, -30, -36, -42), 9, 5000, 0.05, 0, 0)


def decibels(levels):
    """Levels in dB."""
    return 20 * np.log10(levels)


def test_every_track_has_its_sound():
    """The table has reeds for each track of notes, and a knock for both keys of the click."""
    assert set(timbres().registers) == set(Role) - {Role.CLICK}
    assert set(timbres().knocks) >= {ACCENT_KEY, BEAT_KEY}


@pytest.mark.parametrize("role", timbres().registers)
def test_reeds_are_those_of_a_small_box(role):
    """Reeds stop within 100 ms and fade out upwards (common practice, no source)."""
    register = timbres().registers[role]
    assert 0.02 <= register.release <= 0.1
    assert -1 <= register.pan <= 1
    assert register.partials[-1] <= max(register.partials) - 35


def test_a_reed_of_middle_strength_has_the_levels_of_the_table():
    """At velocity 80 a low note has its partials in the table's dB."""
    assert decibels(PLAIN.levels(220, 80, 20000)) == pytest.approx(PLAIN.partials)


def test_the_eighth_partial_gains_what_the_table_says():
    """Blown as hard as can be the eighth partial gains `bright` dB, the second a third of it."""
    found = decibels(PLAIN.levels(220, 127, 20000)) - np.array(PLAIN.partials)
    assert found[[0, 1, 3, 7]] == pytest.approx([0, 3, 6, 9])


def test_high_partials_fall_faster():
    """An octave above `mellow` a partial is 12 dB softer than the table says, two octaves 24."""
    found = decibels(PLAIN.levels(5000, 80, 24000)) - np.array(PLAIN.partials)[:4]
    assert found[[0, 1, 3]] == pytest.approx([0, -12, -24])


@pytest.mark.parametrize(("highest", "count"), [(439, 0), (441, 1), (1000, 2), (20000, 8)])
def test_no_partial_above_the_highest(highest, count):
    """Only partials below the highest frequency are made (sampling theorem)."""
    assert len(PLAIN.levels(440, 80, highest)) == count
