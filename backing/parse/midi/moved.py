"""By how much the notes of a MIDI file were moved, in words."""

from fractions import Fraction

from backing.errors import Notice
from backing.parse.midi.frame import plain
from backing.parse.midi.grid import Grid

_LOOSE_MS = 40.0
_VALUES = {1: "semibreves", 2: "minims", 4: "crotchets", 8: "quavers", 16: "semiquavers",
           32: "demisemiquavers", 64: "hemidemisemiquavers"}  # fmt: skip


def moved_notices(grid: Grid) -> list[Notice]:
    """What was moved, by how much, to which grid; nothing where all stood there."""
    moved = [far for far in grid.moved if far >= 0.5]
    if not moved:
        return []
    mean, most = sum(moved) / len(moved), max(moved)
    steps: set[Fraction] = {grid.beats[index].length / d for index, d in grid.divisions.items()}
    straight = max((step.denominator for step in steps if plain(step)), default=4)
    values = _VALUES.get(straight, f"1/{straight}")
    triplets = " and triplets" if any(not plain(step) for step in steps) else ""
    many = "1 note" if len(moved) == 1 else f"{len(moved)} notes"
    return [
        Notice(
            f"{many} moved by {mean:.0f} ms on average, {most:.0f} ms at most, "
            f"to a grid of {values}{triplets}",
            "the playing does not follow the file's beats: check the notes"
            if mean > _LOOSE_MS
            else "",
        )
    ]
