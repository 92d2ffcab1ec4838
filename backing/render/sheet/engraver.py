"""Staff notation: a tune's lines of music as drawings (SVG), engraved by Verovio.

Verovio reads MusicXML and gives MEI, its own form of it (Music Encoding Initiative), into which
go what MusicXML has no place for: where lines end, the left hand's buttons as a second row
under the chord letters, and what the rows of buttons are called.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from math import ceil
from typing import NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import verovio

from backing.music.tune import Tune
from backing.render.musicxml import score_element
from backing.render.musicxml.printed import printed_rows
from backing.render.sheet.boxes import printed_chord
from backing.render.sheet.breaks import bar_widths, line_starts
from backing.render.sheet.cut import BarPiece, cut_marks, cut_tune, pieces_of_bars

#: Without it the names of elements stay short; Verovio does not ask for it.
_NAMESPACE = ' xmlns="http://www.music-encoding.org/ns/mei"'
#: Verovio's units to a staff space and a staff.
_UNIT = 9
STAFF = 8 * _UNIT
#: Room left and right of the lines, in those units: the names of rows stand out to the left.
_LEFT, _RIGHT = 54, 6
#: Room above and below them.
_TOP, _BELOW = 12, 12
_OPTIONS = {
    "adjustPageHeight": True, "pageHeight": 100, "unit": float(_UNIT), "scale": 100,
    "pageMarginLeft": _LEFT, "pageMarginRight": _RIGHT, "pageMarginTop": _TOP,
    "pageMarginBottom": _BELOW, "header": "none", "footer": "none", "svgViewBox": True,
    "svgFormatRaw": True,
    "lyricSize": 5.4, "lyricTopMinMargin": 2.0, "minLastJustification": 0.4,
    "spacingStaff": 8, "font": "Leipzig", "removeIds": True, "xmlIdSeed": 1,
    # Looks stand at the elements then, not in a style sheet, over which Verovio takes three
    # times as long as over the drawing itself.
    "mmOutput": True,
}  # fmt: skip
_STAFF_LINE = re.compile(r'<path d="M(\d+) \d+ L(\d+) \d+"')
_VIEW = re.compile(r'<svg class="definition-scale"[^>]* viewBox="0 0 (\d+) (\d+)"')
#: A bar that is so many times as wide as a line is cut: the engraver squeezes no further.
_FULL = 1.15
#: With less room under chord letters, in units, brackets of endings come to stand among them.
_ROOM_FOR_ENDINGS = 3.0
#: Looks of groups that Verovio says in its style sheet alone.
_LOOKS = {
    "ending": 'font-weight="bold"', "fing": 'font-weight="bold"', "dynam": 'font-style="italic"',
}  # fmt: skip
_LOOKED = re.compile(rf'(?<=<g )([^>]*class="({"|".join(_LOOKS)})\b)')
#: Verovio draws in tenths of its units.
_TENTHS = 10


class _Letters(NamedTuple):
    """About how wide a letter is, and the room between two texts."""

    width: float
    gap: float


_SIGN, _CHORD, _WORD = _Letters(18, 30), _Letters(24, 40), _Letters(20, 14)


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


class DrawnBar(NamedTuple):
    """Where a bar of the tune stands on a line: its index, its left and right edge; where in it,
    in whole notes from its start, each note of the melody begins that is drawn, None for a grace
    note."""

    bar: int
    left: float
    right: float
    heads: tuple[Fraction | None, ...] = ()


class System(NamedTuple):
    """A line of music: its drawing, and its size in `STAFF`ths of a staff's height; whether a
    part begins with it; its bars, or pieces of bars that are cut."""

    svg: str
    width: int
    height: int
    part: bool
    bars: tuple[DrawnBar, ...] = ()


class _Extent(NamedTuple):
    """A measure on an endless line: where it starts and stops."""

    start: int
    stop: int


@lru_cache(maxsize=1)
def _toolkit() -> verovio.toolkit:
    """The engraver; a new one takes as long as a line of music."""
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _musicxml(tune: Tune) -> str:
    """A tune as MusicXML that nobody reads but the engraver."""
    return ElementTree.tostring(score_element(tune), encoding="unicode")


class Measured(NamedTuple):
    """A tune as the engraver has it (MEI), and the natural widths of its bars."""

    mei: str
    widths: tuple[float, ...]


def measured(tune: Tune) -> Measured:
    """A tune on an endless line: the same for lines of any width."""
    toolkit = _toolkit()
    _set_options(toolkit, tune, breaks="none")
    toolkit.resetXmlIdSeed(1)
    toolkit.loadData(_musicxml(_without_chords(tune)))
    widths = _widths(tune, list(_spans(toolkit.renderToSVG(1))))
    return Measured(toolkit.getMEI(), tuple(widths))


def engrave(
    tune: Tune, marks: StaffMarks, width: int, natural: Measured | None = None
) -> tuple[System, ...]:
    """A tune's lines of music, each so wide (in units of a staff's height divided by `STAFF`);
    `natural` is the tune as it was measured for lines of another width.

    Bars that are wider than a line are cut, without a bar line.
    """
    toolkit = _toolkit()
    room = width - _LEFT - _RIGHT - _clef_width(tune)
    natural = natural or measured(tune)
    wide = {
        at: ceil(wanted / room) for at, wanted in enumerate(natural.widths) if wanted > _FULL * room
    }
    pieces = [BarPiece(at, Fraction(0), bar.length, True, True) for at, bar in enumerate(tune.bars)]
    if wide:
        pieces = pieces_of_bars(tune, wide)
        tune, marks = cut_tune(tune, pieces), _cut_marks(marks, pieces)
        natural = measured(tune)
    signs = [_unsqueezed(tune, marks, bar) for bar in range(len(natural.widths))]
    starts = line_starts(bar_widths(tune, natural.widths, signs), room)
    root = ElementTree.fromstring(natural.mei.replace(_NAMESPACE, "", 1))
    _annotate(root, tune, marks, starts)
    _set_options(toolkit, tune, breaks="encoded", pageWidth=width)
    toolkit.resetXmlIdSeed(2)  # with the first again there might be two of a name
    toolkit.loadData(ElementTree.tostring(root, encoding="unicode"))
    parts = {section.start for section in tune.sections}
    bars = list(_undrawn(tune, pieces))
    return tuple(
        _system(toolkit.renderToSVG(page), part=start in parts, bars=bars[start:])
        for page, start in enumerate(starts, 1)
    )


def _undrawn(tune: Tune, pieces: Sequence[BarPiece]) -> Iterator[DrawnBar]:
    """What will be drawn of each bar, of which it is not known where."""
    for piece, row in zip(pieces, printed_rows(tune, tune.melody), strict=True):
        heads: list[Fraction | None] = []
        for item in row:
            heads += [None] * len(item.note.graces) if item.first else []
            heads += [piece.start + item.onset] if item.note.pitches else []
        yield DrawnBar(piece.bar, 0, 0, tuple(heads))


def engrave_start(tune: Tune) -> System:
    """A tune on one line, as wide as it is."""
    toolkit = _toolkit()
    toolkit.resetOptions()
    toolkit.setOptions({**_OPTIONS, "breaks": "none", "adjustPageWidth": True})
    toolkit.resetXmlIdSeed(1)
    toolkit.loadData(_musicxml(tune))
    return _system(toolkit.renderToSVG(1), part=True)


def _without_chords(tune: Tune) -> Tune:
    """The tune without its chords: they are written as they are named, not as the engraver
    would name them."""
    return replace(tune, bars=tuple(replace(bar, chords=()) for bar in tune.bars))


def _set_options(toolkit: verovio.toolkit, tune: Tune, **more: str | int) -> None:
    toolkit.resetOptions()
    toolkit.setOptions({**_OPTIONS, **more})
    if any(bar.ending for bar in tune.bars):
        toolkit.setOptions({"bottomMarginHarm": _ROOM_FOR_ENDINGS})


def _unsqueezed(tune: Tune, marks: StaffMarks, bar: int) -> float:
    """About what stands above a bar, or under it, needs side by side; the engraver does not ask
    for it where it squeezes a line."""
    rows = (
        _side_by_side((text for _, text in marks.signs.get(bar, ())), _SIGN),
        _side_by_side((symbol.text for symbol in tune.bars[bar].chords), _CHORD),
        _side_by_side((max(n.lyrics, key=len) for n in tune.melody.bars[bar] if n.lyrics), _WORD),
    )
    return max(rows)


def _side_by_side(texts: Iterable[str], letters: _Letters) -> float:
    return sum(len(text) * letters.width + letters.gap for text in texts)


def _cut_marks(marks: StaffMarks, pieces: Sequence[BarPiece]) -> StaffMarks:
    return StaffMarks(
        cut_marks(marks.signs, pieces),
        cut_marks(marks.words, pieces),
        marks.rows,
        marks.sung,
        frozenset(
            at for at, piece in enumerate(pieces) if piece.first and piece.bar in marks.boxed
        ),
        frozenset(at for at, piece in enumerate(pieces) if not piece.last),
        frozenset(at for at, piece in enumerate(pieces) if not piece.first),
    )


def _spans(svg: str) -> Iterator[_Extent]:
    """Where each measure of a line lies."""
    for piece in svg.split('class="measure"')[1:]:
        line = _STAFF_LINE.search(piece)
        if line is not None:
            yield _Extent(int(line[1]), int(line[2]))


def _clef_width(tune: Tune) -> int:
    """About what clef and signature take at the start of a line."""
    return 7 * _UNIT + 2 * _UNIT * abs(tune.key.fifths)


def _widths(tune: Tune, spans: Sequence[_Extent]) -> list[float]:
    """The widths of the bars, without the clef before the first."""
    widths = [(span.stop - span.start) / _TENTHS for span in spans]
    return [widths[0] - _clef_width(tune), *widths[1:]]


def place_on_line(drawn: int) -> float:
    """How far from a line's left edge something stands, from what its drawing says."""
    return _LEFT + drawn / _TENTHS


def height_on_line(drawn: int) -> float:
    """How far from a line's upper edge something stands, from what its drawing says."""
    return _TOP + drawn / _TENTHS


def _system(svg: str, *, part: bool, bars: Sequence[DrawnBar] = ()) -> System:
    """A line whose first bar is the first of these."""
    size = _VIEW.search(svg)
    assert size is not None
    drawn = tuple(
        bar._replace(left=place_on_line(span.start), right=place_on_line(span.stop))
        for bar, span in zip(bars, _spans(svg), strict=False)
    )
    svg = _LOOKED.sub(lambda group: f"{_LOOKS[group[2]]} {group[1]}", svg)
    return System(svg, int(size[1]) // _TENTHS, int(size[2]) // _TENTHS, part, drawn)


# -- into MEI ---------------------------------------------------------------------------


def _annotate(root: Element, tune: Tune, marks: StaffMarks, starts: Sequence[int]) -> None:
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
            _control(measure, "harm", printed_chord(symbol.text), symbol.onset, unit, size="100%")
        for onset, text in marks.signs.get(index, ()):
            _control(measure, "harm", text, onset, unit, n="2", size="80%")
        for onset, text in marks.words.get(index, ()):
            _control(measure, "dir", text, onset, unit, size="90%")
        if index in marks.open:
            measure.set("right", "invis")
        measure.attrib.pop("n", None)
        if not bar.pickup and index not in marks.unnumbered:
            _number(measure, str(bar.number), boxed=index in marks.boxed)
    for start, stop in zip(starts, [*starts[1:], len(measures)], strict=True):
        _break_before(measures[start], parents)  # without any, Verovio breaks lines itself
        _name_rows(measures[start:stop], marks)


def _number(measure: Element, number: str, *, boxed: bool) -> None:
    """A bar's number at its first bar line, as a text that keeps clear of notes and brackets:
    the engraver's own numbers give way to nothing."""
    element = SubElement(measure, "dir", {"place": "above", "staff": "1", "tstamp": "0"})
    look = {"fontsize": "75%", "fontstyle": "italic"}
    SubElement(element, "rend", {**look, "rend": "box"} if boxed else look).text = number


def _control(
    measure: Element, tag: str, text: str, onset: Fraction, unit: int, *, size: str, **more: str
) -> None:
    """A text at a place in a measure; MEI counts places in beats from 1."""
    place = f"{float(onset * unit + 1):.6f}".rstrip("0").rstrip(".")
    element = SubElement(measure, tag, {"place": "above", "staff": "1", "tstamp": place, **more})
    SubElement(element, "rend", {"fontsize": size, "fontstyle": "normal"}).text = text


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
