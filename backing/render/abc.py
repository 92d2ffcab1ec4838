"""A tune as ABC 2.1, so that reading it again gives the same tune.

Lengths are written out (no broken rhythm), every bar's accidentals anew; key and metre
changes, labels and tempi stand inside brackets at their place.
"""

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import chain, takewhile

from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.pitch import Pitch, name_of
from backing.music.tempo import Tempo
from backing.music.tune import Bar, Jump, Note, Tune, Tuplet, Voice

_BARS_A_LINE = 4
_HEADER_TEXTS = "ABDFGHNOPSWZr"
_SIGNS = {2: "^^", 1: "^", 0: "=", -1: "_", -2: "__"}
_JUMPS = {
    Jump.SEGNO: "segno", Jump.CODA: "coda", Jump.TO_CODA: "dacoda", Jump.FINE: "fine",
    Jump.DA_CAPO: "D.C.", Jump.DAL_SEGNO: "D.S.",
}  # fmt: skip
_OPENING = (Jump.SEGNO, Jump.CODA)
_MODES = {"major": "", "minor": "m"}


def render_abc(tune: Tune) -> str:
    """The tune as ABC text, one tune with its header, ended by a line end."""
    lines = [*_header(tune), *_body(tune)]
    return "\n".join(lines) + "\n"


# -- header ---------------------------------------------------------------------


def _header(tune: Tune) -> Iterator[str]:
    yield f"X:{tune.number or 1}"
    yield from (f"T:{_escape(title)}" for title in tune.titles or ())
    if not tune.titles and tune.title != "untitled":
        yield f"T:{_escape(tune.title)}"
    yield from (f"C:{_escape(composer)}" for composer in tune.composers)
    if tune.dance:
        yield f"R:{_escape(tune.dance)}"
    for letter, text in tune.texts:
        if letter in _HEADER_TEXTS:
            yield f"{letter}:{_escape(text)}"
    yield f"M:{_metre(tune.metre)}"
    yield f"L:{tune.unit_length}"
    words = [text for letter, text in tune.texts if letter == "Q"]
    if words:
        yield f"Q:{words[0]}"
    elif tune.tempo is not None:
        yield f"Q:{_tempo(tune.tempo)}"
    if tune.order:
        yield f"P:{''.join(tune.order)}"
    if tune.swing is not None:
        yield f"%%backing:swing {tune.swing.numerator}:{tune.swing.denominator}"
    for voice in _named(tune):
        yield f"V:{_id(voice)}"
    yield f"K:{_key(tune.key)}"
    for letter, text in tune.texts:
        if letter in "TR":
            yield f"{letter}:{_escape(text)}"


def _named(tune: Tune) -> list[Voice]:
    """The voices that need a `V:`: none where there is but the melody."""
    voices = _bases(tune)
    return [] if len(voices) == 1 and voices[0].name == "melody" else voices


def _bases(tune: Tune) -> list[Voice]:
    """The voices that are not second voices inside the bars of another."""
    return [voice for voice in tune.voices if not voice.name.endswith(" &")]


def _id(voice: Voice) -> str:
    return re.sub(r"\s+", "_", voice.name)


def _metre(metre: Metre) -> str:
    return metre.written or f"{metre.count}/{metre.unit}"


def _tempo(tempo: Tempo) -> str:
    """A tempo in whole or decimal beats; where it has neither, in a smaller note."""
    rest = tempo.beats.denominator
    for factor in (2, 5):
        while rest % factor == 0:
            rest //= factor
    beats = f"{float(tempo.beats * rest):.6f}".rstrip("0").rstrip(".")
    return f"{_fraction(tempo.unit / rest)}={beats}"


def _fraction(number: Fraction) -> str:
    return f"{number.numerator}/{number.denominator}"


def _key(key: Key) -> str:
    if key.mode == "none":
        return "none"
    if key.mode == "pipes":
        return key.written or "HP"
    mode = "exp" if key.explicit else _MODES.get(key.mode, key.mode[:3])
    changes = "".join(f" {_SIGNS[alter]}{letter.lower()}" for letter, alter in key.changes)
    space = " " if key.explicit else ""
    return f"{name_of(key.step, key.alter)}{space}{mode}{changes}"


def _escape(text: str) -> str:
    """A text with the signs escaped that ABC would take otherwise (clause 8.2)."""
    out = text.replace("\\", "\\\\").replace("%", "\\%").replace("&", "\\&")
    return re.sub(r"[$\"\n]", lambda match: f"\\u{ord(match[0]):04x}", out)


# -- body -----------------------------------------------------------------------


def _body(tune: Tune) -> Iterator[str]:
    named = _named(tune)
    placed: set[tuple[int, Fraction, str]] = set()
    for index, voice in enumerate(_bases(tune)):
        if named:
            yield f"V:{_id(voice)}"
        writer = _VoiceWriter(tune, voice, placed, first=index == 0)
        yield from writer.lines()


class _VoiceWriter:
    """Writes one voice and the second voices in its bars.

    `placed` are the (bar, onset) places of chord symbols and tempi that a voice before
    has already written; the first voice also writes labels and repeats' labels.
    """

    def __init__(
        self, tune: Tune, voice: Voice, placed: set[tuple[int, Fraction, str]], *, first: bool
    ) -> None:
        self.tune = tune
        self.placed = placed
        self.first = first
        self.layers = [voice]
        self.layers += [
            other
            for other in tune.voices
            if re.fullmatch(re.escape(voice.name) + "( &)+", other.name)
        ]
        self.ties: tuple[Pitch, ...] = ()
        self.left = 0

    def lines(self) -> Iterator[str]:
        """The music lines, lyrics under them."""
        bars = self.tune.bars
        start = 0
        while start < len(bars):
            stop = min(start + _BARS_A_LINE, len(bars))
            for index in range(start + 1, stop):
                if bars[index].section != bars[start].section:
                    stop = index
                    break
            opening = self._opening(bars[0]) if start == 0 else ""
            yield opening + "".join(self._bar(index) for index in range(start, stop))
            yield from self._lyrics(start, stop)
            start = stop

    def _opening(self, bar: Bar) -> str:
        return "|" + ":" * (bar.opens_repeat - 1) if bar.opens_repeat else ""

    def _bar(self, index: int) -> str:
        """One bar with what stands at its start and the bar line after it."""
        bars = self.tune.bars
        bar = bars[index]
        parts = [self._ending(bar), self._changes(index)]
        parts += [f"!{_JUMPS[jump]}!" for jump in bar.jumps if jump in _OPENING]
        for layer, voice in enumerate(self.layers):
            notes = voice.bars[index]
            if layer and all(note.rest and note.hidden for note in notes):
                continue
            if layer:
                parts.append(" & ")
            state = _Accidentals(bar.key, self.ties if layer == 0 else ())
            parts.append(self._notes(voice, index, state, chords=layer == 0))
            if layer == 0:
                ties = notes[-1].ties if notes else ()
        self.ties = ties
        parts += [f"!{_JUMPS[jump]}!" for jump in bar.jumps if jump not in _OPENING]
        following = bars[index + 1] if index + 1 < len(bars) else None
        return "".join(parts) + self._line(bar, following)

    def _ending(self, bar: Bar) -> str:
        return f"[{bar.ending} " if bar.ending and bar.ending.first else ""

    def _changes(self, index: int) -> str:
        """Metre, key and label where they differ from the bar before, or from the header."""
        bar = self.tune.bars[index]
        metre = self.tune.bars[index - 1].metre if index else self.tune.metre
        key = self.tune.bars[index - 1].key if index else self.tune.key
        out = ""
        if bar.label and self.first:
            out += f"[P:{bar.label}]"
        if bar.metre != metre:
            out += f"[M:{_metre(bar.metre)}]"
        if bar.key != key:
            out += f"[K:{_key(bar.key)}]"
        return out

    def _line(self, bar: Bar, following: Bar | None) -> str:
        """The bar line between two bars."""
        before = ":" * (bar.plays - 1) if bar.plays else ""
        after = ""
        if following is not None and following.opens_repeat:
            after = ":" * (following.opens_repeat - 1)
        core = bar.close or ("|" if following is not None or before else "")
        if before and core == "[|":
            core = "|[|"
        return f" {before}{core}{after} " if following is not None else f" {before}{core}"

    def _notes(self, voice: Voice, index: int, state: "_Accidentals", *, chords: bool) -> str:
        parts = []
        notes = voice.bars[index]
        for place, note in enumerate(notes):
            if note.tuplet is not None and note.tuplet.first:
                parts.append(self._tuplet(note.tuplet, voice, index, place))
            if chords:
                last = place + 1 == len(notes)
                parts.append(
                    self._above(index, note.onset, None if last else notes[place + 1].onset)
                )
            parts.append(_note(note, self.tune.unit_length, state))
        return "".join(parts)

    def _above(self, index: int, onset: Fraction, stop: Fraction | None) -> str:
        """The chord symbols and tempi from this note up to the next."""
        out = ""
        bar = self.tune.bars[index]
        for mark in bar.tempos:
            if onset <= mark.onset and (stop is None or mark.onset < stop):
                out += self._once(
                    index, mark.onset - 1000, f"[Q:{mark.text or _tempo(mark.tempo)}]"
                )
        for symbol in bar.chords:
            if onset <= symbol.onset and (stop is None or symbol.onset < stop):
                out += self._once(index, symbol.onset, f'"{_escape(symbol.text)}"')
        return out

    def _once(self, index: int, onset: Fraction, text: str) -> str:
        place = (index, onset, text)
        if place in self.placed:
            return ""
        self.placed.add(place)
        return text

    def _tuplet(self, tuplet: Tuplet, voice: Voice, index: int, place: int) -> str:
        """The sign that opens a tuplet: its notes may go on after the bar line."""
        rest = chain(voice.bars[index][place + 1 :], *voice.bars[index + 1 : index + 3])
        inside = takewhile(lambda note: note.tuplet is not None and not note.tuplet.first, rest)
        return f"({tuplet.notes}:{tuplet.normal}:{1 + sum(1 for _ in inside)}"

    def _lyrics(self, start: int, stop: int) -> Iterator[str]:
        notes = [note for bar in self.layers[0].bars[start:stop] for note in bar if not note.rest]
        for verse in range(max((len(note.lyrics) for note in notes), default=0)):
            words = [
                _syllable(note.lyrics[verse]) if verse < len(note.lyrics) else "*" for note in notes
            ]
            yield "w:" + " ".join(word or "*" for word in words)


def _syllable(text: str) -> str:
    if text in ("_", ""):
        return text
    end = "-" if text.endswith("-") and len(text) > 1 else ""
    inside = text.removesuffix("-") if end else text
    return _escape(inside).replace("-", "\\-").replace(" ", "~") + end


class _Accidentals:
    """Which signs a bar needs: the key's, those written, and what a tie holds over."""

    def __init__(self, key: Key, ties: tuple[Pitch, ...]) -> None:
        self.signature = key.signature
        self.written: dict[tuple[str, int], int] = {}
        self.ties = ties

    def spell(self, pitch: Pitch) -> str:
        """The pitch as ABC writes it at this point of the bar."""
        place = (pitch.step, pitch.octave)
        tied = next((t for t in self.ties if (t.step, t.octave) == place), None)
        known = self.written.get(place, self.signature.get(pitch.step, 0))
        expected = tied.alter if tied is not None else known
        sign = ""
        if pitch.alter != expected:
            sign = _SIGNS[pitch.alter]
            self.written[place] = pitch.alter
        return sign + _letter(pitch)


def _letter(pitch: Pitch) -> str:
    if pitch.octave >= 5:
        return pitch.step.lower() + "'" * (pitch.octave - 5)
    return pitch.step + "," * (4 - pitch.octave)


def _note(note: Note, unit: Fraction, state: _Accidentals) -> str:
    """A note or rest with all that hangs on it (order: clause 4.20)."""
    parts = []
    if note.graces:
        inside = "".join(
            _heads(grace.pitches, (), state) + _length(grace.length) for grace in note.graces
        )
        parts.append("{" + "/" * note.slashed + inside + "}")
    parts += [f'"{_escape(text)}"' for text in note.texts]
    parts += [f"!{name}!" for name in note.decorations]
    parts.append("(" * note.opens)
    written = note.length
    if note.tuplet is not None:
        written = written * note.tuplet.notes / note.tuplet.normal
    length = _length(written / unit)
    if note.rest:
        parts.append(("x" if note.hidden else "z") + length)
        state.ties = ()
    else:
        whole = set(note.ties) == set(note.pitches)
        parts.append(_heads(note.pitches, () if whole else note.ties, state) + length)
        parts.append("-" if whole else "")
        state.ties = ()
    parts.append(")" * note.closes)
    return "".join(parts)


def _heads(pitches: tuple[Pitch, ...], ties: tuple[Pitch, ...], state: _Accidentals) -> str:
    spelled = [state.spell(pitch) + ("-" if pitch in ties else "") for pitch in pitches]
    return spelled[0] if len(spelled) == 1 and not ties else f"[{''.join(spelled)}]"


def _length(count: Fraction) -> str:
    """A length in units.

    >>> _length(Fraction(3, 2)), _length(Fraction(1, 2)), _length(Fraction(1))
    ('3/2', '/2', '')
    """
    top = "" if count.numerator == 1 else str(count.numerator)
    return top if count.denominator == 1 else f"{top}/{count.denominator}"
