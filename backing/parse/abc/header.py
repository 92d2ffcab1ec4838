"""The header of an ABC tune: what its fields say, and what is odd about them.

ABC 2.1 clauses 3 and 10.  A field that cannot be read is said, and something usual is put
in its place; it is an error where ABC 2.1 is asked for strictly.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from dataclasses import field as made
from fractions import Fraction
from typing import NamedTuple

from backing.errors import Notice, TuneError
from backing.music.key import NO_KEY, Key
from backing.music.metre import FREE, Metre, parse_metre
from backing.music.tempo import Tempo
from backing.music.transpose import UNISON, Interval
from backing.parse.abc.book import TuneText, is_strict
from backing.parse.abc.fields import (
    COUNTS_UNITS,
    NOT_FOLLOWED,
    counts_units,
    default_unit,
    is_playback,
    read_key,
    read_modifiers,
    read_order,
    read_symbol,
    read_tempo,
    read_unit,
    trimmed,
)
from backing.parse.abc.limits import MOST_IN_FIELD, MOST_MACROS
from backing.parse.abc.macros import parse_macro
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import strip_comment

_TEXT_FIELDS = frozenset("ABDFGHNOSWZr")
_TEXTS = _TEXT_FIELDS | frozenset("TCR")
#: A field that is glued to the end of another's text.
_GLUED = re.compile(r"(?<=[a-z0-9.,;!?)])[CKLMQRTV]:")
#: What is done where a field cannot be read; other fields are left out.
_INSTEAD = {
    "K": "played without sharps or flats, as in C; write a key like K:G or K:Ador",
    "M": "played in free metre, each bar as long as its notes; write one like M:4/4",
    "L": "the usual unit length is taken; write one like L:1/8",
}


class HeaderField(NamedTuple):
    """A field of the header: its letter, its value without comment, and where it stands."""

    letter: str
    value: str
    number: int
    line: str


@dataclass(slots=True, eq=False)
class TuneHeader:
    """What the header lines of a tune say."""

    number: str = ""
    titles: list[str] = made(default_factory=list)
    composers: list[str] = made(default_factory=list)
    dance: str = ""
    metre: Metre = FREE
    written_unit: Fraction | None = None
    key: Key = NO_KEY
    shift: Interval = UNISON
    tempo: HeaderField | None = None
    order: tuple[str, ...] = ()
    symbols: list[str] = made(default_factory=list)
    macros: list[str] = made(default_factory=list)
    voices: list[str] = made(default_factory=list)
    directives: list[str] = made(default_factory=list)
    texts: list[tuple[str, str]] = made(default_factory=list)
    notices: list[Notice] = made(default_factory=list)
    last: str = ""
    strict: bool = False
    joins: bool = False
    playback: bool = False
    going_on: int = 0

    @property
    def unit(self) -> Fraction:
        """The unit length: that of `L:`, else what the metre means."""
        return self.written_unit or default_unit(self.metre)

    def note(self, said: str, hint: str, number: int, column: int = 1, line: str = "") -> None:
        """Keep something odd."""
        self.notices.append(Notice(said, hint, number, column, line))

    def old(self, what: str, hint: str, number: int, line: str) -> None:
        """What ABC 2.1 no longer allows: an error where it is asked for strictly."""
        if self.strict:
            raise TuneError(
                f"{what} is not allowed in ABC 2.1: {hint}",
                line=number, column=len(line), excerpt=line,
            )  # fmt: skip
        self.note(f"{what} is an old way of writing: {hint}", "", number, len(line), line)

    def deprecated(self, what: str, hint: str, number: int, column: int = 1) -> None:
        """What ABC 2.1 still reads and advises against: said where it is asked for strictly."""
        if self.strict:
            self.note(f"{what} is an old way of writing: {hint}", "", number, column)


def read_header(text: TuneText, *, strict: bool) -> tuple[TuneHeader, int]:
    """What the file's header and the tune's say; the index of the first line of the body.

    Notices about the file's header have its line numbers, which lie before the tune.
    """
    header = TuneHeader(strict=strict)
    for number, line in text.header:
        _line(header, line, number)
    body_start = _tune_lines(header, text)
    if not text.lines[0].startswith("X:"):
        header.deprecated("a tune without a number", "write X:1 above it", text.first)
    return header, body_start


def file_header_notices(text: TuneText) -> tuple[Notice, ...]:
    """What is odd about the file's header, which stands above every tune of a book."""
    header = TuneHeader(strict=is_strict(text.version))
    try:
        for number, line in text.header:
            _line(header, line, number)
        header_tempo(header)
    except TuneError:
        pass  # each tune of the book is refused for it
    lines = dict(text.header)
    return tuple(notice._replace(excerpt=lines[notice.line]) for notice in header.notices)


def header_tempo(header: TuneHeader) -> Tempo | None:
    """The tempo of the header's `Q:`, which counts unit lengths where it names no note."""
    if header.tempo is None:
        return None
    _, value, number, line = header.tempo
    try:
        tempo = read_tempo(value, header.unit)
    except ValueError as error:
        header.note(str(error), "the usual tempo of the dance is taken", number, 3, line)
        return None
    if counts_units(value):
        header.deprecated(*COUNTS_UNITS, number, 3)
    if '"' in value:
        header.texts.append(("Q", value))
    return tempo


def _tune_lines(header: TuneHeader, text: TuneText) -> int:
    """Read the tune's own header; the index of the first line of the body."""
    in_text = False
    last_key: int | None = None  # looked for once, where a line is no field
    for index, line in enumerate(text.lines):
        number = text.first + index
        if line.startswith(("%%begintext", "%%endtext")):
            in_text = line.startswith("%%begin")
        elif in_text or not line.strip():
            continue
        elif line.lstrip().startswith("%"):
            _line(header, line.lstrip(), number)
        elif (line[:1].isalpha() and line[1:2] == ":") or line.startswith("+:"):
            _line(header, line, number)
            if line[0] == "K":
                return index + 1
        elif index < (last_key := _last_key(text) if last_key is None else last_key):
            _no_field(header, line, number)
        else:
            header.note("the music begins without a key (K:)", "no key is taken", number)
            return index
    return len(text.lines)


def _last_key(text: TuneText) -> int:
    """The index of the last line with a key; -1 where there is none."""
    lines = range(len(text.lines) - 1, -1, -1)
    return next((index for index in lines if text.lines[index].startswith("K:")), -1)


def _no_field(header: TuneHeader, line: str, number: int) -> None:
    """A header line without a field letter goes on with the field before it: a history
    (clause 10.5.1), or one that ends in a backslash (10.7.1)."""
    if header.joins:
        _field(header, "+", line, number, line)
    elif header.last == "H":
        _continue(header, HeaderField("+", line.strip(), number, line))
        header.note("a history goes on without its letter", "write +: before it", number)
    else:
        header.note("this is no field of the header", "left out", number)


def _line(header: TuneHeader, line: str, number: int) -> None:
    if line.startswith("%%"):
        header.directives.append(line[2:])
        if is_playback(line[2:]) and not header.playback:
            header.note(NOT_FOLLOWED, "", number)
            header.playback = True
        return
    if line.startswith("%"):
        return
    _field(header, line[0], line[2:], number, line)


def _field(header: TuneHeader, letter: str, text: str, number: int, line: str) -> None:
    """Read one field of the header; `line` is the line as the file has it."""
    value = strip_comment(text).strip()
    header.joins = value.endswith("\\")
    if header.joins:
        hint = "begin the next line with +:"
        header.old("a field that goes on after a backslash", hint, number, line)
        value = value[:-1].rstrip()
    if letter in "CRTX":
        _say_glued(header, letter, number, line)
    if letter in _TEXTS:
        value = unescape(value)
    try:
        _FIELDS.get(letter, _other)(header, HeaderField(letter, value, number, line))
    except ValueError as error:
        if header.strict:
            raise TuneError(str(error), line=number, column=3, excerpt=line) from None
        header.note(str(error), _INSTEAD.get(letter, "left out"), number, 3, line)
    if letter != "+":
        header.last, header.going_on = letter, 0


def _say_glued(header: TuneHeader, letter: str, number: int, line: str) -> None:
    """Say where another field is glued to the text of a field: a line break was lost."""
    if match := _GLUED.search(line, 2):
        said = f"{match[0]} stands inside the field {letter}:, and is read as its text"
        hint = f"if a line break was lost before {match[0]}, put it in again"
        header.note(said, hint, number, match.start() + 1, line)


# -- the fields by their letters --


def _continue(header: TuneHeader, field: HeaderField) -> None:
    """`+:` adds to the field before it (clause 3.3); said where that holds no text."""
    header.going_on += len(field.value)
    if header.going_on > MOST_IN_FIELD:
        raise TuneError(f"a field goes on for more than {MOST_IN_FIELD:,} signs", line=field.number)
    value = unescape(field.value)
    if not value:
        return
    lines = {"T": header.titles, "C": header.composers}.get(header.last)
    if lines:
        lines[-1] += " " + value
    elif header.last == "R":
        header.dance += " " + value
    elif header.texts and header.texts[-1][0] == header.last:
        header.texts[-1] = (header.last, header.texts[-1][1] + " " + value)
    else:
        header.note("a field cannot go on here", "left out", field.number)


def _say_unknown(header: TuneHeader, field: HeaderField, words: tuple[str, ...]) -> None:
    for word in words:
        column = max(field.line.find(word, 2) + 1, 3)
        header.note(f"{word!r} is not known", "left out", field.number, column, field.line)


def _say_reworded(
    header: TuneHeader, field: HeaderField, written: str, what: str, read: str
) -> None:
    said = f"{written!r} is not {what} as ABC writes it"
    header.note(said, f"read as {read}", field.number, 3, field.line)


def _metre(header: TuneHeader, field: HeaderField) -> None:
    header.metre = FREE
    try:
        header.metre = parse_metre(field.value)
    except ValueError:
        if header.strict:
            raise
        header.metre = parse_metre(trimmed(field.value))
        _say_reworded(header, field, field.value, "a metre", str(header.metre))


def _unit(header: TuneHeader, field: HeaderField) -> None:
    header.written_unit = None
    header.written_unit = read_unit(field.value)


def _tempo(header: TuneHeader, field: HeaderField) -> None:
    header.tempo = field


def _order(header: TuneHeader, field: HeaderField) -> None:
    """An order of sections; other text in its place is kept as text."""
    try:
        header.order = read_order(field.value)
    except ValueError as error:
        header.texts.append(("P", field.value))
        header.note(str(error), "kept as a text", field.number, 3, field.line)


def _symbol(header: TuneHeader, field: HeaderField) -> None:
    read_symbol(field.value)
    header.symbols.append(field.value)


def _key(header: TuneHeader, field: HeaderField) -> None:
    header.key, header.shift = NO_KEY, UNISON
    key = read_key(field.value, strict=header.strict)
    header.key = key.key or NO_KEY
    header.shift = UNISON if key.shift is None or key.shift.unison else key.shift
    if key.reworded:
        _say_reworded(header, field, key.reworded, "a key", str(header.key))
    _say_unknown(header, field, key.unknown)


def _macro(header: TuneHeader, field: HeaderField) -> None:
    parse_macro(field.value)
    header.macros.append(field.value)
    if len(header.macros) > MOST_MACROS:
        raise TuneError(f"more than {MOST_MACROS} macros", line=field.number, excerpt=field.line)


def _voice(header: TuneHeader, field: HeaderField) -> None:
    header.voices.append(field.value)
    _say_unknown(header, field, read_modifiers(field.value, strict=header.strict).unknown)


def _other(header: TuneHeader, field: HeaderField) -> None:
    if field.letter in _TEXT_FIELDS:
        header.texts.append((field.letter, field.value))
    else:
        said = f"the field {field.letter}: is not known"
        header.note(said, "left out", field.number, 1, field.line)
    if field.letter == "A":
        header.deprecated("a field A: for the area", "write O:", field.number)


_FIELDS: dict[str, Callable[[TuneHeader, HeaderField], None]] = {
    "T": lambda header, field: header.titles.append(field.value),
    "C": lambda header, field: header.composers.append(field.value),
    "I": lambda header, field: header.directives.append(field.value),
    "X": lambda header, field: setattr(header, "number", field.value.replace("\\", "")),
    "R": lambda header, field: setattr(header, "dance", field.value),
    "M": _metre, "L": _unit, "Q": _tempo, "P": _order, "U": _symbol, "K": _key, "m": _macro,
    "V": _voice, "+": _continue,
}  # fmt: skip
