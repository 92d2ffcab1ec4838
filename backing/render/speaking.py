"""How a reed comes and goes: the lower, the slower it speaks; it dies away alike.

A slow attack has no frame in which it begins.  Here a note begins **where its envelope passes
half of its full height**: that is what falls on the beat, as a player of a slow reed presses a
little ahead of it.  What leads up to there sounds before the onset.
"""

from functools import lru_cache
from math import ceil, exp, log
from typing import NamedTuple

import numpy as np

from backing.render.blocks import Wave
from backing.render.timbre import timbres

#: The rise is 1 - e ** -(t / tau) ** _BEND: it starts softly, and comes near its height slowly.
_BEND = 1.5
#: After so many tau nothing is left to rise (e ** -8).
_LENGTH = 4.0
#: After so many tau the upper partials are all there.
_PARTIALS = 2.5
#: Seconds to a tenth, half and nine tenths of the height, in tau.  At half of it the upper partials
#: are not all there yet, which takes a fiftieth of the height.
_TENTH, _HALF, _NINE_TENTHS = (
    float(log(1 / (1 - share)) ** (1 / _BEND)) for share in (0.1, 0.51, 0.9)
)
#: The upper partials, which come last, make the whole rise so many times as long (measured).
_SLOWER = 1.06
#: Seconds in which a reed comes in that could not speak ahead of its onset.
_HURRY = 0.005


class Envelope(NamedTuple):
    """Frame by frame: a reed's rise, how its upper partials come in along the same frames,
    and its fall; `lead` frames after the start of the rise the note begins."""

    attack: Wave
    fade: Wave
    release: Wave
    lead: int


@lru_cache(maxsize=256)
def attack_of(key: int) -> float:
    """Seconds in which a reed rises from a tenth to nine tenths of its height.

    Between the keys of the table the logarithm is a parabola along the keys, that is along the
    logarithm of the frequency; beyond them it is that of the nearest.

    >>> [round(attack_of(key), 3) for key in (28, 40, 55, 69, 81, 96)]
    [0.05, 0.05, 0.036, 0.02, 0.01, 0.01]
    """
    attacks = timbres().attacks
    near = min(max(key, min(attacks)), max(attacks))
    total = 0.0
    for one, seconds in attacks.items():
        weight = log(seconds)
        for other in attacks.keys() - {one}:
            weight *= (near - other) / (one - other)
        total += weight
    return exp(total)


@lru_cache(maxsize=512)
def envelope_of(key: int, release: float, rate: int) -> Envelope:
    """The envelope of a reed that dies away within `release` seconds."""
    tau = _tau(key)
    length = ceil(_LENGTH * tau * rate)
    rise = 1 - np.exp(-((np.arange(length) / (tau * rate)) ** _BEND))
    share = np.minimum(np.arange(length) / (_PARTIALS * tau * rate), 1)
    fade = np.sin(share * np.pi / 2) ** 2
    fall = np.cos(np.linspace(0, np.pi / 2, ceil(release * rate))) ** 2
    attack, partials, going = (each.astype(np.float32) for each in (rise / rise[-1], fade, fall))
    return Envelope(attack, partials, going, lead_of(key, rate))


def lead_of(key: int, rate: int) -> int:
    """Frames that a reed speaks ahead of its onset."""
    return round(_HALF * _tau(key) * rate)


def _tau(key: int) -> float:
    return attack_of(key) / (_NINE_TENTHS - _TENTH) / _SLOWER


def longest_lead(rate: int) -> int:
    """Frames that the slowest reed speaks ahead of its onset."""
    return lead_of(min(timbres().attacks), rate)


def hurried(attack: Wave, late: int, rate: int) -> Wave:
    """An attack whose first frames came too late to be heard, without a click."""
    count = min(ceil(_HURRY * rate), len(attack) - late)
    found = attack.copy()
    found[:late] = 0
    found[late : late + count] *= np.sin(np.linspace(0, np.pi / 2, count)) ** 2
    return found


def speaking_laws() -> dict[str, float]:
    """The numbers of these envelopes, for who makes the same elsewhere: tau is an attack's
    seconds divided by `attackTaus`."""
    return {
        "bend": _BEND, "lengthTaus": _LENGTH, "partialTaus": _PARTIALS, "leadTaus": _HALF,
        "attackTaus": (_NINE_TENTHS - _TENTH) * _SLOWER,
    }  # fmt: skip
