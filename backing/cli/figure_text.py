"""A style's figures as plain text: a row for each kind of bar, its strokes over the beats."""

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, gcd, lcm
from typing import NamedTuple

from backing.arranging.figures import laid, one_bar
from backing.arranging.places import NOWHERE, Place, Places, implied
from backing.arranging.style import Figure, Goal, Hand, Stroke, Style, Tones, Until, When
from backing.music.metre import Metre, parse_metre
from backing.wording import listed

#: The least width of a cell.
_CELL = 8
#: What other metres are shown in: the first that the style does not name.
_SHOWN_IN = ("6/8", "9/8", "12/8", "7/8")
_DEGREES = {1: "bass", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh",
            8: "octave", Goal.TONIC: "tonic", Goal.RUN: "run", Goal.LEADING: "leading"}  # fmt: skip
#: The same where several go by turns.
_BY_TURNS = {1: "root", 2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th", 8: "8th",
             Goal.RUN: "run", Goal.LEADING: "leading"}  # fmt: skip
_TONES = {Tones.ALL: "chord", Tones.NO_THIRD: "root+5th", Tones.ROOT: "root"}


class BarMark(NamedTuple):
    """What is struck at a moment of a bar, how long it is held, when the next is struck."""

    onset: Fraction
    word: str
    held: Fraction
    until: Fraction


class BarGrid(NamedTuple):
    """What bars are drawn on: their metre, the length of a cell, its width in signs."""

    metre: Metre
    cell: Fraction
    width: int

    def column(self, position: Fraction) -> int:
        """Where a moment of the bar stands in its line."""
        return int(position / self.cell * self.width)


def style_drawn(style: Style) -> str:
    """All figures of a style; metres that look the same stand under one head."""
    named = dict.fromkeys(metre for figure in style.figures for metre in figure.metres)
    groups: dict[tuple[str, ...], list[str]] = {}
    for metre in named:
        groups.setdefault(tuple(_group(style, metre)), []).append(metre)
    heads = [(f"in {listed(metres)}", lines) for lines, metres in groups.items()]
    others = "other metres" if named else "every metre"
    shown = next((metre for metre in _SHOWN_IN if metre not in named), _SHOWN_IN[-1])
    as_in = f", as in {shown}" if _figures(style, "") else ""
    heads.append((f"in {others}{as_in}", tuple(_group(style, "", shown))))
    return "\n\n".join("\n".join([head, *lines]) for head, lines in heads)


def _figures(style: Style, metre: str) -> list[Figure]:
    """The figures that are met in a metre; "" is any that none of them names."""
    found = []
    for figure in style.figures:
        if not figure.metres or metre in figure.metres:
            found.append(figure)
            if _always(figure) and not figure.dances:
                break
    return found


def _always(figure: Figure) -> bool:
    return not (figure.only or figure.never)


def _group(style: Style, name: str, shown: str = "") -> Iterator[str]:
    """The figures of a metre, the one for most bars first; "" is shown in another."""
    figures = _figures(style, name)
    if figures:
        yield from _on_beats(figures, parse_metre(shown or name))
    for figure in figures:
        yield from (f"  {_change(figure, stroke)}" for stroke in figure.strokes if stroke.on_change)
    if not any(_always(figure) and not figure.dances for figure in figures):
        played = f"as in {style.falls_back_on}" if style.fallback else "nothing"
        yield f"  {'in other bars ' if figures else ''}{played}"


def _on_beats(figures: list[Figure], metre: Metre) -> Iterator[str]:
    """The rows of some figures under the beats as they are counted."""
    grid = _grid(figures, metre)
    rows: dict[str, list[str]] = {}
    for at, figure in sorted(enumerate(figures), key=lambda item: not _always(item[1])):
        for label, cells in _rows(figure, figures[:at], grid):
            rows.setdefault(cells, []).append(label)
    if not any(cells.strip() for cells in rows):
        return
    labels = [" / ".join(found) for found in rows.values()]
    width = max(map(len, labels))
    counts = "| ".join([_counts(grid)] * max(figure.bars for figure in figures))
    yield f"  {'':{width}}  {counts}".rstrip()
    for label, cells in zip(labels, rows, strict=True):
        yield f"  {label:{width}}  {cells}".rstrip()


def _rows(figure: Figure, before: list[Figure], grid: BarGrid) -> Iterator[tuple[str, str]]:
    """The figure as a rule, then at each place where a stroke is added or left out."""
    usual = _cells(figure, grid, implied(figure.only))
    yield _label(figure), usual
    for places in _asked(figure):
        there = implied(figure.only | places)
        cells = _cells(figure, grid, there)
        taken = any(other.only <= there and not other.dances for other in before)
        if cells != usual and not taken:
            yield _label(figure, places), cells


def _asked(figure: Figure) -> list[Places]:
    """The places that make a difference to its strokes."""
    asked = [stroke.only for stroke in figure.strokes]
    asked += [frozenset({place}) for stroke in figure.strokes for place in sorted(stroke.never)]
    return [places for places in dict.fromkeys(asked) if places]


def _label(figure: Figure, places: Places = NOWHERE) -> str:
    said = [*figure.dances, *_in_order(figure.only | places)]
    label = " and ".join(said) or "as a rule"
    return f"{label}, not {', '.join(_in_order(figure.never))}" if figure.never else label


def _in_order(places: Places) -> list[Place]:
    return [place for place in Place if place in places]


# -- cells -----------------------------------------------------------------------


def _grid(figures: list[Figure], metre: Metre) -> BarGrid:
    """Cells so short that each stroke begins one, and so wide that each word has room."""
    beats = metre.beats
    even = len(set(beats)) == 1
    common = lcm(*(beat.denominator for beat in beats))
    unit = beats[0] if even else Fraction(gcd(*(int(beat * common) for beat in beats)), common)
    off = (3 if beats[0].numerator == 3 else 2) if even else 1
    strokes = [stroke for figure in figures for stroke in figure.strokes]
    shares = (off if stroke.after is None else stroke.after.denominator for stroke in strokes)
    cell = unit / lcm(1, *shares)
    marks = [
        mark
        for figure in figures
        for places in (NOWHERE, *_asked(figure))
        for bar in _bars(figure, metre, implied(figure.only | places))
        for mark in bar
    ]
    widths = [ceil((len(mark.word) + 1) * cell / (mark.until - mark.onset)) for mark in marks]
    return BarGrid(metre, cell, max([_CELL, *widths]))


def _bars(figure: Figure, metre: Metre, places: Places) -> Iterator[list[BarMark]]:
    """What is struck in each bar of a figure."""
    bar = one_bar(metre)
    for at in range(figure.bars):
        placed = laid(bar, figure, at, places)
        onsets = sorted({item.onset for item in placed})
        marks = []
        for onset, until in zip(onsets, [*onsets[1:], bar.length], strict=False):
            here = [item for item in placed if item.onset == onset]
            held = max(item.length or bar.length - onset for item in here)
            word = "+".join(dict.fromkeys(_word(item.stroke) for item in here))
            marks.append(BarMark(onset, word, held, until))
        yield marks


def _counts(grid: BarGrid) -> str:
    """The beats of a bar as they are counted."""
    line = [" "] * grid.column(grid.metre.length)
    onset = Fraction(0)
    for number, beat in enumerate(grid.metre.beats, start=1):
        cells = ceil(beat / grid.cell)
        between = ["and"] if cells == 2 else ["."] * (cells - 1)
        for at, mark in enumerate([str(number), *between]):
            column = grid.column(onset + at * grid.cell)
            line[column : column + len(mark)] = mark
        onset += beat
    return "".join(line)


def _cells(figure: Figure, grid: BarGrid, places: Places) -> str:
    return "| ".join(_bar(marks, grid) for marks in _bars(figure, grid.metre, places))


def _bar(marks: list[BarMark], grid: BarGrid) -> str:
    """One bar: each word where its stroke falls, dashes as long as it is held."""
    text = [" "] * grid.column(grid.metre.length)
    for onset, word, held, until in marks:
        at = grid.column(onset)
        ends = min(grid.column(onset + held), grid.column(until) - 1) - at
        said = word.ljust(ends, "-")
        text[at : at + len(said)] = said
    return "".join(text)


def _word(stroke: Stroke) -> str:
    if stroke.play is Hand.CHORD:
        return _TONES[stroke.tones]
    names = _DEGREES if len(stroke.degrees) == 1 else _BY_TURNS
    return "/".join(names[degree] for degree in stroke.degrees)


def _change(figure: Figure, stroke: Stroke) -> str:
    """A stroke that the harmony or the form places, in words."""
    changing = stroke.when is When.CHANGE and not stroke.on_tonic
    when = "at each change of chord" if changing else "at the start of a section"
    hold = stroke.hold
    held = {
        Until.CHANGE: "held until the next",
        Until.BAR_LINE: "held to the bar line",
        Until.BEATS: f"held {hold.amount} {'beat' if hold.amount <= 1 else 'beats'}",
        Until.NEXT: "short" if hold.amount < Fraction(1, 2) else "long",
    }[hold.until]
    places = ", ".join(_in_order(stroke.only | figure.only))
    where = f" ({places})" if places else ""
    return f"{when}{where}: {_word(stroke)}, {held}"
