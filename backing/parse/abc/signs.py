"""What stands over a note and waits for it: chord symbols, texts, decorations.

Clauses 4.14, 4.18 and 4.19 of ABC 2.1.
"""

import re
from fractions import Fraction

from backing.music.chord import is_chord, looks_like_chord, parse_chord
from backing.music.transpose import UNISON, move_chord
from backing.music.tune import ChordSymbol, Source
from backing.parse.abc.bars import BarMaker
from backing.parse.abc.draft import Pending
from backing.parse.abc.place import LinePlace
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import FROM_HERE, JUMPS, NAME, SHORTHANDS
from backing.parse.draft import put_chord

_JUMP_TEXT = re.compile(r"(?:D\.? ?[CS]|Da Capo|Dal Segno|Fine|Coda)\b", re.IGNORECASE)
#: What an annotation begins with; the empty string where there is no text.
_ANNOTATION = ("^", "_", "<", ">", "@", "")


class Signs(LinePlace):
    """Keeps what waits for the next note, and puts it where it belongs."""

    def __init__(self, bars: BarMaker, *, strict: bool) -> None:
        super().__init__(strict=strict)
        self.bars = bars
        self.symbols = dict(SHORTHANDS)
        self._pending = Pending()
        self._symbols: list[tuple[str, Source]] = []

    def _on_quoted(self, match: re.Match[str]) -> None:
        self._quote(match[0][1:-1], match.start() + 1, match.end() + 1)

    def _quote(self, quoted: str, column: int, end: int) -> None:
        """A chord symbol, else a text, that stands from column to end."""
        text = unescape(quoted).strip()
        if text[:1] not in _ANNOTATION and is_chord(text):
            self._symbols.append((text, self._source(column, end)))
        elif text:
            self._doubt(text, column)
            self._pending.texts.append(text)
            self._pending.any = True

    def _doubt(self, text: str, column: int) -> None:
        """Say where a text may have been meant as something to play."""
        if text in self._said or text[:1] in _ANNOTATION:
            return
        if _JUMP_TEXT.match(text):
            said, hint = f"{text!r} is not followed", "a jump is written !D.C.! or !fine!"
        elif looks_like_chord(text):
            said = f"{text!r} is not a chord that can be played"
            hint = "kept as a text; the left hand goes on with the chord before"
        elif text != "f" and is_chord(text[:1].upper() + text[1:]):
            said = f"{text!r} is read as a text, not as a chord"
            hint = f"a chord begins with a capital letter: {text[:1].upper()}{text[1:]}"
        elif len(text) > 1 and text[0] == "H" and is_chord("B" + text[1:]):
            said, hint = f"{text!r} is read as a text, not as a chord", "write B where German has H"
        else:
            return
        self._said.add(text)
        self._notice(said, hint, column)

    def _place_chords(self) -> None:
        """Chord symbols stand where the note after them begins."""
        text, source = self._symbols[-1]
        if len(self._symbols) > 1:
            others = ", ".join(text for text, _ in self._symbols[:-1])
            said = f"several chord symbols on one note: {others}"
            self._notice_at(said, f"{text} is played", source)
        if self.bars.leading:
            self._put_chord(self.bars.chords, self._chord_symbol(self.bars.at, text, source))
        self._symbols.clear()

    def _put_chord(self, chords: list[ChordSymbol], symbol: ChordSymbol) -> None:
        """Put a symbol among those of its bar, in the place of one that stands where it does."""
        before = put_chord(chords, symbol)
        if before is not None and symbol.source is not None:
            said = f"several chord symbols on one note: {before.text}"
            self._notice_at(said, f"{symbol.text} is played", symbol.source)

    def _chord_symbol(self, onset: Fraction, text: str, source: Source) -> ChordSymbol:
        chord = parse_chord(text)
        if self.bars.shift is not UNISON:
            chord = move_chord(chord, self.bars.shift)
            text = str(chord)
        return ChordSymbol(onset, chord, text, source)

    def _decorate(self, sign: str, column: int) -> None:
        name = sign[1:-1] if len(sign) > 1 else self.symbols.get(sign, "")
        if not name:
            if len(sign) == 1 and sign not in self.symbols:
                self._once(f"the sign {sign!r} has no meaning here", column)
        elif name in JUMPS:
            self.bars.jump(JUMPS[name])
        elif name.startswith('"'):
            self._quote(name[1:], column, column + len(sign))
        elif not NAME.fullmatch(name):
            self._once(f"{name!r} is no name of a decoration", column)
        else:
            self._pending.decorations.append(name)
            self._pending.any = True

    def _leave_decorations(self, where: str, column: int) -> None:
        """What stands on a bar line or a spacer is not for the note after it."""
        waiting = self._pending.decorations
        for name in [name for name in waiting if name not in FROM_HERE]:
            waiting.remove(name)
            self._notice(
                f"the decoration {name!r} on {where} is not played", "put it on a note", column
            )
