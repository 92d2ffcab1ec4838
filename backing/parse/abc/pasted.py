"""Tunes as mail and web pages leave them: quoted, set in, run together on one line, with
empty lines in them.

All of this is no ABC (clauses 2.2 and 3 want each field at the start of a line of its own);
what is put right here is said, and refused where ABC 2.1 is asked for strictly.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

from backing.errors import Notice
from backing.parse.abc.blocks import (
    Pasted,
    TextPlace,
    block_end,
    is_field,
    is_number,
    next_block,
)

_FIELDS = "ABCDFGHIKLMNOPQRSTUVWXZmr"
_QUOTED_NUMBER = re.compile(r"([ \t>|]+)X:[ \t]*\d")
_QUOTED_FIELD = re.compile(rf"([ \t>|]+)[{_FIELDS}]:")
_QUOTED_KEY = re.compile(r"[ \t>|]+K:[ \t]*(?:[A-G]|H[Pp]|none)")
_NUMBER_IN_TEXT = re.compile(r"(?<=\s)X:[ \t]*\d+[ \t]+[A-Z]:")
_TWO_FIELDS = re.compile(rf"X:[ \t]*\d+[ \t]+[{_FIELDS}]:")
_KEY_INSIDE = re.compile(r"\sK:[ \t]*(?:[A-G]|H[Pp]|none)")
_FIELD_START = re.compile(rf"(?<!\S)[{_FIELDS}]:")
_BODY_FIELD = re.compile(rf"(?<!\S)(?:X:[ \t]*\d+[ \t]+[{_FIELDS}]:|[KMLQPVwWTNRr]:)")
_CLEF_WORD = r"(?:[a-z]+=\S+|(?:treble|alto|tenor|bass|perc)[+-]?\d*(?!\S))"
_MODES = (
    "major|maj|minor|min|mixolydian|mix|dorian|dor|phrygian|phr|lydian|lyd|locrian|loc|aeolian|"
    "aeo|ionian|ion|exp"
)
#: How far the values of fields reach that have music after them on their line.
_VALUES = {
    "K": re.compile(
        rf"K:[ \t]*(?:(?:H[Pp]|none|[A-G][#b]?[ \t]?(?:(?i:{_MODES})|m)?)\.?(?!\S)|\S+)"
        rf"(?:[ \t]+{_CLEF_WORD})*"
    ),
    "M": re.compile(r"M:[ \t]*\S+"),
    "L": re.compile(r"L:[ \t]*\S+"),
    "Q": re.compile(r'Q:[ \t]*(?:"[^"]*"[ \t]*)?[^\s"]+(?:[ \t]*=[ \t]*\d+)?'),
    "P": re.compile(r"P:[ \t]*\S+"),
    "V": re.compile(rf'V:[ \t]*\S+(?:[ \t]+(?:[a-z]+="[^"]*"|{_CLEF_WORD}))*'),
}
_NO_SIGNS = re.compile(r'"[^"]*"|![^!\s]*!|\[[A-Za-z]:[^\[\]]*\]|%.*')
_MUSIC = re.compile(r"[A-Ga-gHLMOPSTuvxyzXZ\d\s/,'^_=|:\[\](){}<>.~&$*!+`\\?;@#-]*")
_NOTE = re.compile(r"[A-Ga-gz]")


def is_music(line: str) -> bool:
    """True where a line can be music: bar lines and notes, and no words besides.

    >>> is_music('|:"Am"e2 A>c|'), is_music("A bad cab."), is_music("Wet | dry")
    (True, False, False)
    """
    bare = _NO_SIGNS.sub("", line) if "|" in line else ""
    return "|" in bare and _NOTE.search(bare) is not None and _MUSIC.fullmatch(bare) is not None


def _may_be_music(line: str) -> bool:
    return _MUSIC.fullmatch(_NO_SIGNS.sub("", line)) is not None


# -- quoted, set in --------------------------------------------------------------------


def unquote(lines: Sequence[str]) -> Pasted:
    """The lines without what a mail puts before each, where no tune begins without it."""
    if not (start := _first_quoted(lines)):
        return Pasted(lines)
    first, prefix = start
    found = list(lines[:first])
    places = [TextPlace(at + 1, 0, line) for at, line in enumerate(found)]
    quote = _quote_pattern(prefix)
    for at in range(first, len(lines)):
        line = lines[at]
        if again := _QUOTED_NUMBER.match(line):
            quote = _quote_pattern(again[1])
        begin = cut.end() if (cut := quote.match(line)) else _number_in(line)
        if cut or begin or not line.strip() or is_field(line) or is_music(line):
            found.append(line[begin:])
        else:
            found.append("%")  # an answer between the lines
        places.append(TextPlace(at + 1, begin, line))
    said, hint = _quote_words(prefix)
    return Pasted(found, places, (Notice(said, hint, first + 1, 1, lines[first]),))


def _first_quoted(lines: Sequence[str]) -> tuple[int, str] | None:
    """The first line of a quoted tune and what stands before it."""
    for at, line in enumerate(lines):
        if match := _QUOTED_NUMBER.match(line):
            return at, match[1]
        if begin := _number_in(line):
            return at, line[:begin]
    if any(line.startswith("K:") for line in lines):
        return None
    if any(map(_QUOTED_KEY.match, lines)):
        for at, line in enumerate(lines):
            if match := _QUOTED_FIELD.match(line):
                return at, match[1]
    return None


def _number_in(line: str) -> int:
    """Where a whole tune begins in a line of text; 0 for nowhere."""
    match = _NUMBER_IN_TEXT.search(line)
    return match.start() if match and _KEY_INSIDE.search(line, match.end()) else 0


def _quote_pattern(prefix: str) -> re.Pattern[str]:
    """What is taken off each line: the same marks with their blanks; a text once only."""
    if prefix.strip(" \t>|"):
        return re.compile(re.escape(prefix))
    marks = [mark for mark in prefix if mark in ">|"]
    blanks = len(prefix) - len(prefix.rstrip(" \t"))
    if not marks:
        return re.compile(rf"[ \t]{{0,{blanks}}}")
    inner = "".join(rf"[ \t]*{re.escape(mark)}" for mark in marks)
    return re.compile(rf"{inner}[ \t]{{0,{max(blanks, 1)}}}")


def _quote_words(prefix: str) -> tuple[str, str]:
    marks = prefix.strip()
    if not marks:
        return "the tune is set in", "the blanks before its lines are taken off"
    if marks.strip(" \t>|"):
        said = "a tune begins in the middle of a line"
        return said, "what stands before X: on that line is left out"
    hint = f"{marks!r} is taken off its lines; what stands between them without it is left out"
    return "the tune is quoted, as in a mail", hint


# -- empty lines inside ----------------------------------------------------------------


def end_of_tune(lines: Sequence[str], start: int, stop: int) -> tuple[int, int]:
    """Where a tune ends whose first lines, up to an empty one, have no music: after the music
    below them, `stop` where there is none.  Also how far it was looked for."""
    keyed = any(line.startswith("K:") for line in lines[start:stop])
    end = searched = stop
    while (begin := next_block(lines, searched)) < len(lines) and not is_number(lines[begin]):
        block = lines[begin : block_end(lines, begin)]
        keyed = keyed or any(line.startswith("K:") for line in block)
        music = [line for line in block if not is_field(line)]
        if not all(map(_may_be_music, music)) or (music and not keyed):
            break
        searched = begin + len(block)
        if any(map(is_music, music)):
            end = searched
    return end, searched


def empty_line_notice(number: int, line: str) -> Notice:
    """What is said of an empty line in the middle of a tune."""
    hint = "what stands below it is read as the tune's all the same; take the empty line out"
    return Notice("an empty line ends a tune", hint, number, 1, line)


def music_below(text: Pasted, stop: int) -> tuple[Notice, ...]:
    """A notice where music stands below the empty line that ends a tune."""
    begin = next_block(text.lines, stop)
    if begin >= len(text.lines) or not is_music(text.lines[begin]):
        return ()
    said = "music below an empty line, which ends a tune, is not read"
    hint = "take the empty line out if it belongs to the tune"
    return (Notice(said, hint, begin + 1, 1, text.written(begin)),)


# -- run together ----------------------------------------------------------------------


def runs_together(lines: Sequence[str]) -> bool:
    """True where the fields of a tune do not stand on lines of their own."""
    if any(line.startswith("K:") for line in lines):
        return _TWO_FIELDS.match(lines[0]) is not None
    return any(is_field(line) and _KEY_INSIDE.search(line) for line in lines)


def run_apart(lines: Sequence[str], places: Sequence[TextPlace]) -> list[Pasted]:
    """The tunes in lines that run together, each field and the music on lines of their own."""
    pieces: list[tuple[str, TextPlace]] = []
    in_header = True
    for line, place in zip(lines, places, strict=True):
        at = 0
        while at < len(line):
            stop = _piece_end(line, at, in_header=in_header)
            piece = line[at:stop].strip()
            before = at + len(line[at:stop]) - len(line[at:stop].lstrip())
            if in_header and not is_field(piece):
                piece, before = f"+:{piece}", before - 2
            if piece.strip("+:"):
                pieces.append((piece, place._replace(before=place.before + before)))
            in_header = piece[:2] != "K:" and (in_header or piece[:2] == "X:")
            at = stop
    said = Notice(
        "the fields of the tune run together",
        "read as if each stood on a line of its own, and the music after K:",
        places[0].number,
        1,
        places[0].text,
    )
    return [
        Pasted([piece for piece, _ in group], [place for _, place in group], (said,))
        for group in _tunes(pieces)
    ]


def _piece_end(line: str, at: int, *, in_header: bool) -> int:
    """Where a field, or a piece of music, ends that begins at a place of a line."""
    begins = next_word(line, at)
    value = _VALUES.get(line[begins]) if line[begins + 1 : begins + 2] == ":" else None
    if value and (not in_header or line[begins] == "K") and (match := value.match(line, begins)):
        return match.end()
    following = (_FIELD_START if in_header else _BODY_FIELD).search(line, begins + 1)
    return following.start() if following else len(line)


def next_word(line: str, at: int) -> int:
    """The next sign that is no blank; the last sign where there is none."""
    while at < len(line) - 1 and line[at].isspace():
        at += 1
    return at


def _tunes(pieces: list[tuple[str, TextPlace]]) -> Iterator[list[tuple[str, TextPlace]]]:
    """The pieces of each tune: one begins at `X:`."""
    count = 0
    numbered = []
    for piece in pieces:
        count += piece[0][:2] == "X:"
        numbered.append((count, piece))
    for _, group in groupby(numbered, key=lambda each: each[0]):
        yield [piece for _, piece in group]
