"""The notes of a voice, written by music21."""

import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from typing import Any
from xml.etree.ElementTree import Element

from backing.errors import BackingError
from backing.music.key import Key
from backing.music.pitch import Pitch
from backing.music.tune import Bar, Grace, Note, Tune, Voice
from backing.render.musicxml.elements import PRINTED, PrintedNote, allowed, pieces_of

#: Module and class in music21 for each decoration (names of ABC 2.1 clause 4.14).
_SIGNS = {
    "staccato": ("articulations", "Staccato"), "accent": ("articulations", "Accent"),
    ">": ("articulations", "Accent"), "emphasis": ("articulations", "Accent"),
    "marcato": ("articulations", "StrongAccent"), "tenuto": ("articulations", "Tenuto"),
    "wedge": ("articulations", "Staccatissimo"), "breath": ("articulations", "BreathMark"),
    "portato": ("articulations", "DetachedLegato"), "caesura": ("articulations", "Caesura"),
    "slide": ("articulations", "Scoop"), "upbow": ("articulations", "UpBow"),
    "downbow": ("articulations", "DownBow"), "open": ("articulations", "OpenString"),
    "thumb": ("articulations", "StringThumbPosition"),
    "snap": ("articulations", "SnapPizzicato"), "plus": ("articulations", "Stopped"),
    "trill": ("expressions", "Trill"), "turn": ("expressions", "Turn"),
    "invertedturn": ("expressions", "InvertedTurn"),
    "lowermordent": ("expressions", "Mordent"), "mordent": ("expressions", "Mordent"),
    "uppermordent": ("expressions", "InvertedMordent"),
    "pralltriller": ("expressions", "InvertedMordent"),
    "arpeggio": ("expressions", "ArpeggioMark"), "tremolo": ("expressions", "Tremolo"),
    "fermata": ("expressions", "Fermata"), "invertedfermata": ("expressions", "Fermata"),
}  # fmt: skip
#: Decorations that are written as a loudness, not at the note.
LOUDNESS = frozenset({"p", "pp", "ppp", "pppp", "mp", "mf", "f", "ff", "fff", "ffff", "sfz"})


@dataclass(slots=True)
class Printed:
    """A printed note and the note that it is a piece of; `first` and `last` of its pieces."""

    element: Any
    note: Note
    piece: PrintedNote
    first: bool
    last: bool


class NoteWriter:
    """Builds the notes of one voice in music21, and takes back the elements it writes."""

    def __init__(self) -> None:
        self._modules: dict[str, Any] = {}
        self._last_key: Key | None = None

    def __getattr__(self, name: str) -> Any:
        """A module of music21, loaded when it is first used."""
        if name not in self._modules:
            self._modules[name] = import_module(f"music21.{name}")
        return self._modules[name]

    def write(self, tune: Tune, voice: Voice) -> list[list[tuple[Element, Printed | None]]]:
        """For each bar the note elements, each with what it prints (None: a grace note).

        Raises BackingError where music21 is not installed.
        """
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                return self._write(tune, voice)
        except ImportError:
            raise BackingError(
                "MusicXML is written through music21, which is not installed", "pip install music21"
            ) from None

    def _write(self, tune: Tune, voice: Voice) -> list[list[tuple[Element, Printed | None]]]:
        part = self.stream.Part()
        part.append(self.clef.BassClef() if is_low(voice) else self.clef.TrebleClef())
        printed = [self._bar(part, bar, notes) for bar, notes in _columns(tune, voice)]
        flat = [item for row in printed for item in row]
        self._tuplets(flat)
        self._ties(flat)
        for slur in self._all_slurs(flat):
            part.insert(0, slur)
        part.makeAccidentals(inPlace=True)
        self._beam(part)
        score = self.stream.Score([part])
        written = self._export(score)
        return [_matched(row, items) for row, items in zip(written, printed, strict=True)]

    def _export(self, score: Any) -> list[list[Element]]:
        exporter: Any = import_module("music21.musicxml.m21ToXml")
        root = exporter.ScoreExporter(score, makeNotation=False).parse()
        return [measure.findall("note") for measure in root.iter("measure")]

    def _bar(self, part: Any, bar: Bar, notes: Sequence[Note]) -> list[Printed]:
        measure = self.stream.Measure()
        if bar.key != self._last_key:
            measure.keySignature = self._key(bar.key)
            self._last_key = bar.key
        if not bar.metre.free:
            measure.timeSignature = self.meter.TimeSignature(str(bar.metre))
        printed: list[Printed] = []
        for note in notes:
            for grace in note.graces:
                measure.append(self._grace(grace, note.slashed))
            pieces = pieces_of(note)
            if not note.pitches and note.length == bar.length:
                pieces = [PrintedNote(note.length, "", 0)]
            for index, piece in enumerate(pieces):
                first, last = index == 0, index == len(pieces) - 1
                item = Printed(self._element(note, piece), note, piece, first, last)
                measure.append(item.element)
                printed.append(item)
            for name in note.decorations:
                self._sign(printed[-len(pieces)].element, name)
        part.append(measure)
        return printed

    def _key(self, key: Key) -> Any:
        if not key.changes and not key.explicit:
            return self.key.KeySignature(max(-7, min(7, key.fifths)))
        signature = self.key.KeySignature(None)
        signature.alteredPitches = [
            _spelled(letter, alter) for letter, alter in key.signature.items()
        ]
        return signature

    def _element(self, note: Note, piece: PrintedNote) -> Any:
        duration = self.duration.Duration(piece.type or "quarter", dots=piece.dots)
        if piece.ratio != (1, 1):
            tuplet = self.duration.Tuplet(*piece.ratio, piece.type)
            tuplet.type = None
            duration.appendTuplet(tuplet)
        if not note.pitches:
            rest = self.note.Rest(duration=duration)
            rest.fullMeasure = False
            rest.style.hideObjectOnPrint = note.hidden
            return rest
        return self._struck(note.pitches, duration)

    def _struck(self, pitches: Sequence[Pitch], duration: Any) -> Any:
        notes = [
            self.note.Note(self.pitch.Pitch(_spelled(pitch.step, pitch.alter), octave=pitch.octave))
            for pitch in pitches
        ]
        if len(notes) > 1:
            return self.chord.Chord(notes, duration=duration)
        notes[0].duration = duration
        return notes[0]

    def _grace(self, grace: Grace, slashed: bool) -> Any:
        length = grace.length / 8
        name, dots = next(
            ((name, dots) for whole, name, dots in PRINTED if whole <= length), ("eighth", 0)
        )
        plain = self._struck(grace.pitches, self.duration.Duration(name, dots=dots))
        element = plain.getGrace()
        element.duration.slash = slashed
        return element

    def _sign(self, element: Any, name: str) -> None:
        """Hang a decoration on a note; one without a sign in MusicXML is written by name."""
        if name in LOUDNESS:
            return
        if name.isdecimal() and len(name) == 1:
            element.articulations.append(self.articulations.Fingering(int(name)))
            return
        module, kind = _SIGNS.get(name, ("articulations", "Articulation"))
        sign = getattr(getattr(self, module), kind)()
        if kind == "Articulation":
            sign.displayText = allowed(name)
        if kind == "Fermata":
            sign.type = "inverted" if name == "invertedfermata" else "upright"
        (element.expressions if module == "expressions" else element.articulations).append(sign)

    def _tuplets(self, flat: list[Printed]) -> None:
        """Brackets: one opens at the first note of a group and closes before the next."""
        for index, item in enumerate(flat):
            group = item.note.tuplet
            if group is None or not item.piece.type:
                continue
            following = flat[index + 1] if index + 1 < len(flat) else None
            starts = group.first and item.first
            same = following is not None and following.piece.ratio == item.piece.ratio
            again = following is not None and following.first and following.note.tuplet is not None
            stops = not same or (again and following.note.tuplet.first)  # type: ignore[union-attr]
            tuplet = item.element.duration.tuplets[0]
            tuplet.type = {(True, True): "startStop", (True, False): "start",
                           (False, True): "stop"}.get((starts, stops))  # fmt: skip

    def _ties(self, flat: list[Printed]) -> None:
        """Ties between the pieces of one length, and from note to note."""
        incoming: set[Pitch] = set()
        for item in flat:
            outgoing = set(item.note.ties if item.last else item.note.pitches)
            members = item.element.notes if item.element.isChord else [item.element]
            for pitch, member in zip(item.note.pitches, members, strict=False):
                kinds = (pitch in incoming, pitch in outgoing)
                if any(kinds):
                    kind = {(True, True): "continue", (True, False): "stop"}.get(kinds, "start")
                    member.tie = self.tie.Tie(kind)
            incoming = outgoing

    def _all_slurs(self, flat: list[Printed]) -> Iterator[Any]:
        """A slur for each pair of signs; one that closes at a note closes before another
        opens there (ABC 2.1 clause 4.11)."""
        opened: list[Any] = []
        begin: Any = None
        for item in flat:
            begin = item.element if item.first else begin
            if item.last:
                for _ in range(min(item.note.closes, len(opened))):
                    yield self.spanner.Slur(opened.pop(), item.element)
                opened += [begin] * item.note.opens

    def _beam(self, part: Any) -> None:
        """Beams, where the metre has them."""
        try:
            part.makeBeams(inPlace=True)
        except Exception:
            return


def _spelled(step: str, alter: int) -> str:
    return step + ("#" * alter if alter > 0 else "-" * -alter)


def _columns(tune: Tune, voice: Voice) -> Iterator[tuple[Bar, tuple[Note, ...]]]:
    for bar, notes in zip(tune.bars, voice.bars, strict=True):
        yield bar, notes or (Note(Fraction(0), bar.length, hidden=True),)


def is_low(voice: Voice) -> bool:
    """True where a voice lies in the bass clef."""
    keys = [note.pitches[0].midi for bar in voice.bars for note in bar if note.pitches]
    return bool(keys) and sum(keys) < 55 * len(keys)


def _matched(
    elements: list[Element], printed: list[Printed]
) -> list[tuple[Element, Printed | None]]:
    """The note elements of a bar, each with what it prints."""
    waiting = iter(printed)
    matched: list[tuple[Element, Printed | None]] = []
    for element in elements:
        if element.find("grace") is not None:
            matched.append((element, None))
        elif element.find("chord") is not None:
            matched.append((element, matched[-1][1]))
        else:
            matched.append((element, next(waiting)))
    return matched
