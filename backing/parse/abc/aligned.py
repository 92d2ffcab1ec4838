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
    """From which note on lyrics or symbols may be put, and the last line put there."""

    start: int = 0
    line: str = ""
    verse: int = -1


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


def put_lyrics(targets: list[NoteDraft], line: str, verse: int) -> bool:
    """Put a line of lyrics to notes as verse `verse` (from 0); False where some are left over."""
    at = 0
    for syllable in lyric_syllables(line):
        if syllable == "|":
            at = _next_bar(targets, at)
            continue
        if at >= len(targets):
            return False
        note = targets[at]
        at += 1
        if syllable != "*":
            filled = [*note.lyrics, *[""] * (verse - len(note.lyrics))]
            note.lyrics = (*filled[:verse], syllable)
    return True


def spent_symbols(line: str) -> str:
    """A symbol line with each symbol a "*": what was put is not put again where it goes on."""
    return _SYMBOL.sub(lambda match: match[1] if match[1] == "|" else "*", line)


class PutSymbols(NamedTuple):
    """What a symbol line leaves to do: chord symbols to place, texts that were put, symbols
    not understood, and whether some found no note."""

    chords: list[tuple[NoteDraft, str]]
    texts: list[str]
    unknown: list[str]
    left_over: bool


def put_symbols(targets: list[NoteDraft], line: str) -> PutSymbols:
    """Put decorations and texts of a symbol line to notes; chord symbols are handed back."""
    at = 0
    put = PutSymbols([], [], [], left_over=False)
    for match in _SYMBOL.finditer(line):
        symbol = match[1]
        if symbol == "|":
            at = _next_bar(targets, at)
            continue
        if at >= len(targets):
            return put._replace(left_over=True)
        target = targets[at]
        at += 1
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


def _next_bar(targets: list[NoteDraft], at: int) -> int:
    """The first note of the bar after the one that the last note stood in."""
    if at == 0:
        return 0
    bar = targets[at - 1].bar
    while at < len(targets) and targets[at].bar <= bar:
        at += 1
    return at
