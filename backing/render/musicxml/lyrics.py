"""The syllables under the notes, verse by verse."""

from collections.abc import Iterator
from xml.etree.ElementTree import Element, SubElement

from backing.music.tune import Note
from backing.render.musicxml.elements import add


class Lyrics:
    """Writes the syllables of a voice, asked in written order; knows which words go on."""

    def __init__(self) -> None:
        self._unfinished: set[int] = set()

    def under(self, note: Note) -> Iterator[Element]:
        """The syllables of a note; "_" is a syllable that is held."""
        for verse, syllable in enumerate(note.lyrics, 1):
            if syllable:
                lyric = Element("lyric", {"number": str(verse)})
                self._write(lyric, verse, syllable)
                yield lyric

    def _write(self, lyric: Element, verse: int, syllable: str) -> None:
        if syllable == "_":
            SubElement(lyric, "extend")
            return
        goes_on = len(syllable) > 1 and syllable.endswith("-")
        within = verse in self._unfinished
        self._unfinished.discard(verse)
        if goes_on:
            self._unfinished.add(verse)
        sorts = {(False, False): "single", (False, True): "begin", (True, True): "middle"}
        add(lyric, "syllabic", sorts.get((within, goes_on), "end"))
        add(lyric, "text", syllable[:-1] if goes_on else syllable)
