"""The music code of one voice: notes, bar lines, fields between them.

`Body` is fed line by line and keeps what clause 4 makes last: the accidentals of the
bar, the tuplet in progress, what waits for the next note.  Clause numbers are those of
ABC 2.1.
"""

import re
from collections.abc import Callable
from fractions import Fraction

from backing.errors import Notice
from backing.music.key import Key
from backing.music.metre import Metre, parse_metre
from backing.music.pitch import Pitch
from backing.music.tempo import Tempo
from backing.music.transpose import UNISON
from backing.music.tune import Ending, Grace, Source, TempoMark
from backing.parse.abc.bars import BarMaker
from backing.parse.abc.below import Below
from backing.parse.abc.draft import BarDraft, NoteDraft, TupletDraft
from backing.parse.abc.fields import (
    COUNTS_UNITS,
    NOT_FOLLOWED,
    counts_units,
    is_playback,
    read_key,
    read_numbers,
    read_symbol,
    read_tempo,
    read_unit,
)
from backing.parse.abc.lengths import broken, times
from backing.parse.abc.limits import MOST_IN_FIELD, Tally
from backing.parse.abc.macros import Macro, expand, with_macro
from backing.parse.abc.spelling import Spelling, held_over
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import (
    DECORATIONS,
    INNER,
    KINDS,
    MOST_DIGITS_IN_GRACES,
    NOTES,
    TOKEN,
    in_time_of,
    multiplier,
    read_bar_sign,
    token_with_breaks,
)
from backing.parse.draft import common_measure

_KEPT = frozenset("HNORSTWr")
#: What goes on where a field that changes it cannot be read.
_HELD = {"K": "key", "M": "metre", "L": "unit length"}
_MOST_REST_BARS = 1000
_LONGEST = 256


class Body(Below):
    """Reads the music lines of one voice into bars and notes.

    `strict` refuses what ABC 2.1 disallows; else it is read as it was meant.  `tally`
    counts the notes of all voices of the tune.
    """

    def __init__(
        self,
        metre: Metre,
        key: Key,
        unit: Fraction,
        *,
        strict: bool = False,
        tally: Tally | None = None,
    ) -> None:
        super().__init__(BarMaker(metre, key), strict=strict)
        self._tally = tally or Tally()
        self.unit = unit
        self.texts: list[tuple[str, str]] = []
        self.macros: tuple[Macro, ...] = ()
        self._spelling = Spelling(key)
        self._last: NoteDraft | None = None
        self._tuplet: TupletDraft | None = None
        self._broken: Fraction | None = None
        self._unlike: tuple[Fraction, Source] | None = None
        self._field_before = ""
        self._going_on = 0
        self._signs = TOKEN
        self._spans: dict[str, Fraction] = {}
        self._parts = 1

    # -- lines ------------------------------------------------------------------

    def read_music(self, line: str, number: int, *, text: str = "", base: int = 0) -> None:
        """A line of music code, or a piece of one that begins `base` signs into `text`."""
        self._place(text or line, number, base)
        self._begin_lines()
        if self.macros:
            try:
                expanded = expand(line, self.macros)
            except ValueError as error:
                raise self._error(str(error), 1) from None
            line, self._expanded = expanded.text, expanded
        self._music(line)
        self._expanded = None

    def read_field(self, letter: str, value: str, text: str, number: int) -> None:
        """A field on a line of its own."""
        self._place(text, number, 0)
        if value.endswith("\\"):
            hint = "begin the next line with +:"
            self._disallowed("a field that goes on after a backslash", hint, len(text))
            value = value[:-1].rstrip()
        self._field(letter, value, 1)

    @property
    def started(self) -> bool:
        """True once there is a note or a bar."""
        return bool(self.bars.bars) or not self.bars.empty

    def finish(self) -> list[BarDraft]:
        """The end of the tune closes the last bar; all bars."""
        if self._tuplet and self._tuplet.left:
            self._notice_at("the last tuplet wants more notes", "", self._tuplet.source)
        if not self.bars.empty:
            self._end_bar("", 0, 0, len(self._text) + 1 - self._base)
        if self._symbols:
            text, source = self._symbols[-1]
            said = f"the chord symbol {text} has no note after it"
            self._notice_at(said, "it is left out", source)
        if self._pending.graces:
            self._notice("the last grace notes have no note after them", "left out", 1)
        if self._unsaid:
            places = "1 more place is" if self._unsaid == 1 else f"{self._unsaid:,} more places are"
            said = f"{places} odd, in this voice alone"
            self.notices.append(Notice(said, "mend the first ones and read it again"))
        self.bars.settle_jumps()
        return self.bars.bars

    def _music(self, line: str) -> None:
        actions = _ACTIONS
        for match in self._signs.finditer(line):
            kind = match.lastgroup
            if kind != "space":
                actions[kind or ""](self, match)

    # -- notes and rests --------------------------------------------------------

    def _on_note(self, match: re.Match[str]) -> None:
        sign, letter, marks, length = match.group(3, 4, 5, 6)
        column = match.start() + 1
        try:
            pitch = self._pitch(sign, letter, marks)
            span = self._span(length)
        except ValueError as error:
            raise self._error(str(error), column) from None
        self._add(span, (pitch,), column, match.end() + 1)

    def _span(self, length: str) -> Fraction:
        """The length that a note's number means in the unit length now, kept for the next."""
        span = self._spans.get(length)
        if span is None:
            span = self._spans[length] = self.unit * multiplier(length)
        return span

    def _pitch(self, sign: str | None, letter: str, marks: str) -> Pitch:
        """The pitch as written; ValueError where no key fits what it sounds."""
        pitch = self._written_pitch(sign, letter, marks)
        shift = self.bars.shift
        if shift is not UNISON and not 0 <= pitch.midi + shift.semitones <= 127:
            raise ValueError(f"{pitch} is shifted too high or too low to sound")
        return pitch

    def _written_pitch(self, sign: str | None, letter: str, marks: str) -> Pitch:
        if not sign and self._last is not None and self._last.ties and not self.bars.notes:
            tied = held_over(self._last.ties, letter, marks)
            if tied is not None:
                return tied
        alone = bool(sign) and "editorial" in self._pending.decorations
        return self._spelling.pitch(sign, letter, marks, alone=alone)

    def _on_rest(self, match: re.Match[str]) -> None:
        text = match[0]
        try:
            span = self._span(text[1:])
        except ValueError as error:
            raise self._error(str(error), match.start() + 1) from None
        draft = self._add(span, (), match.start() + 1, match.end() + 1)
        draft.hidden = text[0] == "x"

    def _on_restbars(self, match: re.Match[str]) -> None:
        column = match.start() + 1
        count = int(match[0][1:] or 1) if len(match[0]) < 6 else 0
        if not 0 < count <= _MOST_REST_BARS:
            raise self._error(f"a rest of {match[0][1:]} bars", column)
        if self.bars.metre.free:
            self._notice("a rest of whole bars in free metre", "it is left out", column)
            return
        for index in range(count):
            if index:
                self._end_bar("|", 0, 0, column)
            draft = self._add(self.bars.metre.length, (), column, match.end() + 1)
            draft.hidden = match[0][0] == "X"

    def _on_chord(self, match: re.Match[str]) -> None:
        inside, _, outer = match[0][1:].partition("]")
        self._chord_of(inside, outer, match.start() + 1, match.end() + 1)

    def _chord_of(self, inside: str, outer: str, column: int, end: int) -> None:
        """Notes struck together (clause 4.17); the first says how long they last."""
        pitches: list[Pitch] = []
        ties: list[Pitch] = []
        first = ""
        at = 0
        while at < len(inside):
            part = INNER.match(inside, at)
            if part is None:
                self._notice(
                    f"{inside[at]!r} in a chord of notes is not understood", "", column + at + 1
                )
                at += 1
                continue
            if part["note"]:
                try:
                    pitch = self._pitch(part[2], part[3], part[4])
                except ValueError as error:
                    raise self._error(str(error), column + at + 1) from None
                first = first if pitches else part[5]
                pitches.append(pitch)
                if part[6] and pitch not in ties:
                    ties.append(pitch)
            elif part["quoted"]:
                self._quote(part["quoted"][1:-1], column + 1 + at, column + 1 + part.end())
            elif part["decoration"] or part["letter"]:
                self._decorate(part[0], column + 1 + at)
            at = part.end()
        try:
            span = self.unit * multiplier(first) * multiplier(outer)
        except ValueError as error:
            raise self._error(str(error), column) from None
        if not pitches:
            self._notice("a chord of notes without a note", "it is left out", column)
            return
        draft = self._add(span, tuple(pitches), column, end)
        draft.ties = tuple(ties)

    def _add(self, span: Fraction, pitches: tuple[Pitch, ...], column: int, end: int) -> NoteDraft:
        """Put a note or rest at the end of the bar."""
        bars = self.bars
        shift = None if bars.shift is UNISON else bars.shift
        source = self._source(column, end)
        draft = NoteDraft(bars.at, span, pitches, shift, source, len(bars.bars))
        if self._tuplet is not None:
            self._tuplet.take(draft)
            if not self._tuplet.left:
                self._tuplet = None
        if self._broken is not None:
            self._break(draft, self._broken)
        if self._pending.any:
            self._pending.give_to(draft)
        if self._symbols:
            self._place_chords()
        self._check_length(draft, column)
        try:
            self._tally.add_note()
        except ValueError as error:
            raise self._error(str(error), column) from None
        bars.add(draft)
        self._last = draft
        if pitches and bars.leading:
            self._sung.append(draft)
        return draft

    def _check_length(self, draft: NoteDraft, column: int) -> None:
        """Refuse a note that is too long, or that has no common measure with those before."""
        if draft.length.numerator > _LONGEST * draft.length.denominator:
            raise self._error(f"a note longer than {_LONGEST} semibreves", column)
        try:
            self._parts = common_measure(self._parts, draft.length)
        except ValueError as error:
            raise self._error(str(error), column) from None

    def _break(self, draft: NoteDraft, factor: Fraction) -> None:
        """The second note of a broken rhythm."""
        if self._unlike is not None and draft.length != self._unlike[0]:
            said = "a broken rhythm between notes of unlike length"
            self._notice_at(said, "", self._unlike[1])
        draft.length = times(draft.length, factor)
        self._broken = None

    def _on_broken(self, match: re.Match[str]) -> None:
        """`A>B`: the one note takes from the other (clause 4.4)."""
        column = match.start() + 1
        if self._last is None or not self.bars.notes or self._last is not self.bars.notes[-1]:
            self._notice("a broken rhythm has no note before it", "left out", column)
            return
        if self._broken is not None:
            hint = "the second is left out; signs that belong together are written as one, like >>"
            self._notice("two signs of a broken rhythm between two notes", hint, column)
            return
        self._unlike = self._last.length, self._source(column, column)
        factor, self._broken = broken(match[0])
        self.bars.stretch(factor)
        self._check_length(self._last, column)

    def _on_tie(self, match: re.Match[str]) -> None:
        column = match.start() + 1
        if self._last is None or not self._last.pitches:
            self._notice("a tie has no note before it", "left out", column)
            return
        if column == 1 or match.string[column - 2] in " \t|:":
            self._notice("a tie stands away from its first note", "put it right after it", column)
        self._last.ties = self._last.pitches

    def _on_opens(self, match: re.Match[str]) -> None:
        self._pending.opens += 1
        self._pending.any = True

    def _on_closes(self, match: re.Match[str]) -> None:
        if self._last is not None:
            self._last.closes += 1

    def _on_tuplet(self, match: re.Match[str]) -> None:
        column = match.start() + 1
        normal, span = match["normal"], match["span"]
        count = int(match["notes"])
        compound = self.bars.metre.count % 3 == 0 and self.bars.metre.count > 3
        time_of = int(normal) if normal else in_time_of(count, compound)
        left = int(span) if span else count
        if count < 2 or not 0 < time_of <= 64 or not 0 < left <= 64:
            raise self._error(f"{match[0]!r} is no tuplet", column)
        self._end_tuplet("a tuplet", column)
        self._tuplet = TupletDraft(count, time_of, left, self._source(column, column))

    def _end_tuplet(self, what: str, column: int) -> None:
        """What begins here ends the tuplet before it, whole or not."""
        if self._tuplet is not None and self._tuplet.left:
            self._notice(f"{what} begins inside a tuplet", "the first ends here", column)
        self._tuplet = None

    def _on_grace(self, match: re.Match[str]) -> None:
        inside = match[0][1:-1]
        slashed = inside.startswith("/")
        graces: list[Grace] = []
        at = 1 if slashed else 0
        chord: list[Pitch] | None = None
        while at < len(inside):
            part = INNER.match(inside, at)
            if part is not None and part["note"]:
                try:
                    pitch = self._pitch(part[2], part[3], part[4])
                    length = multiplier(part[5], MOST_DIGITS_IN_GRACES)
                except ValueError as error:
                    raise self._error(str(error), match.start() + at + 2) from None
                if chord is None:
                    graces.append(Grace((pitch,), length))
                else:
                    chord.append(pitch)
            elif part is None and inside[at] in "[]":
                if chord:
                    graces.append(Grace(tuple(chord), Fraction(1)))
                chord = [] if inside[at] == "[" else None
            elif part is None and inside[at] not in "()<>":
                self._notice(
                    f"{inside[at]!r} in grace notes is not understood", "", match.start() + at + 2
                )
            at = part.end() if part is not None else at + 1
        self._pending.graces += tuple(graces)
        self._pending.slashed = slashed if graces else self._pending.slashed
        self._pending.any = True

    # -- what hangs on notes ----------------------------------------------------

    def _on_decoration(self, match: re.Match[str]) -> None:
        sign = match[0]
        if sign[0] == "+" and sign[1:-1] not in DECORATIONS and NOTES.fullmatch(sign[1:-1]):
            self._disallowed("a chord between plus signs", "write [CEG]", match.start() + 1)
            self._chord_of(sign[1:-1], "", match.start() + 1, match.end() + 1)
            return
        if sign[0] == "+":
            self._deprecated("a decoration between plus signs", "write !trill!", match.start() + 1)
        self._decorate(sign, match.start() + 1)

    # -- bar lines --------------------------------------------------------------

    def _on_bar(self, match: re.Match[str]) -> None:
        """Any run of `|`, `:`, `[` and `]` (clause 4.8), perhaps with an ending."""
        column = match.start() + 1
        sign = read_bar_sign(match["bar"])
        if sign.dotted and not self.bars.full:
            return
        if match["bar"] == ":":
            self._notice("a single ':' is read as a bar line", "", column)
        if self._pending.decorations:
            self._leave_decorations("a bar line", column)
        self._end_bar(sign.close, sign.plays, sign.opens, column)
        if match["after"]:
            self._start_ending(match["after"], column)

    def _on_ending(self, match: re.Match[str]) -> None:
        if self.bars.notes:
            self._end_bar("|", 0, 0, match.start() + 1)
        self._start_ending(match["numbers"], match.start() + 1)

    def _start_ending(self, text: str, column: int) -> None:
        try:
            self.bars.ending = Ending(read_numbers(text), first=True)
        except ValueError as error:
            raise self._error(str(error), column) from None

    def _end_bar(self, close: str, plays: int, opens: int, column: int) -> None:
        bars, second = len(self.bars.bars), not self.bars.leading
        try:
            self.bars.end(close, plays, opens, self._source(column, column + 1))
        except ValueError as error:
            raise self._error(str(error), column) from None
        if second:
            self._end_tuplet("the bar after a second voice", column)
        if self.bars.bars and len(self.bars.bars[-1].layers) > 1:
            self._last = self.bars.bars[-1].layers[0][-1]
        if self._broken is not None and len(self.bars.bars) > bars:
            self._notice("a broken rhythm reaches over the bar line", "", column)
            self._broken = None
        self._spelling.end_bar()

    def _on_overlay(self, match: re.Match[str]) -> None:
        """`&`: a second voice from the start of the bar (clause 7.4)."""
        try:
            self.bars.add_layer(len(match[0]))
        except ValueError as error:
            raise self._error(str(error), match.start() + 1) from None
        self._last = None
        self._end_tuplet("a second voice", match.start() + 1)

    # -- fields -----------------------------------------------------------------

    def _on_field(self, match: re.Match[str]) -> None:
        self._field(match[0][1], match[0][3:-1].strip(), match.start() + 1)

    def _field(self, letter: str, value: str, column: int) -> None:
        try:
            self._music_field(letter, value, column)
        except ValueError as error:
            if self.strict:
                raise self._error(str(error), column) from None
            hint = f"the {_HELD[letter]} before goes on" if letter in _HELD else "left out"
            self._notice(str(error), hint, column)

    def _music_field(self, letter: str, value: str, column: int) -> None:
        if letter == "K":
            self._change_key(value, column)
        elif letter == "M":
            self.bars.set_metre(parse_metre(value))
        elif letter == "L":
            self.unit = read_unit(value)
            self._spans = {}
        elif letter == "Q":
            self._change_tempo(value, column)
        elif letter == "P":
            self.bars.label = value.strip() or self.bars.label
        elif letter == "U":
            self.define_symbol(value)
        elif letter == "m":
            self.macros = with_macro(self.macros, value)
        elif letter == "I":
            self._directive_here(value, column)
        elif letter == "w":
            self._lyric_line(value, column)
        elif letter == "s":
            self._symbol_line(value, column)
        elif letter in _KEPT:
            self.texts.append((letter, unescape(value)))
        elif letter == "+":
            self._continue(value, column)
            return
        else:
            self._notice(f"the field {letter}: has no place here", "left out", column)
        self._field_before, self._going_on = letter, 0

    def _continue(self, value: str, column: int) -> None:
        """`+:` goes on with the field before it (clause 3.3)."""
        before = self._field_before
        self._going_on += len(value)
        if self._going_on > MOST_IN_FIELD:
            raise ValueError(f"a field goes on for more than {MOST_IN_FIELD:,} signs")
        if before == "w" and self._lyrics.verse >= 0:
            self._put_lyrics(value, column)
        elif before == "s" and self._symbol_lines.verse >= 0:
            self._put_symbols(value, column)
        elif before in _KEPT:
            name, text = self.texts[-1]
            self.texts[-1] = (name, f"{text} {value}")
        else:
            self._notice("a field cannot go on here", "left out", column)

    def _change_key(self, value: str, column: int) -> None:
        field = read_key(value, strict=self.strict)
        if field.shift is not None:
            self.bars.shift = UNISON if field.shift.unison else field.shift
        if field.reworded:
            said = f"{field.reworded!r} is not a key as ABC writes it"
            self._notice(said, f"read as {field.key}", column)
        for word in field.unknown:
            self._notice(f"{word!r} is not known", "left out", column)
        if field.key is not None:
            self._spelling.set_key(field.key)
            self.bars.set_key(field.key)

    def _change_tempo(self, value: str, column: int) -> None:
        tempo: Tempo | None = None
        try:
            tempo = read_tempo(value, self.unit)
            if counts_units(value):
                self._deprecated(*COUNTS_UNITS, column)
        except ValueError as error:
            self._notice(str(error), "the tempo before goes on", column)
            return
        if tempo is None:
            self.texts += [("Q", value)] if value else []
        else:
            self.bars.tempos.append(TempoMark(self.bars.at, tempo, value))

    def define_symbol(self, value: str) -> None:
        """`U:`: a letter that stands for a decoration or a text (clause 4.16)."""
        letter, meaning = read_symbol(value)
        self.symbols[letter] = meaning

    def read_directive(self, line: str, number: int) -> None:
        """A `%%` line."""
        self._place(line, number, 0)
        self._directive_here(line[2:], 1)

    def _directive_here(self, text: str, column: int) -> None:
        if text.split()[:1] == ["linebreak"]:
            self._once("line breaks are chosen above the music only (clause 6.1.1)", column)
            return
        if is_playback(text):
            self._once(NOT_FOLLOWED, column)
        self.directive(text)

    def directive(self, text: str) -> None:
        """`%%` and `I:` (clause 11); those that do not bear on sound are ignored."""
        name, _, value = text.strip().partition(" ")
        if name == "propagate-accidentals" and value.strip() in ("not", "octave", "pitch"):
            self._spelling.propagate = value.strip()
        elif name == "linebreak":
            self._signs = token_with_breaks() if "!" in value else TOKEN

    # -- what is not understood -------------------------------------------------

    def _on_spacer(self, match: re.Match[str]) -> None:
        """A spacer has no length (clause 6.1.2)."""
        if self._pending.decorations:
            self._leave_decorations("a spacer", match.start() + 1)

    def _on_break(self, match: re.Match[str]) -> None:
        """A line break does nothing (clause 6.1.1)."""
        if match[0] == "!" and self._signs is TOKEN:
            self._deprecated("a line break '!'", "write $", match.start() + 1)

    def _on_reserved(self, match: re.Match[str]) -> None:
        self._once(f"the sign {match[0]!r} is reserved (ABC 2.1 clause 8.1)", match.start() + 1)

    def _on_unknown(self, match: re.Match[str]) -> None:
        sign, column = match[0], match.start() + 1
        if sign == '"':
            self._notice("a quotation mark is not closed", "the mark is left out", column)
        elif sign in "{[":
            self._notice(f"a {sign!r} is not closed", "the bracket is left out", column)
        else:
            self._notice(f"{sign!r} is not understood", "left out", column)


#: What each sign of `TOKEN` does: `after` is the number of an ending on a bar line, a letter
#: is a short decoration.
_SAME = {"after": "bar", "letter": "decoration"}
_ACTIONS: dict[str, Callable[[Body, re.Match[str]], None]] = {
    kind: getattr(Body, f"_on_{_SAME.get(kind, kind)}") for kind in KINDS
}
