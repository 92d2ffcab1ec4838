"""Which bars of a tune are the hard ones, to be practised first."""

from collections.abc import Sequence

from backing.box.hardness import BarHardness

#: A bar is hard that has so many times the points that the tune's bars have on the whole; and
#: no more bars than these are hard: a teacher chooses three (working values, no source).
_MARKED, MOST_HARD = 1.4, 3


def hard_bars(bars: Sequence[BarHardness], most: int = MOST_HARD) -> tuple[int, ...]:
    """The indices of the written bars that are hardest to play, the hardest first.

    Never a pickup.  In a tune whose bars are all alike none is hard.
    """
    full = [bar for bar in bars if not bar.pickup]
    if not full:
        return ()
    usual = sum(bar.points for bar in full) / len(full)
    hard = [bar for bar in full if bar.points > _MARKED * usual]
    hard.sort(key=lambda bar: (-round(bar.points, 6), bar.index))
    return tuple(bar.index for bar in hard[:most])
