"""Which notes hang on one beam, and by how many lines: common practice, no source.

A beam goes as far as a felt beat: quavers in threes in 6/8, by crotchets in 2/4 and 3/4,
by groups in 7/8.  The halves of a 4/4 bar, and beats of a minim or dotted minim, go
together where they have plain quavers and longer notes alone, else by crotchets.  Rests and
longer notes end a beam, a tuplet stays together, and what has no metre goes by crotchets.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import groupby

from backing.music.metre import Metre
from backing.music.tune import Bar
from backing.render.musicxml.elements import PRINTED, PrintedNote
from backing.render.musicxml.printed import Printed

_TYPES = [name for _, name, dots in PRINTED if not dots]
#: How many beams the notes of each type have, from the quaver on.
_LEVELS = {name: level for level, name in enumerate(_TYPES[_TYPES.index("quarter") :])}
_CROTCHET = Fraction(1, 4)


def beams_of(bar: Bar, row: Sequence[Printed], tuplets: Sequence[int]) -> list[tuple[str, ...]]:
    """The beams of each printed note of a bar, outermost first; `tuplets` are the numbers of
    the tuplets that they belong to, 0 for none."""
    hanging = [bool(item.note.pitches) and _level(item.piece) > 0 for item in row]
    beams: list[tuple[str, ...]] = [()] * len(row)
    if not any(hanging):
        return beams
    places = _places(bar, row, tuplets)
    for (beamed, _), run in groupby(range(len(row)), key=lambda i: (hanging[i], places[i])):
        indices = list(run) if beamed else []
        for index, lines in zip(indices, beamed_run([row[i].piece for i in indices]), strict=True):
            beams[index] = lines
    return beams


def beamed_run(pieces: Sequence[PrintedNote]) -> list[tuple[str, ...]]:
    """The beams of notes that hang together (MusicXML 4.0, type `beam-value`); a note alone
    has a flag."""
    if len(pieces) < 2:
        return [()] * len(pieces)
    levels = [0, *map(_level, pieces), 0]
    return [
        tuple(_line(pieces, levels, index, level) for level in range(1, levels[index + 1] + 1))
        for index in range(len(pieces))
    ]


def _line(pieces: Sequence[PrintedNote], levels: Sequence[int], index: int, level: int) -> str:
    """One of the beams of a note; a short one points to the note that it makes up a longer
    one with."""
    left, right = levels[index] >= level, levels[index + 2] >= level
    if left or right:
        return "continue" if left and right else "end" if left else "begin"
    if index in (0, len(pieces) - 1):
        return "backward hook" if index else "forward hook"
    at = sum((p.length * p.ratio[0] / p.ratio[1] for p in pieces[:index]), Fraction(0))
    return "backward hook" if at % Fraction(1, 2 << level) else "forward hook"


def _level(piece: PrintedNote) -> int:
    return _LEVELS.get(piece.type, 0)


# -- how far a beam may go --------------------------------------------------------


def _places(bar: Bar, row: Sequence[Printed], tuplets: Sequence[int]) -> list[Fraction]:
    """For each printed note where the stretch begins in which its beam stays."""
    stretches = [_stretch(bar.metre, bar.begins + item.onset) for item in row]
    split = {
        wide
        for item, (_, wide) in zip(row, stretches, strict=True)
        if _level(item.piece) > 1 or item.piece.ratio != (1, 1)
        or (_level(item.piece) and item.piece.dots)
    }  # fmt: skip
    places: list[Fraction] = []
    for index, (narrow, wide) in enumerate(stretches):
        goes_on = index > 0 and tuplets[index] and tuplets[index] == tuplets[index - 1]
        places.append(places[-1] if goes_on else narrow if wide in split else wide)
    return places


@lru_cache(maxsize=2048)
def _stretch(metre: Metre, at: Fraction) -> tuple[Fraction, Fraction]:
    """Where the stretch, and the wider one, begin that hold a place; counted on where a bar
    is longer than its metre."""
    starts, wide = _stretches(metre)
    period = metre.length or _CROTCHET
    before = at // period * period
    index = bisect_right(starts, at - before) - 1
    return before + starts[index], before + wide[index]


@lru_cache(maxsize=256)
def _stretches(metre: Metre) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    """Where each stretch of a metre begins, and for each where the wider one does."""
    if metre.free:
        return (Fraction(0),), (Fraction(0),)
    found = [pair for beat in zip(metre.beat_onsets(), metre.beats, strict=True)
             for pair in _crotchets(*beat, metre.unit)]  # fmt: skip
    if set(metre.beats) == {_CROTCHET} and set(metre.groups) == {2} and len(metre.groups) > 1:
        found = [(start, found[index // 2 * 2][0]) for index, (start, _) in enumerate(found)]
    return tuple(start for start, _ in found), tuple(wide for _, wide in found)


def _crotchets(onset: Fraction, beat: Fraction, unit: int) -> Iterator[tuple[Fraction, Fraction]]:
    """The stretches of a beat: crotchets where it is of several, together where of two or
    three."""
    count = int(beat / _CROTCHET) if unit <= 4 and beat % _CROTCHET == 0 else 1
    for index in range(count):
        start = onset + index * _CROTCHET
        yield start, onset if count <= 3 else start
