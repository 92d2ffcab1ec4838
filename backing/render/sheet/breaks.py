"""Where the lines of music end: whole phrases where they fit, never two bars and then six.

A line is a system: staves that are read at once from margin to margin.
"""

from collections.abc import Sequence
from typing import NamedTuple

from backing.music.played import PHRASE
from backing.music.tune import Tune

#: How full a line may be: its natural width against its room.  The engraver squeezes notes
#: that far before they touch.
_FULLEST = 1.2
_BEST = 0.95
#: What it costs to break elsewhere than before a part, at a phrase's end, at its middle.
_IN_PART, _IN_PHRASE, _IN_PAIR = 0.02, 0.5, 0.8
#: A line that is emptier than this looks lost.
_SPARSE, _LOST = 0.4, 1.0
#: What it costs to go on through the start of a part.
_THROUGH_PART = 1.5
_LARGE = 1e6


class BarWidth(NamedTuple):
    """A bar's natural width; whether a part, or a phrase, begins with it, and whether it is
    the third of its phrase.  `signs` is what stands above it and cannot be squeezed."""

    width: float
    part: bool = False
    phrase: bool = False
    pair: bool = False
    signs: float = 0.0

    @property
    def tight(self) -> float:
        """How many times its natural width it must get for its signs, at least once."""
        return max(_FULLEST * self.signs / self.width, 1.0) if self.width else 1.0


def bar_widths(
    tune: Tune, widths: Sequence[float], signs: Sequence[float] | None = None
) -> list[BarWidth]:
    """The bars of a tune with their widths, and where its parts and phrases begin."""
    starts = {section.start for section in tune.sections}
    found: list[BarWidth] = []
    position = 0
    above = signs or [0.0] * len(widths)
    for index, (bar, width) in enumerate(zip(tune.bars, widths, strict=True)):
        position = 0 if index in starts else position
        begins = position % PHRASE == 0 and not (position == 0 and index not in starts)
        half = position % PHRASE == PHRASE // 2
        found.append(BarWidth(width, index in starts, begins, half, above[index]))
        position += not bar.pickup
    return found


def line_starts(bars: Sequence[BarWidth], room: float) -> tuple[int, ...]:
    """The indices of the bars that begin a line, the first 0.

    The cheapest of all ways to break, exactly.  A bar that is wider than a line has one of its
    own.

    >>> line_starts([BarWidth(30, phrase=not n % 4) for n in range(8)], 130)
    (0, 4)
    """
    best: list[tuple[float, int]] = [(0.0, 0)]
    for stop in range(1, len(bars) + 1):
        found, width, tight, through = (_LARGE * len(bars) * 2, stop - 1), 0.0, 1.0, 0
        for start in range(stop - 1, -1, -1):
            width += bars[start].width
            tight = max(tight, bars[start].tight)
            if width * tight > _FULLEST * room and start < stop - 1:
                break
            cost = best[start][0] + _line_cost(width * tight / room) + _THROUGH_PART * through
            cost += _break_cost(bars[start]) if start else 0.0
            found = min(found, (cost, start))
            through += bars[start].part
        best.append(found)
    starts = [len(bars)]
    while starts[-1]:
        starts.append(best[starts[-1]][1])
    return tuple(reversed(starts[1:]))


def _line_cost(full: float) -> float:
    """What a line costs by how full it is; each one costs something."""
    loose = (_BEST - full) if full < _BEST else 2 * (full - _BEST)
    return 0.3 + loose**2 * (1 if full < _BEST else 2) + _LOST * (full < _SPARSE)


def _break_cost(bar: BarWidth) -> float:
    if bar.part:
        return 0.0
    if bar.phrase:
        return _IN_PART
    return _IN_PHRASE if bar.pair else _IN_PAIR
