"""Swing: which pairs of notes are uneven, and by how much."""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.music.dance import Dance
from backing.music.metre import Metre
from backing.music.tune import Note

#: Onset and length of a note in its bar.
Placement = tuple[Fraction, Fraction]
#: Dances whose written dotted pairs are swung too.
_SOFTENED = ("hornpipe", "clog", "schottische")


#: Up to so many swung pairs a minute a swing stays as it is; from so many on it is at most 3:2
#: (working values).
_EASES, _EASED = Fraction(190), Fraction(240)
_THREE_TO_TWO = Fraction(3, 2)


class Swing(NamedTuple):
    """The ratio of a swung pair, None for even ones; whether dotted pairs take it too."""

    ratio: Fraction | None = None
    soften: bool = False


def swing_of(dance: Dance | None, ratio: Fraction | None = None) -> Swing:
    """The swing of a dance; `ratio` stands in for its own, 1 for even pairs.

    >>> from backing.music.dance import find_dance
    >>> str(swing_of(find_dance("hornpipe")).ratio), swing_of(find_dance("reel")).ratio
    ('2', None)
    """
    ratio = ratio or (dance.swing if dance else None)
    if ratio is None or ratio == 1:
        return Swing()
    return Swing(ratio, dance is not None and dance.name in _SOFTENED)


def eased(ratio: Fraction, pairs: Fraction) -> Fraction:
    """A swing at so many pairs (felt crotchets) a minute: quick ones even out towards 3:2.

    >>> [str(eased(Fraction(2), Fraction(pairs))) for pairs in (100, 190, 215, 240, 300)]
    ['2', '2', '7/4', '3/2', '3/2']
    """
    if ratio <= _THREE_TO_TWO or pairs <= _EASES:
        return ratio
    share = min((pairs - _EASES) / (_EASED - _EASES), Fraction(1))
    return (ratio - share * (ratio - _THREE_TO_TWO)).limit_denominator(12)


def swing_unit(metre: Metre) -> Fraction | None:
    """The time that a swung pair fills: a quarter of the bar in two- and four-time, else
    a crotchet; None where beats divide in three, or where there is no metre."""
    if metre.free or any(beat.numerator == 3 for beat in metre.beats):
        return None
    if metre.count in (2, 4):
        return metre.length / 4
    return Fraction(1, 4) if metre.unit <= 4 else None


def swung(
    notes: Sequence[Note], metre: Metre, begins: Fraction, ratio: Fraction | None, soften: bool
) -> list[Placement]:
    """Onset and length of each note with its swing.

    Only equal, undotted pairs that fill one swing unit move, never tuplets; with
    `soften`, pairs written dotted (3 to 1) take the ratio too.  `begins` is where in its
    metre the bar begins.
    """
    spans = [(note.onset, note.length) for note in notes]
    uneven = None if ratio is None else _uneven(metre, ratio)
    if uneven is None:
        return spans
    unit, half, dotted, short, long = uneven
    for index in range(len(notes) - 1):
        first, second = notes[index], notes[index + 1]
        even = first.length == half and second.length == half
        if not even and not (soften and first.length == dotted and second.length == short):
            continue
        if first.tuplet or second.tuplet or (first.onset + begins) % unit:
            continue
        spans[index] = (first.onset, long)
        spans[index + 1] = (first.onset + long, unit - long)
    return spans


@lru_cache(maxsize=64)
def _uneven(metre: Metre, ratio: Fraction) -> tuple[Fraction, ...] | None:
    """The time that a swung pair fills; half, three quarters and a quarter of it; the swung
    first note."""
    unit = swing_unit(metre)
    if unit is None:
        return None
    return unit, unit / 2, unit * 3 / 4, unit / 4, unit * ratio / (ratio + 1)
