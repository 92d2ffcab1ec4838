"""Keys that a file does not tell."""

from backing.music.key import MODES, Key
from backing.music.pitch import name_of
from backing.music.tonality import (
    MODE_COSTS,
    PitchShares,
    inside,
    key_at,
    keys_of_modes,
    triad_share,
)

_MINORS = ("minor", "dorian", "phrygian")
#: What a signature that fits so little (in shares of the sounding time) is not believed at.
_POOR, _GOOD = 0.8, 0.93


def find_key(weights: PitchShares, last: int) -> Key:
    """The key of a tune: its scale holds most of what sounds, the tonic chord is often
    heard and the last note is the tonic.

    `weights` are the lengths that each of the 12 pitch classes sounds; `last` is the last
    note's pitch class.
    """
    return max(keys_of_modes(), key=lambda key: _score(key, weights, last))


def settle_mode(key: Key, weights: PitchShares, last: int) -> Key:
    """The key with the same signature and third whose tonic the tune has.

    A file knows no modes: E dorian is told as B minor.  Another tonic is taken where the
    tune ends on it and its chord is heard more.
    """
    fifths = key.fifths
    family = _MINORS if key.mode == "minor" else ("major", "mixolydian")
    keys = [key_at(fifths - MODES[mode], mode) for mode in family]
    best = max(keys, key=lambda other: (_score(other, weights, last), other == key))
    better = best.tonic == last and triad_share(best, weights) > triad_share(key, weights)
    return best if better else key


def fits_poorly(key: Key, found: Key, weights: PitchShares) -> bool:
    """True where a signature leaves out much that another holds."""
    return inside(key, weights) < _POOR and inside(found, weights) > _GOOD


def _score(key: Key, weights: PitchShares, last: int) -> float:
    ends = 0.02 if key.tonic == last else 0.0
    cost = MODE_COSTS.get(key.mode, 0.1)
    return inside(key, weights) + 0.7 * triad_share(key, weights) + ends - cost


def key_text(key: Key) -> str:
    """A key as a player names it.

    >>> from backing.music.key import parse_key
    >>> key_text(parse_key("Edor"))
    'E dorian'
    """
    return f"{name_of(key.step, key.alter)} {key.mode}"
