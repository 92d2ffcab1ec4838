"""Chord symbols written into the ABC text that a tune was read from, the rest untouched."""

from collections.abc import Sequence
from dataclasses import replace

from backing.music.tune import Source, Tune, Voice
from backing.render.abc_notes import struck_at


def write_symbols(lines: Sequence[str], first: int, read: Tune, tune: Tune) -> str | None:
    """The lines of a tune with the chord symbols of `tune` in the place of those that were
    read, bar by bar where they differ; None where one of them has no note to stand at.

    `first` is the number of the first line; `read` is the tune as read from these lines.
    The caller should read the text again: symbols that a macro or a symbol line made are
    beyond this.
    """
    edits: list[tuple[Source, str]] = []
    for index, (old, new) in enumerate(zip(read.bars, tune.bars, strict=True)):
        if old.chords == new.chords:
            continue
        edits += [(symbol.source, "") for symbol in old.chords if symbol.source is not None]
        for symbol in new.chords:
            place = _note_at(read, index, symbol.onset)
            if place is None:
                return None
            edits.append((Source(place.line, place.column, place.column), f'"{symbol.text}"'))
    found = list(lines)
    # From the last to the first, so that columns stay true; at one column what is new comes
    # before what goes.
    for source, text in sorted(edits, key=lambda edit: edit[0], reverse=True):
        line = found[source.line - first]
        found[source.line - first] = line[: source.column - 1] + text + line[source.end - 1 :]
    return "\n".join(found) + "\n"


def struck_at_symbols(tune: Tune) -> Tune:
    """The tune with the melody's notes cut in two, and tied, where a chord symbol stands inside
    one, so that each has a note to stand at."""
    bars = tuple(
        struck_at(notes, [symbol.onset for symbol in bar.chords])
        for bar, notes in zip(tune.bars, tune.melody.bars, strict=True)
    )
    return replace(tune, voices=(Voice(tune.melody.name, bars), *tune.voices[1:]))


def _note_at(tune: Tune, index: int, onset: object) -> Source | None:
    notes = tune.melody.bars[index]
    return next((note.source for note in notes if note.onset == onset), None)
