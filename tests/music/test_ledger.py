"""In which octave a tune reads best."""

import pytest

from backing.music.ledger import best_octave, ledger_lines
from backing.music.pitch import parse_pitch
from backing.parse.abc import parse_abc


@pytest.mark.parametrize(
    ("pitch", "lines"),
    [
        ("E4", 0), ("F5", 0), ("D4", 0), ("G5", 0), ("C4", 1), ("C#4", 1), ("B3", 1), ("A3", 2),
        ("G3", 2), ("A5", 1), ("Bb5", 1), ("C6", 2), ("D6", 2), ("E6", 3), ("E5", 0),
    ],
)  # fmt: skip
def test_ledger_lines(pitch, lines):
    """Ledger lines of the treble clef: middle C has one, A above the staff one, E6 three (common
    practice, no source)."""
    assert ledger_lines(parse_pitch(pitch)) == lines
    assert ledger_lines(parse_pitch(pitch), 1) == ledger_lines(
        parse_pitch(pitch)._replace(octave=parse_pitch(pitch).octave + 1)
    )


def octave_of(body: str, head: str = "") -> int:
    """The best octave of a tune with this body."""
    return best_octave(parse_abc(f"X:1\nT:High\nM:4/4\nL:1/8\n{head}K:C\n{body}|\n"))


@pytest.mark.parametrize(
    ("body", "octave"),
    [
        ("e'2d'2 c'4", -1),
        ("G,2A,2 B,4", 1),
        ("C,,2D,,2 E,,4", 2),
        ("c''8", -2),
        ("c2B2 A4", 0),
        ("D2d2 g4", 0),
        ("C4 G4", 1),
    ],
)
def test_the_octave_with_the_fewest_ledger_lines(body, octave):
    """A tune far above or below the staff is moved to it, by two octaves if need be."""
    assert octave_of(body) == octave


def test_it_stays_where_little_is_saved():
    """A tune is left where it is if another octave saves less than half of its ledger lines."""
    assert octave_of("G,2G,2 d'2d'2") == 0
    assert octave_of("A,2A,2 a2g2|C2C2 e4") == 0
    assert octave_of("A,2A,2 c2B2|C2C2 D4") == 1


def test_no_voice_leaves_what_can_be_written():
    """An octave in which a note of any voice would lie outside MIDI keys 0 to 127 is left out."""
    low, voices = "G,2A,2 B,4", "V:1\nV:2\n"
    assert octave_of(f"V:1\n{low}|\nV:2\nc8", voices) == 1
    assert octave_of(f"V:1\n{low}|\nV:2\nc''''8", voices) == 0
