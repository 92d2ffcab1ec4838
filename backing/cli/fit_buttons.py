"""The buttons under the notes, bar by bar, as `backing fit --buttons` prints them."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from textwrap import wrap
from typing import NamedTuple

from backing.box.fingering import Fingered, Fingering
from backing.box.fit import Fit
from backing.box.grace_notes import grace_strokes
from backing.box.layout import Direction
from backing.box.left_signs import LeftSign, left_signs
from backing.box.line import BeatPlace
from backing.box.under_notes import NO_BUTTON, button_sign
from backing.box.words import keys_named, row_name
from backing.cli.fit_text import WIDTH
from backing.music.played import MappedBar
from backing.music.tune import Tune

#: What the signs mean where they are lines of lyrics.
BUTTON_LINES = (
    "buttons counted from the chin, 6' on the inner row; the upper line on the push, the lower "
    "on the pull"
)
_LABELS = ("", "left", "note", "push", "pull")
_LABEL = 7
_REST = "-"
_GRACES = (
    "Braces: grace notes, on a button in the direction of their note; where the box has none, as "
    "a quick stroke of the note itself; {-} is left out. "
)


class _FirstHearing(NamedTuple):
    """A written bar as it is played the first time; `start` is where a note that is held
    into it ends."""

    bar: MappedBar
    start: Fraction
    notes: list[Fingered]


class _Cell(NamedTuple):
    """One note as it is printed."""

    chord: str
    note: str
    push: str
    pull: str
    beat: bool


def buttons(found: Fit, tune: Tune) -> Iterator[str]:
    """The buttons under the notes of a tune, bar by bar, each written bar once."""
    signs = left_signs(tune, found.fingering)
    yield from wrap(" ".join(_key(found)), WIDTH)
    for section, bars in groupby(_heard(found.fingering), key=lambda heard: heard.bar.section):
        heard = list(bars)
        yield ""
        yield f"{section} part"
        yield from _systems(
            [(bar.bar.number, _cells(found.fingering, bar, signs[bar.bar.index])) for bar in heard]
        )


def _heard(fingering: Fingering) -> list[_FirstHearing]:
    """Each written bar with its notes, as played the first time, in written order."""
    by_bar: dict[int, list[Fingered]] = {}
    for note in fingering.notes:
        by_bar.setdefault(note.moment.bar, []).append(note)
    found: dict[int, _FirstHearing] = {}
    until = fingering.line.bars[0].onset
    for played, bar in enumerate(fingering.line.bars):
        notes = by_bar.get(played, [])
        if bar.index not in found:
            found[bar.index] = _FirstHearing(bar, max(until, bar.onset), notes)
        until = notes[-1].moment.stop if notes else until
    return [found[index] for index in sorted(found)]


def _key(found: Fit) -> Iterator[str]:
    """What the signs mean, sentence by sentence."""
    layout = found.layout
    rows = f"6 is on the outer row ({row_name(layout, 0)})"
    if len(layout.rows) > 1:
        rows += f", 6' on the inner ({row_name(layout, 1)})"
    else:
        rows = "there is one row"
    yield f"Buttons are counted from the chin; {rows}."
    yield "On the line 'push' the bellows close, on 'pull' they open."
    if found.missing or found.unreached:
        yield f"{NO_BUTTON} is a note without a button."
    if found.share is not None:
        yield (
            "On the line 'left' a capital is a bass button, a small letter a chord button: D d, "
            "E em. Brackets: in the place of a chord that is not there in that direction; (A) is "
            "the bass alone, (-) a rest."
        )
    if any(note.moment.graces for note in found.fingering.notes):
        yield _GRACES.strip()
    yield "Every time through a bar has the same buttons."


def _cells(fingering: Fingering, heard: _FirstHearing, signs: Sequence[LeftSign]) -> list[_Cell]:
    """The notes and rests of a bar, with what the left hand takes while they last."""
    cells, at, stop = [], heard.start, heard.bar.onset + heard.bar.length

    def left(start: Fraction, end: Fraction) -> str:
        low, high = start - heard.bar.onset, end - heard.bar.onset
        first = start == heard.start
        return ", ".join(s.text for s in signs if (first or low <= s.onset) and s.onset < high)

    for note in heard.notes:
        if note.moment.onset > at:
            cells.append(_Cell(left(at, note.moment.onset), _REST, "", "", beat=False))
        at = note.moment.stop
        cells += _led(_cell(fingering, note, left(note.moment.onset, at)), fingering, note)
    if at < stop:
        cells.append(_Cell(left(at, stop), _REST, "", "", beat=False))
    return cells


def _cell(fingering: Fingering, note: Fingered, chord: str) -> _Cell:
    name = keys_named(note.moment.pitches, fingering.line.key)
    beat = note.moment.place is not BeatPlace.OFF
    return _pressed(chord, name, button_sign(note.presses), note.direction, beat=beat)


def _pressed(chord: str, name: str, sign: str, direction: Direction, *, beat: bool) -> _Cell:
    push = direction is Direction.PUSH
    return _Cell(chord, name, sign if push else "", "" if push else sign, beat)


def _led(cell: _Cell, fingering: Fingering, note: Fingered) -> Iterator[_Cell]:
    """A note with its grace notes before it; the beat and the left hand's are those of all."""
    graces = [
        _pressed(
            "",
            f"{{{keys_named(stroke.written, fingering.line.key)}}}",
            f"{{{button_sign(stroke.presses) if stroke.struck else _REST}}}",
            note.direction,
            beat=False,
        )
        for stroke in grace_strokes(note, fingering.layout)
    ]
    first, *others = [*graces, cell._replace(chord="", beat=False)]
    yield first._replace(chord=cell.chord, beat=cell.beat)
    yield from others


def _systems(bars: Sequence[tuple[int, list[_Cell]]]) -> Iterator[str]:
    """Bars side by side, as many as a line holds."""
    line: list[list[str]] = []
    for number, cells in bars:
        for block in _blocks(f"{number or 'pickup'} ", cells, "| "):
            if line and _LABEL + sum(len(one[0]) for one in line) + len(block[0]) > WIDTH:
                yield from _lay(line)
                line = []
            line.append(block)
    if line:
        yield from _lay(line)


def _lay(blocks: Sequence[Sequence[str]]) -> Iterator[str]:
    yield ""
    for label, rows in zip(_LABELS, zip(*blocks, strict=True), strict=True):
        yield f"{label:<{_LABEL}}{''.join(rows)}".rstrip()


def _blocks(title: str, cells: Sequence[_Cell], end: str) -> Iterator[list[str]]:
    """A bar as blocks of five rows, two or more where it is too long for a line."""
    block = _block(title, cells, end)
    if len(cells) > 1 and _LABEL + len(block[0]) > WIDTH:
        half = len(cells) // 2
        yield from _blocks(title, cells[:half], "  ")
        yield from _blocks("", cells[half:], end)
    else:
        yield block


def _block(title: str, cells: Sequence[_Cell], end: str) -> list[str]:
    """Notes as five rows of one width, a bar line at their end."""
    rows = [title, "", "", "", ""]
    width = 1 + max([len(text) for cell in cells for text in cell[1:4]], default=1)
    for place, cell in enumerate(cells):
        follows = place + 1 < len(cells) and cells[place + 1].chord
        room = max(width, len(cell.chord) + 1) if follows else width
        gap = " " if place and cell.beat else ""
        start = len(rows[2] + gap)
        for row, text in enumerate(cell[1:4], 2):
            rows[row] += f"{gap}{text:<{room}}"
        if cell.chord:
            rows[1] = f"{rows[1]:<{start}}{cell.chord} "
    full = max(len(row) for row in rows)
    return [f"{row:<{full}}{end if place > 1 else '  '}" for place, row in enumerate(rows)]
