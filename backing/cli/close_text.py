"""Bars from close by: beat by beat, every note with its octave and its length in words."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from textwrap import wrap
from typing import NamedTuple

from backing.cli.music_text import strikes_of
from backing.music.dance import felt
from backing.music.pitch import Pitch
from backing.music.played import Strike, beats_in, dance_for
from backing.music.tune import Bar, Note, Tune
from backing.wording import listed

_LENGTHS = {
    Fraction(2): "breve",
    Fraction(1): "semibreve",
    Fraction(1, 2): "minim",
    Fraction(1, 4): "crotchet",
    Fraction(1, 8): "quaver",
    Fraction(1, 16): "semiquaver",
    Fraction(1, 32): "demisemiquaver",
    Fraction(1, 64): "hemidemisemiquaver",
}
_DOTS = {Fraction(1): "", Fraction(3, 2): "dotted ", Fraction(7, 4): "double dotted "}


class _Told(NamedTuple):
    """A note in words: its name, and what kind of note it is, in the singular."""

    name: str
    kind: str
    rest: bool


def length_name(length: Fraction) -> str:
    """A length in words.

    >>> length_name(Fraction(1, 8)), length_name(Fraction(3, 8)), length_name(Fraction(5, 16))
    ('quaver', 'dotted crotchet', '5/16 of a semibreve')
    """
    for dots, word in _DOTS.items():
        if name := _LENGTHS.get(length / dots):
            return word + name
    return f"{length} of a semibreve"


def close_lines(tune: Tune, indices: Sequence[int], width: int, dance: str = "") -> Iterator[str]:
    """Bars of a tune, by index, in lines of so many columns."""
    strikes = strikes_of(tune)
    named = dance_for(tune, dance)
    for place, index in enumerate(indices):
        bar = tune.bars[index]
        if place:
            yield ""
        yield _head(bar)
        beats = beats_in(bar, felt(bar.metre, named))
        for line in _beat_lines(bar, tune.melody.bars[index], strikes[index], beats):
            yield from wrap(line, width, initial_indent="  ", subsequent_indent="    ")


def _head(bar: Bar) -> str:
    if bar.pickup:
        return "pickup" if not bar.number else f"pickup to bar {bar.number + 1}"
    ending = f", time {bar.ending}" if bar.ending else ""
    return f"bar {bar.number}, {bar.section} part{ending}"


def _beat_lines(
    bar: Bar, notes: Sequence[Note], strikes: Sequence[Strike], beats: Sequence[Fraction]
) -> Iterator[str]:
    starts = [Fraction(0), *(beat for beat in beats if beat > 0)]
    told: list[list[_Told]] = [[] for _ in starts]
    for note, strike in zip(notes, strikes, strict=True):
        told[bisect_right(starts, note.onset) - 1].append(_told(note, strike))
    chords: list[list[str]] = [[] for _ in starts]
    for symbol in bar.chords:
        chords[bisect_right(starts, symbol.onset) - 1].append(str(symbol.chord))
    for number, (here, over) in enumerate(zip(told, chords, strict=True), 1):
        beat = "" if bar.pickup else f"beat {number}: "
        chord = f"{listed(over)} chord{'s' if len(over) > 1 else ''}, " if over else ""
        yield beat + chord + (_runs(here) or "goes on")


def _runs(notes: Sequence[_Told]) -> str:
    """Notes in words, those of one kind taken together."""
    return ", ".join(
        _run(list(run)) for _, run in groupby(notes, key=lambda note: (note.kind, note.rest))
    )


def _run(notes: Sequence[_Told]) -> str:
    first, size = notes[0], len(notes)
    if first.rest:
        return f"{first.kind} rest" if size == 1 else f"{size} {first.kind} rests"
    kind = first.kind if size == 1 or " of a " in first.kind else f"{first.kind}s"
    return f"{' '.join(note.name for note in notes)} {kind}"


def _told(note: Note, strike: Strike) -> _Told:
    written = note.length
    word = ""
    if note.tuplet is not None:
        written = written * note.tuplet.notes / note.tuplet.normal
        word = "triplet " if note.tuplet[:2] == (3, 2) else f"{note.tuplet.notes}-tuplet "
    kind = word + length_name(written)
    return _Told(_name(note, strike), kind, note.rest)


def _name(note: Note, strike: Strike) -> str:
    """A note by its pitches, with what hangs on it in brackets."""
    struck = [str(pitch) for pitch in note.pitches if pitch.midi in strike.keys]
    held = [str(pitch) for pitch in note.pitches if pitch.midi in strike.held]
    signs = [f"grace {_graces(note)}"] if note.graces else []
    signs += [f"{'+'.join(held)} held on"] if held and struck else []
    signs += ["held on"] if held and not struck else []
    signs += [*note.decorations, *(f'"{text}"' for text in note.texts)]
    name = "+".join(struck or held)
    return f"{name} ({', '.join(signs)})" if signs else name


def _graces(note: Note) -> str:
    pitches: list[Pitch] = [pitch for grace in note.graces for pitch in grace.pitches]
    return " ".join(map(str, pitches))
