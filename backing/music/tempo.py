"""Tempo: felt beats a minute, with the note that beats."""

import re
from fractions import Fraction
from typing import NamedTuple

SLOWEST, FASTEST = 10, 400
_TEMPO = r"\s*(?:(\d{1,4})/(\d{1,4})\s*=\s*)?(\d{1,6}(?:[.,]\d{1,6})?)\s*$"


class Tempo(NamedTuple):
    """`beats` a minute of a note that lasts `unit` whole notes (3/8 is a dotted crotchet)."""

    beats: Fraction
    unit: Fraction

    @property
    def wholes(self) -> Fraction:
        """Whole notes a minute."""
        return self.beats * self.unit

    def in_unit(self, unit: Fraction) -> "Tempo":
        """The same speed counted in another note.

        >>> str(Tempo(Fraction(120), Fraction(1, 4)).in_unit(Fraction(1, 2)))
        '1/2 = 60'
        """
        return self if unit == self.unit else Tempo(self.wholes / unit, unit)

    def scaled(self, factor: Fraction) -> "Tempo":
        """The same unit at another speed."""
        return Tempo(self.beats * factor, self.unit)

    def __str__(self) -> str:
        return f"{self.unit} = {decimal(self.beats)}"


class FeltBeats(NamedTuple):
    """`beats` a minute of the note that a tune is felt in, whichever that is."""

    beats: Fraction

    def in_unit(self, unit: Fraction) -> Tempo:
        """The tempo, where that note is known.

        >>> str(FeltBeats(Fraction(60)).in_unit(Fraction(3, 8)))
        '3/8 = 60'
        """
        return Tempo(self.beats, unit)


def parse_tempo(text: str) -> Tempo | FeltBeats:
    """A tempo as a player writes it: "60" (felt beats) or "3/8=60"; ValueError otherwise.

    The speed must lie between 10 and 400 beats a minute.

    >>> str(parse_tempo("3/8=60")), parse_tempo("62,5")
    ('3/8 = 60', FeltBeats(beats=Fraction(125, 2)))
    """
    match = re.match(_TEMPO, text)
    if not match:
        raise ValueError(f"{text!r} is not a tempo like 60 or 3/8=60")
    beats = Fraction(match[3].replace(",", "."))
    if match[1] and not (int(match[1]) and int(match[2])):
        raise ValueError(f"{match[1]}/{match[2]} is not a note length")
    if not SLOWEST <= beats <= FASTEST:
        raise ValueError(f"{match[3]} beats a minute lies outside {SLOWEST} to {FASTEST}")
    if not match[1]:
        return FeltBeats(beats)
    return Tempo(beats, Fraction(int(match[1]), int(match[2])))


def decimal(number: Fraction) -> str:
    """A number with at most one decimal, as tempi are read out.

    >>> decimal(Fraction(336, 5)), decimal(Fraction(60))
    ('67.2', '60')
    """
    return f"{float(number):.1f}".removesuffix(".0")
