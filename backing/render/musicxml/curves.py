"""Ties and slurs of a line of printed notes."""

from collections.abc import Iterator, Sequence, Set
from xml.etree.ElementTree import Element

from backing.music.pitch import Pitch
from backing.render.musicxml.printed import Printed

#: So many slurs can be told apart where they overlap (MusicXML 4.0, type `number-level`).
_SLURS = 16


def ties_of(line: Sequence[Printed]) -> Iterator[tuple[Set[Pitch], Set[Pitch]]]:
    """For each printed note the pitches held from the one before, and on into the next."""
    incoming: Set[Pitch] = frozenset()
    for item in line:
        outgoing = frozenset(item.note.ties if item.last else item.note.pitches)
        yield incoming, outgoing
        incoming = outgoing


def slurs_of(line: Sequence[Printed]) -> list[list[Element]]:
    """The signs `slur` of each printed note, ends before beginnings.

    A slur has the lowest number that is free while it lasts.
    """
    signs: list[list[Element]] = [[] for _ in line]
    taken: dict[int, int] = {}
    for start, stop in sorted(_slur_pairs(line), key=lambda pair: (pair[0], -pair[1])):
        free = (n for n in range(1, _SLURS) if taken.get(n, -1) <= start)
        number = next(free, _SLURS)
        taken[number] = stop
        signs[start].append(_slur("start", number))
        signs[stop].append(_slur("stop", number))
    return signs


def _slur_pairs(line: Sequence[Printed]) -> Iterator[tuple[int, int]]:
    """First and last printed note of each slur; one that closes at a note closes before
    another opens there (ABC 2.1 clause 4.11), and one that never closes is none."""
    opened: list[int] = []
    begin = 0
    for index, item in enumerate(line):
        begin = index if item.first else begin
        if item.last:
            for _ in range(min(item.note.closes, len(opened))):
                yield opened.pop(), index
            opened += [begin] * item.note.opens


def _slur(sort: str, number: int) -> Element:
    return Element("slur", {"type": sort, "number": str(number)})
