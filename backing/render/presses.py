"""Keys pressed and let go, in ticks, and the seconds that ticks stand for.

Every output (MIDI file, sound, live port) plays these, so that all sound the same.
"""

from bisect import bisect_right
from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Event, PlacedTempo, Role

PPQ = 960
#: Ticks a whole note.
WHOLE = 4 * PPQ
#: At one tick click and melody sound before the left hand.
ROLE_ORDER = {Role.CLICK: 0, Role.MELODY: 1, Role.SECOND: 2, Role.BASS: 3, Role.CHORDS: 4}


class KeyPress(NamedTuple):
    """A key (MIDI key number) from one tick to another; tick 0 is position 0."""

    onset: int
    stop: int
    key: int
    velocity: int


def ticks(position: Fraction) -> int:
    """The tick of a position, rounded once: floor(position * 4 * PPQ + 1/2).

    >>> ticks(Fraction(1, 12)), ticks(Fraction(3, 8))
    (320, 1440)
    """
    return _ticks(position.numerator, position.denominator)


def _ticks(numerator: int, denominator: int) -> int:
    return (2 * WHOLE * numerator + denominator) // (2 * denominator)


def _stop_tick(event: Event) -> int:
    """The tick where an event ends, without the cost of adding fractions."""
    onset, length = event.onset, event.length
    below, over = onset.denominator, length.denominator
    return _ticks(onset.numerator * over + length.numerator * below, below * over)


def key_presses(events: Iterable[Event]) -> list[KeyPress]:
    """Every key press of a track's events, in their order.

    A key lasts one tick at least.  Where it is struck again while it sounds, it is ended
    there first, so that every press has its own end.
    """
    last: dict[int, list[int]] = {}
    spans: list[list[int]] = []
    for event in events:
        onset = ticks(event.onset)
        stop = max(_stop_tick(event), onset + 1)
        for key in event.pitches:
            before = last.get(key)
            if before is not None and before[1] > onset:
                if before[0] == onset:
                    before[1] = max(before[1], stop)
                    continue
                before[1] = onset
            last[key] = span = [onset, stop, key, event.velocity]
            spans.append(span)
    return [KeyPress(*span) for span in spans]


class Seconds:
    """When each tick sounds, in seconds from the first one.

    >>> from backing.music.tempo import Tempo
    >>> slow = Tempo(Fraction(60), Fraction(1, 4))
    >>> Seconds([PlacedTempo(Fraction(-1, 4), slow)], Fraction(-1, 4)).at(0)
    1.0
    """

    def __init__(self, tempos: Iterable[PlacedTempo], start: Fraction) -> None:
        self._ticks: list[int] = []
        self._seconds: list[float] = []
        self._tick: list[float] = []  # seconds a tick
        for placed in tempos:
            self.add(placed._replace(onset=max(placed.onset, start)))

    def add(self, placed: PlacedTempo) -> None:
        """A tempo that takes over at its onset; what was known from there on is forgotten."""
        tick = ticks(placed.onset)
        seconds = self.at(tick) if self._ticks else 0.0
        while self._ticks and self._ticks[-1] >= tick:
            for known in (self._ticks, self._seconds, self._tick):
                known.pop()
        speed = float(60 / (placed.tempo.wholes * WHOLE))
        if not self._ticks or self._tick[-1] != speed:
            self._ticks.append(tick)
            self._seconds.append(seconds)
            self._tick.append(speed)

    def forget(self, tick: int) -> None:
        """Keep only what is needed from a tick on."""
        past = max(bisect_right(self._ticks, tick) - 1, 0)
        for known in (self._ticks, self._seconds, self._tick):
            del known[:past]

    def at(self, tick: int) -> float:
        """The second of a tick; before the first tempo its speed is taken."""
        place = max(bisect_right(self._ticks, tick) - 1, 0)
        return self._seconds[place] + (tick - self._ticks[place]) * self._tick[place]
