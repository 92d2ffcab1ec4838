"""How loud the melody is by its marks, ABC 2.1 clause 4.14, stress left out."""

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style
from backing.parse.abc import parse_abc

HEAD = "X:1\nM:4/4\nL:1/4\nK:C\n"


def velocities(music):
    """The velocity of each note of the melody, played plain."""
    tune = parse_abc(HEAD + music + "\n")
    arrangement = arrange(tune, load_style("sustained"), Manner(ornaments=False))
    return [event.velocity for event in arrangement.tracks[0].events]


@pytest.mark.parametrize(
    ("name", "velocity"),
    [("pppp", 30), ("ppp", 30), ("pp", 45), ("p", 60), ("mp", 75), ("mf", 90), ("f", 105),
     ("ff", 120), ("fff", 127), ("ffff", 127)],
)  # fmt: skip
def test_dynamics_hold_until_the_next(name, velocity):
    """A dynamic acts from its note on; without one the melody is mezzo forte."""
    assert velocities(f"C !{name}!D E F|G4|") == [90, velocity, velocity, velocity, velocity]


def test_accents_stand_out():
    """An accent is one step louder than the notes around it."""
    assert velocities("C !accent!D !p!E LF|") == [90, 105, 60, 75]
    assert velocities("!fff!C LD2 E|") == [127, 127, 127]


def test_hairpins_grow_and_fade():
    """Between the signs of a hairpin the notes grow or fade evenly by one dynamic, and go on
    so (ABC 2.1 clause 4.14 names the signs; how far they go is common practice, no source)."""
    assert velocities("!<(!C D !<)!E F|") == [95, 100, 105, 105]
    assert velocities("!f!!diminuendo(!C D !diminuendo)!E !p!F|") == [100, 95, 90, 60]
    assert velocities("!>(!C D E F|!>)!G4|") == [87, 84, 81, 78, 75]


def test_a_hairpin_that_never_ends_is_left_out():
    """A hairpin without an end, or an end without a beginning, changes nothing."""
    assert velocities("!<(!C D E F|") == [90, 90, 90, 90]
    assert velocities("C D !<)!E F|") == [90, 90, 90, 90]
