"""Layer after layer: the cheapest way into every state of a moment, from those before it.

Where air counts, a state has several ways into it: none that stays is both dearer and longer
in its run than another.
"""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from backing.box.grips import Grip
from backing.box.layout import Direction
from backing.box.line import Moment
from backing.box.price import Air, PricedMoment

#: For each state that can be reached, (cost, state before) pairs.  Where the bellows do not change,
#: it is all one whether they did before: there state 2n stands for 2n + 1 too.
Row = list[tuple[float, int]]
RowWays = list[tuple[int, Row]]


class Way(NamedTuple):
    """What is taken at a moment: a grip, and the place of the hand."""

    grip: Grip
    hand: int


class Options:
    """The states that a moment can leave the player in: state 2n is way n without a change of
    bellows, 2n + 1 the same with one.  `key` names them among all options of a search."""

    def __init__(self, key: tuple[object, ...], grips: tuple[Grip, ...]) -> None:
        self.key = key
        self.grips = grips
        self.ways = [Way(grip, hand) for grip in grips for hand in (*grip.hands, *grip.reaches)]
        self.place = {
            (index, hand): place
            for place, (index, hand) in enumerate(
                (index, hand)
                for index, grip in enumerate(grips)
                for hand in (*grip.hands, *grip.reaches)
            )
        }
        self.directions = {grip.direction for grip in grips}
        self.direction = [way.grip.direction for way in self.ways for _ in (0, 1)]
        self.pulls = [way is Direction.PULL for way in self.direction]
        self.reeds = len(grips[0].presses) if grips else 0


class Layer(NamedTuple):
    """The cheapest costs after a moment, and from which entry of the layer before.

    Entries are states, in order; where air counts, `states` says whose each entry is, and
    `air` how much its run has used.
    """

    costs: list[float]
    back: list[int]
    states: list[int] | None = None
    air: list[float] | None = None


class Used(NamedTuple):
    """The air that a moment uses, and the directions in which air counts there, with what a
    run may still use after it."""

    air: Air
    share: float
    moment: Moment
    tracked: dict[Direction, float]

    def cost(self, spent: float) -> float:
        """What the moment's air costs after so much."""
        if spent + self.share <= self.air.free:
            return 0.0
        return self.air.cost(spent, self.share, self.moment.seconds / self.moment.beat)

    def after(self, spent: float, ahead: float) -> float:
        """The air that is used after the moment; amounts that will never cost are one."""
        return min(max(spent + self.share, self.air.free - ahead), self.air.most)


def go_on(before: Layer, ways: RowWays, found: Options, used: Used) -> Layer:
    """The cheapest way into every state of a moment."""
    if before.states is not None or used.tracked:
        return _go_on_with_air(before, ways, found, used)
    after_change = before.costs
    either = list(after_change)
    for place in range(0, len(either), 2):
        either[place] = min(after_change[place], after_change[place + 1])
    costs = [inf] * len(found.direction)
    back = [-1] * len(found.direction)
    for state, row in ways:
        old = after_change if state % 2 else either
        best, origin = inf, -1
        for step, place in row:
            cost = old[place] + step
            if cost < best:
                best, origin = cost, place
        if not state % 2 and origin >= 0 and after_change[origin + 1] < after_change[origin]:
            origin += 1
        costs[state] = best
        back[state] = origin
    return Layer(costs, back)


def _go_on_with_air(before: Layer, ways: RowWays, found: Options, used: Used) -> Layer:
    """The same where air counts: of the ways into a state those stay that none betters in
    both cost and air."""
    changing = _entries(before)
    steady = _with_both_kinds(changing)
    counted: dict[int, list[_Counted]] = {}
    layer = Layer([], [], [], [])
    for state, row in ways:
        ahead = used.tracked.get(found.direction[state])
        if ahead is None:
            kept: Sequence[_Into] = _cheapest(row, changing if state % 2 else steady, 0.0, 0.0)
        elif state % 2:
            kept = _cheapest(row, changing, used.cost(0.0), used.after(0.0, ahead))
        else:
            for _, origin in row:
                if origin not in counted:  # the way it comes from goes in the same direction
                    counted[origin] = _counted(steady.get(origin, ()), used, ahead)
            kept = _unbettered(row, counted)
        _add(layer, state, kept)
    return layer if used.tracked else by_state(layer, len(found.direction))


#: A way into a state: its cost, the air that its run has used, the entry it goes on from.
_Into = tuple[float, float, int]
#: An entry in a run that goes on: its cost, what the moment's air costs it, the air that is
#: used then, and its number.
_Counted = tuple[float, float, float, int]


def _add(layer: Layer, state: int, kept: Sequence[_Into]) -> None:
    """Put the ways into a state at the end of a layer."""
    assert layer.states is not None
    assert layer.air is not None
    for cost, air, entry in kept:
        layer.costs.append(cost)
        layer.back.append(entry)
        layer.states.append(state)
        layer.air.append(air)


def _cheapest(
    row: Row, entries: dict[int, list[_Into]], extra: float, air: float
) -> tuple[_Into, ...]:
    """The one way into a state where what was used before counts no more: with what its air
    costs, and what it has used."""
    best, at = inf, -1
    for step, origin in row:
        for old, _, entry in entries.get(origin, ()):
            cost = step + old
            if cost < best or (cost == best and entry < at):
                best, at = cost, entry
    return ((best + extra, air, at),) if best < inf else ()


def _counted(entries: Sequence[_Into], used: Used, ahead: float) -> list[_Counted]:
    """Entries whose run goes on, with the air of a moment; `ahead` is what may still be used
    after it."""
    return [
        (old, used.cost(spent), used.after(spent, ahead), entry) for old, spent, entry in entries
    ]


def _unbettered(row: Row, counted: dict[int, list[_Counted]]) -> list[_Into]:
    """The ways into a state in a run that goes on, those that another betters left out."""
    found = [
        (step + old + extra, air, entry)
        for step, origin in row
        for old, extra, air, entry in counted[origin]
    ]
    found.sort()
    kept, least = [], inf
    for way in found:
        if way[1] < least and way[0] < inf:
            least = way[1]
            kept.append(way)
    return kept


def _entries(layer: Layer) -> dict[int, list[_Into]]:
    """The entries of each state."""
    states = layer.states if layer.states is not None else range(len(layer.costs))
    air = layer.air if layer.air is not None else [0.0] * len(layer.costs)
    found: dict[int, list[_Into]] = {}
    for entry, (state, cost, spent) in enumerate(zip(states, layer.costs, air, strict=True)):
        if cost < inf:
            found.setdefault(state, []).append((cost, spent, entry))
    return found


def _with_both_kinds(entries: dict[int, list[_Into]]) -> dict[int, list[_Into]]:
    """The entries of each way, with a change of bellows for it or without: where they do not
    change next it is all one."""
    found: dict[int, list[_Into]] = {}
    for state in sorted(entries):
        found.setdefault(state - state % 2, []).extend(entries[state])
    return found


def add_chords(layer: Layer, found: Options, stand: PricedMoment) -> None:
    """Add what the left hand lacks at a moment in the direction that is then played."""
    states = layer.states if layer.states is not None else range(len(layer.costs))
    layer.costs[:] = [
        cost + (stand.pull if found.pulls[state] else stand.push)
        for cost, state in zip(layer.costs, states, strict=True)
    ]


def by_state(layer: Layer, count: int) -> Layer:
    """A layer in which every state has one entry at most, as one entry for every state."""
    costs, back = [inf] * count, [-1] * count
    for cost, entry, state in zip(layer.costs, layer.back, layer.states or (), strict=True):
        costs[state], back[state] = cost, entry
    return Layer(costs, back)


def long_runs(
    moments: Sequence[Moment], options: Sequence[Options], air: Air
) -> list[dict[Direction, float]]:
    """The directions in which air counts, moment by moment: those that can be kept up for
    longer than air costs nothing; with the air that such a run may use after the moment."""
    found: list[dict[Direction, float]] = [{} for _ in moments]
    used = [
        air.used(moment, have.reeds) if have.grips else 0.0
        for moment, have in zip(moments, options, strict=True)
    ]
    for direction in Direction:
        start, spent = 0, 0.0
        for index in range(len(moments) + 1):
            if index < len(moments) and (
                not options[index].grips or direction in options[index].directions
            ):
                spent += used[index]
                continue
            if spent > air.free:
                for inside in range(start, index):
                    spent -= used[inside]
                    found[inside][direction] = spent
            start, spent = index + 1, 0.0
    return found


def backwards(
    layers: list[Layer], played: Sequence[int], options: Sequence[Options]
) -> list[Way | None]:
    """The cheapest way, read from its end; of equal ones always the same."""
    ways: list[Way | None] = [None] * len(options)
    costs = layers[-1].costs
    entry = min(range(len(costs)), key=costs.__getitem__)
    for layer, index in zip(reversed(layers), reversed(played), strict=True):
        state = entry if layer.states is None else layer.states[entry]
        ways[index] = options[index].ways[state // 2]
        entry = layer.back[entry]
    return ways
