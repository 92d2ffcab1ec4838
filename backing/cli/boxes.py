"""`backing boxes`: the boxes that are known, one a line, or one of them drawn."""

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Annotated

import typer

from backing.box.keys import keys_on
from backing.box.layout import ROWS, Button, Direction, Layout
from backing.cli.printing import give, show
from backing.errors import UsageError
from backing.files.boxes import box_names, box_text, load_box
from backing.music.pitch import name_of

_CELL = 5


def boxes(
    name: Annotated[
        str,
        typer.Argument(
            help="Draw this box: a name, D/G:low-notes with a variant, or a box file (.toml).",
            show_default=False,
        ),
    ] = "",
    file: Annotated[
        bool, typer.Option("--file", help="Print the box's file, as a pattern for one of your own.")
    ] = False,
) -> None:
    """List the boxes with their range and major keys, or draw one: what each button sounds.

    A box of your own is a file too. Begin with one of these, and change it to what your
    tuner says:  backing boxes D/G --file > my-box.toml
    """
    if file and not name:
        raise UsageError("--file prints a box's file", "name the box: backing boxes D/G --file")
    if file:
        give(box_text(name))
    elif name:
        show("\n".join(box_drawn(load_box(name))))
    else:
        _list()


def _list() -> None:
    known = [load_box(each) for each in box_names()]
    lines = [(box.name, box.title, _range(box), _majors(box)) for box in known]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    for line in lines:
        cells = (f"{cell:<{width}}" for cell, width in zip(line, widths, strict=True))
        show("  ".join(cells).rstrip())


def _majors(box: Layout) -> str:
    return " ".join(_keys(box).get("major", []))


def box_drawn(box: Layout) -> Iterator[str]:
    """A box as lines of text."""
    yield f"{box.name}: {box.title}, {_range(box)}"
    yield ""
    yield "Right hand: the numbers are buttons, counted from the chin; C4 is middle C."
    if len(box.rows) > 1:
        yield "The outer row is the one away from the bellows."
    if any(button.accidental for button in box.buttons):
        yield "Buttons with a * have accidentals."
    for row in box.rows:
        yield ""
        yield from _row(box, row)
    yield ""
    yield "Left hand: in each pair a chord and, below it, its bass."
    if not box.thirds:
        yield "Thirds out: chords sound root and fifth."
    yield ""
    yield f"  {'':12} push  pull"
    for pair, buttons in groupby(box.left, key=lambda button: button.pair):
        chord = next(buttons)
        yield f"  {pair:12} {chord.push!s:5} {chord.pull}"
    yield ""
    yield "Keys of which it has every note, accidental buttons left out:"
    yield from (f"  {mode:12} {' '.join(names)}" for mode, names in _keys(box).items())
    if box.variants:
        yield ""
        yield f"Variants, named after the box, as in {_example(box)}:"
        width = max(len(variant.name) for variant in box.variants)
        yield from (f"  :{variant.name:<{width}}  {variant.use}" for variant in box.variants)


def _example(box: Layout) -> str:
    names = [variant.name for variant in box.variants]
    plain = [word for word in box.name.split(":") if word not in names]
    return ":".join([*plain, names[0]])


def _range(box: Layout) -> str:
    return f"{box.named(box.lowest)} to {box.named(box.highest)}"


def _row(box: Layout, row: tuple[Button, ...]) -> Iterator[str]:
    side = ROWS[row[0].row] if len(box.rows) > 1 else "row"
    numbers = (f"{button.number}{'*' * button.accidental}" for button in row)
    yield f"  {side:6} {_cells(numbers)}"
    for direction in Direction:
        notes = (box.named(button.sounding(direction)) for button in row)
        yield f"  {direction.value:6} {_cells(notes)}"


def _cells(words: Iterable[str]) -> str:
    return "".join(f"{word:<{_CELL}}" for word in words).rstrip()


def _keys(box: Layout) -> dict[str, list[str]]:
    """The keys that lie on the box, mode by mode; "all" for twelve."""
    by_mode: dict[str, list[str]] = {}
    for key in keys_on(box):
        by_mode.setdefault(key.mode, []).append(name_of(key.step, key.alter))
    return {mode: ["all"] if len(names) == 12 else names for mode, names in by_mode.items()}
