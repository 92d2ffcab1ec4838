"""Which printed notes belong to one tuplet."""

from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from backing.render.musicxml.elements import PrintedNote, add
from backing.render.musicxml.printed import Printed


def tuplet_groups(line: Sequence[Printed]) -> list[int]:
    """For each printed note the number of its tuplet in the line, from 1; 0 outside of any.

    A tuplet that the tune tells of lasts until the next begins or the ratio changes.  Notes
    whose lengths need one, without being told of, go together until they fill a length that
    needs none.
    """
    groups: list[int] = []
    group, ratio, told, filled = 0, (1, 1), False, Fraction(0)
    for item in line:
        tuplet = item.note.tuplet
        if item.piece.ratio == (1, 1):
            ratio = (1, 1)
            groups.append(0)
            continue
        begins = tuplet is not None and tuplet.first and item.first
        full = not told and filled.denominator & (filled.denominator - 1) == 0
        if begins or item.piece.ratio != ratio or told != (tuplet is not None) or full:
            group, ratio, told, filled = group + 1, item.piece.ratio, tuplet is not None, Fraction()
        filled += item.piece.length
        groups.append(group)
    return groups


def add_ratio(element: Element, piece: PrintedNote) -> None:
    """How many notes sound in the time of how many (element `time-modification`)."""
    if piece.ratio == (1, 1):
        return
    modification = SubElement(element, "time-modification")
    add(modification, "actual-notes", piece.ratio[0])
    add(modification, "normal-notes", piece.ratio[1])
    add(modification, "normal-type", piece.type)


def brackets_of(
    line: Sequence[Printed], groups: Sequence[int], beams: Sequence[tuple[str, ...]]
) -> list[list[Element]]:
    """The signs `tuplet` of each printed note; without a bracket where a beam holds together
    exactly these notes (common practice, no source)."""
    found: list[list[Element]] = [[] for _ in line]
    start = 0
    for index, group in enumerate(groups):
        start = index if index == 0 or groups[index - 1] != group else start
        if group and (index + 1 == len(groups) or groups[index + 1] != group):
            beamed = _one_beam(beams[start : index + 1])
            sign = {"type": "start", "number": "1", "bracket": "no" if beamed else "yes"}
            found[start].append(Element("tuplet", sign))
            found[index].append(Element("tuplet", {"type": "stop", "number": "1"}))
    return found


def _one_beam(beams: Sequence[tuple[str, ...]]) -> bool:
    """True where these notes, and no others, hang on one beam."""
    first = [levels[0] if levels else "" for levels in beams]
    return first == ["begin", *["continue"] * (len(first) - 2), "end"]
