"""Keys and modes: the signature, the tonic, the scale."""

import re
from dataclasses import dataclass, field
from functools import lru_cache

from backing.music.pitch import name_of, pitch_class

#: Steps round the circle of fifths from the major signature of the same tonic,
#: ABC 2.1 clause 3.1.14.
MODES = {
    "major": 0,
    "lydian": 1,
    "mixolydian": -1,
    "dorian": -2,
    "minor": -3,
    "phrygian": -4,
    "locrian": -5,
}
_MODE_WORDS = {
    "": "major", "maj": "major", "ion": "major", "lyd": "lydian", "mix": "mixolydian",
    "dor": "dorian", "aeo": "minor", "min": "minor", "m": "minor", "phr": "phrygian",
    "loc": "locrian",
}  # fmt: skip
_SHARPS = "FCGDAEB"
_KEY = re.compile(r"([A-G])([#b♯♭]?)\s*([A-Za-z]*)")
_CHANGE = re.compile(r"(\^\^|\^|__|_|=)([A-Ga-g])$")
_CHANGE_ALTER = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}


@dataclass(frozen=True, slots=True)
class Key:
    """A key: tonic, mode, and letters that the signature alters besides.

    `mode` is a name from `MODES`, or "none" (no signature), or "pipes" (Highland
    pipes: A with F and C sharp).  `changes` are (letter, alteration) pairs written
    after the mode; `explicit` means that only they make the signature (`exp`).
    `written` is the text that it was read from, where it was read.
    """

    step: str = "C"
    alter: int = 0
    mode: str = "major"
    changes: tuple[tuple[str, int], ...] = ()
    explicit: bool = False
    written: str = field(default="", compare=False)

    @property
    def fifths(self) -> int:
        """Sharps (+) or flats (-) of the mode's own signature, -7 to 7 for usual keys."""
        if self.mode == "none" or self.explicit:
            return 0
        if self.mode == "pipes":
            return 2
        natural = _SHARPS.index(self.step) - 1
        return natural + 7 * self.alter + MODES[self.mode]

    @property
    def signature(self) -> dict[str, int]:
        """What each altered letter is altered by.

        >>> parse_key("Edor").signature
        {'F': 1, 'C': 1}
        """
        fifths = self.fifths
        letters = _SHARPS if fifths > 0 else _SHARPS[::-1]
        signature: dict[str, int] = {}
        for index in range(abs(fifths)):
            letter = letters[index % 7]
            signature[letter] = signature.get(letter, 0) + (1 if fifths > 0 else -1)
        signature.update(self.changes)
        return signature

    @property
    def minor(self) -> bool:
        """True where the third above the tonic is minor, the signature's changes counted."""
        return (self.scale[2] - self.scale[0]) % 12 == 3

    @property
    def scale(self) -> tuple[int, ...]:
        """The seven pitch classes from the tonic up."""
        return _scale_of(self)

    @property
    def tonic(self) -> int:
        """Pitch class of the tonic, 0 to 11."""
        return pitch_class(self.step, self.alter)

    def __str__(self) -> str:
        if self.mode == "none":
            return "no key"
        mode = "exp" if self.explicit else self.mode
        signs = {2: "^^", 1: "^", 0: "=", -1: "_", -2: "__"}
        extra = "".join(f" {signs[alter]}{letter.lower()}" for letter, alter in self.changes)
        return f"{name_of(self.step, self.alter)} {mode}{extra}"


NO_KEY = Key("C", 0, "none")


@lru_cache(maxsize=512)
def _scale_of(key: Key) -> tuple[int, ...]:
    letters = "CDEFGAB"
    start = letters.index(key.step)
    signature = key.signature
    names = letters[start:] + letters[:start]
    return tuple(pitch_class(letter, signature.get(letter, 0)) for letter in names)


@lru_cache(maxsize=256)
def parse_key(text: str) -> Key:
    """A key from its ABC name: "Ador", "F#mix", "D Phr ^f", "HP", "none".

    Only the first three letters of a mode count, in either case.  Raises ValueError
    for anything else.  ABC 2.1 clause 3.1.14.

    >>> parse_key("Gm").fifths, str(parse_key("A mixolydian"))
    (-2, 'A mixolydian')
    """
    words = text.split()
    if not words or words[0].lower() == "none":
        return Key("C", 0, "none", written=text)
    if words[0] in ("HP", "Hp"):
        return Key("A", 0, "pipes", written=text)
    match = _KEY.match(text.strip())
    if not match:
        raise ValueError(f"{text!r} is not a key")
    step, sign, mode_word = match[1], match[2], match[3]
    alter = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[sign]
    explicit = mode_word.lower() == "exp"
    mode = "major" if explicit else _MODE_WORDS.get(_mode_prefix(mode_word))
    if mode is None:
        raise ValueError(f"{mode_word!r} is not a mode")
    changes = tuple(_parse_change(word) for word in text.strip()[match.end() :].split())
    key = Key(step, alter, mode, changes, explicit, text)
    if abs(key.fifths) > 14:
        raise ValueError(f"{text!r} is not a key")
    return key


def _mode_prefix(word: str) -> str:
    lower = word.lower()
    return "m" if lower == "m" else lower[:3]


def _parse_change(word: str) -> tuple[str, int]:
    match = _CHANGE.match(word)
    if not match:
        raise ValueError(f"{word!r} is not an accidental like ^f")
    return match[2].upper(), _CHANGE_ALTER[match[1]]
