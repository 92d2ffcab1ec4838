"""What makes a bar hard on a box: what its buttons ask of the bellows and the right hand.

It counts what movements cost by the profile of the fingering, for that is what its player
finds hard.  What the left hand lacks makes nothing harder, nor does a slur that is broken.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from backing.box.difficulty import POINTS, Difficulty, Trait
from backing.box.fingering import Fingered
from backing.box.price import Terms
from backing.music.key import Key
from backing.music.tonality import note_name
from backing.wording import counted, number_word, times_in_words

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

    def name(self, cost: str) -> str:
        """The note for which a cost first comes; "" where it never does."""
        return note_name(self.first[cost], self.key) if cost in self.first else ""


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
            yield Difficulty(trait, min(cost, most), _WORDS[trait](moves))


# -- in words ------------------------------------------------------------------------------


def _bellows(moves: _Moves) -> str:
    changes, times = moves.changes, moves.times
    off = times["change-off-beat"]
    if changes == 1:
        place = "off the beat " if off else ""
        name = next(name for name in _CHANGES if name in times)
        said = f"a change of the bellows {place}to {moves.name(name)}"
    else:
        said = f"{counted(changes, 'change')} of the bellows in {counted(len(moves.notes), 'note')}"
    if times["flip"] > max(off, 1) or (times["flip"] and not off):
        said += f", {times_in_words(times['flip'])} there and back for a single note"
    elif off and changes > 1:
        which = "all" if off == changes else number_word(off)
        said += f", {which} of them off the beat"
    if times["change-on-repeated"]:
        said += f", with {moves.name('change-on-repeated')} again in the other direction"
    return said


def _air(moves: _Moves) -> str:
    return f"the bellows go on and on in one direction, here on the {moves.notes[-1].direction}"


def _rows(moves: _Moves) -> str:
    crossed = moves.times["cross"]
    said = f"the row changes {times_in_words(crossed)}"
    both = moves.times["cross-and-change"]
    if both:
        once = "" if both == crossed == 1 else f"{times_in_words(both)} "
        said += f", {once}together with the bellows"
    slides = moves.times["slide"]
    if slides:
        said += f", {times_in_words(slides)} with the same finger"
    return said


def _hand(moves: _Moves) -> str:
    shifts = moves.times["shift"]
    said = []
    if shifts == 1:
        said.append(f"the hand moves by {counted(moves.shift, 'button')} for {moves.name('shift')}")
    elif shifts:
        said.append(f"the hand moves {times_in_words(shifts)}")
    reached, first = moves.name("hop"), moves.name("first-button")
    if reached:
        button = "to button 1 " if reached == first else ""
        said.append(f"a finger reaches past the hand {button}for {reached}")
    if first and first != reached:
        said.append(f"{first} lies on button 1")
    return ", ".join(said)


def _stretches(moves: _Moves) -> str:
    widest = max(
        (max(numbers) - min(numbers) + 1
         for note in moves.notes
         if (numbers := [press.button.number for press in note.presses])),
        default=1,
    )  # fmt: skip
    return f"notes together that lie {counted(widest, 'button')} apart"


_WORDS = {
    Trait.BELLOWS: _bellows,
    Trait.AIR: _air,
    Trait.ROWS: _rows,
    Trait.HAND: _hand,
    Trait.STRETCHES: _stretches,
}
