"""When each tick is due: one anchor, from which every deadline is worked out.

The anchor is a moment on the clock at which a second of the music's own time sounds; a change
of tempo, a stop or a jump sets a new one.  So nothing drifts, and a late event makes no other
late.
"""

from collections.abc import Iterable
from fractions import Fraction

from backing.arranging.arrangement import PlacedTempo
from backing.live.clock import Clock
from backing.render.presses import Seconds


class Timeline:
    """The moments of ticks on a clock.  `scale` is how much faster than asked it goes."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.scale = Fraction(1)
        self._seconds = Seconds((), Fraction(0))
        self._moment = self._second = 0.0

    def due(self, tick: int) -> float:
        """The moment of a tick."""
        return self._moment + (self._seconds.at(tick) - self._second) / float(self.scale)

    def left(self, tick: int) -> float:
        """Seconds from now to a tick."""
        return self.due(tick) - self.clock.now()

    def anchor(self, tick: int, moment: float) -> None:
        """From now on this tick is due at this moment."""
        self._moment, self._second = moment, self._seconds.at(tick)

    def rescale(self, scale: Fraction) -> None:
        """Go on at another speed from now on."""
        now = self.clock.now()
        self._second += (now - self._moment) * float(self.scale)
        self._moment, self.scale = now, scale

    def add(self, tempos: Iterable[PlacedTempo]) -> None:
        """Tempi that take over at their onsets; what was known from there on is forgotten."""
        for placed in tempos:
            self._seconds.add(placed)

    def forget(self, tick: int) -> None:
        """Keep only what is needed from a tick on."""
        self._seconds.forget(tick)
