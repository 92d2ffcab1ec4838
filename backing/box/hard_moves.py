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
from backing.wording import counted, how_often, number_word

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


class _Moves(NamedTuple):
    """What is moved in a bar: how often each named cost comes, and for which note it first does;
    how far the hand goes."""

    times: Counter[str]
    notes: dict[str, str]
    notes_struck: int
    hand: int

    def changes(self) -> int:
        """How often the bellows change."""
        return sum(n for name, n in self.times.items() if name in _CHANGES)


_CHANGES = ("change-off-beat", "change-on-beat", "change-at-phrase")


def moves_in(
    notes: Sequence[Fingered], priced: Sequence[Terms], before: Fingered | None, key: Key
) -> Iterator[Difficulty]:
    """What makes a bar hard by its buttons; `before` is the moment before it."""
    points: dict[Trait, float] = {}
    times: Counter[str] = Counter()
    first: dict[str, str] = {}
    hand = 0
    for note, terms in zip(notes, priced, strict=True):
        for name, cost in terms:
            trait = _TRAIT_OF.get(name)
            if trait is None:
                continue
            points[trait] = points.get(trait, 0.0) + max(cost, 0.0)
            times[name] += 1
            if name not in first:
                first[name] = note_name(note.moment.pitches[-1], key)
        if before is not None and note.hand != before.hand:
            hand = hand or abs(note.hand - before.hand)
        before = note
    moves = _Moves(times, first, len(notes), hand)
    for trait, cost in points.items():
        if cost > 0:
            most = POINTS["most-air"] if trait is Trait.AIR else cost
            yield Difficulty(trait, min(cost, most), _WORDS[trait](moves, notes))


# -- in words ------------------------------------------------------------------------------


def _bellows(moves: _Moves, notes: Sequence[Fingered]) -> str:
    changes, times = moves.changes(), moves.times
    off = times["change-off-beat"]
    if changes == 1:
        place = "off the beat " if off else ""
        name = next(name for name in _CHANGES if name in times)
        said = f"a change of the bellows {place}to {moves.notes[name]}"
    else:
        said = f"{counted(changes, 'change')} of the bellows in {counted(len(notes), 'note')}"
    if times["flip"] > max(off, 1) or (times["flip"] and not off):
        said += f", {how_often(times['flip'])} there and back for a single note"
    elif off and changes > 1:
        which = "all" if off == changes else number_word(off)
        said += f", {which} of them off the beat"
    if times["change-on-repeated"]:
        said += f", with {moves.notes['change-on-repeated']} again in the other direction"
    return said


def _air(moves: _Moves, notes: Sequence[Fingered]) -> str:
    return f"the bellows go on and on in one direction, here on the {notes[-1].direction}"


def _rows(moves: _Moves, notes: Sequence[Fingered]) -> str:
    crossed = moves.times["cross"]
    said = f"the row changes {how_often(crossed)}"
    both = moves.times["cross-and-change"]
    if both:
        once = "" if both == crossed == 1 else f"{how_often(both)} "
        said += f", {once}together with the bellows"
    slides = moves.times["slide"]
    if slides:
        said += f", {how_often(slides)} with the same finger"
    return said


def _hand(moves: _Moves, notes: Sequence[Fingered]) -> str:
    shifts, hops = moves.times["shift"], moves.times["hop"]
    said = []
    if shifts == 1:
        said.append(f"the hand moves by {counted(moves.hand, 'button')} for {moves.notes['shift']}")
    elif shifts:
        said.append(f"the hand moves {how_often(shifts)}")
    if hops:
        said.append(f"a finger reaches past the hand for {moves.notes['hop']}")
    if moves.times["first-button"]:
        said.append(f"button 1, at the end of the row, for {moves.notes['first-button']}")
    return ", ".join(said)


def _stretches(moves: _Moves, notes: Sequence[Fingered]) -> str:
    widest = max(
        (max(numbers) - min(numbers) + 1
         for note in notes
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
