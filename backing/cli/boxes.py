"""`backing boxes`: the boxes that are known, one a line, or one of them drawn."""

from collections.abc import Iterator
from itertools import groupby
from typing import Annotated

import typer

from backing.box.keys import keys_on
from backing.box.layout import Button, Direction, Layout, LeftButton, name_of_key
from backing.files import box_names, box_text, load_box
from backing.music.pitch import name_of

_CELL = 5
_SIDES = ("outer", "inner")


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
    """List the boxes, or draw one: what each button sounds on the push and on the pull.

    A box of your own is a file too. Begin with one of these, and change it to what your
    tuner says:  backing boxes D/G --file > my-box.toml
    """
    if file:
        print(box_text(name), end="")
    elif name:
        print("\n".join(drawn(load_box(name))))
    else:
        _list()


def _list() -> None:
    known = [load_box(each) for each in box_names()]
    width = max(len(box.name) for box in known)
    for box in known:
        print(f"{box.name:<{width}}  {box.title}, {_range(box)}")


def drawn(box: Layout) -> Iterator[str]:
    """A box as lines of text."""
    yield f"{box.name}: {box.title}, {_range(box)}"
    yield ""
    yield "Right hand; buttons count from the chin. Above what the push sounds, below the pull."
    for row in box.rows:
        yield from _row(row, _SIDES[row[0].row] if len(box.rows) > 1 else "row")
    yield ""
    thirds = "" if box.thirds else " (thirds out: root and fifth)"
    yield f"Left hand: each pair is a chord and its bass{thirds}."
    yield f"  {'':13}{'push':8}pull"
    for pair, buttons in groupby(box.left, key=lambda button: button.pair):
        yield f"  {pair:13}{_pair(list(buttons))}".rstrip()
    yield ""
    yield f"Without accidental buttons: {_keys(box)}"
    if box.variants:
        yield ""
        yield "Variants, several may be named one after the other:"
        yield from (
            f"  {box.name.split(':')[0]}:{variant.name}  {variant.use}" for variant in box.variants
        )


def _range(box: Layout) -> str:
    return f"{name_of_key(box.lowest)} to {name_of_key(box.highest)}"


def _row(row: tuple[Button, ...], side: str) -> Iterator[str]:
    yield f"  {side:6}" + "".join(f"{button.number:<{_CELL}}" for button in row).rstrip()
    for direction in Direction:
        cells = "".join(f"{name_of_key(b.sounding(direction)):<{_CELL}}" for b in row)
        yield f"  {direction.value:6}{cells}".rstrip()


def _pair(buttons: list[LeftButton]) -> str:
    chord = next((button for button in buttons if button.hand == "chord"), buttons[0])
    return f"{chord.push!s:8}{chord.pull}"


def _keys(box: Layout) -> str:
    by_mode: dict[str, list[str]] = {}
    for key in keys_on(box):
        by_mode.setdefault(key.mode, []).append(name_of(key.step, key.alter))
    return "; ".join(f"{' '.join(names)} {mode}" for mode, names in by_mode.items())
