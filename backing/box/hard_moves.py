"""What makes a bar hard on a box: what its buttons ask of the bellows and the right hand.

It counts what movements cost by the profile of the fingering, for that is what its player
finds hard.  What the left hand lacks makes nothing harder, nor does a slur that is broken.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from backing.box.difficulty import POINTS, Difficulty, Trait
from backing.box.fingering import Fingered
from backing.box.price import Terms
from backing.music.key import Key
from backing.music.saying import Fact, HowOften, NoteName, Parts
from backing.music.tonality import note_name

#: Which named cost belongs to which kind; those that are not here make no bar hard.
_TRAIT_OF = {
    "change-off-beat": Trait.BELLOWS,
    "change-on-beat": Trait.BELLOWS,
    "change-at-phrase": Trait.BELLOWS,
    "flip": Trait.BELLOWS,
    "change-on-repeated": Trait.BELLOWS,
    "air": Trait.AIR,
    "cross": Trait.ROWS,
    "cross-and-change": Trait.ROWS,
    "slide": Trait.ROWS,
    "cross-on-repeated": Trait.ROWS,
    "shift": Trait.HAND,
    "hop": Trait.HAND,
    "first-button": Trait.HAND,
    "stop-of-three": Trait.STRETCHES,
    "stop-of-four": Trait.STRETCHES,
}


_CHANGES = ("change-off-beat", "change-on-beat", "change-at-phrase")


class _Moves(NamedTuple):
    """What is moved in a bar: how often each named cost comes, the pitch of the note for which
    it first does, how many buttons the hand first moves, the moments, the key."""

    times: Counter[str]
    first: dict[str, int]
    shift: int
    notes: Sequence[Fingered]
    key: Key

    @property
    def changes(self) -> int:
        """How often the bellows change."""
        return sum([self.times[name] for name in _CHANGES])

    def name(self, cost: str) -> NoteName:
        """The note for which a cost first comes; "" where it never does."""
        return NoteName(note_name(self.first[cost], self.key) if cost in self.first else "")


def moves_in(
    notes: Sequence[Fingered], priced: Sequence[Terms], before: Fingered | None, key: Key
) -> Iterator[Difficulty]:
    """What makes a bar hard by its buttons; `before` is the moment before it."""
    points: dict[Trait, float] = {}
    names: list[str] = []
    first: dict[str, int] = {}
    shift = 0
    for note, terms in zip(notes, priced, strict=True):
        for name, cost in terms:
            trait = _TRAIT_OF.get(name)
            if trait is None:
                continue
            points[trait] = points.get(trait, 0.0) + max(cost, 0.0)
            names.append(name)
            first.setdefault(name, note.moment.pitches[-1])
        if before is not None and not shift:
            shift = abs(note.hand - before.hand)
        before = note
    moves = _Moves(Counter(names), first, shift, notes, key)
    for trait, cost in points.items():
        if cost > 0:
            most = POINTS["most-air"] if trait is Trait.AIR else cost
            yield Difficulty(trait, min(cost, most), _REASONS[trait](moves))


# -- the reasons ------------------------------------------------------------------------------


def _bellows(moves: _Moves) -> Parts:
    changes, times = moves.changes, moves.times
    off = times["change-off-beat"]
    if changes == 1:
        name = next(name for name in _CHANGES if name in times)
        said = [Fact("change-off-beat-to" if off else "change-to", {"note": moves.name(name)})]
    else:
        notes = Fact("notes", number=len(moves.notes))
        said = [Fact("changes", {"notes": notes}, number=changes)]
    if times["flip"] > max(off, 1) or (times["flip"] and not off):
        said.append(Fact("flips", {"times": HowOften(times["flip"])}))
    elif off and changes > 1:
        said.append(Fact("all-off-beat") if off == changes else Fact("some-off-beat", number=off))
    if times["change-on-repeated"]:
        said.append(Fact("again-other-way", {"note": moves.name("change-on-repeated")}))
    return Parts(tuple(said))


def _air(moves: _Moves) -> Fact:
    return Fact("one-direction", {"way": Fact(str(moves.notes[-1].direction))})


def _rows(moves: _Moves) -> Parts:
    crossed = moves.times["cross"]
    said = [Fact("row-changes", {"times": HowOften(crossed)})]
    both = moves.times["cross-and-change"]
    if both == crossed == 1:
        said.append(Fact("with-bellows"))
    elif both:
        said.append(Fact("times-with-bellows", {"times": HowOften(both)}))
    slides = moves.times["slide"]
    if slides:
        said.append(Fact("same-finger", {"times": HowOften(slides)}))
    return Parts(tuple(said))


def _hand(moves: _Moves) -> Parts:
    shifts = moves.times["shift"]
    said = []
    if shifts == 1:
        by = Fact("buttons", number=moves.shift)
        said.append(Fact("hand-moves-for", {"buttons": by, "note": moves.name("shift")}))
    elif shifts:
        said.append(Fact("hand-moves", {"times": HowOften(shifts)}))
    reached, first = moves.name("hop"), moves.name("first-button")
    if reached.name:
        key = "reaches-to-first" if reached == first else "reaches"
        said.append(Fact(key, {"note": reached}))
    if first.name and first != reached:
        said.append(Fact("on-first", {"note": first}))
    return Parts(tuple(said))


def _stretches(moves: _Moves) -> Fact:
    widest = max(
        (max(numbers) - min(numbers) + 1
         for note in moves.notes
         if (numbers := [press.button.number for press in note.presses])),
        default=1,
    )  # fmt: skip
    return Fact("apart", {"buttons": Fact("buttons", number=widest)})


_REASONS: Mapping[Trait, Callable[[_Moves], Fact | Parts]] = {
    Trait.BELLOWS: _bellows,
    Trait.AIR: _air,
    Trait.ROWS: _rows,
    Trait.HAND: _hand,
    Trait.STRETCHES: _stretches,
}
