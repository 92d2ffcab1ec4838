"""The buttons under the notes of a tune as it is written: a line for the push, one for the pull.

Each written note has the buttons of the first time that it is played; every time through has
the same.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import NamedTuple

from backing.box.fingering import Fingered, Fingering
from backing.box.layout import Direction, Press
from backing.music.tune import Note, Tune, Voice

#: What stands for a note that the box lacks.
NO_BUTTON = "?"
_SIGN = re.compile(r"\d+'*(\+\d+'*)*|\?")
_LINES = 2


class UnderNote(NamedTuple):
    """What stands under a note: on the push line, and on the pull line; "" where nothing does."""

    push: str
    pull: str


NOTHING_UNDER = UnderNote("", "")


def button_sign(presses: Iterable[Press]) -> str:
    """The buttons that sound a note as they are written: "6" on the outer row, "6'" on the inner,
    "3+5" two at once, "?" where there are none, for the box lacks it."""
    buttons = (press.button for press in presses)
    return "+".join(str(one.number) + "'" * one.row for one in buttons) or NO_BUTTON


def fingered_bars(tune: Tune, fingering: Fingering) -> tuple[tuple[Fingered | None, ...], ...]:
    """How each written note of the melody is played the first time, bar by bar, note by note.

    None for rests, for notes that a tie holds on, and in bars that are never played.
    `fingering` is one of this tune's melody.
    """
    first: dict[tuple[int, int], Fingered] = {}
    for note in fingering.notes:
        index = fingering.line.bars[note.moment.bar].index
        first.setdefault((index, note.moment.note), note)
    return tuple(
        tuple(first.get((index, place)) for place in range(len(notes)))
        for index, notes in enumerate(tune.melody.bars)
    )


def under_notes(tune: Tune, fingering: Fingering) -> tuple[tuple[UnderNote, ...], ...]:
    """What stands under each written note of the melody, bar by bar, note by note.

    Nothing under rests, and under notes that a tie holds on.
    """
    return tuple(
        tuple(_under(note) if note else NOTHING_UNDER for note in notes)
        for notes in fingered_bars(tune, fingering)
    )


def _under(note: Fingered) -> UnderNote:
    sign = button_sign(note.presses)
    return UnderNote(sign, "") if note.direction is Direction.PUSH else UnderNote("", sign)


# -- as verses -------------------------------------------------------------------------


def with_buttons(tune: Tune, fingering: Fingering) -> Tune:
    """The tune with its buttons as the last two verses: the push line, then the pull line.

    Buttons that stand there already are replaced; lyrics stay before them.
    """
    bare = without_buttons(tune)
    verses = verse_count(bare)
    signs = under_notes(bare, fingering)
    return _with_melody(
        bare,
        [
            tuple(map(_put, notes, under, [verses] * len(notes)))
            for notes, under in zip(bare.melody.bars, signs, strict=True)
        ],
    )


def _put(note: Note, under: UnderNote, verses: int) -> Note:
    if under == NOTHING_UNDER:
        return note
    words = note.lyrics + ("",) * (verses - len(note.lyrics))
    return note._replace(lyrics=(*words, under.push) if under.push else (*words, *under))


def without_buttons(tune: Tune) -> Tune:
    """The tune without the verses at its end that are buttons and nothing else."""
    kept = verse_count(tune) - _button_verses(tune)
    return _with_melody(tune, [tuple(_cut(n, kept) for n in bar) for bar in tune.melody.bars])


def has_buttons(tune: Tune) -> bool:
    """True where buttons stand under the notes, as the last two verses."""
    return _button_verses(tune) > 0


def _button_verses(tune: Tune) -> int:
    """How many verses at the end, at most two, hold buttons alone, each note's in one of them."""
    sung = [note.lyrics for bar in tune.melody.bars for note in bar if any(note.lyrics)]
    verses = list(zip_longest(*sung, fillvalue=""))
    for size in (_LINES, 1):
        last = verses[-size:] if len(verses) >= size else []
        if last and all(map(_holds_buttons, last)) and all(map(_one_way, zip(*last, strict=True))):
            return size
    return 0


def _holds_buttons(verse: Sequence[str]) -> bool:
    return all(_SIGN.fullmatch(sign) for sign in verse if sign)


def _one_way(signs: Sequence[str]) -> bool:
    return sum(map(bool, signs)) <= 1


def verse_count(tune: Tune) -> int:
    """How many verses the melody has, buttons among them."""
    return max((len(note.lyrics) for bar in tune.melody.bars for note in bar), default=0)


def _cut(note: Note, verses: int) -> Note:
    """A note with so many verses at most, none of them empty at the end."""
    words = list(note.lyrics[:verses])
    while words and not words[-1]:
        words.pop()
    return note if len(words) == len(note.lyrics) else note._replace(lyrics=tuple(words))


def _with_melody(tune: Tune, bars: Sequence[tuple[Note, ...]]) -> Tune:
    return replace(tune, voices=(Voice(tune.melody.name, tuple(bars)), *tune.voices[1:]))
