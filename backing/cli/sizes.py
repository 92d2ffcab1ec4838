"""How large the signs of a moment are in a window."""

from collections.abc import Iterable
from typing import NamedTuple

from backing.cli.large import GAP
from backing.cli.signs import dots_wide, drawable, lines_high
from backing.live.shown import Shown

#: So many lines are kept for what is told, where the window is not low.
_TOLD = 2
#: A chord symbol of so many dots is as large as the others (F#m); longer ones are smaller, and
#: where those would all be small, so are those longer than Am.
_WIDE_CHORD, _SHORT_CHORD = 16, 10
#: Share of the columns that the bar's number takes at most: so many of ten.
_BAR_SHARE = 4


class Sizes(NamedTuple):
    """Scales of the bar's number and of the chords (0: there are none)."""

    bar: int
    chords: int

    @property
    def beats(self) -> int:
        """How many lines the mark of a beat is high."""
        return max(1, self.bar // 2)

    @property
    def high(self) -> int:
        """How many lines it takes: labels, numbers, beats, chords."""
        chords = 1 + lines_high(self.chords) if self.chords else 0
        return 1 + lines_high(self.bar) + self.beats + chords


def widest_chord(texts: Iterable[str]) -> str:
    """The chord symbol that takes most room in large signs; "" for none.

    >>> widest_chord(["G", "D7", "F#m"])
    'F#m'
    """
    return max(filter(drawable, texts), key=dots_wide, default="")


def find_sizes(shown: Shown, columns: int, rows: int, widest: str) -> Sizes | None:
    """The largest scales that fit into so many columns and lines; None where words alone do."""
    kept = min(max(rows // 6 - 1, 0), _TOLD)
    chords = 0
    if widest or shown.chord or shown.coming:
        chords = _chord_scale(shown, columns, widest)
        if not chords:
            return None
    most = 2 * rows // 7 if not chords else max(chords, 2)
    for scale in range(most, 0, -1):
        for bar in (scale, scale - 1) if scale > 1 else (1,):
            sizes = Sizes(bar, min(scale, chords))
            too_wide = 10 * dots_wide("00") * bar > _BAR_SHARE * columns
            if not too_wide and sizes.high <= rows - (kept if scale > 1 else 0):
                return sizes
    return None


def _chord_scale(shown: Shown, columns: int, widest: str) -> int:
    """The largest scale at which two chords and a number between them stand side by side."""
    texts = [text for text in (widest, shown.chord, shown.coming) if drawable(text)]
    dots = min(max(map(dots_wide, texts), default=_WIDE_CHORD), _WIDE_CHORD)
    scale = 0
    while (scale + 1) * dots <= chord_cell(columns, scale + 1):
        scale += 1
    short = [each for each in (1, 2) if each * _SHORT_CHORD <= chord_cell(columns, each)]
    return max(scale, *short, 0)


def chord_cell(columns: int, scale: int) -> int:
    """Columns for each of two chords."""
    return (columns - dots_wide("00") * number_scale(scale) - 2 * GAP) // 2


def number_scale(chords: int) -> int:
    """Scale of the number between two chords of a scale."""
    return max(1, chords // 2)
