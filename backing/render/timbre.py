"""What the built-in reeds and the click sound like, as values: the table in reeds.toml.

The same table serves every output that makes its own sound.
"""

import tomllib
from functools import cache
from importlib.resources import files as resource_files
from math import log2
from typing import Any, NamedTuple

from backing.arranging.arrangement import Role

#: The strength (MIDI velocity) at which partials have the levels of the table.
MIDDLE, STRONGEST = 80, 127
BRIGHT_PARTIAL = 3  # the eighth, in octaves above the first
MELLOW_DB = 12


class Register(NamedTuple):
    """The reeds of one track.

    `partials` are levels in dB of partials 1, 2, 3 ...; `bright` the dB that the eighth
    gains from middle to full strength; from `mellow` Hz on partials fall by another 12 dB
    an octave.  `release` is seconds, `gain` dB, `pan` -1 (left) to 1.
    """

    partials: tuple[float, ...]
    bright: float
    mellow: float
    release: float
    gain: float
    pan: float

    def levels(self, frequency: float, velocity: int, highest: float) -> list[float]:
        """Amplitudes of the partials below `highest` Hz, for a note of this strength.

        >>> dull = Register((0, -6, -20), 9, 5000, 0.05, 0, 0)
        >>> [round(level, 2) for level in dull.levels(440, 80, 1000)]
        [1.0, 0.5]
        """
        strength = (velocity - MIDDLE) / (STRONGEST - MIDDLE)
        found = []
        for number, level in enumerate(self.partials, 1):
            hertz = number * frequency
            if hertz >= highest:
                break
            gain = self.bright * strength * log2(number) / BRIGHT_PARTIAL
            loss = MELLOW_DB * max(log2(hertz / self.mellow), 0)
            found.append(10 ** ((level + gain - loss) / 20))
        return found


class Knock(NamedTuple):
    """A click: partials as (Hz, dB, seconds until a third is left)."""

    partials: tuple[tuple[float, float, float], ...]


class ButtonNoise(NamedTuple):
    """The soft knock of a button: dB against a note, a band of noise (Hz in its middle, octaves
    wide), seconds until a third is left."""

    gain: float
    hertz: float
    octaves: float
    fall: float


class Timbres(NamedTuple):
    """The table: a register for each track of notes, a knock for each key of the click; how long
    a reed of a key takes to speak, in seconds; the button."""

    registers: dict[Role, Register]
    knocks: dict[int, Knock]
    attacks: dict[int, float]
    button: ButtonNoise
    click_gain: float
    click_pan: float


@cache
def timbres() -> Timbres:
    """The table that comes with us."""
    text = resource_files("backing.render").joinpath("reeds.toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    click: dict[str, Any] = data.pop("click")
    attacks: dict[str, float] = data.pop("attack")
    button = ButtonNoise(**data.pop("button"))
    gain, pan = click.pop("gain"), click.pop("pan")
    return Timbres(
        {Role(name): Register(tuple(row.pop("partials")), **row) for name, row in data.items()},
        {
            int(key): Knock(tuple((hertz, level, fall) for hertz, level, fall in row["partials"]))
            for key, row in click.items()
        },
        {int(key): seconds for key, seconds in attacks.items()},
        button,
        gain,
        pan,
    )
