"""The parts of a score, with everything in them put at its place in its measure.

Onsets and lengths are exact: MusicXML counts in divisions of a quarter note, here they
are Fractions of a whole note.  MusicXML 4.0, elements `divisions`, `duration`, `backup`,
`forward`, `offset`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from backing.music.pitch import SEMITONES
from backing.music.transpose import UNISON, Interval, interval_of
from backing.parse.draft import common_measure
from backing.parse.musicxml.words import Remarks, bounded_number, fault, number_of, text_of

_LONGEST = Fraction(256)
_MOST_DIVISIONS = 10**6

#: Staff, voice, and a number for what overlaps within a voice.
LineKey = tuple[int, str, int]


@dataclass(slots=True)
class Group:
    """A note, rest, grace note or several notes struck together."""

    onset: Fraction
    length: Fraction
    elements: list[Element]
    grace: bool = False


@dataclass(frozen=True, slots=True)
class PlacedElement:
    """An element that is no note, at its place in its measure."""

    onset: Fraction
    element: Element


@dataclass(slots=True)
class Measure:
    """One measure of one part: notes by line, and all the rest in written order.

    `implicit` marks one that is not counted: it says so, or goes on with the number
    before it ("4", "4a").
    """

    where: str
    implicit: bool
    length: Fraction = Fraction(0)
    shift: Interval = UNISON
    lines: dict[LineKey, list[Group]] = field(default_factory=dict)
    others: list[PlacedElement] = field(default_factory=list)


@dataclass(slots=True)
class Part:
    """One part: its id, its name, its measures."""

    id: str
    name: str
    measures: list[Measure]

    @property
    def keys(self) -> list[LineKey]:
        """Its lines, the top staff and the first voice first."""
        found = {key for measure in self.measures for key in measure.lines}
        return sorted(found, key=lambda key: (key[0], _voice_order(key[1]), key[2]))


def _voice_order(voice: str) -> tuple[int, str]:
    return (int(voice), "") if voice.isdecimal() and len(voice) < 9 else (10**9, voice)


def read_parts(root: Element, remarks: Remarks) -> list[Part]:
    """The parts in the order of the score."""
    names = {
        element.get("id", ""): " ".join(text_of(element, "part-name").split())
        for element in root.findall("part-list/score-part")
    }
    parts: list[Part] = []
    taken: dict[str, int] = {}
    for element in root.findall("part"):
        identity = element.get("id", "") or next(iter(names), "")
        name = _unique(names.get(identity, "") or identity or "melody", taken)
        parts.append(_PartReader(identity, name, remarks).read(element))
    return parts


def _unique(name: str, taken: dict[str, int]) -> str:
    """The name, with a number where it is taken; `taken` has the last number of each."""
    unique = name
    while unique in taken:
        taken[name] += 1
        unique = f"{name} {taken[name]}"
    taken[unique] = 1
    return unique


class _PartReader:
    """Walks through a part and keeps the place."""

    def __init__(self, identity: str, name: str, remarks: Remarks) -> None:
        self._part = Part(identity, name, [])
        self._remarks = remarks
        self._divisions = Fraction(1)
        self._shift = UNISON
        self._at = Fraction(0)
        self._measure = Measure("", False)
        self._last: Group | None = None
        self._parts = 1

    def read(self, element: Element) -> Part:
        """The part with all its measures."""
        before = ""
        for index, measure in enumerate(element.findall("measure"), 1):
            number = measure.get("number", "")[:20] or str(index)
            goes_on = number[:-1] == before != "" and number[-1].isalpha()
            self._measure = Measure(
                f"part {self._part.name}, bar {number}",
                goes_on or measure.get("implicit") == "yes",
            )
            before = number
            try:
                self._read_measure(measure)
            except ValueError as error:
                raise fault(self._measure.where, error) from None
            self._part.measures.append(self._measure)
        return self._part

    def _read_measure(self, element: Element) -> None:
        self._at, self._last = Fraction(0), None
        self._measure.shift = self._shift
        for child in element:
            if child.tag == "note":
                self._note(child)
            elif child.tag == "backup":
                self._at = max(Fraction(0), self._at - self._duration(child))
            elif child.tag == "forward":
                self._move(self._duration(child))
            elif child.tag == "attributes":
                self._attributes(child)
            elif child.tag in ("direction", "harmony", "sound", "barline"):
                onset = self._at + self._duration(child, "offset")
                self._measure.others.append(PlacedElement(max(Fraction(0), onset), child))

    def _duration(self, element: Element, path: str = "duration") -> Fraction:
        """A length in divisions, exactly as a Fraction of a whole note."""
        text = text_of(element, path)
        if not text:
            return Fraction(0)
        length = number_of(text) / self._divisions / 4
        if abs(length) > _LONGEST or (length < 0 and path == "duration"):
            raise ValueError(f"a {path} of {text} is no length that can be played")
        self._parts = common_measure(self._parts, length)
        return length

    def _move(self, length: Fraction) -> None:
        self._at += length
        self._measure.length = max(self._measure.length, self._at)
        if self._at > _LONGEST:
            raise ValueError("the bar is longer than 256 semibreves")

    def _attributes(self, element: Element) -> None:
        divisions = text_of(element, "divisions")
        if divisions:
            self._divisions = number_of(divisions)
            if not 0 < self._divisions <= _MOST_DIVISIONS:
                raise ValueError(f"divisions of {divisions} a quarter note")
        transpose = element.find("transpose")
        if transpose is not None:
            self._shift = _interval(transpose)
            if self._at == 0:
                self._measure.shift = self._shift
        self._measure.others.append(PlacedElement(self._at, element))

    def _note(self, element: Element) -> None:
        _check_pitch(element)
        if element.find("chord") is not None and self._last is not None:
            self._last.elements.append(element)
            return
        grace = element.find("grace") is not None
        length = Fraction(0) if grace else self._duration(element)
        if not grace and not length:
            self._remarks.add(self._measure.where, "a note has no duration", "it is left out")
            return
        self._last = Group(self._at, length, [element], grace)
        self._line(element).append(self._last)
        self._move(length)

    def _line(self, element: Element) -> list[Group]:
        """The line that a note belongs to: notes of a voice that overlap go to further ones."""
        staff = text_of(element, "staff")
        number = bounded_number(staff, 1, 99) if staff else 1
        voice = text_of(element, "voice")[:20] or "1"
        lines = self._measure.lines
        for layer in range(100):
            line = lines.setdefault((number, voice, layer), [])
            if not line or line[-1].onset + line[-1].length <= self._at:
                return line
        raise ValueError(f"more than 100 notes of voice {voice} sound at once")


def _check_pitch(element: Element) -> None:
    pitch = element.find("pitch")
    if pitch is None:
        return
    step = text_of(pitch, "step")
    if step not in SEMITONES:
        raise ValueError(f"{step[:20]!r} is not the name of a note")
    octave = bounded_number(text_of(pitch, "octave"), -1, 9)
    alter = number_of(text_of(pitch, "alter") or "0")
    key = 12 * (octave + 1) + SEMITONES[step] + alter
    if abs(alter) > 3 or not 0 <= key <= 127:
        raise ValueError(f"the pitch {step}{octave}, altered by {alter}, cannot be played")


def _interval(transpose: Element) -> Interval:
    """How much higher the part sounds than it is written.

    MusicXML 4.0, element `transpose`: what is added to the written pitch.
    """
    chromatic = bounded_number(text_of(transpose, "chromatic") or "0", -48, 48)
    octaves = bounded_number(text_of(transpose, "octave-change") or "0", -4, 4)
    diatonic = text_of(transpose, "diatonic")
    if not diatonic:
        return interval_of(chromatic + 12 * octaves)
    steps = bounded_number(diatonic, -28, 28)
    return Interval(steps + 7 * octaves, chromatic + 12 * octaves)


def elements_of(measures: list[Measure], tag: str) -> Iterator[Element]:
    """All elements of a kind beside the notes."""
    return (placed.element for m in measures for placed in m.others if placed.element.tag == tag)
