"""MIDI clock: 24 a quarter, with start, stop and song position, for what follows along.

The song is the tune as it is played, its first full bar at position 0; a count-in comes
before it, ticking already, so that followers know the tempo.
"""

from backing.arranging.arrangement import Arrangement, MappedBar
from backing.live import wire
from backing.live.cues import Cue, Order, cue
from backing.practice.route import Stretch
from backing.render.presses import PPQ, ticks

_TICKS_A_CLOCK = PPQ // 24
_SIXTEENTHS_A_WHOLE = 16


def clock_cues(
    stretch: Stretch, number: int, before: Stretch | None, arrangement: Arrangement
) -> list[Cue]:
    """The clock of a stretch, and where the song stands at its start.

    `before` is the stretch that sounds before it, None where it begins out of silence.
    """
    start, stop = ticks(stretch.start), ticks(stretch.stop)
    first = -(-start // _TICKS_A_CLOCK) * _TICKS_A_CLOCK
    found = []
    if stretch.piece is not None:
        running = before is not None and before.piece is not None
        seek = _seek(_sixteenths(stretch.frame, arrangement), running=running)
        found += [cue(start, Order.OFF, number, message) for message in seek]
    found += (
        cue(tick, Order.CLOCK, number, wire.CLOCK) for tick in range(first, stop, _TICKS_A_CLOCK)
    )
    return found


def _seek(sixteenths: int, *, running: bool) -> list[bytes]:
    """Go on from a position; a song that runs is stopped first, as the standard asks."""
    if not running and sixteenths == 0:
        return [wire.START]
    go = [wire.song_position(sixteenths), wire.CONTINUE]
    return [wire.STOP, *go] if running else go


def _sixteenths(frame: tuple[MappedBar, ...], arrangement: Arrangement) -> int:
    """Where a stretch begins in the tune as it is played."""
    bar = frame[0]
    same = [other for other in arrangement.bars if other.index == bar.index]
    exact = [other for other in same if other.time == bar.time]
    onset = (exact or same)[0].onset
    return max(0, round(onset * _SIXTEENTHS_A_WHOLE))
