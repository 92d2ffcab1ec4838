"""The values of ABC fields: key, metre, tempo."""

from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.pitch import name_of
from backing.music.tempo import Tempo
from backing.render.abc_notes import SIGNS
from backing.render.abc_text import in_full

_MODES = {"major": "", "minor": "m"}


def write_metre(metre: Metre) -> str:
    """A metre as it was written: "C|", "6/8", "none"."""
    return metre.written or f"{metre.count}/{metre.unit}"


def write_tempo(tempo: Tempo) -> str:
    """A tempo in whole or decimal beats; where it has neither, in a smaller note."""
    rest = tempo.beats.denominator
    for factor in (2, 5):
        while rest % factor == 0:
            rest //= factor
    unit = tempo.unit / rest
    return f"{unit.numerator}/{unit.denominator}={in_full(tempo.beats * rest)}"


def write_key(key: Key) -> str:
    """A key with its mode and the signs that it has besides."""
    if key.mode == "none":
        return "none"
    if key.mode == "pipes":
        return key.written or "HP"
    mode = "exp" if key.explicit else _MODES.get(key.mode, key.mode[:3])
    changes = "".join(f" {_sign(alter)}{letter.lower()}" for letter, alter in key.changes)
    space = " " if key.explicit else ""
    return f"{name_of(key.step, key.alter)}{space}{mode}{changes}"


def _sign(alter: int) -> str:
    return SIGNS[max(-2, min(2, alter))]
