"""How loud each track is beside the others."""

from collections.abc import Mapping
from fractions import Fraction

from backing.arranging.arrangement import LEVELS, Role
from backing.errors import PracticeError

_LOUDEST = 127


def channel_volumes(balance: Mapping[Role, Fraction]) -> dict[Role, int]:
    """The channel volume (0 to 127) of every track, from its amplitude in per cent of usual.

    Amplitude goes with the square of the volume (General MIDI 2: 40 log10(value / 127) dB).
    Raises PracticeError for a track that cannot be so loud.

    >>> channel_volumes({Role.CLICK: Fraction(25)})[Role.CLICK]
    45
    """
    volumes = dict(LEVELS)
    for role, per_cent in balance.items():
        volume = round(LEVELS[role] * (float(per_cent) / 100) ** 0.5)
        if volume > _LOUDEST:
            most = int(100 * (_LOUDEST / LEVELS[role]) ** 2)
            raise PracticeError(
                f"{role} at {float(per_cent):g} per cent of usual", f"{role} goes up to {most}"
            )
        volumes[role] = volume
    return volumes
