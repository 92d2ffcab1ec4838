"""How loud each note of a melody is: marks, and the swells between them.

ABC 2.1 clause 4.14: without a mark the melody is mezzo forte; a mark holds until the next.
"""

from collections.abc import Mapping, Sequence

from backing.music.tune import Note

#: Velocities of the dynamics, ABC 2.1 clause 4.14; mezzo forte where none is written.
DYNAMICS = {
    "pppp": 30, "ppp": 30, "pp": 45, "p": 60, "mp": 75, "mf": 90, "f": 105, "ff": 120,
    "fff": 127, "ffff": 127,
}  # fmt: skip
USUAL = DYNAMICS["mf"]
#: One step from a dynamic to the next.
STEP = 15
_SWELLS = {"crescendo(": STEP, "<(": STEP, "diminuendo(": -STEP, ">(": -STEP}
_ENDS = frozenset({"crescendo)", "<)", "diminuendo)", ">)"})
#: Index of a bar and of a note in it.
NotePlace = tuple[int, int]


def swells(written: Sequence[Sequence[Note]]) -> dict[NotePlace, int]:
    """How much louder or softer each note inside a hairpin is than before it.

    A hairpin grows evenly from note to note to one dynamic more or less at its last note.
    """
    found: dict[NotePlace, int] = {}
    inside: list[NotePlace] = []
    amount = 0
    for index, bar in enumerate(written):
        for number, note in enumerate(bar):
            if not (amount or note.decorations):
                continue
            amount = next((_SWELLS[d] for d in note.decorations if d in _SWELLS), amount)
            if amount and note.pitches:
                inside.append((index, number))
            if not _ENDS.isdisjoint(note.decorations):
                found |= {p: amount * (n + 1) // len(inside) for n, p in enumerate(inside)}
                inside, amount = [], 0
    return found


class Loudness:
    """The velocity of each note as the tune is played; `level` is that in force."""

    def __init__(self, written: Sequence[Sequence[Note]]) -> None:
        self._swells: Mapping[NotePlace, int] = swells(written)
        self.level = USUAL

    def of(self, note: Note, place: NotePlace) -> int:
        """The velocity of the next note, accents left out."""
        if not note.decorations and not self._swells:
            return self.level
        self.level = next((DYNAMICS[d] for d in note.decorations if d in DYNAMICS), self.level)
        velocity = max(1, min(self.level + self._swells.get(place, 0), 127))
        if not _ENDS.isdisjoint(note.decorations):
            self.level = velocity
        return velocity
