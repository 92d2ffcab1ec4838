"""The bars that a player marks while they sound: from here, to here."""

from typing import NamedTuple

from backing.live.actions import Action
from backing.practice.passages import Bars


class MarkedBars(NamedTuple):
    """The numbers of the bars that are marked so far, as printed; None: not yet."""

    first: int | None = None
    last: int | None = None

    def put(self, action: Action, number: int) -> "MarkedBars":
        """With one end marked anew, at a bar of this number."""
        if action is Action.FROM_HERE:
            return self._replace(first=number)
        return self._replace(last=number)

    @property
    def span(self) -> Bars | None:
        """What lies between the marks, once both are there; it may be marked from either end.

        >>> MarkedBars(first=7, last=5).span
        Bars(first=5, last=7, ending=None)
        """
        if self.first is None or self.last is None:
            return None
        return Bars(*sorted((self.first, self.last)))
