"""The same buttons on another box: by which interval a fingering moves a tune."""

from collections.abc import Iterator
from typing import NamedTuple

from backing.box.layout import Button, Layout, name_of_key
from backing.errors import BoxError, Notice
from backing.music.pitch import Pitch
from backing.music.transpose import move_tune, readable_interval
from backing.music.tune import Tune

#: Where a tune reads without many ledger lines: D4 to A5.
_LOWEST, _HIGHEST = 62, 81
_FARTHEST = 2


class Same(NamedTuple):
    """How one box answers another: semitones to add, and for each row by how many a button's
    number changes."""

    semitones: int
    shifts: tuple[int, ...]


class Moved(NamedTuple):
    """A tune on another box, and what there is to say."""

    tune: Tune
    semitones: int
    notices: tuple[Notice, ...]


def same_fingering(source: Layout, target: Layout) -> Same:
    """The interval between what the same buttons sound on two boxes, accidentals left out.

    BoxError where their buttons do not answer each other.
    """
    if source.family != target.family:
        raise BoxError(
            f"a fingering for {source.name} does not go on {target.name}: "
            f"{source.family} and {target.family}",
            "transpose with --to-key, and finger it anew",
        )
    pairs = zip(source.rows, target.rows, strict=True)
    found = [_answer(row, other) for row, other in pairs]
    answers = {semitones for semitones, _ in found}
    if len(answers) != 1 or None in answers:
        raise BoxError(
            f"the buttons of {source.name} and {target.name} do not answer each other",
            "transpose with --to-key, and finger it anew",
        )
    semitones = found[0][0]
    assert semitones is not None
    return Same(semitones, tuple(shift for _, shift in found))


def _answer(row: tuple[Button, ...], other: tuple[Button, ...]) -> tuple[int | None, int]:
    """By what interval a row answers another, and by how many its numbers are shifted.

    The first button, accidentals or low notes, may differ; one other may be turned round.
    """
    best = (0, 0, 0)
    for shift in sorted(range(-_FARTHEST, _FARTHEST + 1), key=abs):
        pairs = list(_pairs(row, other, shift))
        for semitones in {there.push - here.push for here, there in pairs}:
            alike = sum(
                (there.push - here.push, there.pull - here.pull) == (semitones, semitones)
                for here, there in pairs
            )
            if alike > best[0]:
                best = (alike, semitones, shift)
    alike, semitones, shift = best
    enough = min(len(row), len(other)) - 3
    return (semitones, shift) if alike and alike >= enough else (None, 0)


def _pairs(
    row: tuple[Button, ...], other: tuple[Button, ...], shift: int
) -> Iterator[tuple[Button, Button]]:
    by_number = {button.number: button for button in other}
    for button in row:
        if button.number > 1 and button.number + shift in by_number:
            yield button, by_number[button.number + shift]


def move_to_box(tune: Tune, source: Layout, target: Layout, octaves: int = 0) -> Moved:
    """The tune as the same buttons sound it on another box, `octaves` written higher or lower.

    A note that the source box lacks moves with the others, and is named.  Raises BoxError
    where the fingering does not go on the target box.
    """
    semitones = same_fingering(source, target).semitones + 12 * octaves
    notices = [*_lacking(tune, source)]
    moved = move_tune(tune, readable_interval(tune.key, semitones))
    if not octaves:
        notices += _reading(moved)
    notices += _differing(tune, source, target)
    return Moved(moved, semitones, tuple(notices))


def _lacking(tune: Tune, source: Layout) -> Iterator[Notice]:
    """Notes that the source box does not have, with their bars."""
    places: dict[Pitch, list[int]] = {}
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        for note in notes:
            for pitch in note.pitches:
                if not source.presses(pitch.midi):
                    places.setdefault(pitch, []).append(bar.number)
    for pitch, bars in places.items():
        yield Notice(
            f"{source.name} has no {pitch} ({_bars(bars)})",
            "it is moved by the same interval; there is no button for it to keep",
        )


def _bars(numbers: list[int]) -> str:
    found = list(dict.fromkeys(numbers))
    shown = ", ".join(map(str, found[:8]))
    return f"bar{'s' if len(found) > 1 else ''} {shown}{' …' if len(found) > 8 else ''}"


def _differing(tune: Tune, source: Layout, target: Layout) -> Iterator[Notice]:
    """Notes whose buttons sound something else on the target: swapped accidentals, low
    notes, a button turned round."""
    same = same_fingering(source, target)
    there = {(button.row, button.number): button for button in target.buttons}
    midis = dict.fromkeys(pitch.midi for note in tune.notes() for pitch in note.pitches)
    for midi in midis:
        ways = source.presses(midi)
        answers = [
            (there.get((button.row, button.number + same.shifts[button.row])), direction)
            for button, direction in ways
        ]
        if ways and not any(
            button and button.sounding(direction) == midi + same.semitones
            for button, direction in answers
        ):
            yield Notice(
                f"{name_of_key(midi)} of {source.name} has no such button on {target.name}",
                "finger it anew: buttons at the chin end, or one turned round, differ",
            )


def _reading(tune: Tune) -> Iterator[Notice]:
    """Which octave reads best, where it is another."""
    midis = [pitch.midi for note in tune.notes() for pitch in note.pitches]
    if not midis:
        return

    def outside(octaves: int) -> int:
        moved = [midi + 12 * octaves for midi in midis]
        return sum(max(_LOWEST - midi, midi - _HIGHEST, 0) for midi in moved)

    best = min((0, 1, -1), key=outside)
    if best:
        where = "higher" if best > 0 else "lower"
        yield Notice(
            f"it reads best written an octave {where}",
            f"--octave {best} writes it there; the same buttons sound as before",
        )
