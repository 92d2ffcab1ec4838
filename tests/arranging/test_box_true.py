"""A left hand under bellows that change: what ends, and what is struck again."""

from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.music.chord import parse_chord
from backing.parse.abc import parse_abc

G, D = parse_chord("G"), parse_chord("D")


class Box(NamedTuple):
    """A bass side whose bellows turn at some positions, first pushed; it has what is named in
    each direction."""

    turns: tuple[Fraction, ...]
    push: tuple = (G, D)
    pull: tuple = (G, D)
    thirds: bool = True
    lowest_bass: int = 40
    lowest_chord: int = 55

    def stretches(self, start, stop):
        """From turn to turn."""
        at = [start, *(turn for turn in self.turns if start < turn < stop), stop]
        return [(*pair, self._way(pair[0])) for pair in pairwise(at)]

    def chord(self, wanted, way):
        """The chord itself or none."""
        return wanted if any(wanted.root == c.root for c in getattr(self, way)) else None

    def bass(self, wanted, tone, way):
        """The bass itself or none."""
        return tone if any(tone == c.root for c in getattr(self, way)) else None

    def melody_has(self, key, position):
        """Every note, both ways."""
        return True

    def _way(self, at):
        turned = sum(turn <= at for turn in self.turns)
        return ("push", "pull")[turned % 2]


def chords_of(music, *turns, style="sustained", **box):
    """Onset and end of each chord that sounds, in quarters."""
    tune = parse_abc(f"X:1\nM:4/4\nL:1/4\nK:G\n{music}\n")
    side = Box(tuple(Fraction(turn) / 4 for turn in turns), **box)
    found = arrange(tune, load_style(style), side=side).tracks
    events = next(track.events for track in found if track.role is Role.CHORDS)
    return [(float(4 * each.onset), float(4 * each.stop)) for each in events]


@pytest.mark.parametrize(
    ("turns", "chords"),
    [
        ((), [(0, 4), (4, 8)]),
        (("5.5",), [(0, 4), (4, 5.5), (6, 8)]),  # off the beat: again on the next one
        (("6",), [(0, 4), (4, 6), (6, 8)]),  # on a beat: again at once
        (("1.5", "5.5"), [(0, 1.5), (2, 4), (4, 5.5), (6, 8)]),  # in each bar
        (("7.5",), [(0, 4), (4, 7.5)]),  # no beat is left: it stays silent
        (("5.5", "6"), [(0, 4), (4, 5.5), (6, 8)]),  # turned back on that beat
    ],
)
def test_a_chord_over_a_change_of_the_bellows(turns, chords):
    """A left-hand note ends where the bellows turn, and is struck again on the next beat (on
    a box nothing sounds on through a turn; where it comes again is a working value)."""
    assert chords_of('"G"G4|"D"d4|', *turns) == chords


def test_what_a_direction_has_not_rests():
    """A chord that is missing in one direction sounds in the other alone."""
    assert chords_of('"G"G4|"D"d4|', "5.5", pull=(G,)) == [(0, 4), (4, 5.5)]
    assert chords_of('"G"G4|"D"d4|', "5.5", push=(G,)) == [(0, 4), (6, 8)]
