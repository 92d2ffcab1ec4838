"""The printed notes of a voice: each note in the pieces that it is written in."""

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from backing.music.tune import Bar, Note, Tune, Voice
from backing.render.musicxml.elements import PrintedNote, pieces_of


class Printed(NamedTuple):
    """A printed note, and the note that it is a piece of.

    `onset` counts from the start of the bar; `first` and `last` are true for the first and
    last of the note's pieces; `whole_bar` for a rest that fills its bar.
    """

    onset: Fraction
    note: Note
    piece: PrintedNote
    first: bool = True
    last: bool = True
    whole_bar: bool = False


def printed_rows(tune: Tune, voice: Voice) -> list[list[Printed]]:
    """What is printed of a voice, bar by bar; a bar without notes has a hidden rest."""
    return [
        list(_printed(bar, notes or (Note(Fraction(0), bar.length, hidden=True),)))
        for bar, notes in zip(tune.bars, voice.bars, strict=True)
    ]


def _printed(bar: Bar, notes: tuple[Note, ...]) -> Iterator[Printed]:
    for note in notes:
        pieces = pieces_of(note)
        if _fills(note, bar, len(pieces)):
            bare = PrintedNote(note.length, "", 0)
            yield Printed(note.onset, note, bare, whole_bar=True)
            continue
        onset, last = note.onset, len(pieces) - 1
        for index, piece in enumerate(pieces):
            yield Printed(onset, note, piece, index == 0, index == last)
            onset = onset + piece.length if index < last else onset


def _fills(note: Note, bar: Bar, pieces: int) -> bool:
    """True for a rest that is written as one of a whole bar; a pickup shows how long it is."""
    return note.rest and note.length == bar.length and not (bar.pickup and pieces == 1)
