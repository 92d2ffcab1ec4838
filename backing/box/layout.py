"""A box: which button sounds what on the push and on the pull, on both sides.

Buttons are counted from the chin, where the lowest notes lie.  Pitches are MIDI keys of
the principal reed.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import NamedTuple

from backing.errors import BoxError, did_you_mean
from backing.music.chord import Chord
from backing.music.pitch import name_of


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


@dataclass(frozen=True, slots=True)
class Layout:
    """A box.  `family` names the boxes among which a fingering moves; `thirds` False means
    that chords sound root and fifth.  Bass fundamentals lie in the octave from
    `lowest_bass`, doubled an octave up; chords are folded into the one from `lowest_chord`
    (working values: no table of left-hand reeds is published)."""

    name: str
    title: str
    rows: tuple[tuple[Button, ...], ...]
    left: tuple[LeftButton, ...]
    family: str = ""
    thirds: bool = True
    lowest_bass: int = 40
    lowest_chord: int = 55
    variants: tuple[Variant, ...] = field(default=(), compare=False, repr=False)
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
                found.update(dict.fromkeys(replace(chord, kind=kind) for kind in kinds))
        return tuple(found)

    @property
    def lowest(self) -> int:
        """The lowest MIDI key of the right hand."""
        return min(self._ways)

    @property
    def highest(self) -> int:
        """The highest MIDI key of the right hand."""
        return max(self._ways)

    def variant(self, name: str) -> "Layout":
        """The box with one of its variants; BoxError where it has none such."""
        names = [variant.name for variant in self.variants]
        if name not in names:
            raise BoxError(
                f"the box {self.name} has no variant {name!r}",
                did_you_mean(name, names) or ("it has " + ", ".join(names) if names else ""),
            )
        return _varied(self, self.variants[names.index(name)])


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
        name=f"{box.name}:{variant.name}",
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


def name_of_key(midi: int) -> str:
    """A MIDI key as a note with its octave, sharps but B flat.

    >>> name_of_key(66), name_of_key(70)
    ('F#4', 'Bb4')
    """
    return f"{_NAMES[midi % 12]}{midi // 12 - 1}"


_NAMES = [name_of(*spelled) for spelled in (
    ("C", 0), ("C", 1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("F", 1), ("G", 0), ("G", 1),
    ("A", 0), ("B", -1), ("B", 0),
)]  # fmt: skip
