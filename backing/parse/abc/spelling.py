"""How ABC letters spell pitches: the key, and the accidentals of the bar.

An accidental holds to the end of its bar in its own octave, as musicians read it;
ABC 2.1 clause 11.3 would carry it into every octave (`propagate` "pitch").
"""

from functools import lru_cache

from backing.music.key import Key
from backing.music.pitch import Pitch, pitch_of

_ALTERS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}


class Spelling:
    """The pitches of letters in a key; accidentals are kept until the bar ends.

    `propagate` is how far one reaches: "octave", "pitch" (every octave) or "not".
    """

    def __init__(self, key: Key) -> None:
        self.propagate = "octave"
        self._accidentals: dict[tuple[str, int], int] = {}
        self.set_key(key)

    def set_key(self, key: Key) -> None:
        """The key of what follows."""
        self._signature = key.signature
        self._plain: dict[str, Pitch] = {}

    def end_bar(self) -> None:
        """Forget the bar's accidentals."""
        self._accidentals.clear()

    def pitch(self, sign: str | None, letter: str, marks: str, *, alone: bool = False) -> Pitch:
        """The pitch of a letter with its accidental and octave marks (clauses 4.1, 4.2).

        An accidental that stands `alone` holds for this note only (draft 2.2, clause 4.14).
        ValueError where no MIDI key number (0 to 127) fits.
        """
        if sign or self._accidentals:
            return self._spelled(sign, letter, marks, alone)
        name = letter + marks
        pitch = self._plain.get(name)
        if pitch is None:
            pitch = self._plain[name] = self._spelled(sign, letter, marks, alone)
        return pitch

    def _spelled(self, sign: str | None, letter: str, marks: str, alone: bool) -> Pitch:
        octave = octave_of(letter, marks)
        step = letter.upper()
        place = (step, 0 if self.propagate == "pitch" else octave)
        if sign:
            alter = _ALTERS[sign]
            if self.propagate != "not" and not alone:
                self._accidentals[place] = alter
        else:
            alter = self._accidentals.get(place, self._signature.get(step, 0))
        pitch = pitch_of(step, alter, octave)
        if not 0 <= pitch.midi <= 127:
            raise ValueError(f"{pitch} is too high or too low to sound")
        return pitch


def held_over(ties: tuple[Pitch, ...], letter: str, marks: str) -> Pitch | None:
    """The tied pitch that a letter after the bar line goes on with, its accidental kept."""
    step, octave = letter.upper(), octave_of(letter, marks)
    return next((tied for tied in ties if (tied.step, tied.octave) == (step, octave)), None)


@lru_cache(maxsize=512)
def octave_of(letter: str, marks: str) -> int:
    """The octave of a note letter with its marks; C is middle C, octave 4.

    >>> octave_of("c", "'"), octave_of("C", ",',")
    (6, 3)
    """
    return (5 if letter.islower() else 4) + marks.count("'") - marks.count(",")
