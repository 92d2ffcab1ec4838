"""One ABC tune: its header, its voices, and the value they make."""

import re
from fractions import Fraction
from typing import NamedTuple

from backing.errors import Notice, TuneError
from backing.music.form import form_of, odd_lengths
from backing.music.key import Key
from backing.music.transpose import UNISON
from backing.music.tune import UNTITLED, Bar, Note, Tune, Voice
from backing.parse.abc.blocks import is_field
from backing.parse.abc.body import Body
from backing.parse.abc.book import TuneText, is_strict
from backing.parse.abc.fields import read_key
from backing.parse.abc.header import TuneHeader, header_tempo, read_header
from backing.parse.abc.limits import Tally, check_size
from backing.parse.abc.macros import with_macro
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import strip_comment
from backing.parse.abc.voices import Voices

_SWING = re.compile(r"(?:backing:)?swing\s+(\d{1,3}):(\d{1,3})\s*$")
_SAYS_VERSION = ("I:abc-version", "%%abc-version")


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


def tune_of(text: TuneText, *, voice: str = "", strict: bool | None = None) -> Tune:
    """The tune of one text; `voice` names the one that is the melody, else the first.

    Read strictly where the text says that it is ABC 2.1 or newer, unless `strict` says
    otherwise (clauses 12.2, 12.3).  Raises TuneError, with the place, for a length or pitch
    that cannot be read, where there is no note, and strictly for all that is no ABC 2.1.
    What is odd but playable is a notice on the tune.
    """
    strictly = is_strict(_version(text)) if strict is None else strict
    check_size(text.lines, text.first)
    if strictly and text.mended:
        odd = text.mended[0]
        raise TuneError(f"{odd.message}: not allowed in ABC 2.1", line=odd.line)
    try:
        return _read_tune(text, voice, strictly)
    except TuneError as error:
        place = _placed(text, error.line, error.column, error.excerpt)
        error.line, error.column, error.excerpt = place
        raise


def _read_tune(text: TuneText, voice: str, strictly: bool) -> Tune:
    header, body_start = read_header(text, strict=strictly)
    tempo = header_tempo(header)
    tally = Tally()
    voices = Voices(lambda: _new_body(header, tally), header.voices)
    for index in range(body_start, len(text.lines)):
        voices.read_line(text.lines[index], text.first + index)
    drafts, lines, notices = voices.finish(voice)
    if not any(note.pitches for note in _notes(lines[0])):
        raise _no_notes(header, text, body_start)
    bars = tuple(draft.bar(place) for draft, place in zip(drafts, form_of(drafts), strict=True))
    notices = [
        *header.notices, *notices, *_ties(lines[0]), *_order_notices(header.order, bars),
        *odd_lengths(bars),
    ]  # fmt: skip
    return Tune(
        title=header.titles[0] if header.titles else UNTITLED,
        bars=bars,
        voices=lines,
        number=header.number,
        composers=tuple(header.composers),
        dance=header.dance,
        metre=header.metre,
        key=header.key if header.shift is UNISON or not bars else bars[0].key,
        unit_length=header.unit,
        tempo=tempo,
        swing=_swing(header.directives),
        order=header.order,
        texts=(*header.texts, *voices.texts),
        titles=tuple(header.titles),
        notices=_own_notices(notices, text),
    )


def _new_body(header: TuneHeader, tally: Tally) -> Body:
    """What reads the music of one voice, as the header says."""
    body = Body(header.metre, header.key, header.unit, strict=header.strict, tally=tally)
    body.bars.shift = header.shift
    for macro in header.macros:
        body.macros = with_macro(body.macros, macro)
    for symbol in header.symbols:
        body.define_symbol(symbol)
    for directive in header.directives:
        body.directive(directive)
    return body


def _no_notes(header: TuneHeader, text: TuneText, body_start: int) -> TuneError:
    name = header.titles[0] if header.titles else text.number
    body = text.lines[body_start:]
    hint = "it has rests only"
    if all(is_field(line) for line in body):
        hint = "write its music right below K:, with no empty line between"
    return TuneError(f"the tune {name!r} has no notes", hint, line=text.first)


def _swing(directives: list[str]) -> Fraction | None:
    """The ratio of a `%%backing:swing 2:1`, a directive of our own (clause 11.5); older files of
    ours have `%%swing`."""
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


def _own_notices(notices: list[Notice], text: TuneText) -> tuple[Notice, ...]:
    """The notices about the tune, not about the file's header above it, each with the line
    that it points at, in the order of the lines."""
    own = [*text.mended, *text.notices]
    for notice in notices:
        if notice.line and notice.line < text.first:
            continue
        line, column, excerpt = _placed(text, notice.line, notice.column, notice.excerpt)
        own.append(Notice(notice.message, notice.hint, line, column, excerpt))
    return tuple(sorted(own, key=lambda notice: (notice.line, notice.column)))


def _placed(text: TuneText, line: int, column: int, excerpt: str) -> tuple[int, int, str]:
    """A place in the tune's lines as a place in the file, with the line that stands there."""
    index = line - text.first
    if not line or not 0 <= index < len(text.lines):
        return line, column, excerpt
    if text.places:
        line, before, whole = text.places[index]
        return line, max(column + before, 1) if column else 0, whole
    return line, column, text.lines[index]
