"""Chord symbols written into the ABC text that a tune was read from, the rest untouched."""

from collections.abc import Iterator, Sequence

from backing.music.tune import Source, Tune


def write_symbols(lines: Sequence[str], first: int, read: Tune, tune: Tune) -> str | None:
    """The lines of a tune with the chord symbols of `tune` in the place of those that were
    read; None where one of them has no note to stand at.

    `first` is the number of the first line; `read` is the tune as read from these lines.
    The caller should read the text again: symbols that a macro or a symbol line made are
    beyond this.
    """
    edits = [(source, "") for source in _sources(read)]
    for index, bar in enumerate(tune.bars):
        for symbol in bar.chords:
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


def _sources(tune: Tune) -> Iterator[Source]:
    for bar in tune.bars:
        for symbol in bar.chords:
            if symbol.source is not None:
                yield symbol.source


def _note_at(tune: Tune, index: int, onset: object) -> Source | None:
    notes = tune.melody.bars[index]
    return next((note.source for note in notes if note.onset == onset), None)
