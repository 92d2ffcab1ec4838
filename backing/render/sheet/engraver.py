"""Staff notation: a tune's lines of music as drawings (SVG), engraved by Verovio.

Verovio reads MusicXML and gives MEI, into which goes what MusicXML has no place for (`mei.py`).
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from math import ceil
from typing import NamedTuple
from xml.etree import ElementTree

import verovio

from backing.music.tune import Tune
from backing.render.musicxml import score_element
from backing.render.musicxml.printed import printed_rows
from backing.render.sheet.breaks import bar_widths, line_starts
from backing.render.sheet.cut import BarPiece, cut_marks, cut_tune, pieces_of_bars
from backing.render.sheet.lines import (
    BELOW,
    LEFT,
    RIGHT,
    TENTHS,
    TOP,
    UNIT,
    DrawnBar,
    System,
    place_on_line,
)
from backing.render.sheet.mei import StaffMarks, annotate
from backing.render.sheet.text_width import text_width
from backing.render.sheet.xml_text import xml_text

#: Without it the names of elements stay short; Verovio does not ask for it.
_NAMESPACE = ' xmlns="http://www.music-encoding.org/ns/mei"'
#: The size of letters under the notes, in units, and how wide the name of a row may be that `LEFT`
#: has room for, in ems: where there is no signature, the first note stands close to the clef.
_LYRIC, _NAME = 5.4, 2.1
_OPTIONS = {
    "adjustPageHeight": True, "pageHeight": 100, "unit": float(UNIT), "scale": 100,
    "pageMarginLeft": LEFT, "pageMarginRight": RIGHT, "pageMarginTop": TOP,
    "pageMarginBottom": BELOW, "header": "none", "footer": "none", "svgViewBox": True,
    "svgFormatRaw": True, "outputFormatRaw": True,
    # With less room letters come to stand on stems and beams, and the rows' names on the clef.
    "lyricSize": _LYRIC, "lyricTopMinMargin": 3.5, "defaultBottomMargin": 0.75,
    "defaultTopMargin": 0.8, "minLastJustification": 0.4,
    "spacingStaff": 8, "font": "Leipzig", "removeIds": True, "xmlIdSeed": 1,
    # Looks stand at the elements then, not in a style sheet, over which Verovio takes three
    # times as long as over the drawing itself.
    "mmOutput": True,
    # Music signs in texts become plain ones, or are drawn: no drawing needs the 58 KB of a font.
    "smuflTextFont": "none",
}  # fmt: skip
_STAFF_LINE = re.compile(r'<path d="M(\d+) \d+ L(\d+) \d+"')
_VIEW = re.compile(r'<svg class="definition-scale"[^>]* viewBox="0 0 (\d+) (\d+)"')
#: A bar that is so many times as wide as a line is cut: the engraver squeezes no further.
_FULL = 1.15
#: With less room under chord letters, in units, brackets of endings come to stand among them.
_ROOM_FOR_ENDINGS = 5.0
#: Looks of groups that Verovio says in its style sheet alone.
_LOOKS = {
    "ending": 'font-weight="bold"', "fing": 'font-weight="bold"', "dynam": 'font-style="italic"',
}  # fmt: skip
_LOOKED = re.compile(rf'(?<=<g )([^>]*class="({"|".join(_LOOKS)})\b)')
#: Most lines have none of those; to look for that takes a tenth of the time.
_LOOKING = re.compile(rf'class="(?:{"|".join(_LOOKS)})\b')


class _Letters(NamedTuple):
    """About how wide a letter is, and the room between two texts."""

    width: float
    gap: float


_SIGN, _CHORD, _WORD = _Letters(18, 30), _Letters(24, 40), _Letters(20, 14)


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
    return xml_text(score_element(tune))


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
    left = _room_for(marks.rows)
    room = width - left - RIGHT - _clef_width(tune)
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
    annotate(root, tune, marks, starts)
    _set_options(toolkit, tune, breaks="encoded", pageWidth=width, pageMarginLeft=left)
    toolkit.resetXmlIdSeed(2)  # with the first again there might be two of a name
    toolkit.loadData(xml_text(root))
    parts = {section.start for section in tune.sections}
    bars = list(_undrawn(tune, pieces))
    return tuple(
        _system(toolkit.renderToSVG(page), part=start in parts, bars=bars[start:], left=left)
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
    return 7 * UNIT + 2 * UNIT * abs(tune.key.fifths)


def _widths(tune: Tune, spans: Sequence[_Extent]) -> list[float]:
    """The widths of the bars, without the clef before the first."""
    widths = [(span.stop - span.start) / TENTHS for span in spans]
    return [widths[0] - _clef_width(tune), *widths[1:]]


def _room_for(rows: Iterable[str]) -> int:
    """The room left of the music: as much more as the names of its rows need."""
    widest = max((text_width(name) or 0.0 for name in rows), default=0.0)
    return LEFT + max(0, ceil((widest - _NAME) * _LYRIC * UNIT))


def _system(svg: str, *, part: bool, bars: Sequence[DrawnBar] = (), left: int = LEFT) -> System:
    """A line whose first bar is the first of these."""
    size = _VIEW.search(svg)
    assert size is not None
    drawn = tuple(
        bar._replace(left=place_on_line(span.start, left), right=place_on_line(span.stop, left))
        for bar, span in zip(bars, _spans(svg), strict=False)
    )
    if _LOOKING.search(svg):
        svg = _LOOKED.sub(lambda group: f"{_LOOKS[group[2]]} {group[1]}", svg)
    return System(svg, int(size[1]) // TENTHS, int(size[2]) // TENTHS, part, drawn, left)
