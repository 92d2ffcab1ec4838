"""Lines aligned to the notes above them: lyrics (`w:`) and symbols (`s:`).

ABC 2.1 clauses 5.1 and 4.15.
"""

import re
from dataclasses import dataclass
from typing import NamedTuple

from backing.music.chord import is_chord
from backing.parse.abc.draft import NoteDraft
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import JUMPS, NAME

#: A space between words of one syllable; after a backslash it is an accent (clause 8.2).
_TILDE = re.compile(r"(?<!\\)~")
_SYMBOL = re.compile(r'\s*("[^"]*"|![^!]*!|\+[^+]*\+|\*|\||\S)')


@dataclass(slots=True, eq=False)
class Verses:
    """From which note on lines may be put (`start`), how many were (`verse`, from 0, is the
    last), and where the last one goes on (`at`)."""

    start: int = 0
    verse: int = -1
    at: int = 0

    def begin(self, start: int) -> None:
        """Music came between: what follows is put from this note on."""
        if self.verse >= 0:
            self.start, self.verse = start, -1

    def next_line(self) -> None:
        """Another line under the same notes."""
        self.verse += 1
        self.at = self.start

    def to_next_bar(self, sung: list[NoteDraft]) -> None:
        """Go to the first note of the bar after the one that the last note stood in."""
        if self.at == self.start:
            return
        bar = sung[self.at - 1].bar
        while self.at < len(sung) and sung[self.at].bar <= bar:
            self.at += 1


def lyric_syllables(line: str) -> list[str]:
    """The syllables of a lyric line; "*" skips a note, "_" holds on, "|" goes to the next bar.

    >>> lyric_syllables("Ca-nal o'~the town_ | hey\\\\-ho")
    ['Ca-', 'nal', "o' the", 'town', '_', '|', 'hey-ho']
    """
    found: list[str] = []
    word = ""
    signs = iter(line.replace("\\-", "\0").replace("\t", " "))
    for sign in signs:
        if sign == "-":
            found.append(word + "-" if word else "_")
            word = ""
        elif sign in " _*|":
            if word:
                found.append(word)
                word = ""
            if sign != " ":
                found.append(sign)
        else:
            word += sign
    if word:
        found.append(word)
    return [unescape(_TILDE.sub(" ", part)).replace("\0", "-") for part in found]


def put_lyrics(sung: list[NoteDraft], line: str, place: Verses) -> bool:
    """Put a line of lyrics, or what goes on from one, to notes; False where some are left
    over."""
    for syllable in lyric_syllables(line):
        if syllable == "|":
            place.to_next_bar(sung)
            continue
        if place.at >= len(sung):
            return False
        note, verse = sung[place.at], place.verse
        place.at += 1
        if syllable != "*":
            filled = [*note.lyrics, *[""] * (verse - len(note.lyrics))]
            note.lyrics = (*filled[:verse], syllable)
    return True


class PutSymbols(NamedTuple):
    """What a symbol line leaves to do: chord symbols to place, texts that were put, symbols
    not understood, and whether some found no note."""

    chords: list[tuple[NoteDraft, str]]
    texts: list[str]
    unknown: list[str]
    left_over: bool


def put_symbols(sung: list[NoteDraft], line: str, place: Verses) -> PutSymbols:
    """Put decorations and texts of a symbol line, or of what goes on from one, to notes; chord
    symbols are handed back."""
    put = PutSymbols([], [], [], left_over=False)
    for match in _SYMBOL.finditer(line):
        symbol = match[1]
        if symbol == "|":
            place.to_next_bar(sung)
            continue
        if place.at >= len(sung):
            return put._replace(left_over=True)
        target = sung[place.at]
        place.at += 1
        text = unescape(symbol[1:-1]).strip()
        if symbol[0] in "!+" and text not in JUMPS and NAME.fullmatch(text):
            target.decorations += (text,)
        elif symbol[0] != '"':
            put.unknown.extend([symbol] if symbol != "*" else [])
        elif is_chord(text):
            put.chords.append((target, text))
        elif text:
            target.texts += (text,)
            put.texts.append(text)
    return put
