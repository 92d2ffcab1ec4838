"""Which button of one box answers which of another, and how far apart they sound."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from backing.box.layout import Button, Layout, Press
from backing.errors import BoxError
from backing.music.saying import moved_by

#: By how many a row's button numbers may be shifted: 23-button forms count one more.
_FARTHEST = 2
#: Which row of the other box answers each row, by how many rows the boxes have.
_PAIRINGS: Mapping[tuple[int, int], Sequence[tuple[int | None, ...]]] = {
    (1, 1): [(0,)],
    (2, 2): [(0, 1)],
    (1, 2): [(0,), (1,)],
    (2, 1): [(0, None), (None, 0)],
}


class Answer(NamedTuple):
    """How a row answers another: semitones to add, and by how many button numbers change."""

    semitones: int
    shift: int


class Same(NamedTuple):
    """How one box answers another: semitones to add, and for each of its rows the row that
    answers and by how many button numbers change there; None where no row does."""

    semitones: int
    rows: tuple[tuple[int, int] | None, ...]

    def button(self, button: Button, target: Layout) -> Button | None:
        """The button that answers one, where there is one."""
        answer = self.rows[button.row]
        if answer is None:
            return None
        row, shift = answer
        same = (there for there in target.rows[row] if there.number == button.number + shift)
        return next(same, None)

    def keeps(self, press: Press, target: Layout) -> bool:
        """Whether the button that answers sounds what it should."""
        button = self.button(press.button, target)
        return button is not None and (
            button.sounding(press.direction) == press.midi + self.semitones
        )


def same_fingering(source: Layout, target: Layout) -> Same:
    """The interval between what the same buttons sound on two boxes.

    The buttons at the chin end may differ, and a few others.  A one-row answers the row of
    a two-row box that has its key, else the nearer one.  BoxError where the rows do not
    answer each other.
    """
    pairings = _PAIRINGS[len(source.rows), len(target.rows)]
    found = [same for pairing in pairings if (same := _same(source, target, pairing))]
    if not found:
        raise BoxError(
            f"a fingering for {source.name} does not go on {target.name}: "
            f"{_difference(source, target)}",
            "transpose with --to-key, and finger it anew",
        )
    return min(found, key=lambda same: (same.semitones % 12 != 0, abs(same.semitones)))


def _same(source: Layout, target: Layout, pairing: Sequence[int | None]) -> Same | None:
    """How the boxes answer each other, row by row as paired; None where they do not."""
    rows: list[tuple[int, int] | None] = [None] * len(pairing)
    semitones: set[int | None] = set()
    for row, other in enumerate(pairing):
        if other is not None:
            answer = _answer(source.rows[row], target.rows[other])
            semitones.add(answer and answer.semitones)
            rows[row] = answer and (other, answer.shift)
    same = semitones.pop() if len(semitones) == 1 else None
    return None if same is None else Same(same, tuple(rows))


def _difference(source: Layout, target: Layout) -> str:
    """Why two boxes do not answer each other."""
    answers = [_answer(row, other) for row, other in zip(source.rows, target.rows, strict=False)]
    moves = [moved_by(answer.semitones) for answer in answers if answer]
    if len(moves) < 2:
        return "their rows do not follow the same pattern"
    return f"there the outer row sounds {moves[0]}, the inner row {moves[1]}"


def _answer(row: Sequence[Button], other: Sequence[Button]) -> Answer | None:
    """How a row answers another: as most of their buttons do, the first left out."""
    counts: dict[Answer, int] = {}
    by_number = {button.number: button for button in other}
    for shift in sorted(range(-_FARTHEST, _FARTHEST + 1), key=abs):
        for button in row[1:]:
            there = by_number.get(button.number + shift)
            if there and there.push - button.push == there.pull - button.pull:
                answer = Answer(there.push - button.push, shift)
                counts[answer] = counts.get(answer, 0) + 1
    best = max(counts, key=lambda answer: counts[answer], default=None)
    enough = best is not None and 2 * counts[best] >= min(len(row), len(other))
    return best if enough else None
