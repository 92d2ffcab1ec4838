"""Why a chord was chosen: what speaks for the best ones at each slot, in named points."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from backing.harmony.slots import Slot
from backing.harmony.suggest import Harmony, Rated, Suggestion, linked
from backing.harmony.weights import note_points
from backing.music.chord import Chord

_BEST = 3
_GROUPS = {"on beats": "beats", "passing": "passing", "before": "around", "after": "around"}


class Reasons(NamedTuple):
    """What speaks for a chord at a slot, in points; their sum is what it is chosen by.

    `notes`: what sounds there and in its bar, the first and the last note; `beats`: what
    sounds on the beats; `passing`: notes come to and left by step; `around`: the last note
    before and the first after; `place`: in the section and in four bars; `chord_before` and
    `chord_after`: how it follows the one before and leads to the next; `at_hand`: the box.
    """

    notes: float
    beats: float
    passing: float
    around: float
    place: float
    chord_before: float
    chord_after: float
    at_hand: float = 0.0

    @property
    def points(self) -> float:
        """All of it."""
        return sum(self)


@dataclass(frozen=True, slots=True)
class Reasoned:
    """A chord that might stand at a slot, and why."""

    chord: Chord
    reasons: Reasons


@dataclass(frozen=True, slots=True, eq=False)
class Explained:
    """A slot, all chords that it could have between its neighbours, the chosen one first, then
    the best."""

    slot: Slot
    rated: tuple[Reasoned, ...]

    @property
    def best(self) -> tuple[Reasoned, ...]:
        """The chosen chord and the two best others."""
        return self.rated[:_BEST]

    @property
    def at_hand(self) -> Chord | None:
        """The chord that stood here if the box did not matter; None where it is the same."""
        first = self.rated[0].reasons
        plain = first.points - first.at_hand
        for other in self.rated[1:]:
            if other.reasons.points - other.reasons.at_hand > plain:
                return other.chord if first.at_hand > other.reasons.at_hand else None
        return None

    @property
    def decided(self) -> str:
        """Which of the reasons set the first chord above the second most; "" for no rival."""
        if len(self.best) < 2:
            return ""
        first, second = self.best[0].reasons, self.best[1].reasons
        ahead = [one - other for one, other in zip(first, second, strict=True)]
        return Reasons._fields[ahead.index(max(ahead))].replace("_", " ")


def explain(harmony: Harmony) -> list[Explained]:
    """For each slot its best chords, the chords beside it taken as chosen."""
    suggestions = harmony.suggestions
    slots = [suggestion.slot for suggestion in suggestions]
    following: list[list[int]] = [[] for _ in slots]
    for at, slot in enumerate(slots):
        if slot.before >= 0:
            following[slot.before].append(at)
    return [_explained(harmony, slots, at, following[at]) for at in range(len(suggestions))]


def _explained(
    harmony: Harmony, slots: Sequence[Slot], at: int, following: Sequence[int]
) -> Explained:
    suggestions = harmony.suggestions
    here = suggestions[at]
    reasoned = [
        Reasoned(option.chord, _reasons(harmony, slots, at, following, option))
        for option in here.rated
    ]
    # A new chord can't stand where no note begins, so the one chosen may not be the best.
    reasoned.sort(key=lambda item: (item.chord != here.chosen.chord, -item.reasons.points))
    return Explained(here.slot, tuple(reasoned))


def _reasons(
    harmony: Harmony, slots: Sequence[Slot], at: int, following: Sequence[int], option: Rated
) -> Reasons:
    suggestions: Sequence[Suggestion] = harmony.suggestions
    sums = dict.fromkeys(("notes", "beats", "passing", "around"), 0.0)
    for part, points in note_points(harmony.weights, slots[at], option.chord).items():
        sums[_GROUPS.get(part, "notes")] += points
    before = slots[at].before
    return Reasons(
        **sums,
        place=sum(option.place),
        chord_before=(
            linked(harmony.weights, slots, at, suggestions[before].chosen, option)
            if before >= 0
            else 0.0
        ),
        chord_after=sum(
            linked(harmony.weights, slots, later, option, suggestions[later].chosen)
            for later in following
        ),
        at_hand=option.at_hand,
    )
