"""MusicXML 4.0 to tunes.

The bytes are checked first (`safe`), then every element is put at its place (`parts`);
the frame is read from the XML itself (`frame`), since repeats, endings, jumps and their
sounds do not all come through music21, which reads the notes of each line (`notes`).
"""

from backing.parse.musicxml.tune import parse_musicxml

__all__ = ["parse_musicxml"]
