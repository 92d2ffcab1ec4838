"""The notes of a voice: elements `note` of MusicXML 4.0, in the order of its content model."""

from collections.abc import Iterator, Sequence, Set
from fractions import Fraction
from functools import lru_cache
from itertools import islice
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from backing.music.pitch import Pitch
from backing.music.tune import Note, Tune, Voice
from backing.render.musicxml.accidentals import Accidentals
from backing.render.musicxml.beams import beamed_run, beams_of
from backing.render.musicxml.curves import slurs_of, ties_of
from backing.render.musicxml.decorations import signs_of
from backing.render.musicxml.elements import PRINTED, PrintedNote, add
from backing.render.musicxml.lyrics import Lyrics
from backing.render.musicxml.printed import Printed, printed_rows
from backing.render.musicxml.tuplets import add_ratio, brackets_of, tuplet_groups


class WrittenNote(NamedTuple):
    """A printed note as it is written, after its grace notes: how long it lasts, its elements."""

    length: Fraction
    elements: list[Element]


class Marked(NamedTuple):
    """A printed note with what it shares with its neighbours."""

    printed: Printed
    ties: tuple[Set[Pitch], Set[Pitch]] = (frozenset(), frozenset())
    beams: tuple[str, ...] = ()
    notations: Sequence[Element] = ()


def written_rows(tune: Tune, voice: Voice, divisions: int) -> list[list[WrittenNote]]:
    """The notes of a voice, bar by bar; a quarter note lasts `divisions`."""
    writer = _NoteWriter(divisions)
    rows = []
    for bar, row in zip(tune.bars, _marked_rows(tune, voice), strict=True):
        writer.accidentals.open_bar(bar.key)
        rows.append([writer.write(marked) for marked in row])
    return rows


def _marked_rows(tune: Tune, voice: Voice) -> Iterator[Iterator[Marked]]:
    rows = printed_rows(tune, voice)
    line = [item for row in rows for item in row]
    tuplets = tuplet_groups(line)
    beams: list[tuple[str, ...]] = []
    for bar, row in zip(tune.bars, rows, strict=True):
        beams += beams_of(bar, row, tuplets[len(beams) : len(beams) + len(row)])
    signs = zip(slurs_of(line), brackets_of(line, tuplets, beams), strict=True)
    notations = [slurs + brackets for slurs, brackets in signs]
    marked = map(Marked, line, ties_of(line), beams, notations)
    return (islice(marked, len(row)) for row in rows)


class _NoteWriter:
    """Writes the notes of a voice one after another."""

    def __init__(self, divisions: int) -> None:
        self.accidentals = Accidentals()
        self._lyrics = Lyrics()
        self._divisions = divisions

    def write(self, marked: Marked) -> WrittenNote:
        """A printed note, after the grace notes that lead to it."""
        item = marked.printed
        elements: list[Element] = []
        if item.first:
            slash = "yes" if item.note.slashed else "no"
            elements += [e for grace in _graces(item.note) for e in self._struck(grace, slash)]
        struck = self._struck(marked)
        if item.first:
            struck[0].extend(self._lyrics.under(item.note))
        return WrittenNote(item.piece.length, elements + struck)

    def _struck(self, marked: Marked, slash: str = "") -> list[Element]:
        """The notes struck together, or a rest; grace notes where `slash` is told."""
        elements: list[Element] = []
        for pitch in marked.printed.note.pitches or (None,):
            element = Element("note")
            if slash:
                SubElement(element, "grace", {"slash": slash})
            if elements:
                SubElement(element, "chord")
            self._write_head(element, marked, pitch, grace=bool(slash))
            if not elements:
                for number, beam in enumerate(marked.beams, 1):
                    add(element, "beam", beam, number=str(number))
            _write_notations(element, marked, pitch, leads=not elements)
            elements.append(element)
        return elements

    def _write_head(
        self, element: Element, marked: Marked, pitch: Pitch | None, *, grace: bool
    ) -> None:
        """Pitch or rest, duration, ties, voice, type, accidental, ratio."""
        item = marked.printed
        if pitch is None:
            _write_rest(element, item)
        else:
            _write_pitch(element, pitch)
        if not grace:
            length = item.piece.length
            add(element, "duration", length.numerator * 4 * self._divisions // length.denominator)
        for sort in _ties(marked, pitch):
            SubElement(element, "tie", {"type": sort})
        add(element, "voice", 1)
        if item.piece.type:
            add(element, "type", item.piece.type)
        for _ in range(item.piece.dots):
            SubElement(element, "dot")
        if pitch is not None:
            accidental = self.accidentals.before(pitch, tied=pitch in marked.ties[0])
            if accidental:
                add(element, "accidental", accidental)
        add_ratio(element, item.piece)


def _graces(note: Note) -> list[Marked]:
    """The grace notes before a note, beamed among themselves: one alone as a quaver, the
    shortest of several as a semiquaver (common practice, no source)."""
    if not note.graces:
        return []
    alone = len(note.graces) == 1
    unit = Fraction(1, 8) if alone else Fraction(1, 16) / min(g.length for g in note.graces)
    pieces = [_grace_piece(grace.length * unit) for grace in note.graces]
    struck = [Note(note.onset, Fraction(0), grace.pitches) for grace in note.graces]
    return [
        Marked(Printed(note.onset, grace, piece), beams=beams)
        for grace, piece, beams in zip(struck, pieces, beamed_run(pieces), strict=True)
    ]


@lru_cache(maxsize=256)
def _grace_piece(length: Fraction) -> PrintedNote:
    """The longest note that lasts no longer."""
    fitting = (printed for printed in PRINTED if printed[0] <= length)
    return PrintedNote(*next(fitting, (Fraction(1, 8), "eighth", 0)))


def _write_pitch(element: Element, pitch: Pitch) -> None:
    child = SubElement(element, "pitch")
    add(child, "step", pitch.step)
    if pitch.alter:
        add(child, "alter", pitch.alter)
    add(child, "octave", pitch.octave)


def _write_rest(element: Element, item: Printed) -> None:
    if item.note.hidden:
        element.set("print-object", "no")
    SubElement(element, "rest", {"measure": "yes"} if item.whole_bar else {})


def _ties(marked: Marked, pitch: Pitch | None) -> list[str]:
    held, holds = marked.ties
    return [sort for sort, pitches in (("stop", held), ("start", holds)) if pitch in pitches]


def _write_notations(element: Element, marked: Marked, pitch: Pitch | None, *, leads: bool) -> None:
    """Ties at each note; slurs, brackets and decorations at the first of those struck
    together."""
    signs = [Element("tied", {"type": sort}) for sort in _ties(marked, pitch)]
    if leads:
        signs += marked.notations
        signs += signs_of(marked.printed.note.decorations) if marked.printed.first else ()
    if signs:
        SubElement(element, "notations").extend(signs)
