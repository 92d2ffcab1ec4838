"""The notes of a bar as names in the places of its beats.

A group of names is a felt beat; the names in a group share it evenly, and "." lets the one
before go on.  Capitals are the octave from middle C, small letters the one above, as players
who write tunes down with letters have it (common practice, no source).
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence, Set
from fractions import Fraction
from math import gcd, lcm
from typing import NamedTuple

from backing.music.pitch import Pitch, name_of
from backing.music.played import Strike
from backing.music.tune import Note

GOES_ON, REST, TOGETHER, TRIPLET = ".", "-", "+", "("
_MIDDLE = 4
#: No beat is divided into more places than this: what is finer stands without dots.
_MOST_PLACES = 16


class NameAt(NamedTuple):
    """A name at its place in the bar."""

    onset: Fraction
    text: str


class _BarName(NamedTuple):
    """A note, or a triplet whole: where it begins and ends, and its names."""

    onset: Fraction
    stop: Fraction
    names: tuple[NameAt, ...]


def pitch_name(pitch: Pitch) -> str:
    """A pitch by its letter: capitals from middle C up, small letters above that.

    >>> [pitch_name(Pitch("F", 1, octave)) for octave in (3, 4, 5, 6)]
    ['F#,', 'F#', 'f#', "f#'"]
    """
    name = name_of(pitch.step, pitch.alter)
    if pitch.octave > _MIDDLE:
        return name[0].lower() + name[1:] + "'" * (pitch.octave - _MIDDLE - 1)
    return name + "," * (_MIDDLE - pitch.octave)


def beat_names(
    notes: Sequence[Note],
    strikes: Sequence[Strike],
    beats: Sequence[Fraction],
    length: Fraction,
    marks: Sequence[Fraction] = (),
) -> list[tuple[NameAt, ...]]:
    """The names in a bar of this length, beat by beat; each of the `marks` has a place of its
    own, but in a triplet.

    `strikes` say what is struck of each note, `beats` where the beats begin.
    """
    pieces = list(_pieces(notes, strikes)) or [_rest(length)]
    ends = [*(beat for beat in beats if beat > 0), max(length, pieces[-1].stop)]
    starts = [Fraction(0), *ends[:-1]]
    onsets = [piece.onset for piece in pieces]
    own = _outside_triplets(pieces, onsets, marks)
    return [
        tuple(
            _filled(pieces[_span(onsets, start, stop)], own[_span(own, start, stop)], start, stop)
        )
        for start, stop in zip(starts, ends, strict=True)
        if stop > start
    ]


def _span(onsets: Sequence[Fraction], start: Fraction, stop: Fraction) -> slice:
    """Which of these, in order, lie in [start, stop)."""
    first = bisect_left(onsets, start)
    return slice(first, bisect_left(onsets, stop, first))


def _outside_triplets(
    pieces: Sequence[_BarName], onsets: Sequence[Fraction], marks: Sequence[Fraction]
) -> list[Fraction]:
    """Those of the marks that do not lie inside a triplet."""
    found = []
    for mark in sorted(marks):
        piece = pieces[max(bisect_right(onsets, mark) - 1, 0)]
        if len(piece.names) == 1 or not piece.onset < mark < piece.stop:
            found.append(mark)
    return found


def _rest(length: Fraction) -> _BarName:
    return _BarName(Fraction(0), length, (NameAt(Fraction(0), REST),))


def _pieces(notes: Sequence[Note], strikes: Sequence[Strike]) -> Iterator[_BarName]:
    """The notes of a bar in order, those of a triplet taken together."""
    group: list[tuple[Note, Strike]] = []
    for note, strike in zip(notes, strikes, strict=True):
        if group and not _goes_on(group[0][0], note):
            yield _piece(group)
            group = []
        if note.tuplet is None:
            yield _piece([(note, strike)])
        else:
            group.append((note, strike))
    if group:
        yield _piece(group)


def _goes_on(first: Note, note: Note) -> bool:
    """True where a note belongs to the triplet that another opened."""
    one, other = first.tuplet, note.tuplet
    return one is not None and other is not None and one[:2] == other[:2] and not other.first


def _piece(group: Sequence[tuple[Note, Strike]]) -> _BarName:
    pieces = [
        _BarName(note.onset, note.onset + note.length, (NameAt(note.onset, _text(note, strike)),))
        for note, strike in group
    ]
    first, last, tuplet = pieces[0], pieces[-1], group[0][0].tuplet
    if tuplet is None:
        return first
    names = _filled(pieces, (), first.onset, last.stop)
    names[0] = NameAt(names[0].onset, f"{TRIPLET}{tuplet.notes} {names[0].text}")
    names[-1] = NameAt(names[-1].onset, f"{names[-1].text})")
    return _BarName(first.onset, last.stop, tuple(names))


def _text(note: Note, strike: Strike) -> str:
    """What is struck, or that something goes on; grace notes before it in braces."""
    if note.rest:
        return REST
    held = [GOES_ON] if strike.held else []
    struck = [pitch_name(pitch) for pitch in note.pitches if pitch.midi in strike.keys]
    graces = "".join(pitch_name(pitch) for grace in note.graces for pitch in grace.pitches)
    return (f"{{{graces}}}" if graces else "") + TOGETHER.join([*held, *struck])


def _filled(
    pieces: Sequence[_BarName], marks: Sequence[Fraction], start: Fraction, stop: Fraction
) -> list[NameAt]:
    """Names at the fewest even places that hold them, with dots at those that have none; the
    places of a triplet are its own."""
    heads = {piece.onset: piece for piece in pieces}
    found: list[NameAt] = []
    taken = start
    for place in _places({start, *heads, *marks}, start, stop):
        if place in heads:
            found += heads[place].names
            taken = heads[place].stop if len(heads[place].names) > 1 else place
        elif place >= taken:
            found.append(NameAt(place, GOES_ON))
    return found


def _places(points: Set[Fraction], start: Fraction, stop: Fraction) -> list[Fraction]:
    steps = [*(point - start for point in points), stop - start]
    whole = lcm(*(step.denominator for step in steps))
    unit = Fraction(gcd(*(int(step * whole) for step in steps)), whole)
    count = int((stop - start) / unit)
    if count > _MOST_PLACES:
        return sorted(points)
    return [start + unit * place for place in range(count)]
