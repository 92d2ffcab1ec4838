"""One ABC tune: its header, its voices, and the value they make."""

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NamedTuple

from backing.errors import Notice, TuneError
from backing.music.form import form_of, odd_lengths
from backing.music.key import NO_KEY, Key
from backing.music.metre import FREE, Metre, parse_metre
from backing.music.tempo import Tempo
from backing.music.transpose import UNISON, Interval
from backing.music.tune import Bar, Note, Tune, Voice
from backing.parse.abc.body import Body
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
)
from backing.parse.abc.limits import MOST_IN_FIELD, MOST_MACROS, Tally, check_size
from backing.parse.abc.macros import parse_macro, with_macro
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import strip_comment
from backing.parse.abc.voices import Voices

_TEXT_FIELDS = frozenset("ABDFGHNOSWZr")
_SWING = re.compile(r"swing\s+(\d{1,3}):(\d{1,3})\s*$")
_SAYS_VERSION = ("I:abc-version", "%%abc-version")


@dataclass(slots=True, eq=False)
class _Header:
    """What the header lines of a tune say."""

    number: str = ""
    titles: list[str] = field(default_factory=list)
    composers: list[str] = field(default_factory=list)
    dance: str = ""
    metre: Metre = FREE
    unit: Fraction | None = None
    key: Key = NO_KEY
    shift: Interval = UNISON
    tempo_text: tuple[str, int, str] | None = None
    order: tuple[str, ...] = ()
    symbols: list[str] = field(default_factory=list)
    macros: list[str] = field(default_factory=list)
    voices: list[str] = field(default_factory=list)
    directives: list[str] = field(default_factory=list)
    texts: list[tuple[str, str]] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    last: str = ""
    strict: bool = False
    joins: bool = False
    going_on: int = 0

    def old(self, what: str, hint: str, number: int, line: str) -> None:
        """What ABC 2.1 no longer allows: an error where it is asked for strictly."""
        if self.strict:
            raise TuneError(
                f"{what} is not allowed in ABC 2.1: {hint}",
                line=number, column=len(line), excerpt=line,
            )  # fmt: skip
        said = f"{what} is an old way of writing: {hint}"
        self.notices.append(Notice(said, "", number, len(line), line))

    def deprecated(self, what: str, hint: str, number: int, column: int = 1) -> None:
        """What ABC 2.1 still reads and advises against: said where it is asked for strictly."""
        if self.strict:
            said = f"{what} is an old way of writing: {hint}"
            self.notices.append(Notice(said, "", number, column))


class Head(NamedTuple):
    """What a tune's header says at a glance; the key is None where it cannot be read."""

    dance: str
    metre: str
    key: Key | None


def read_head(text: TuneText) -> Head:
    """Dance, metre and key of a tune, without reading its music."""
    found: dict[str, str] = {}
    for line in [line for _, line in text.header] + list(text.lines):
        letter = line[:1]
        if line[1:2] == ":" and letter in "RMK":
            found[letter] = strip_comment(line[2:]).strip()
            if letter == "K":
                break
    try:
        key = read_key(found.get("K", "none")).key
    except ValueError:
        key = None
    return Head(unescape(found.get("R", "")), found.get("M", "none"), key)


def read_tune(text: TuneText, *, voice: str = "", strict: bool | None = None) -> Tune:
    """The tune of one text; `voice` names the one that is the melody, else the first.

    Read strictly where the text says that it is ABC 2.1 or newer, unless `strict` says
    otherwise (clauses 12.2, 12.3).  Raises TuneError, with the place, for a field, length
    or pitch that cannot be read, and where there is no note.  What is odd but playable is
    a notice on the tune.
    """
    strictly = is_strict(_version(text)) if strict is None else strict
    check_size(text.lines, text.first)
    header = _Header(strict=strictly)
    for number, line in text.header:
        _header_line(header, line, number)
    body_start = _read_header(header, text)
    if not text.lines[0].startswith("X:"):
        header.deprecated("a tune without a number", "write X:1 above it", text.first)
    unit = header.unit or default_unit(header.metre)
    tempo = _tempo(header, unit)

    tally = Tally()

    def new_body() -> Body:
        body = Body(header.metre, header.key, unit, strict=strictly, tally=tally)
        body.bars.shift = header.shift
        for macro in header.macros:
            body.macros = with_macro(body.macros, macro)
        for symbol in header.symbols:
            body.define_symbol(symbol)
        for directive in header.directives:
            body.directive(directive)
        return body

    voices = Voices(new_body, header.voices)
    for index in range(body_start, len(text.lines)):
        voices.read_line(text.lines[index], text.first + index)
    drafts, lines, notices = voices.finish(voice)
    if not any(note.pitches for note in _notes(lines[0])):
        raise TuneError(
            f"the tune {header.titles[0] if header.titles else text.number!r} has no notes",
            line=text.first,
        )
    bars = tuple(draft.bar(place) for draft, place in zip(drafts, form_of(drafts), strict=True))
    notices = [
        *header.notices, *notices, *_ties(lines[0]), *_order_notices(header.order, bars),
        *odd_lengths(bars),
    ]  # fmt: skip
    return Tune(
        title=header.titles[0] if header.titles else "untitled",
        bars=bars,
        voices=lines,
        number=header.number,
        composers=tuple(header.composers),
        dance=header.dance,
        metre=header.metre,
        key=header.key if header.shift is UNISON or not bars else bars[0].key,
        unit_length=unit,
        tempo=tempo,
        swing=_swing(header.directives),
        order=header.order,
        texts=(*header.texts, *voices.texts),
        titles=tuple(header.titles),
        notices=_with_excerpts(notices, text),
    )


def _swing(directives: list[str]) -> Fraction | None:
    """The ratio of a `%%swing 2:1`, a directive of our own."""
    for directive in directives:
        match = _SWING.match(directive)
        if match and int(match[2]):
            return Fraction(int(match[1]), int(match[2]))
    return None


def _version(text: TuneText) -> str:
    """What says which ABC it is: the tune, else the file's header, else its first line."""
    lines = [*text.lines, *(line for _, line in text.header)]
    return next((line for line in lines if line.startswith(_SAYS_VERSION)), text.version)


def _notes(voice: Voice) -> list[Note]:
    return [note for bar in voice.bars for note in bar]


def _read_header(header: _Header, text: TuneText) -> int:
    """Read the header's lines; the index of the first line of the body."""
    in_text = False
    keys = [index for index, line in enumerate(text.lines) if line.startswith("K:")]
    for index, line in enumerate(text.lines):
        number = text.first + index
        if line.startswith(("%%begintext", "%%endtext")):
            in_text = line.startswith("%%begin")
        elif in_text or not line.strip():
            continue
        elif line.lstrip().startswith("%"):
            _header_line(header, line.lstrip(), number)
        elif (line[:1].isalpha() and line[1:2] == ":") or line.startswith("+:"):
            _header_line(header, line, number)
            if line[0] == "K":
                return index + 1
        elif keys and index < keys[-1]:
            _no_field(header, line, number)
        else:
            header.notices.append(
                Notice("the music begins without a key (K:)", "no key is taken", number, 1)
            )
            return index
    return len(text.lines)


def _no_field(header: _Header, line: str, number: int) -> None:
    """A header line without a field letter goes on with the field before it: a history
    (clause 10.1), or one that ends in a backslash (10.3)."""
    if header.joins:
        _header_line(header, f"+:{line}", number)
    elif header.last == "H":
        _continue(header, unescape(line.strip()), number)
        said, hint = "a history goes on without its letter", "write +: before it"
        header.notices.append(Notice(said, hint, number, 1))
    else:
        header.notices.append(Notice("this is no field of the header", "left out", number, 1))


def _header_line(header: _Header, line: str, number: int) -> None:
    if line.startswith("%%"):
        header.directives.append(line[2:])
        if is_playback(line[2:]):
            header.notices.append(Notice(NOT_FOLLOWED, "", number, 1, line))
        return
    if line.startswith("%"):
        return
    letter, value = line[0], strip_comment(line[2:]).strip()
    header.joins = value.endswith("\\")
    if header.joins:
        hint = "begin the next line with +:"
        header.old("a field that goes on after a backslash", hint, number, line)
        value = value[:-1].rstrip()
    if letter in _TEXT_FIELDS or letter in "TCR":
        value = unescape(value)
    try:
        _header_field(header, letter, value, number, line)
    except ValueError as error:
        raise TuneError(str(error), line=number, column=3, excerpt=line) from None


def _header_field(header: _Header, letter: str, value: str, number: int, line: str) -> None:
    if letter == "X":
        header.number = value
    elif letter == "T":
        header.titles.append(value)
    elif letter == "C":
        header.composers.append(value)
    elif letter == "R":
        header.dance = value
    elif letter == "M":
        header.metre = parse_metre(value)
    elif letter == "L":
        header.unit = read_unit(value)
    elif letter == "Q":
        header.tempo_text = (value, number, line)
    elif letter == "P":
        _read_order(header, value, number, line)
    elif letter == "U":
        read_symbol(value)
        header.symbols.append(value)
    elif letter == "I":
        header.directives.append(value)
    elif letter == "K":
        key = read_key(value)
        header.key = key.key or NO_KEY
        header.shift = UNISON if key.shift is None or key.shift.unison else key.shift
        header.notices += [
            Notice(f"{word!r} is not known", "left out", number, 3, line) for word in key.unknown
        ]
    elif letter == "m":
        parse_macro(value)
        header.macros.append(value)
        if len(header.macros) > MOST_MACROS:
            raise ValueError(f"more than {MOST_MACROS} macros")
    elif letter == "V":
        read_modifiers(value)
        header.voices.append(value)
    elif letter == "+":
        if not _continue(header, unescape(value), number):
            said = "a field cannot go on here"
            header.notices.append(Notice(said, "left out", number, 1))
    elif letter in _TEXT_FIELDS:
        header.texts.append((letter, value))
        if letter == "A":
            header.deprecated("a field A: for the area", "write O:", number)
    else:
        header.notices.append(
            Notice(f"the field {letter}: is not known", "left out", number, 1, line)
        )
    if letter != "+":
        header.last, header.going_on = letter, 0


def _read_order(header: _Header, value: str, number: int, line: str) -> None:
    """An order of sections; other text in its place is kept as text."""
    try:
        header.order = read_order(value)
    except ValueError as error:
        header.texts.append(("P", value))
        header.notices.append(Notice(str(error), "kept as a text", number, 3, line))


def _continue(header: _Header, value: str, number: int) -> bool:
    """`+:` adds to the field before it (clause 3.3); False where that holds no text."""
    header.going_on += len(value)
    if header.going_on > MOST_IN_FIELD:
        raise TuneError(f"a field goes on for more than {MOST_IN_FIELD:,} signs", line=number)
    if not value:
        return True
    lines = {"T": header.titles, "C": header.composers}.get(header.last)
    if lines:
        lines[-1] += " " + value
    elif header.last == "R":
        header.dance += " " + value
    elif header.texts and header.texts[-1][0] == header.last:
        header.texts[-1] = (header.last, header.texts[-1][1] + " " + value)
    else:
        return False
    return True


def _tempo(header: _Header, unit: Fraction) -> Tempo | None:
    if header.tempo_text is None:
        return None
    value, number, line = header.tempo_text
    try:
        tempo = read_tempo(value, unit)
    except ValueError as error:
        header.notices.append(
            Notice(str(error), "the usual tempo of the dance is taken", number, 3, line)
        )
        return None
    if counts_units(value):
        header.deprecated(*COUNTS_UNITS, number, 3)
    if '"' in value:
        header.texts.append(("Q", value))
    return tempo


def _ties(voice: Voice) -> list[Notice]:
    """A notice for each tie that the next note does not take up."""
    notices = []
    notes = _notes(voice)
    for note, following in zip(notes, [*notes[1:], None], strict=True):
        if not note.ties or note.source is None:
            continue
        if following is None or not any(
            tied.midi == pitch.midi for tied in note.ties for pitch in following.pitches
        ):
            notices.append(
                Notice(
                    "a tie leads to a note of another pitch",
                    "played as written, without the tie",
                    note.source.line,
                    note.source.column,
                )
            )
    return notices


def _order_notices(order: tuple[str, ...], bars: tuple[Bar, ...]) -> list[Notice]:
    """A notice where the order of sections names one that the tune does not label."""
    known = {bar.section for bar in bars}
    missing = [name for name in dict.fromkeys(order) if name not in known]
    if not missing:
        return []
    return [Notice(f"the order of sections names {', '.join(missing)}, which the tune "
                   "does not have", "they are left out")]  # fmt: skip


def _with_excerpts(notices: list[Notice], text: TuneText) -> tuple[Notice, ...]:
    """The notices with the line that they point at, in the order of the lines."""
    placed = []
    for notice in notices:
        index = notice.line - text.first
        if notice.line and not notice.excerpt and 0 <= index < len(text.lines):
            placed.append(replace(notice, excerpt=text.lines[index]))
        else:
            placed.append(notice)
    return tuple(sorted(placed, key=lambda notice: (notice.line, notice.column)))
