"""What a movement costs, by the names of the table: each function gives (name, cost) pairs."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from backing.box.at_hand import Found, at_hand
from backing.box.costs import pace
from backing.box.grips import FINGERS, Grip
from backing.box.layout import Direction, Layout
from backing.box.line import BeatPlace, ChordWish, Moment
from backing.music.chord import Chord

Terms = list[tuple[str, float]]
CostTable = Mapping[str, float]
_CHANGES = {
    BeatPlace.OFF: "change-off-beat",
    BeatPlace.BEAT: "change-on-beat",
    BeatPlace.ONE: "change-on-beat",
}
_WEIGHTS = {
    BeatPlace.OFF: "missing-off-beat",
    BeatPlace.BEAT: "missing-on-beat",
    BeatPlace.ONE: "missing-on-one",
}
#: Past so much of the travel air costs, and more.
_HALF, _THREE_QUARTERS = 0.5, 0.75


class Setting(NamedTuple):
    """What a moment's place says for the movement towards it.

    `change` names the cost of a change of bellows there; `free` that the hand may move
    though it need not; `shift` is what multiplies its shift.
    """

    change: str
    slurred: bool
    pace: float
    free: bool
    shift: float
    home: int


def setting_of(moment: Moment, home: int, costs: CostTable) -> Setting:
    """The setting of a moment; `home` is its home row."""
    free = moment.phrase or moment.rested
    shift = 1.0
    if moment.rested:
        shift = costs["shift-at-rest"]
    elif moment.gap < costs["run-ms"]:
        shift = costs["shift-in-run"]
    change = "change-at-phrase" if free else _CHANGES[moment.place]
    return Setting(change, moment.slurred, pace(moment.gap), free, shift, home)


class PricedMoment(NamedTuple):
    """A moment's setting, and what its chords cost on the push and on the pull."""

    setting: Setting
    push: float
    pull: float

    def lacking(self, direction: Direction) -> float:
        """What the left hand lacks in a direction."""
        return self.push if direction is Direction.PUSH else self.pull


def grip_terms(grip: Grip, home: int, costs: CostTable) -> Terms:
    """What a grip costs by itself."""
    terms: Terms = []
    if grip.row != home:
        terms.append(("off-home-row", costs["off-home-row"]))
    if grip.first:
        terms.append(("first-button", costs["first-button"]))
    if len(grip.presses) > 1:
        name = "stop-of-three" if grip.spread < FINGERS else "stop-of-four"
        terms.append((name, costs[name]))
    return terms


def pair_terms(
    before: Grip, now: Grip, setting: Setting, costs: CostTable, *, changed_before: bool
) -> Terms:
    """What it costs to go from one grip to the next, the hand's way left aside.

    `changed_before` says that the bellows changed for the grip before.
    """
    terms: Terms = []
    quick = setting.pace
    changed = before.direction is not now.direction
    if changed:
        at_phrase = setting.change == "change-at-phrase"
        terms.append((setting.change, costs[setting.change] * (1.0 if at_phrase else quick)))
        if changed_before:
            terms.append(("flip", costs["flip"]))
        if before.pitch == now.pitch:
            terms.append(("change-on-repeated", costs["change-on-repeated"]))
        if setting.slurred:
            terms.append(("change-in-slur", costs["change-in-slur"]))
    if before.row != now.row:
        terms.append(("cross", costs["cross"]))
        if changed:
            terms.append(("cross-and-change", costs["cross-and-change"]))
        if before.pitch == now.pitch:
            terms.append(("cross-on-repeated", costs["cross-on-repeated"]))
        if before.number == now.number:
            terms.append(("slide", costs["slide"] * quick))
    return terms


def hand_terms(hand: int, now: Grip, place: int, setting: Setting, costs: CostTable) -> Terms:
    """What it costs the hand to go from one place to another for a grip."""
    terms: Terms = []
    if place != hand:
        buttons = costs["shift-a-button"] * abs(place - hand)
        terms.append(("shift", setting.shift * (costs["shift"] + buttons)))
    if place in now.reaches:
        terms.append(("hop", costs["hop"] * setting.pace))
    return terms


def places_for(hand: int, now: Grip, *, free: bool) -> tuple[int, ...]:
    """Where the hand may be for a grip: it stays where it reaches it; else, or where it has
    time, it moves to have it under the fingers."""
    if hand in now.hands:
        return now.hands if free else (hand,)
    return (*now.hands, hand) if hand in now.reaches else now.hands


# -- the left hand ------------------------------------------------------------------


class LeftHand:
    """What the chords that a tune wants cost in each direction of a box."""

    def __init__(self, layout: Layout, costs: CostTable) -> None:
        self._layout, self._costs = layout, costs
        self._known: dict[tuple[Chord, Direction], float] = {}

    def cost(self, wishes: Sequence[ChordWish], direction: Direction) -> float:
        """The cost of what is missing at a moment."""
        return sum([self._share(wish, direction) * self._weight(wish) for wish in wishes])

    def _share(self, wish: ChordWish, direction: Direction) -> float:
        key = (wish.chord, direction)
        share = self._known.get(key)
        if share is None:
            costs = self._costs
            shares = {
                Found.WHOLE: 0.0, Found.SUBSTITUTE: costs["substitute"],
                Found.BASS: costs["bass-alone"], Found.NOTHING: 1.0,
            }  # fmt: skip
            share = shares[at_hand(self._layout, wish.chord, direction).found]
            self._known[key] = share
        return share

    def _weight(self, wish: ChordWish) -> float:
        name = _WEIGHTS[wish.place]
        if wish.last or wish.first:
            name = "missing-at-end" if wish.last else "missing-at-start"
        return self._costs["chord-missing"] * self._costs[name]


# -- air ----------------------------------------------------------------------------


class Air:
    """What a run in one direction costs, by the air that it has used.

    Air is counted in shares of the travel from closed to open.
    """

    def __init__(self, costs: CostTable, *, left_hand: bool) -> None:
        self._travel = costs["travel-seconds"]
        self._left = costs["left-hand-air"] if left_hand else 0.0
        self._rates = (
            (_HALF, costs["air-to-three-quarters"]),
            (_THREE_QUARTERS, costs["air-beyond"] - costs["air-to-three-quarters"]),
            (1.0, costs["air-past-end"] - costs["air-beyond"]),
        )

    #: Air that costs nothing, and air past which every beat costs the same.
    free, most = _HALF, 1.0

    def used(self, moment: Moment, reeds: int) -> float:
        """The air that a moment uses."""
        return moment.seconds * (reeds + self._left) / self._travel

    def cost(self, before: float, used: float, beats: float) -> float:
        """What it costs to use more air after so much, while so many beats pass."""
        after = before + used
        if after <= _HALF or not used:
            return 0.0
        return sum(
            rate * beats * (after - max(before, start)) / used
            for start, rate in self._rates
            if after > start
        )
