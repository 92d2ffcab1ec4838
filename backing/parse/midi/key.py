"""Keys that a file does not tell, and how notes are spelled in them."""

from collections.abc import Sequence
from functools import lru_cache

from backing.music.key import MODES, Key
from backing.music.pitch import SEMITONES, Pitch, name_of, pitch_of

_FIFTHS_UP = "FCGDAEB"
#: The modes that tunes are in, the commoner first, with what each costs.
_COSTS = {"major": 0.0, "minor": 0.03, "mixolydian": 0.06, "dorian": 0.05}
_MINORS = ("minor", "dorian", "phrygian")
#: What a signature that fits so little (in shares of the sounding time) is not believed at.
_POOR, _GOOD = 0.8, 0.93
Weights = Sequence[float]


def find_key(weights: Weights, last: int) -> Key:
    """The key of a tune: its scale holds most of what sounds, the tonic chord is often
    heard and the last note is the tonic.

    `weights` are the lengths that each of the 12 pitch classes sounds; `last` is the last
    note's pitch class.  The method is of our own making, tried on a collection of tunes.
    """
    return max(
        (key for mode in _COSTS for key in _keys(mode)), key=lambda key: _score(key, weights, last)
    )


def settle_mode(key: Key, weights: Weights, last: int) -> Key:
    """The key with the same signature and third whose tonic the tune has.

    A file knows no modes: E dorian is told as B minor.  Another tonic is taken where the
    tune ends on it and its chord is heard more.
    """
    fifths = key.fifths
    family = _MINORS if key.mode == "minor" else ("major", "mixolydian")
    keys = [_key(fifths - MODES[mode], mode) for mode in family]
    best = max(keys, key=lambda other: (_score(other, weights, last), other == key))
    return best if best.tonic == last and _triad(best, weights) > _triad(key, weights) else key


def fits_poorly(key: Key, found: Key, weights: Weights) -> bool:
    """True where a signature leaves out much that another holds."""
    return _inside(key, weights) < _POOR and _inside(found, weights) > _GOOD


def _keys(mode: str) -> list[Key]:
    """The twelve keys of a mode, of those that sound alike the one with fewer signs."""
    return [_key(fifths - MODES[mode], mode) for fifths in range(-5, 7)]


def _key(place: int, mode: str) -> Key:
    """The key whose tonic is so many fifths above C."""
    return Key(_FIFTHS_UP[(place + 1) % 7], (place + 1) // 7, mode)


def _score(key: Key, weights: Weights, last: int) -> float:
    ends = 0.02 if key.tonic == last else 0.0
    return _inside(key, weights) + 0.7 * _triad(key, weights) + ends - _COSTS.get(key.mode, 0.1)


def _inside(key: Key, weights: Weights) -> float:
    """The share of the time in which notes of the scale sound; in minor keys a raised
    leading note counts half."""
    total = sum(weights) or 1.0
    inside = sum(weights[tone] for tone in key.scale)
    if key.mode == "minor":
        inside += weights[(key.tonic - 1) % 12] / 2
    return inside / total


def _triad(key: Key, weights: Weights) -> float:
    """The share of the time in which notes of the tonic chord sound, the tonic twice."""
    scale = key.scale
    total = sum(weights) or 1.0
    return (2 * weights[scale[0]] + weights[scale[2]] + weights[scale[4]]) / (2 * total)


@lru_cache(maxsize=4096)
def spell(midi: int, key: Key) -> Pitch:
    """A key number spelled as the key has it.

    Notes outside the scale take the sign that is nearest on the circle of fifths: in major
    keys five sharpened degrees or two flattened, in minor ones the raised sixth and seventh.

    >>> from backing.music.key import parse_key
    >>> str(spell(68, parse_key("Am"))), str(spell(70, parse_key("F")))
    ('G#4', 'Bb4')
    """
    lowest = key.fifths - (2 if key.minor else 3)
    for place in range(lowest, lowest + 12):
        step, alter = _FIFTHS_UP[(place + 1) % 7], (place + 1) // 7
        if (SEMITONES[step] + alter - midi) % 12 == 0:
            return pitch_of(step, alter, (midi - alter - SEMITONES[step]) // 12 - 1)
    raise AssertionError(f"twelve fifths hold every note, not {midi}")


def key_text(key: Key) -> str:
    """A key as a player names it.

    >>> from backing.music.key import parse_key
    >>> key_text(parse_key("Edor"))
    'E dorian'
    """
    return f"{name_of(key.step, key.alter)} {key.mode}"
