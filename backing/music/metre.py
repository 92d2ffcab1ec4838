"""Metres and their felt beats.

A metre is two integers and its beats, never a `Fraction`: 6/8 and 3/4 last the
same and are not the same.  Lengths are `Fraction`s of a whole note.
"""

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache

_NAMES = {"C": (4, 4), "C|": (2, 2)}
_METRE = re.compile(r"\(?\s*(\d+(?:\s*\+\s*\d+)*)\s*\)?\s*/\s*(\d+)\s*$")
_LARGEST = 256


@dataclass(frozen=True, slots=True)
class Metre:
    """A metre: how many of which note make a bar, and the beats that are felt in it.

    `beats` are lengths in whole notes that add up to the bar (6/8 is 3/8 + 3/8);
    `groups` says how many beats belong to each strong one (4/4 is 2 + 2).
    Free metre has `count` 0 and no beats: its bars last as long as their notes.
    `written` is how the metre was written, where that says more ("C", "C|").
    """

    count: int
    unit: int
    beats: tuple[Fraction, ...]
    groups: tuple[int, ...]
    written: str = ""
    _hash: int = field(default=0, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # That of all fields takes 25 times as long (6 µs), and bars are looked up by their metre.
        known = hash((self.count, self.unit, len(self.beats), self.written))
        object.__setattr__(self, "_hash", known)

    @property
    def length(self) -> Fraction:
        """Length of a full bar in whole notes; 0 in free metre."""
        return Fraction(self.count, self.unit)

    @property
    def free(self) -> bool:
        """True where bars have no fixed length."""
        return self.count == 0

    @property
    def strong(self) -> tuple[int, ...]:
        """Indices of the strong beats, from 0.

        >>> parse_metre("4/4").strong, parse_metre("3/4").strong
        ((0, 2), (0,))
        """
        starts = [0]
        for size in self.groups[:-1]:
            starts.append(starts[-1] + size)
        return tuple(starts)

    @property
    def feel(self) -> str:
        """The metre that the felt beats make: a reel in 4/4 is felt in 2/2.

        Uneven beats, and beats that divide in three, keep the written metre.
        """
        return _feel(self)

    def with_beats(self, *beats: Fraction) -> "Metre":
        """The same bar felt in other beats.

        >>> parse_metre("4/4").with_beats(Fraction(1, 2), Fraction(1, 2)).feel
        '2/2'
        """
        return _felt_in(self, beats)

    @property
    def felt_beat(self) -> Fraction:
        """The length of a felt beat, the mean of uneven ones; a crotchet in free metre."""
        return self.length / len(self.beats) if self.beats else Fraction(1, 4)

    def beat_onsets(self) -> tuple[Fraction, ...]:
        """Where the beats fall in the bar, the first at 0."""
        onsets, at = [], Fraction(0)
        for beat in self.beats:
            onsets.append(at)
            at += beat
        return tuple(onsets)

    def __hash__(self) -> int:
        return self._hash

    def __str__(self) -> str:
        return "free" if self.free else f"{self.count}/{self.unit}"


@lru_cache(maxsize=256)
def _felt_in(metre: Metre, beats: tuple[Fraction, ...]) -> Metre:
    if sum(beats) != metre.length:
        raise ValueError(f"beats {beats} do not make a bar of {metre}")
    return replace(metre, beats=beats, groups=_groups(len(beats)))


@lru_cache(maxsize=256)
def _feel(metre: Metre) -> str:
    beat = metre.beats[0] if metre.beats else Fraction(0)
    if beat and beat.numerator == 1 and len(set(metre.beats)) == 1:
        return f"{len(metre.beats)}/{beat.denominator}"
    return f"{metre.count}/{metre.unit}"


FREE = Metre(0, 4, (), (), "none")


@lru_cache(maxsize=256)
def parse_metre(text: str) -> Metre:
    """A metre from its name: "6/8", "C", "C|", "(3+2+2)/8", "none".

    Raises ValueError for anything else.  ABC 2.1 clause 3.1.6.

    >>> [str(beat) for beat in parse_metre("7/8").beats]
    ['3/8', '1/4', '1/4']
    >>> [str(beat) for beat in parse_metre("(2+3)/8").beats]
    ['1/4', '3/8']
    """
    text = text.strip()
    if text.lower() in ("none", ""):
        return FREE
    if text in _NAMES:
        count, unit = _NAMES[text]
        return replace(make_metre(count, unit), written=text)
    match = _METRE.match(text)
    if not match:
        raise ValueError(f"{text!r} is not a metre")
    grouping = tuple(int(part) for part in match[1].split("+"))
    return make_metre(sum(grouping), int(match[2]), grouping if len(grouping) > 1 else ())


def make_metre(count: int, unit: int, grouping: tuple[int, ...] = ()) -> Metre:
    """A metre of `count` notes of 1/`unit`; `grouping` in those notes, or a sensible one.

    Numerators 6, 9, 12 … are compound (beats of three); other metres in quavers or
    shorter are taken in threes first, then twos (7/8 is 3+2+2); the rest in the unit.
    Raises ValueError for a count outside 1 to 256, a unit that is no power of two, or a
    group of none.
    """
    if not 0 < count <= _LARGEST or unit not in (1, 2, 4, 8, 16, 32, 64, 128) or 0 in grouping:
        raise ValueError(f"{count}/{unit} is not a metre")
    note = Fraction(1, unit)
    written = f"({'+'.join(map(str, grouping))})/{unit}" if grouping else ""
    if grouping and unit <= 4:
        return Metre(count, unit, (note,) * count, grouping, written)
    sizes = grouping or _sizes(count, unit)
    beats = tuple(size * note for size in sizes)
    return Metre(count, unit, beats, _groups(len(beats)), written)


def _sizes(count: int, unit: int) -> tuple[int, ...]:
    """How many written notes make each felt beat, common practice, no source."""
    if count % 3 == 0 and (count > 3 or unit >= 8):
        return (3,) * (count // 3)
    if unit <= 4:
        return (1,) * count
    threes = max((n for n in range(count // 3 + 1) if (count - 3 * n) % 2 == 0), default=0)
    twos = (count - 3 * threes) // 2
    return (3,) * threes + (2,) * twos or (count,)


def _groups(beats: int) -> tuple[int, ...]:
    """Strong beats: fours go in twos, fives in 3+2, sevens in 3+2+2, others as one."""
    named = {4: (2, 2), 5: (3, 2), 6: (3, 3), 7: (3, 2, 2), 8: (2, 2, 2, 2)}
    return named.get(beats, (beats,))
