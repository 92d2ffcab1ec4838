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
from backing.render.sound_laws import ATTACK_TAUS, BEND, LEAD_TAUS, PARTIALS_TAUS, RISE_TAUS
from backing.render.timbre import timbres

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
    length = ceil(RISE_TAUS * tau * rate)
    rise = 1 - np.exp(-((np.arange(length) / (tau * rate)) ** BEND))
    share = np.minimum(np.arange(length) / (PARTIALS_TAUS * tau * rate), 1)
    fade = np.sin(share * np.pi / 2) ** 2
    fall = np.cos(np.linspace(0, np.pi / 2, ceil(release * rate))) ** 2
    attack, partials, going = (each.astype(np.float32) for each in (rise / rise[-1], fade, fall))
    return Envelope(attack, partials, going, lead_of(key, rate))


def lead_of(key: int, rate: int) -> int:
    """Frames that a reed speaks ahead of its onset."""
    return round(LEAD_TAUS * _tau(key) * rate)


def _tau(key: int) -> float:
    return attack_of(key) / ATTACK_TAUS


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
