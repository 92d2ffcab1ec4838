"""A bar in the making, as every reader of notation knows it before the form is clear."""

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm

from backing.music.form import BarForm
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tune import Bar, ChordSymbol, Ending, Jump, Note, Source, TempoMark, Tuplet

_MOST_PARTS = 10**36


@dataclass(slots=True, eq=False, kw_only=True)
class FrameDraft:
    """What the bar says to all voices: length, metre, key, repeats, endings, chords, tempi."""

    metre: Metre
    key: Key
    length: Fraction
    opens_repeat: int = 0
    plays: int = 0
    ending: Ending | None = None
    close: str = "|"
    label: str = ""
    jumps: list[Jump] = field(default_factory=list)
    tempos: list[TempoMark] = field(default_factory=list)
    chords: list[ChordSymbol] = field(default_factory=list)
    source: Source | None = None

    def bar(self, place: BarForm) -> Bar:
        """The finished value, at its place in the form."""
        return Bar(
            number=place.number,
            section=place.section,
            pickup=place.pickup,
            length=self.length,
            metre=self.metre,
            key=self.key,
            opens_repeat=self.opens_repeat,
            plays=self.plays,
            ending=self.ending,
            close=self.close,
            label=self.label,
            jumps=tuple(self.jumps),
            tempos=tuple(self.tempos),
            chords=tuple(self.chords),
            source=self.source,
        )


def common_measure(parts: int, length: Fraction) -> int:
    """Into how many parts of a whole note all lengths go, one more counted in: sums of them stay
    numbers of a fixed size.  ValueError past 10^36.

    >>> common_measure(8, Fraction(1, 12))
    24
    """
    if parts % length.denominator == 0:
        return parts
    parts = lcm(parts, length.denominator)
    if parts > _MOST_PARTS:
        raise ValueError("the lengths up to here have no common measure that can be worked with")
    return parts


def with_groups_opened(bars: Iterable[tuple[Note, ...]]) -> tuple[tuple[Note, ...], ...]:
    """The bars of a voice in which every tuplet says where it begins: one that something else
    stands in begins anew after it."""
    opened: list[tuple[Note, ...]] = []
    before: Tuplet | None = None
    for notes in bars:
        found: list[Note] = []
        for note in notes:
            group = note.tuplet
            begins = group is not None and (before is None or before[:2] != group[:2])
            if group is not None and begins and not group.first:
                found.append(note._replace(tuplet=group._replace(first=True)))
            else:
                found.append(note)
            before = group
        opened.append(tuple(found))
    return tuple(opened)


def put_chord(chords: list[ChordSymbol], symbol: ChordSymbol) -> ChordSymbol | None:
    """Put a chord symbol among those of its bar, in order; the one whose place it takes."""
    if not chords or chords[-1].onset < symbol.onset:
        chords.append(symbol)
        return None
    at = bisect_left(chords, symbol.onset, key=lambda other: other.onset)
    if chords[at].onset > symbol.onset:
        chords.insert(at, symbol)
        return None
    before, chords[at] = chords[at], symbol
    return before
