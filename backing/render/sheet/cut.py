"""Bars that are wider than a line, cut into pieces that fit: a free metre has such bars."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from backing.music.tune import Bar, Jump, Note, Tune, Voice

_AT_START = (Jump.SEGNO, Jump.CODA)


class BarPiece(NamedTuple):
    """A piece of a bar: the bar's index, and what it holds of it, [start, stop)."""

    bar: int
    start: Fraction
    stop: Fraction
    first: bool
    last: bool

    def holds(self, onset: Fraction) -> bool:
        """Whether a place in the bar lies in it; the last piece has the end."""
        return self.start <= onset < self.stop or (self.last and onset >= self.stop)


def pieces_of_bars(tune: Tune, counts: Mapping[int, int]) -> list[BarPiece]:
    """All bars in order, those named here in as many pieces, or fewer where notes go across."""
    pieces: list[BarPiece] = []
    for index, bar in enumerate(tune.bars):
        cuts = _cuts(tune, index, counts[index]) if index in counts else []
        places = [Fraction(0), *cuts, bar.length]
        last = len(places) - 2
        pieces += [
            BarPiece(index, start, stop, at == 0, at == last)
            for at, (start, stop) in enumerate(pairwise(places))
        ]
    return pieces


def _cuts(tune: Tune, index: int, count: int) -> list[Fraction]:
    """Where a bar is cut: between notes of all voices, so that each piece has as many."""
    free = set.intersection(*(_between(voice.bars[index]) for voice in tune.voices))
    places = sorted(free - {Fraction(0)})
    notes = [note.onset for note in tune.melody.bars[index]]
    cuts: list[Fraction] = []
    for number in range(1, count):
        wanted = notes[len(notes) * number // count]
        later = [place for place in places if not cuts or place > cuts[-1]]
        if later:
            cuts.append(min(later, key=lambda place: (abs(place - wanted), place)))
    return cuts


def _between(notes: Sequence[Note]) -> set[Fraction]:
    """The onsets at which no tuplet is under way."""
    return {note.onset for note in notes if note.tuplet is None or note.tuplet.first}


def cut_tune(tune: Tune, pieces: Sequence[BarPiece]) -> Tune:
    """The tune with a bar for each piece."""
    voices = tuple(
        Voice(voice.name, tuple(tuple(_moved(voice.bars[p.bar], p)) for p in pieces))
        for voice in tune.voices
    )
    return replace(tune, bars=tuple(_bar(tune.bars[p.bar], p) for p in pieces), voices=voices)


def _moved(notes: Sequence[Note], piece: BarPiece) -> Iterator[Note]:
    for note in notes:
        if piece.holds(note.onset):
            yield note._replace(onset=note.onset - piece.start)


def _bar(bar: Bar, piece: BarPiece) -> Bar:
    if piece.first and piece.last:
        return bar
    ending = bar.ending and bar.ending._replace(first=bar.ending.first and piece.first)
    tempos = [replace(t, onset=t.onset - piece.start) for t in bar.tempos if piece.holds(t.onset)]
    chords = [replace(c, onset=c.onset - piece.start) for c in bar.chords if piece.holds(c.onset)]
    return replace(
        bar,
        length=piece.stop - piece.start,
        pickup=bar.pickup and piece.first,
        opens_repeat=bar.opens_repeat if piece.first else 0,
        plays=bar.plays if piece.last else 0,
        ending=ending,
        close=bar.close if piece.last else "",
        label=bar.label if piece.first else "",
        jumps=tuple(j for j in bar.jumps if (piece.first if j in _AT_START else piece.last)),
        tempos=tuple(tempos),
        chords=tuple(chords),
    )


def cut_marks(
    marks: Mapping[int, Sequence[tuple[Fraction, str]]], pieces: Sequence[BarPiece]
) -> dict[int, list[tuple[Fraction, str]]]:
    """Marks by bar and place, at the pieces that they fall into."""
    return {
        at: [(onset - p.start, text) for onset, text in marks.get(p.bar, ()) if p.holds(onset)]
        for at, p in enumerate(pieces)
    }
