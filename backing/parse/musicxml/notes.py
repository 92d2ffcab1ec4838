"""The notes of one line, read by music21 from a score that holds nothing else.

A line is one voice on one staff of one part.  It is handed over bare: notes, rests and
what hangs on them.  Lengths and places stay as `parts` worked them out, exactly.
"""

import warnings
from collections import Counter, deque
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from typing import Any
from xml.etree.ElementTree import Element, SubElement

from backing.errors import TuneError
from backing.music.pitch import Pitch, pitch_of
from backing.music.transpose import Interval, move_pitch
from backing.music.tune import Grace, Note, Tuplet
from backing.parse.musicxml.parts import Group, LineKey, Measure, Part
from backing.parse.musicxml.signs import decorations_of, lyrics_of
from backing.parse.musicxml.words import Remarks, fault, text_of

_KEPT = frozenset({"grace", "chord", "pitch", "tie", "type", "dot", "time-modification"})
_KEPT_NOTATIONS = frozenset({"tuplet", "articulations", "ornaments", "technical",
                             "fermata", "arpeggiate"})  # fmt: skip
_TYPES = {
    "maxima": Fraction(8), "long": Fraction(4), "breve": Fraction(2), "whole": Fraction(1),
    "half": Fraction(1, 2), "quarter": Fraction(1, 4), "eighth": Fraction(1, 8),
    "16th": Fraction(1, 16), "32nd": Fraction(1, 32), "64th": Fraction(1, 64),
    "128th": Fraction(1, 128), "256th": Fraction(1, 256), "512th": Fraction(1, 512),
    "1024th": Fraction(1, 1024),
}  # fmt: skip
_TOGETHER = 100


def read_line(part: Part, key: LineKey, remarks: Remarks) -> list[tuple[Note, ...]]:
    """The notes of a line, measure by measure, as they sound; gaps are left between them."""
    groups = [measure.lines.get(key, []) for measure in part.measures]
    read = iter(_streams(_line_score(part, groups, remarks), part))
    streams = [next(read, []) if measured else [] for measured in groups]
    opens, closes = _slurs(groups)
    reader = _LineReader(part.name, remarks, opens, closes)
    notes = []
    for measure, measured, stream in zip(part.measures, groups, streams, strict=True):
        own = stream[: len(measured)] if _only_graces(measured) else stream
        if len(own) != len(measured):
            raise fault(measure.where, "music21 does not read all its notes")
        notes.append(reader.read(measure, measured, own))
    return notes


# -- what is handed to music21 --------------------------------------------------


def _line_score(part: Part, groups: list[list[Group]], remarks: Remarks) -> Element:
    """A score with the measures of one line that hold notes, cut into parts.

    music21 takes the longer over a measure the more stand before it in its part.
    """
    root = Element("score-partwise", {"version": "4.0"})
    names = SubElement(root, "part-list")
    written = [pair for pair in zip(part.measures, groups, strict=True) if pair[1]]
    for index, (measure, measured) in enumerate(written):
        if index % _TOGETHER == 0:
            name = {"id": f"P{index // _TOGETHER + 1}"}
            SubElement(SubElement(names, "score-part", name), "part-name")
            line = SubElement(root, "part", name)
        _write_measure(SubElement(line, "measure"), measure, measured, remarks)
    return root


def _write_measure(
    bare: Element, measure: Measure, measured: list[Group], remarks: Remarks
) -> None:
    _write_time(SubElement(bare, "attributes"))
    for group in measured:
        for note in _played(group):
            bare.append(_bare_note(note, measure, remarks))
            if not group.grace:
                SubElement(bare[-1], "duration").text = str(float(group.length * 4))
    if _only_graces(measured):
        _fill(bare)


def _only_graces(measured: list[Group]) -> bool:
    return all(group.grace for group in measured)


def _write_time(attributes: Element) -> None:
    """Durations in quarter notes, and any metre: without one music21 looks for it through all
    measures before, each time."""
    SubElement(attributes, "divisions").text = "1"
    time = SubElement(attributes, "time")
    SubElement(time, "beats").text = SubElement(time, "beat-type").text = "4"


def _fill(bare: Element) -> None:
    """A rest at the end of a measure without any length, which music21 cannot place."""
    rest = SubElement(bare, "note")
    SubElement(rest, "rest")
    SubElement(rest, "duration").text = "1"


def _played(group: Group) -> list[Element]:
    """Of notes struck together those that sound; one rest where none does."""
    return [note for note in group.elements if not _silent(note)] or group.elements[:1]


def _silent(note: Element) -> bool:
    """True for rests, for cue notes, and for notes without a pitch."""
    return note.find("pitch") is None or note.find("cue") is not None


def _bare_note(note: Element, measure: Measure, remarks: Remarks) -> Element:
    bare = Element("note")
    silent = _silent(note)
    if note.find("unpitched") is not None:
        remarks.add(measure.where, "notes without a pitch", "they are played as rests")
    for child in note:
        if child.tag == "notations":
            SubElement(bare, "notations").extend(
                [_bare_sign(sign) for sign in child if sign.tag in _KEPT_NOTATIONS]
            )
        elif child.tag == "pitch" and silent:
            continue
        elif child.tag in _KEPT and not (silent and child.tag == "tie"):
            bare.append(_bare_pitch(child, measure, remarks) if child.tag == "pitch" else child)
    if silent:
        SubElement(bare, "rest")
    return bare


def _bare_sign(sign: Element) -> Element:
    """A sign; a fermata without a type is upright, though music21 takes it for inverted."""
    bare = copy(sign)
    if bare.tag == "fermata" and bare.get("type") is None:
        bare.set("type", "upright")
    return bare


def _bare_pitch(pitch: Element, measure: Measure, remarks: Remarks) -> Element:
    """A pitch; a quarter tone is rounded, since no reed here plays one."""
    alter = text_of(pitch, "alter")
    if not alter or Fraction(alter).denominator == 1:
        return pitch
    remarks.add(measure.where, "a quarter tone", "it is rounded to a semitone")
    bare = Element("pitch")
    for tag in ("step", "alter", "octave"):
        text = text_of(pitch, tag)
        SubElement(bare, tag).text = str(round(Fraction(text))) if tag == "alter" else text
    return bare


def _streams(root: Element, part: Part) -> list[list[Any]]:
    """What music21 makes of a line: its notes and rests by measure."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            importer: Any = _importer()
            score = importer.xmlRootToScore(root, importer.stream) or importer.stream
            lines = [line.getElementsByClass("Measure") for line in score.parts]
            measures = [measure for line in lines for measure in line]
    except ImportError:
        raise TuneError(
            "MusicXML is read through music21, which is not installed", "pip install music21"
        ) from None
    except Exception as error:
        raise TuneError(
            f"part {part.name}: music21 cannot read its notes: {_said(error)}",
            "open the score in the program that wrote it, and export it again",
        ) from error
    return [list(measure.notesAndRests) for measure in measures]


def _importer() -> Any:
    xml_to_m21: Any = import_module("music21.musicxml.xmlToM21")
    return xml_to_m21.MusicXMLImporter()


def _said(error: Exception) -> str:
    text = " ".join(str(error).split())[:120]
    return f"{text} ({type(error).__name__})" if text else type(error).__name__


def _slurs(groups: list[list[Group]]) -> tuple[Counter[int], Counter[int]]:
    """How many slurs begin and end at each note of a line, by the identity of its group.

    The first that began ends first where several have the same number.  One from a grace
    note to the note it leads to is left out, as is one without an end.
    """
    opens: Counter[int] = Counter()
    closes: Counter[int] = Counter()
    begun: dict[str, deque[int]] = {}
    waiting: list[Element] = []
    for group in (group for measured in groups for group in measured):
        waiting += [slur for note in _played(group) for slur in note.findall("notations/slur")]
        if group.grace:
            continue
        for slur in waiting:
            row = begun.setdefault(slur.get("number", "1"), deque())
            if slur.get("type") == "start":
                row.append(id(group))
            elif slur.get("type") == "stop" and row:
                first = row.popleft()
                if first != id(group):
                    opens[first] += 1
                    closes[id(group)] += 1
        waiting = []
    return opens, closes


# -- what music21 hands back ----------------------------------------------------


@dataclass(slots=True)
class _Run:
    """A run of notes of one tuplet ratio; `told` where the score says where groups begin."""

    tuplet: tuple[int, int] | None = None
    told: bool = False
    length: Fraction = Fraction(0)
    full: Fraction = Fraction(0)


class _LineReader:
    """Turns the notes of music21 into ours; grace notes wait for the note they lead to."""

    def __init__(
        self, name: str, remarks: Remarks, opens: Counter[int], closes: Counter[int]
    ) -> None:
        self._name, self._remarks = name, remarks
        self._opens, self._closes = opens, closes
        self._graces: list[tuple[tuple[Pitch, ...], Fraction]] = []
        self._slashed = False
        self._run = _Run()

    def read(self, measure: Measure, groups: list[Group], stream: list[Any]) -> tuple[Note, ...]:
        """The notes of one measure."""
        notes = []
        at = Fraction(0)
        for group, element in zip(groups, stream, strict=True):
            self._run.length += group.onset - at
            at = group.onset + group.length
            if element.duration.isGrace != group.grace:
                raise fault(measure.where, "music21 reads its grace notes in another order")
            if group.grace:
                self._grace(group, element, measure.shift)
            else:
                notes.append(self._note(group, element, measure.shift))
        return tuple(notes)

    def _grace(self, group: Group, element: Any, shift: Interval) -> None:
        pitches = _pitches(element, shift)
        if not pitches:
            return
        if not self._graces:
            sign = group.elements[0].find("grace")
            self._slashed = sign is not None and sign.get("slash") == "yes"
        length = _TYPES.get(text_of(group.elements[0], "type"), Fraction(1, 8))
        self._graces.append((pitches, length))

    def _note(self, group: Group, element: Any, shift: Interval) -> Note:
        pitches = _pitches(element, shift)
        graces, slashed = self._take_graces() if pitches else ((), False)
        return Note(
            group.onset,
            group.length,
            pitches,
            _ties(element, shift),
            self._tuplet(group, element),
            graces,
            slashed,
            decorations_of(element),
            opens=self._opens[id(group)],
            closes=self._closes[id(group)],
            hidden=group.elements[0].get("print-object") == "no" and not pitches,
            lyrics=lyrics_of(group.elements),
        )

    def _take_graces(self) -> tuple[tuple[Grace, ...], bool]:
        shortest = min((length for _, length in self._graces), default=Fraction(1))
        graces = tuple(Grace(pitches, length / shortest) for pitches, length in self._graces)
        slashed = self._slashed and bool(graces)
        self._graces, self._slashed = [], False
        return graces, slashed

    def _tuplet(self, group: Group, element: Any) -> Tuplet | None:
        """The tuplet that a note is in; where no bracket says where one begins, it begins
        when the one before it is full."""
        notes = normal = 1
        for tuplet in element.duration.tuplets:
            notes *= tuplet.numberNotesActual
            normal *= tuplet.numberNotesNormal
        run = self._run
        if notes == normal or not (0 < notes <= 64 and 0 < normal <= 64):
            run.tuplet = None
            return None
        told = any(
            tuplet.get("type") == "start"
            for note in group.elements
            for tuplet in note.findall("notations/tuplet")
        )
        filled = not run.told and run.length >= run.full
        first = told or run.tuplet != (notes, normal) or filled
        if first:
            unit = text_of(group.elements[0], "time-modification/normal-type")
            unit = unit or text_of(group.elements[0], "type")
            self._run = run = _Run((notes, normal), told)
            run.full = normal * _TYPES.get(unit, Fraction(1, 8))
        run.length += group.length
        return Tuplet(notes, normal, first)


def _members(element: Any) -> Iterator[Any]:
    """The single notes of a note or of notes struck together."""
    if element.isRest:
        return iter(())
    return iter(element.notes if element.isChord else (element,))


def _pitches(element: Any, shift: Interval) -> tuple[Pitch, ...]:
    return tuple(_pitch(note.pitch, shift) for note in _members(element))


def _ties(element: Any, shift: Interval) -> tuple[Pitch, ...]:
    return tuple(
        _pitch(note.pitch, shift)
        for note in _members(element)
        if note.tie is not None and note.tie.type in ("start", "continue")
    )


def _pitch(pitch: Any, shift: Interval) -> Pitch:
    plain = pitch_of(pitch.step, int(pitch.alter), int(pitch.implicitOctave))
    return plain if shift.unison else move_pitch(plain, shift)
