"""A box: which button sounds what on the push and on the pull, on both sides.

Buttons are counted from the chin, where the lowest notes lie.  Pitches are MIDI keys of
the principal reed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import combinations
from typing import NamedTuple

from backing.errors import BoxError, did_you_mean
from backing.music.chord import Chord


class Direction(StrEnum):
    """Which way the bellows go."""

    PUSH = "push"
    PULL = "pull"

    @property
    def other(self) -> "Direction":
        """The opposite one."""
        return Direction.PULL if self is Direction.PUSH else Direction.PUSH


class Button(NamedTuple):
    """A button of the right hand: row 0 is the outer one, away from the bellows; `number`
    counts from the chin, 1 the first.  `accidental` marks one that lies outside both rows'
    scales."""

    row: int
    number: int
    push: int
    pull: int
    accidental: bool = False

    def sounding(self, direction: Direction) -> int:
        """The MIDI key that it sounds."""
        return self.push if direction == Direction.PUSH else self.pull


class Press(NamedTuple):
    """A button held in a direction."""

    button: Button
    direction: Direction

    @property
    def midi(self) -> int:
        """The MIDI key that sounds."""
        return self.button.sounding(self.direction)


class LeftButton(NamedTuple):
    """A button of the bass side; of a bass only the root of its chords counts."""

    pair: str
    hand: str
    push: Chord
    pull: Chord

    def sounding(self, direction: Direction) -> Chord:
        """The chord that it sounds, or whose root."""
        return self.push if direction == Direction.PUSH else self.pull


class Variant(NamedTuple):
    """How a box differs: buttons of the right hand, pairs of the left, what is taken away."""

    name: str
    use: str
    buttons: tuple[tuple[int, int, int, int], ...] = ()
    left: tuple[tuple[str, Chord, Chord], ...] = ()
    without: tuple[tuple[int, int], ...] = ()
    thirds: bool | None = None
    octave: int = 0

    @property
    def touched(self) -> set[str]:
        """What it changes, in words."""
        places = [*(button[:2] for button in self.buttons), *self.without]
        found = {f"{ROWS[row]} {number}" for row, number in places}
        found |= {pair for pair, _, _ in self.left}
        if self.thirds is not None:
            found.add("the thirds")
        return found | ({"the octave"} if self.octave else set())


#: The rows of the right hand, in a player's words.
ROWS = ("outer", "inner")


@dataclass(frozen=True, slots=True)
class Layout:
    """A box.  `thirds` False means that chords sound root and fifth.  Bass fundamentals lie
    in the octave from `lowest_bass`, doubled an octave up; chords are folded into the one
    from `lowest_chord` (working values: no table of left-hand reeds is published).  `names`
    are the notes as the box's file spells them."""

    name: str
    title: str
    rows: tuple[tuple[Button, ...], ...]
    left: tuple[LeftButton, ...]
    thirds: bool = True
    lowest_bass: int = 40
    lowest_chord: int = 55
    variants: tuple[Variant, ...] = field(default=(), compare=False, repr=False)
    names: dict[int, str] = field(default_factory=dict, compare=False, repr=False)
    _ways: dict[int, tuple[Press, ...]] = field(
        init=False, compare=False, repr=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        ways: dict[int, list[Press]] = {}
        for button in self.buttons:
            for direction in Direction:
                ways.setdefault(button.sounding(direction), []).append(Press(button, direction))
        self._ways.update({midi: tuple(found) for midi, found in ways.items()})

    @property
    def buttons(self) -> tuple[Button, ...]:
        """All buttons of the right hand, row by row."""
        return tuple(button for row in self.rows for button in row)

    def presses(self, midi: int) -> tuple[Press, ...]:
        """Every way to sound a note; none where the box lacks it."""
        return self._ways.get(midi, ())

    def directions(self, midi: int) -> frozenset[Direction]:
        """The directions in which a note sounds."""
        return frozenset(press.direction for press in self.presses(midi))

    def chords(self, direction: Direction) -> tuple[Chord, ...]:
        """What the chord buttons sound, thirds or not."""
        return tuple(b.sounding(direction) for b in self.left if b.hand == "chord")

    def basses(self, direction: Direction) -> tuple[int, ...]:
        """The pitch classes of the bass buttons."""
        return tuple(b.sounding(direction).root for b in self.left if b.hand == "bass")

    @property
    def all_chords(self) -> tuple[Chord, ...]:
        """The chords that it has one way or the other; a button without a third stands for
        major and minor."""
        found: dict[Chord, None] = {}
        for button in self.left:
            for chord in (button.push, button.pull) if button.hand == "chord" else ():
                both = not self.thirds or chord.kind == "power"
                kinds = ("major", "minor") if both else (chord.kind,)
                found.update(dict.fromkeys(chord._replace(kind=kind) for kind in kinds))
        return tuple(found)

    @property
    def lowest(self) -> int:
        """The lowest MIDI key of the right hand."""
        return min(self._ways)

    @property
    def highest(self) -> int:
        """The highest MIDI key of the right hand."""
        return max(self._ways)

    def named(self, midi: int) -> str:
        """A MIDI key as the box's file spells it, else with sharps, but E and B flat."""
        return self.names.get(midi) or f"{_NAMES[midi % 12]}{midi // 12 - 1}"

    def with_variants(self, names: Sequence[str]) -> "Layout":
        """The box with some of its variants, in whatever order.

        BoxError where it has none of that name, or where two of them change the same thing.
        """
        known = {variant.name: variant for variant in self.variants}
        for name in names:
            if name not in known:
                raise BoxError(
                    f"the box {self.name} has no variant {name!r}",
                    did_you_mean(name, list(known)) or f"it has {', '.join(known) or 'none'}",
                )
        chosen = [known[name] for name in names]
        for one, other in combinations(chosen, 2):
            if both := sorted(one.touched & other.touched):
                raise BoxError(
                    f"{self.name} cannot have both {one.name} and {other.name}: "
                    f"each changes {' and '.join(both)}",
                    "leave one of them out",
                )
        box = self
        for variant in sorted(chosen, key=lambda each: each.octave != 0):
            box = _varied(box, variant)
        return replace(box, name=":".join([self.name, *names]))


_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


def _varied(box: Layout, variant: Variant) -> Layout:
    changed = {(row, number): (push, pull) for row, number, push, pull in variant.buttons}
    up = 12 * variant.octave
    rows = [
        [
            button._replace(push=push + up, pull=pull + up)
            for button in row
            if (button.row, button.number) not in variant.without
            for push, pull in [changed.get((button.row, button.number), button[2:4])]
        ]
        for row in box.rows
    ]
    new = {pair: (push, pull) for pair, push, pull in variant.left}
    left = [
        b._replace(push=new[b.pair][0], pull=new[b.pair][1]) if b.pair in new else b
        for b in box.left
    ]
    known = {b.pair for b in box.left}
    added = [pair_of(*entry) for entry in variant.left if entry[0] not in known]
    return replace(
        box,
        rows=with_accidentals(rows),
        left=(*left, *(button for pair in added for button in pair)),
        thirds=box.thirds if variant.thirds is None else variant.thirds,
    )


def pair_of(pair: str, push: Chord, pull: Chord) -> tuple[LeftButton, LeftButton]:
    """The chord button of a pair and its bass below it."""
    return LeftButton(pair, "chord", push, pull), LeftButton(pair, "bass", push, pull)


def with_accidentals(rows: list[list[Button]]) -> tuple[tuple[Button, ...], ...]:
    """The rows, with the first buttons marked whose notes none of the others has."""
    others = {key % 12 for row in rows for button in row[1:] for key in button[2:4]}
    return tuple(
        tuple(
            button._replace(accidental=not at and not {key % 12 for key in button[2:4]} & others)
            for at, button in enumerate(row)
        )
        for row in rows
    )
