"""Chord symbols: a root, a kind, perhaps another bass."""

import re
from functools import lru_cache
from typing import NamedTuple

from backing.music.pitch import name_of, pitch_class

#: Semitones above the root, by the kind names of MusicXML 4.0 ("kind-value").
KINDS = {
    "major": (0, 4, 7),
    "minor": (0, 3, 7),
    "augmented": (0, 4, 8),
    "diminished": (0, 3, 6),
    "dominant": (0, 4, 7, 10),
    "major-seventh": (0, 4, 7, 11),
    "minor-seventh": (0, 3, 7, 10),
    "diminished-seventh": (0, 3, 6, 9),
    "augmented-seventh": (0, 4, 8, 10),
    "half-diminished": (0, 3, 6, 10),
    "major-minor": (0, 3, 7, 11),
    "major-sixth": (0, 4, 7, 9),
    "minor-sixth": (0, 3, 7, 9),
    "dominant-ninth": (0, 4, 7, 10, 2),
    "major-ninth": (0, 4, 7, 11, 2),
    "minor-ninth": (0, 3, 7, 10, 2),
    "dominant-11th": (0, 4, 7, 10, 2, 5),
    "dominant-13th": (0, 4, 7, 10, 2, 9),
    "added-ninth": (0, 4, 7, 2),
    "suspended-second": (0, 2, 7),
    "suspended-fourth": (0, 5, 7),
    "suspended-seventh": (0, 5, 7, 10),
    "power": (0, 7),
}
_WORDS = {
    "": "major", "maj": "major", "M": "major", "major": "major",
    "m": "minor", "min": "minor", "-": "minor", "minor": "minor", "mi": "minor",
    "aug": "augmented", "+": "augmented", "a": "augmented",
    "dim": "diminished", "o": "diminished", "°": "diminished", "d": "diminished",
    "7": "dominant", "dom7": "dominant", "dom": "dominant",
    "maj7": "major-seventh", "M7": "major-seventh", "Maj7": "major-seventh", "ma7": "major-seventh",
    "m7": "minor-seventh", "min7": "minor-seventh", "-7": "minor-seventh", "mi7": "minor-seventh",
    "dim7": "diminished-seventh", "o7": "diminished-seventh", "°7": "diminished-seventh",
    "aug7": "augmented-seventh", "+7": "augmented-seventh", "7+": "augmented-seventh",
    "m7b5": "half-diminished", "m7♭5": "half-diminished", "ø": "half-diminished",
    "mmaj7": "major-minor", "mM7": "major-minor", "m(maj7)": "major-minor",
    "minmaj7": "major-minor",
    "6": "major-sixth", "maj6": "major-sixth", "m6": "minor-sixth", "min6": "minor-sixth",
    "9": "dominant-ninth", "maj9": "major-ninth", "m9": "minor-ninth", "min9": "minor-ninth",
    "11": "dominant-11th", "13": "dominant-13th", "add9": "added-ninth", "add2": "added-ninth",
    "sus2": "suspended-second", "sus4": "suspended-fourth", "sus": "suspended-fourth",
    "7sus4": "suspended-seventh", "7sus": "suspended-seventh", "sus7": "suspended-seventh",
    "5": "power",
}  # fmt: skip
_SILENCE = {"N.C.", "NC", "n.c.", "N", "N.C", "nc"}
_CHORD = re.compile(r"([A-G])([#b♯♭♮]?)([^/()]*)(?:/([A-Ga-g])([#b♯♭♮]?))?(?:\(.*\))?$")
_SIGNS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "♮": 0}
_THIRD, _FIFTH = (3, 4), (6, 7, 8)


class Chord(NamedTuple):
    """A chord: root letter and alteration, kind (see `KINDS`), bass if it is not the root.

    `silent` marks "no chord": the left hand rests until the next symbol.
    """

    step: str = "C"
    alter: int = 0
    kind: str = "major"
    bass: tuple[str, int] | None = None
    silent: bool = False

    @property
    def root(self) -> int:
        """Pitch class of the root."""
        return pitch_class(self.step, self.alter)

    @property
    def bass_class(self) -> int:
        """Pitch class of the lowest note."""
        return self.root if self.bass is None else pitch_class(*self.bass)

    @property
    def pitch_classes(self) -> tuple[int, ...]:
        """Pitch classes from the root up, the bass of a slash chord left out.

        >>> parse_chord("Am7").pitch_classes
        (9, 0, 4, 7)
        """
        root = self.root
        return tuple((root + step) % 12 for step in KINDS[self.kind])

    @property
    def without_third(self) -> tuple[int, ...]:
        """The same with its third left out, as on a box with the thirds out."""
        root = self.root
        return tuple((root + step) % 12 for step in KINDS[self.kind] if step not in _THIRD)

    def degree(self, number: int) -> int:
        """Pitch class of a degree of the chord: 1 root, 3 third, 5 fifth, 8 octave.

        A degree that the chord does not hold is taken from the major or minor scale on
        its root.  The bass of a slash chord stands for the root.
        """
        if number in (1, 8):
            return self.bass_class
        steps = KINDS[self.kind]
        third = next((step for step in steps if step in _THIRD), 4)
        fifth = next((step for step in steps if step in _FIFTH), 7)
        scale = {2: 2, 3: third, 4: 5, 5: fifth, 6: 9 if third == 4 else 8, 7: 10}
        return (self.root + scale[number]) % 12

    def __str__(self) -> str:
        if self.silent:
            return "N.C."
        word = next(word for word, kind in _WORDS.items() if kind == self.kind)
        bass = "" if self.bass is None else "/" + name_of(*self.bass)
        return name_of(self.step, self.alter) + word + bass


NO_CHORD = Chord(silent=True)


@lru_cache(maxsize=512)
def parse_chord(text: str) -> Chord:
    """A chord from its symbol: "G", "Em7", "D/F#", "Bb", "N.C."; ValueError for other text.

    A second chord in brackets is not played.  ABC 2.1 clause 4.18.

    >>> str(parse_chord("D/f#")), parse_chord("D/f#").bass_class
    ('D/F#', 6)
    """
    text = text.strip()
    if text in _SILENCE:
        return NO_CHORD
    match = _CHORD.match(text)
    if not match or match[3].strip() not in _WORDS:
        raise ValueError(f"{text!r} is not a chord")
    bass = (match[4].upper(), _SIGNS[match[5]]) if match[4] else None
    return Chord(match[1], _SIGNS[match[2]], _WORDS[match[3].strip()], bass)


def looks_like_chord(text: str) -> bool:
    """True where the text begins as a chord symbol does, even if it is none we know."""
    return text.strip() in _SILENCE or text.strip()[:1] in tuple("ABCDEFG")


def is_chord(text: str) -> bool:
    """True where the text is a chord symbol that we know.

    >>> is_chord("Em7"), is_chord("^slow"), is_chord("D.C.")
    (True, False, False)
    """
    try:
        parse_chord(text)
    except ValueError:
        return False
    return True
