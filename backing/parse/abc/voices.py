"""The voices of an ABC tune: which line belongs to which, and how they fit together.

ABC 2.1 clauses 7, 7.3, 7.4.  Every voice has a `Body` of its own; the bars of the first
are the frame of all.
"""

import re
from collections.abc import Callable
from fractions import Fraction

from backing.errors import Notice, TuneError, did_you_mean
from backing.music.transpose import UNISON
from backing.music.tune import Note, Voice
from backing.parse.abc.body import Body
from backing.parse.abc.draft import BarDraft, NoteDraft
from backing.parse.abc.fields import read_modifiers
from backing.parse.abc.lengths import plus
from backing.parse.abc.limits import MOST_VOICES, check_voice_bars
from backing.parse.abc.tokens import strip_comment
from backing.parse.draft import with_groups_opened

#: Letters that begin a field in the body; A to G and X to Z never do (clause 3).
_FIELD_LETTERS = frozenset("HIJKLMNOPQRSTUVWhijklmnopqrstuvw+")
#: Fields of text, which used to go on after a backslash.
_JOINED = frozenset("HNORSTWrsw+")
_SWITCH = re.compile(r"\[V:\s*([^\[\]]*)\]")
_NAME = re.compile(r'(?:name|nm)="?([^"]*?)"?(?:\s+\w+=|$)')


class Voices:
    """Hands the lines of a tune's body to the voices that they belong to."""

    def __init__(self, new_body: Callable[[], Body], defined: list[str]) -> None:
        self._new_body = new_body
        self._defined: dict[str, list[str]] = {}
        for value in filter(str.strip, defined):
            self._defined.setdefault(value.split()[0], []).append(value)
        self._bodies: dict[str, Body] = {}
        self._current: Body | None = None
        self._in_text = self._joined = False
        self._notices: list[Notice] = []

    @property
    def texts(self) -> list[tuple[str, str]]:
        """The text fields that stand in the body."""
        return [text for body in self._bodies.values() for text in body.texts]

    def read_line(self, text: str, number: int) -> None:
        """One line of the body; `number` counts from 1."""
        if text.lstrip().startswith("%"):
            self._directive(text.lstrip(), number)
            return
        if self._in_text:
            return
        bare = strip_comment(text) if "%" in text else text
        letter = bare[:1]
        joined, self._joined = self._joined, False
        if bare[1:2] == ":" and letter in _FIELD_LETTERS:
            self._field(letter, bare[2:].strip(), text, number)
        elif joined:
            self._field("+", bare.strip(), text, number)
        elif "[V:" in bare:
            self._pieces(bare, text, number)
        else:
            self._body().read_music(bare, number, text=text)

    def _field(self, letter: str, value: str, text: str, number: int) -> None:
        """A field; one of text that ends in a backslash goes on in the next line (10.3)."""
        if letter == "V":
            self._named(value, text, number)
        else:
            body = self._first() if letter == "P" else self._body()
            body.read_field(letter, value, text, number)
            self._joined = value.endswith("\\") and letter in _JOINED

    def _directive(self, text: str, number: int) -> None:
        if text.startswith("%%begintext"):
            self._in_text = True
        elif text.startswith("%%endtext"):
            self._in_text = False
        elif text.startswith("%%") and not self._in_text:
            self._body().read_directive(text, number)

    def _pieces(self, bare: str, text: str, number: int) -> None:
        """A line with `[V:...]` in it: each piece goes to its voice."""
        at = marks = counted = 0
        for match in _SWITCH.finditer(bare):
            marks += bare.count('"', counted, match.start())
            counted = match.start()
            if marks % 2:
                continue
            if bare[at : match.start()].strip():
                self._body().read_music(bare[at : match.start()], number, text=text, base=at)
            self._named(match[1], text, number)
            at = match.end()
        if bare[at:].strip():
            self._body().read_music(bare[at:], number, text=text, base=at)

    def _named(self, value: str, text: str, number: int) -> None:
        """What follows belongs to the voice that a `V:` field names."""
        try:
            unknown = self._switch(value)
        except ValueError as error:
            raise TuneError(str(error), line=number, column=1, excerpt=text) from None
        for word in unknown:
            column = max(text.find(word) + 1, 1)
            said = f"{word!r} is not known"
            self._notices.append(Notice(said, "left out", number, column, text))

    def _body(self) -> Body:
        if self._current is None:
            self._switch("")
        assert self._current is not None
        return self._current

    def _first(self) -> Body:
        """The voice whose bars are the frame: labels belong to it."""
        return next(iter(self._bodies.values()), None) or self._body()

    def _switch(self, value: str) -> tuple[str, ...]:
        """Go to the voice of this name; the words about it that are not known."""
        name = value.split(maxsplit=1)[0] if value.split() else ""
        if name not in self._bodies:
            if len(self._bodies) == MOST_VOICES:
                raise ValueError(f"more than {MOST_VOICES} voices")
            idle = "" in self._bodies and not self._bodies[""].started
            self._bodies[name] = self._bodies.pop("") if idle else self._new_body()
            for properties in self._defined.get(name, ()):
                self._modify(self._bodies[name], properties)
        self._current = self._bodies[name]
        return self._modify(self._current, value)

    def _modify(self, body: Body, value: str) -> tuple[str, ...]:
        """Take what stands behind a voice's name to its notes; the words not known."""
        words = value.split(maxsplit=1)[1:]
        modifiers = read_modifiers("".join(words), strict=body.strict)
        if modifiers.shift is not None:
            body.bars.shift = UNISON if modifiers.shift.unison else modifiers.shift
        return modifiers.unknown

    def finish(self, wanted: str = "") -> tuple[list[BarDraft], tuple[Voice, ...], list[Notice]]:
        """The frame, the voices with the melody first, and what was odd.

        The melody is the voice with this id or name, else the first that has notes.
        """
        notices = self._notices
        lines: list[Voice] = []
        self._body()
        finished = {name: body.finish() for name, body in self._bodies.items()}
        first, frame = next(((n, d) for n, d in finished.items() if d), ("", []))
        check_voice_bars(sum(map(_layers_in, finished.values())), len(frame))
        for name, drafts in finished.items():
            notices += self._bodies[name].notices
            if drafts and len(drafts) != len(frame):
                notices.append(
                    Notice(
                        f"voice {name or 'melody'} has {len(drafts)} bars, "
                        f"voice {first or 'melody'} {len(frame)}",
                        "it is cut or filled up with rests",
                    )
                )
            lines += _lines(name, drafts, frame)
        chosen = self._choose(lines, wanted)
        if len(self._bodies) > 1 and not wanted:
            others = ", ".join(line.name for line in lines if line is not lines[chosen])
            notices.append(
                Notice(
                    f"several voices; the melody is voice {lines[chosen].name}",
                    f"the others are kept: {others}; choose with --voice",
                )
            )
        melody = lines.pop(chosen)
        lines = [melody, *sorted(lines, key=lambda line: _base(line) != _base(melody))]
        return frame, tuple(lines), notices

    def _choose(self, lines: list[Voice], wanted: str) -> int:
        for index, line in enumerate(lines):
            named = _NAME.search(" ".join(self._defined.get(line.name, ())))
            names = {line.name.lower(), named[1].lower() if named else ""} - {""}
            if wanted and wanted.lower() in names:
                return index
        if wanted:
            known = [line.name for line in lines]
            raise TuneError(
                f"there is no voice {wanted!r}",
                did_you_mean(wanted, known) or f"the voices are {', '.join(known)}",
            )
        for index, line in enumerate(lines):
            if any(note.pitches for bar in line.bars for note in bar):
                return index
        return 0


def _lines(name: str, drafts: list[BarDraft], frame: list[BarDraft]) -> list[Voice]:
    """A voice, and one more for each layer of second voices in its bars."""
    layers = _layers_in(drafts)
    named = name or "melody"
    return [
        Voice(
            named + " &" * layer,
            with_groups_opened(
                _bar_notes(drafts[index] if index < len(drafts) else None, layer, bar.length)
                for index, bar in enumerate(frame)
            ),
        )
        for layer in range(layers)
    ]


def _layers_in(drafts: list[BarDraft]) -> int:
    return max((len(draft.layers) for draft in drafts), default=1)


def _base(line: Voice) -> str:
    """The name of the voice in whose bars a second voice stands; else its own."""
    return line.name.partition(" ")[0]


def _bar_notes(draft: BarDraft | None, layer: int, length: Fraction) -> tuple[Note, ...]:
    """The notes of one bar, filled up with a rest that is not printed."""
    notes: list[NoteDraft] = []
    if draft is not None and layer < len(draft.layers):
        notes = draft.layers[layer]
    finished = [note.note() for note in notes]
    stop = plus(finished[-1].onset, finished[-1].length) if finished else Fraction(0)
    if stop is not length and stop < length:
        finished.append(Note(stop, length - stop, hidden=True))
    return tuple(finished)
