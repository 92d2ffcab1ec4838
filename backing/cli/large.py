"""Large signs with their labels, side by side."""

from collections.abc import Sequence
from typing import NamedTuple

from backing.cli.flow import columns_wide, fitting
from backing.cli.signs import dots_wide, drawable, drawn

#: Columns between two signs that stand side by side.
GAP = 3


class LargeSign(NamedTuple):
    """A text in large signs with a label over it; `words` say the same.  It takes the room of
    the `widest` label and text."""

    label: str
    text: str
    words: str
    widest: tuple[str, str] = ("", "")


def as_large(signs: Sequence[LargeSign], columns: int, scale: int) -> tuple[int, list[LargeSign]]:
    """The scale at which all of these stand in a row, at 1 those that do; the first go first."""
    for size in range(scale, 0, -1):
        large: list[LargeSign] = []
        for each in signs:
            wide = sum(kept_wide(other, size) + GAP for other in [*large, each])
            if wide - GAP <= columns and (drawable(each.text) or not each.text):
                large.append(each)
        if len(large) == len(signs) or size == 1:
            return size, large
    return 0, []


def kept_wide(sign: LargeSign, scale: int) -> int:
    """Columns that are kept for a sign."""
    labels, texts = zip((sign.label, sign.text), sign.widest, strict=True)
    dots = max(dots_wide(text) for text in texts if drawable(text) or not text)
    return max(*map(columns_wide, labels), dots * scale)


def sign_lines(sign: LargeSign, scale: int) -> list[str]:
    """A label, and a text in large signs below it."""
    return [sign.label, *(drawn(sign.text, scale) if drawable(sign.text) else [sign.words])]


def fitted_sign(sign: LargeSign, columns: int, scale: int) -> list[str]:
    """A sign as large as it fits, else in words."""
    if drawable(sign.text):
        while scale > 1 and dots_wide(sign.text) * scale > columns:
            scale -= 1
        if dots_wide(sign.text) * scale <= columns:
            return [fitting(sign.label, columns), *sign_lines(sign, scale)[1:]]
    return [fitting(sign.label, columns), fitting(sign.words, columns)]


def side_by_side(blocks: Sequence[Sequence[str]], gap: int) -> list[str]:
    """Blocks of lines side by side."""
    high = max(map(len, blocks), default=0)
    widths = [max(map(columns_wide, block), default=0) for block in blocks]
    rows = zip(*(filled_up(block, high) for block in blocks), strict=True)
    return [
        (" " * gap)
        .join(
            text + " " * (width - columns_wide(text))
            for text, width in zip(row, widths, strict=True)
        )
        .rstrip()
        for row in rows
    ]


def filled_up(block: Sequence[str], high: int) -> list[str]:
    """A block with empty lines below, so many lines high."""
    return [*block, *[""] * (high - len(block))]


def widened(block: Sequence[str], columns: int) -> list[str]:
    """A block at least so many columns wide."""
    return [line + " " * (columns - columns_wide(line)) for line in block]
