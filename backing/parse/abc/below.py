"""Lines below the music, put to the notes of one voice: lyrics and symbols.

Clauses 5.1 and 4.15 of ABC 2.1.
"""

from backing.parse.abc.aligned import Verses, put_lyrics, put_symbols
from backing.parse.abc.bars import BarMaker
from backing.parse.abc.draft import NoteDraft
from backing.parse.abc.limits import MOST_VERSES
from backing.parse.abc.signs import Signs


class Below(Signs):
    """Keeps the notes that lines below the music may be put to; `_sung` are those of the voice
    itself, without rests and second voices."""

    def __init__(self, bars: BarMaker, *, strict: bool) -> None:
        super().__init__(bars, strict=strict)
        self._sung: list[NoteDraft] = []
        self._lyrics = Verses()
        self._symbol_lines = Verses()

    def _begin_lines(self) -> None:
        """Music begins: the lines that follow belong to it."""
        self._lyrics.begin(len(self._sung))
        self._symbol_lines.begin(len(self._sung))

    def _lyric_line(self, line: str, column: int) -> None:
        """`w:` is put to the first notes without lyrics; the next one is another verse."""
        self._lyrics.next_line()
        self._put_lyrics(line, column)

    def _put_lyrics(self, line: str, column: int) -> None:
        self._no_overlay(line, column)
        if self._lyrics.verse >= MOST_VERSES:
            self._once(f"more than {MOST_VERSES} verses: the others are left out", column)
        elif not put_lyrics(self._sung, line, self._lyrics):
            self._notice("more syllables than notes", "the last ones are left out", column)

    def _symbol_line(self, line: str, column: int) -> None:
        """`s:` puts chord symbols and decorations to notes (clause 4.15)."""
        self._symbol_lines.next_line()
        self._put_symbols(line, column)

    def _put_symbols(self, line: str, column: int) -> None:
        self._no_overlay(line, column)
        if self._symbol_lines.verse >= MOST_VERSES:
            self._once(f"more than {MOST_VERSES} symbol lines: the others are left out", column)
            return
        put = put_symbols(self._sung, line, self._symbol_lines)
        for note, text in put.chords:
            inside = note.bar < len(self.bars.bars)
            chords = self.bars.bars[note.bar].chords if inside else self.bars.chords
            self._put_chord(chords, self._chord_symbol(note.onset, text, note.source))
        for text in put.texts:
            self._doubt(text, column)
        for symbol in put.unknown:
            self._notice(f"{symbol!r} in a symbol line is not understood", "", column)
        if put.left_over:
            self._notice("more symbols than notes", "the last ones are left out", column)

    def _no_overlay(self, line: str, column: int) -> None:
        """A "&" in an aligned line once led to the second voice of the bar (clause 10.7.1)."""
        if "&" in line.split():
            self._disallowed("'&' in a line below the music", "write a voice of its own", column)
