"""What MusicXML has no place for, written into a tune's music as Verovio has it.

That is MEI (Music Encoding Initiative): where lines end, the left hand's buttons as a second row
under the chord letters, what the rows of buttons are called, bar numbers that keep clear.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from backing.music.tune import Tune
from backing.render.sheet.boxes import printed_chord
from backing.render.sheet.note_signs import mei_beat, note_signs

#: What keeps notes off the sides of a bar's number: a space, and how small.
_SPACE, _NARROW = "\u00a0", {"fontsize": "52%"}


class StaffMarks(NamedTuple):
    """What stands at the music beyond the notes: by bar index, what is written above it and
    where; `rows` what the verses after those that are `sung` are called; `boxed` the bars whose
    number has a box, `open` those that no bar line ends, `unnumbered` those without a number."""

    signs: Mapping[int, Sequence[tuple[Fraction, str]]] = {}
    words: Mapping[int, Sequence[tuple[Fraction, str]]] = {}
    rows: tuple[str, ...] = ()
    sung: int = 0
    boxed: frozenset[int] = frozenset()
    open: frozenset[int] = frozenset()
    unnumbered: frozenset[int] = frozenset()


def annotate(root: Element, tune: Tune, marks: StaffMarks, starts: Sequence[int]) -> None:
    """Write into a tune's music, a tree of MEI, what stands at it; lines begin with the bars of
    these numbers."""
    parents = {child: parent for parent in root.iter() for child in parent}
    for finger in root.iter("fing"):  # above they would be read as one with a bar's number
        finger.set("place", "below")
    measures = list(root.iter("measure"))
    if len(tune.voices) == 1:
        for label in [label for label in root.iter("label") if parents[label].tag != "verse"]:
            parents[label].remove(label)
    for index, measure in enumerate(measures):
        bar = tune.bars[index]
        unit = bar.metre.unit
        for symbol in bar.chords:
            _control(measure, "harm", printed_chord(symbol.text), symbol.onset, unit)
        for onset, text in marks.signs.get(index, ()):
            _control(measure, "harm", text, onset, unit, n="2", size="80%")
        for onset, text in marks.words.get(index, ()):
            _control(measure, "dir", text, onset, unit, size="90%")
        if index in marks.open:
            measure.set("right", "invis")
        measure.attrib.pop("n", None)
        if not bar.pickup and index not in marks.unnumbered:
            side = "right" if index in starts else "center"
            _number(measure, str(bar.number), side, boxed=index in marks.boxed)
    for index, sign in note_signs(tune):
        measures[index].append(sign)
    for start, stop in zip(starts, [*starts[1:], len(measures)], strict=True):
        _break_before(measures[start], parents)  # without any, Verovio breaks lines itself
        _name_rows(measures[start:stop], marks)


def _number(measure: Element, number: str, side: str, *, boxed: bool) -> None:
    """A bar's number at its first bar line, as a text that keeps clear of notes and brackets:
    the engraver's own numbers give way to nothing.

    It stands over the bar line, or before it where a line begins (`side`: "center", "right"): a
    sign over the first note would else be beside it, and the engraver looks only above and below.
    """
    element = SubElement(measure, "dir", {"place": "above", "staff": "1", "tstamp": "0"})
    look = {"fontsize": "75%", "fontstyle": "italic", "halign": side}
    text = SubElement(element, "rend", {**look, "rend": "box"} if boxed else look)
    if boxed:
        text.text = number
        return
    SubElement(text, "rend", _NARROW).text = _SPACE
    text[0].tail = number
    SubElement(text, "rend", _NARROW).text = _SPACE


def _control(
    measure: Element, tag: str, text: str, onset: Fraction, unit: int, size: str = "", **more: str
) -> None:
    """A text at a place in a measure, in the usual look of its kind unless it has a size."""
    where = {"place": "above", "staff": "1", "tstamp": mei_beat(onset, unit)}
    element = SubElement(measure, tag, {**where, **more})
    if size:
        element = SubElement(element, "rend", {"fontsize": size, "fontstyle": "normal"})
    element.text = text


def _break_before(measure: Element, parents: Mapping[Element, Element]) -> None:
    """End the line before a measure, and before the ending that it opens."""
    place = measure
    while parents[place].tag == "ending" and parents[place].find("measure") is place:
        place = parents[place]
    parent = parents[place]
    parent.insert(list(parent).index(place), Element("pb"))


def _name_rows(measures: Sequence[Element], marks: StaffMarks) -> None:
    """The names of the last verses before the first note of a line."""
    note = next((note for m in measures for note in _notes(m)), None)
    if note is None:
        return
    for number, name in enumerate(marks.rows, marks.sung + 1):
        verse = next((v for v in note.findall("verse") if v.get("n") == str(number)), None)
        if verse is None:
            verse = SubElement(note, "verse", {"n": str(number)})
            SubElement(verse, "syl").text = "\u00a0"
        label = Element("label")
        label.text = f"{name}\u00a0"
        verse.insert(0, label)


def _notes(measure: Element) -> Iterator[Element]:
    """The notes and chords of the first staff, grace notes left out."""
    staff = measure.find("staff")
    inside = {n for chord in measure.iter("chord") for n in chord.iter("note")}
    for element in staff.iter() if staff is not None else ():
        if _is_note(element) and element not in inside:
            yield element


def _is_note(element: Element) -> bool:
    return element.tag in ("note", "chord") and element.get("grace") is None
