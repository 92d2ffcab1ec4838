"""MIDI clock: 24 a quarter, with start, stop and song position, for what follows along.

The song is the tune as it is played, its first full bar at position 0; a count-in and a
first pickup come before it, ticking already, so that followers know the tempo.
"""

from backing.arranging.arrangement import MappedBar
from backing.live import wire
from backing.live.cues import Cue, Order, Seek, cue
from backing.practice.course import Leg
from backing.practice.route import Kind
from backing.render.presses import PPQ, ticks

_TICKS_A_CLOCK = PPQ // 24
_SIXTEENTHS_A_WHOLE = 16


def clock_cues(leg: Leg, bar: MappedBar, number: int) -> list[Cue]:
    """The clock of a bar of a leg, and where the song stands if it begins to run there.

    Clocks are counted from the leg's start: the one at its first beat is on it.
    """
    start, stop = ticks(bar.onset), ticks(bar.stop)
    since = (ticks(leg.stretch.start) - start) % _TICKS_A_CLOCK
    found = [
        cue(tick, Order.CLOCK, number, wire.CLOCK)
        for tick in range(start + since, stop, _TICKS_A_CLOCK)
    ]
    if leg.stretch.kind is not Kind.COUNT_IN and bar is _first(leg):
        at = leg.song + bar.onset - leg.stretch.start
        found.append(cue(start, Order.SEEK, number, Seek(round(at * _SIXTEENTHS_A_WHOLE))))
    return found


def _first(leg: Leg) -> MappedBar:
    """The first bar of a leg that does not stand before the song's start."""
    frame = leg.stretch.frame
    start = leg.stretch.start
    return next((bar for bar in frame if leg.song + bar.onset - start >= 0), frame[0])


def seek(sixteenths: int, *, running: bool) -> list[bytes]:
    """Go on from a position; a song that runs is stopped first, as the standard asks."""
    if not running and sixteenths <= 0:
        return [wire.START]
    go = [wire.song_position(sixteenths), wire.CONTINUE]
    return [wire.STOP, *go] if running else go
