"""What a channel is told before its first note: instrument, volume, tuning.

A MIDI file, a live port and a sound font are all set up from this.
"""

from typing import NamedTuple

from backing.arranging.arrangement import LEFT_HAND, Role, Track
from backing.practice.plan import Ears
from backing.render.tuning import ControlChanges, tuning_controls, tuning_reset

#: The controller of a channel's volume (MIDI 1.0 Detailed Specification).
VOLUME = 7
#: The controller of how far left or right a channel sounds; 64 is the middle.
PAN = 10
_LEFT, _MIDDLE, _RIGHT = 0, 64, 127


class ChannelSetup(NamedTuple):
    """A channel (1 to 16), its General MIDI program (1 to 128; None: percussion, which has
    none), and controllers with their values: those that undo another program's tuning, for a
    synthesiser that may have been used before, and those that are then set."""

    channel: int
    program: int | None
    undo: ControlChanges
    controls: ControlChanges


def pan_of(role: Role, ears: Ears) -> int:
    """The pan of a track, 0 (left) to 127 (right), 64 where it sounds as usual: the left hand in
    the other ear than the tune, the click in both.

    >>> pan_of(Role.MELODY, Ears.LEFT), pan_of(Role.BASS, Ears.LEFT), pan_of(Role.CLICK, Ears.LEFT)
    (0, 127, 64)
    """
    if ears is Ears.BOTH or role is Role.CLICK:
        return _MIDDLE
    return _RIGHT if (role in LEFT_HAND) is (ears is Ears.LEFT) else _LEFT


def channel_setup(track: Track, a4: float) -> ChannelSetup:
    """How a track's channel is set up with A at `a4` hertz; the click is never tuned.

    Raises PracticeError where A cannot be there.
    """
    volume = (VOLUME, track.level)
    if track.role is Role.CLICK:
        return ChannelSetup(track.channel, None, (), (volume,))
    controls = (volume, *tuning_controls(a4))
    return ChannelSetup(track.channel, track.program, tuning_reset(), controls)
