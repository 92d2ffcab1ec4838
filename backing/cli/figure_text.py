"""A style's figures as plain text: a row for each kind of bar, its strokes over the beats."""

from collections.abc import Iterator
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from backing.arranging.figures import Placed, laid, one_bar
from backing.arranging.places import NOWHERE, Place, Places, implied
from backing.arranging.style import Figure, Goal, Hand, Stroke, Style, Tones, Until, When
from backing.music.metre import Metre, parse_metre
from backing.wording import listed

_CELL = 8
_SHOWN_IN = "6/8"
_DEGREES = {1: "bass", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh",
            8: "octave", Goal.TONIC: "tonic", Goal.RUN: "run", Goal.LEADING: "leading"}  # fmt: skip
_TONES = {Tones.ALL: "chord", Tones.NO_THIRD: "root+5th", Tones.ROOT: "root"}


class Row(NamedTuple):
    """Where it is played, and what over the beats."""

    label: str
    cells: str


def drawn(style: Style) -> str:
    """All figures of a style; metres that have the same ones stand under one head."""
    named = dict.fromkeys(metre for figure in style.figures for metre in figure.metres)
    groups: dict[tuple[int, ...], list[str]] = {}
    for metre in (*named, ""):
        figures = tuple(index for index, f in enumerate(style.figures) if _is_for(f, metre))
        whole = next(i for i in figures if not (f := style.figures[i]).dances and _always(f))
        groups.setdefault(figures[: figures.index(whole) + 1], []).append(metre)
    others = f"in {'other metres' if named else 'every metre'}, as in {_SHOWN_IN}"
    return "\n\n".join(
        "\n".join(_group([style.figures[index] for index in figures], metres, others))
        for figures, metres in groups.items()
    )


def _is_for(figure: Figure, metre: str) -> bool:
    return not figure.metres or metre in figure.metres


def _always(figure: Figure) -> bool:
    return not (figure.only or figure.never)


def _group(figures: list[Figure], metres: list[str], others: str) -> Iterator[str]:
    """The figures of some metres, the one for most bars first; "" is any other metre."""
    named = [metre for metre in metres if metre]
    metre = parse_metre(named[0] if named else _SHOWN_IN)
    yield f"in {listed(named)}" if named else others
    division = lcm(*(_division(figure, metre) for figure in figures))
    rows: dict[str, list[str]] = {}
    for at, figure in sorted(enumerate(figures), key=lambda item: not _always(item[1])):
        for row in _rows(figure, figures[:at], metre, division):
            rows.setdefault(row.cells, []).append(row.label)
    if any(cells.strip() for cells in rows):
        labels = [" / ".join(found) for found in rows.values()]
        width = max(map(len, labels))
        bars = max(figure.bars for figure in figures)
        yield f"  {'':{width}}  {_counts(metre, division, bars)}".rstrip()
        for label, cells in zip(labels, rows, strict=True):
            yield f"  {label:{width}}  {cells}".rstrip()
    for figure in figures:
        yield from (f"  {_change(figure, stroke)}" for stroke in figure.strokes if stroke.on_change)


def _rows(figure: Figure, before: list[Figure], metre: Metre, division: int) -> Iterator[Row]:
    """The figure as a rule, then at each place where a stroke is added or left out."""
    usual = _cells(figure, metre, implied(figure.only), division)
    yield Row(_label(figure), usual)
    asked = [stroke.only for stroke in figure.strokes]
    asked += [frozenset({place}) for stroke in figure.strokes for place in sorted(stroke.never)]
    for places in dict.fromkeys(places for places in asked if places):
        there = implied(figure.only | places)
        cells = _cells(figure, metre, there, division)
        taken = any(other.only <= there and not other.dances for other in before)
        if cells != usual and not taken:
            yield Row(_label(figure, places), cells)


def _label(figure: Figure, places: Places = NOWHERE) -> str:
    said = [*figure.dances, *_in_order(figure.only | places)]
    label = " and ".join(said) or "as a rule"
    return f"{label}, not {', '.join(_in_order(figure.never))}" if figure.never else label


def _in_order(places: Places) -> list[Place]:
    return [place for place in Place if place in places]


def _division(figure: Figure, metre: Metre) -> int:
    """Into how many cells a beat is divided."""
    third = metre.beats[0].numerator == 3
    off = 3 if third else 2
    shares = (off if s.after is None else s.after.denominator for s in figure.strokes)
    return lcm(1, *shares)


def _counts(metre: Metre, division: int, bars: int) -> str:
    """The beats as they are counted."""
    between = ["and"] if division == 2 else ["."] * (division - 1)
    one = [mark for beat in range(1, len(metre.beats) + 1) for mark in (str(beat), *between)]
    bar = "".join(f"{mark:{_CELL}}" for mark in one)
    return "| ".join([bar] * bars)


def _cells(figure: Figure, metre: Metre, places: Places, division: int) -> str:
    bars = [
        _bar(laid(one_bar(metre), figure, at, places), metre, division) for at in range(figure.bars)
    ]
    return "| ".join(bars)


def _bar(placed: list[Placed], metre: Metre, division: int) -> str:
    """One bar: each word where its stroke falls, dashes as long as it is held."""
    cell = metre.beats[0] / division
    length = round(metre.length / cell) * _CELL
    if not placed:
        return " " * length
    text = [" "] * length
    onsets = sorted({item.onset for item in placed})
    stops = dict(zip(onsets, [*onsets[1:], metre.length], strict=True))
    for onset in onsets:
        here = [item for item in placed if item.onset == onset]
        word = "+".join(_word(item.stroke) for item in here)
        held = max(item.length or metre.length - onset for item in here)
        room = int((stops[onset] - onset) / cell * _CELL) - 1
        ends = min(int(held / cell * _CELL), room)
        at = int(onset / cell * _CELL)
        text[at : at + max(len(word), ends)] = word.ljust(ends, "-")
    return "".join(text)


def _word(stroke: Stroke) -> str:
    if stroke.play is Hand.CHORD:
        return _TONES[stroke.tones]
    if len(stroke.degrees) > 1:
        return "/".join("root" if d == 1 else _DEGREES[d] for d in stroke.degrees)
    return _DEGREES[stroke.degrees[0]]


def _change(figure: Figure, stroke: Stroke) -> str:
    """A stroke that the harmony or the form places, in words."""
    changing = stroke.when is When.CHANGE and not stroke.on_tonic
    when = "at each change of chord" if changing else "at the start of a section"
    hold = stroke.hold
    held = {
        Until.CHANGE: "held until the next",
        Until.BAR_LINE: "held to the bar line",
        Until.BEATS: f"held {hold.amount} beats",
        Until.NEXT: "short" if hold.amount < Fraction(1, 2) else "long",
    }[hold.until]
    places = ", ".join(_in_order(stroke.only | figure.only))
    where = f" ({places})" if places else ""
    return f"{when}{where}: {_word(stroke)}, {held}"
