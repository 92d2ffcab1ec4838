"""A short mark of a melody, by which a file knows whether its tune has changed since."""

from zlib import crc32

from backing.music.tune import Tune


def melody_mark(tune: Tune) -> str:
    """Eight hexadecimal digits of a tune's bars and notes as they are written; titles, chords and
    words left aside."""
    bars = [
        (bar.number, str(bar.length), [
            (str(note.onset), str(note.length), [pitch.midi for pitch in note.pitches])
            for note in notes
        ])
        for bar, notes in zip(tune.bars, tune.melody.bars, strict=True)
    ]  # fmt: skip
    return f"{crc32(repr(bars).encode()):08x}"
