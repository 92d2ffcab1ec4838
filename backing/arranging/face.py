"""Which time through a tune it is."""

from typing import NamedTuple


class Face(NamedTuple):
    """Which time through it is, from 1; whether nothing follows, so that it comes to a stop;
    whether a part goes round `alone`, or a few bars, not the tune."""

    time: int = 1
    last: bool = True
    alone: bool = False


#: The tune played once.
ONCE = Face()
