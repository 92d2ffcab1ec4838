"""Spelled pitches: F sharp and G flat sound alike and are not the same note."""

import re
from functools import lru_cache
from typing import NamedTuple

SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_PITCH = re.compile(r"([A-G])(##|bb|#|b|)(-?\d+)$")
_ALTER = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2}


class Pitch(NamedTuple):
    """A spelled pitch: letter, semitones of alteration, octave (C4 is middle C)."""

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI key number; middle C is 60, A4 (440 Hz) is 69.

        >>> Pitch("F", 1, 4).midi
        66
        """
        return 12 * (self.octave + 1) + SEMITONES[self.step] + self.alter

    def __str__(self) -> str:
        return f"{name_of(self.step, self.alter)}{self.octave}"


@lru_cache(maxsize=1024)
def pitch_of(step: str, alter: int, octave: int) -> Pitch:
    """The pitch with this spelling; equal spellings share one value."""
    return Pitch(step, alter, octave)


def parse_pitch(text: str) -> Pitch:
    """A pitch from its name, octave included; ValueError for anything else.

    >>> parse_pitch("Bb3").midi
    58
    """
    match = _PITCH.match(text)
    if not match:
        raise ValueError(f"{text!r} is not a pitch like F#4")
    return pitch_of(match[1], _ALTER[match[2]], int(match[3]))


def name_of(step: str, alter: int) -> str:
    """Letter and sign.

    >>> name_of("B", -1)
    'Bb'
    """
    return step + ("#" * alter if alter > 0 else "b" * -alter)


def pitch_class(step: str, alter: int) -> int:
    """Semitones above C, 0 to 11."""
    return (SEMITONES[step] + alter) % 12
