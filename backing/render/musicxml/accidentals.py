"""The accidentals that are printed: an accidental holds for its line and its bar.

MusicXML 4.0, element `accidental`.
"""

from backing.music.key import Key
from backing.music.pitch import Pitch

_NAMES = {
    -3: "triple-flat", -2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp",
    2: "double-sharp", 3: "triple-sharp",
}  # fmt: skip


class Accidentals:
    """Which accidental stands before each note of a voice, asked in written order.

    Beside those that the rule asks for there are reminders, common practice, no source:
    where the same letter was last altered otherwise, in another octave, before a tie over
    the bar line or in the bar before.
    """

    def __init__(self) -> None:
        self._key: Key | None = None
        self._signature: dict[str, int] = {}
        self._standing: dict[tuple[str, int], int] = {}
        self._heard: dict[str, int] = {}
        self._before: dict[str, int] = {}

    def open_bar(self, key: Key) -> None:
        """A new bar: what stood in the bar before holds no longer."""
        self._before = self._heard if key == self._key else {}
        if key != self._key:
            self._key, self._signature = key, key.signature
        self._standing, self._heard = {}, {}

    def before(self, pitch: Pitch, *, tied: bool = False) -> str:
        """The accidental before a note, "" where it needs none; a tied one needs none."""
        step, alter, octave = pitch
        last = self._heard.get(step, self._before.get(step, alter))
        self._heard[step] = alter
        if tied:
            return ""
        ruling = self._standing.get((step, octave), self._signature.get(step, 0))
        self._standing[step, octave] = alter
        return _NAMES.get(alter, "") if alter != ruling or alter != last else ""
