"""Verses written below the lines of the ABC text that a tune was read from, the rest untouched."""

from collections.abc import Iterator, Sequence

from backing.music.tune import Note, Tune
from backing.render.abc_text import write_syllable

#: Lines that hang on the line of music above them.
_BELOW = ("w:", "s:", "+:")


def write_verses(lines: Sequence[str], first: int, read: Tune, tune: Tune) -> str:
    """The lines of a tune with those verses of the melody of `tune` below them that were not
    read; verses that `tune` has no longer are left out.

    `first` is the number of the first line; `read` is the tune as read from these lines.  The
    caller should read the text again: lyrics that stand below several lines of music together
    are beyond this.
    """
    verses = max((len(note.lyrics) for note in tune.notes()), default=0)
    kept = min(_alike(read, tune), verses)
    rows = _rows(read, tune)
    found: list[str] = []
    index = 0
    while index < len(lines):
        found.append(lines[index])
        row = rows.get(first + index)
        index += 1
        if row is not None:
            stop = _end_of_block(lines, index)
            found += _with_verses(lines[index:stop], row, kept, verses)
            index = stop
    return "\n".join(found) + "\n"


def _alike(read: Tune, tune: Tune) -> int:
    """How many verses from the first on are the same in both."""
    pairs = [
        (one.lyrics, other.lyrics)
        for bar, there in zip(read.melody.bars, tune.melody.bars, strict=True)
        for one, other in zip(bar, there, strict=True)
    ]
    verses = max((len(lyrics) for pair in pairs for lyrics in pair), default=0)
    same = (
        all(_verse(one, number) == _verse(other, number) for one, other in pairs)
        for number in range(verses)
    )
    return next((number for number, alike in enumerate(same) if not alike), verses)


def _verse(lyrics: Sequence[str], number: int) -> str:
    return lyrics[number] if number < len(lyrics) else ""


def _rows(read: Tune, tune: Tune) -> dict[int, list[Note]]:
    """The melody's notes of `tune` by the line of the text that each was read from."""
    rows: dict[int, list[Note]] = {}
    for bar, there in zip(read.melody.bars, tune.melody.bars, strict=True):
        for one, other in zip(bar, there, strict=True):
            if one.source is not None and not one.rest:
                rows.setdefault(one.source.line, []).append(other)
    return rows


def _end_of_block(lines: Sequence[str], start: int) -> int:
    """Where the lines end that hang on a line of music, remarks between them included."""
    stop = at = start
    while at < len(lines) and lines[at].startswith((*_BELOW, "%")):
        at += 1
        stop = at if lines[at - 1].startswith(_BELOW) else stop
    return stop


def _with_verses(
    below: Sequence[str], row: Sequence[Note], kept: int, verses: int
) -> Iterator[str]:
    """What hangs on a line of music, with so many verses, new after the first ones that are
    `kept`."""
    verse, lyric = 0, False
    for line in below:
        if not line.startswith("+:"):
            lyric = line.startswith("w:")
            verse += lyric
        if not (lyric and verse > kept):
            yield line
    yield from ["w:*"] * (kept - min(verse, kept))
    for number in range(kept, verses):
        words = [_verse(note.lyrics, number) for note in row]
        yield "w:" + " ".join(map(write_syllable, words)) if any(words) else "w:*"
