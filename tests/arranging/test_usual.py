"""Which style is played where none is named (working values, no source)."""

import pytest

from backing.arranging.usual import usual_style
from backing.music.metre import FREE, parse_metre


@pytest.mark.parametrize(
    ("dance", "metre", "style"),
    [
        ("jig", "6/8", "jig"),
        ("polka", "2/4", "polka"),
        ("waltz", "3/4", "waltz"),
        ("", "4/4", "alternating"),
        ("", "7/8", "alternating"),
        ("a dance of our own", "2/4", "alternating"),
    ],
)
def test_the_usual_style(dance, metre, style):
    """A dance has its own style; a tune without one has bass and chord by turns."""
    assert usual_style(dance, parse_metre(metre)) == style


def test_without_a_metre_chords_are_held():
    """A tune in free metre has no beats to alternate on: its chords are held."""
    assert usual_style("", FREE) == "sustained"
