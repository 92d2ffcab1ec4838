"""MIDI clock: 24 a quarter, with start, stop and song position, for what follows along.

The song is the tune as it is played, its first full bar at position 0; a count-in and a
first pickup come before it, ticking already, so that followers know the tempo.  While a gap
or a later count-in clicks, it stands still.
"""

from backing.arranging.arrangement import MappedBar
from backing.live import wire
from backing.live.cues import Cue, Order, Seek, cue
from backing.practice.stretch import Stretch
from backing.render.presses import PPQ, ticks

_TICKS_A_CLOCK = PPQ // 24
_SIXTEENTHS_A_WHOLE = 16


def clock_cues(stretch: Stretch, bar: MappedBar, number: int) -> list[Cue]:
    """The clock of a bar of a stretch, and where the song stands if it begins to run there.

    Clocks are counted from the stretch's start: the one at its first beat is on it.
    """
    start, stop = ticks(bar.onset), ticks(bar.stop)
    since = (ticks(stretch.start) - start) % _TICKS_A_CLOCK
    found = [
        cue(tick, Order.CLOCK, number, wire.CLOCK)
        for tick in range(start + since, stop, _TICKS_A_CLOCK)
    ]
    if bar is _first(stretch):
        found.append(cue(start, Order.SEEK, number, Seek(_song_at(stretch, bar))))
    return found


def _song_at(stretch: Stretch, bar: MappedBar) -> int | None:
    """Where the song stands at a bar, in sixteenths; None where nothing but clicks sounds."""
    if not stretch.in_tune:
        return None
    return round((stretch.song + bar.onset - stretch.start) * _SIXTEENTHS_A_WHOLE)


def _first(stretch: Stretch) -> MappedBar:
    """The first bar of a stretch that does not stand before the song's start."""
    frame, start = stretch.frame, stretch.start
    return next((bar for bar in frame if stretch.song + bar.onset - start >= 0), frame[0])


class Song:
    """Whether the song that followers play runs, and what they are told."""

    def __init__(self) -> None:
        self.running = False

    def seek(self, sixteenths: int | None) -> list[bytes]:
        """Go on from a position; a song that runs is stopped first, as the standard asks.
        None only stops it."""
        if sixteenths is None:
            return self.halt()
        first = not self.running and sixteenths <= 0
        go = [wire.START] if first else [wire.song_position(sixteenths), wire.CONTINUE]
        told = [*self.halt(), *go]
        self.running = True
        return told

    def halt(self) -> list[bytes]:
        """Stop it, if it runs."""
        told = [wire.STOP] if self.running else []
        self.running = False
        return told
