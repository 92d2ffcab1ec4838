"""The cheapest way through a melody, found exactly.

Dynamic programming over moments.  A state is a grip, the place of the hand, and whether the
bellows changed for it; that is all that later costs depend on, but for air.  Air counts along
a run in one direction.  It is kept beside the state only where a run can grow long enough to
cost: there a state has several ways into it, none of which is both dearer and longer in its
run than another.
"""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from backing.box.grips import Grip, grips_of
from backing.box.layout import Direction, Layout
from backing.box.line import Moment
from backing.box.price import (
    Air,
    LeftHand,
    Setting,
    Stand,
    Table,
    Terms,
    grip_terms,
    hand_terms,
    pair_terms,
    places_for,
    setting_of,
)

_MOST_TABLES = 4000
#: For each state after a moment: (cost, state before) pairs.  Where the bellows do not change,
#: it is all one whether they did before: there state 2n stands for 2n + 1 too.
Ways = list[list[tuple[float, int]]]


class Way(NamedTuple):
    """What is taken at a moment: a grip, and the place of the hand."""

    grip: Grip
    hand: int


class Best(NamedTuple):
    """The cheapest way through a melody, and what it costs."""

    ways: list[Way | None]
    cost: float


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


class _Layer(NamedTuple):
    """The cheapest costs after a moment, and from which entry of the layer before.

    Entries are states, in order; where air counts, `states` says whose each entry is, and
    `air` how much its run has used.
    """

    costs: list[float]
    back: list[int]
    states: list[int] | None = None
    air: list[float] | None = None


class _Used(NamedTuple):
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


class Search:
    """Searches on one box with one table of costs; what it works out serves the next tunes."""

    def __init__(self, layout: Layout, costs: Table) -> None:
        self.layout, self.costs = layout, costs
        self.left_hand = LeftHand(layout, costs)
        self._options: dict[tuple[object, ...], Options] = {}
        self._tables: dict[tuple[object, ...], Ways] = {}

    def options(self, moment: Moment, only: Grip | None = None) -> Options:
        """The states that a moment can leave the player in; none where the box lacks it.

        `only` is the one grip that may be taken, where it is one of the moment's.
        """
        key = (moment.pitches, moment.held)
        found = self._options.get(key)
        if found is None:
            found = self._options[key] = Options(key, grips_of(self.layout, *key))
        if only is None or only not in found.grips:
            return found
        kept = (*key, found.grips.index(only))
        if kept not in self._options:
            self._options[kept] = Options(kept, (only,))
        return self._options[kept]

    def best(
        self,
        moments: Sequence[Moment],
        stands: Sequence[Stand],
        only: Sequence[Grip | None] | None = None,
    ) -> Best:
        """The cheapest way at every moment; None where the box lacks it.

        `only` are the grips that are settled.
        """
        settled = only or [None] * len(moments)
        options = [
            self.options(moment, grip) for moment, grip in zip(moments, settled, strict=True)
        ]
        played = [index for index, found in enumerate(options) if found.grips]
        if not played:
            return Best([None] * len(moments), 0.0)
        air = Air(self.costs, left_hand=any(moment.wishes for moment in moments))
        tracked = _long_runs(moments, options, air)
        layers: list[_Layer] = []
        before = -1
        for index in range(played[0], len(moments)):
            moment, found = moments[index], options[index]
            if found.grips:
                used = _Used(air, air.used(moment, found.reeds), moment, tracked[index])
                if before < 0:
                    layers.append(self._first(found, stands[index].setting.home, used))
                else:
                    layers.append(
                        self._next(layers[-1], options[before], found, stands[index].setting, used)
                    )
                before = index
            if stands[index].push or stands[index].pull:
                _add_chords(layers[-1], options[before], stands[index])
        return Best(_backwards(layers, played, options), min(layers[-1].costs))

    def stand(self, moment: Moment, home: int) -> Stand:
        """A moment's setting with its home row, and what its chords cost."""
        push, pull = (
            self.left_hand.cost(moment.wishes, way) for way in (Direction.PUSH, Direction.PULL)
        )
        return Stand(setting_of(moment, home, self.costs), push, pull)

    def _next(
        self, last: _Layer, before: Options, now: Options, setting: Setting, used: _Used
    ) -> _Layer:
        """The layer of a moment; where notes that are held on can't be, they are let go."""
        held = used.moment.held
        layer = _go_on(last, self._ways(before, now, held, setting), now, used)
        if held and min(layer.costs, default=inf) == inf:
            layer = _go_on(last, self._ways(before, now, (), setting), now, used)
        return layer

    def _first(self, found: Options, home: int, used: _Used) -> _Layer:
        """Wherever the hand starts."""
        layer = _Layer([], [], [], [])
        assert layer.states is not None
        assert layer.air is not None
        for place, way in enumerate(found.ways):
            if way.hand not in way.grip.hands:
                continue
            ahead = used.tracked.get(way.grip.direction)
            cost = sum(cost for _, cost in grip_terms(way.grip, home, self.costs))
            layer.costs.append(cost if ahead is None else cost + used.cost(0.0))
            layer.air.append(0.0 if ahead is None else used.after(0.0, ahead))
            layer.states.append(2 * place)
            layer.back.append(-1)
        return layer if used.tracked else _by_state(layer, len(found.direction))

    def _ways(self, before: Options, now: Options, held: tuple[int, ...], setting: Setting) -> Ways:
        key = (before.key, now.key, held, setting)
        ways = self._tables.get(key)
        if ways is None:
            if len(self._tables) >= _MOST_TABLES:
                self._tables.clear()
            ways = self._tables[key] = self._work_out(before, now, held, setting)
        return ways

    def _work_out(
        self, before: Options, now: Options, held: tuple[int, ...], setting: Setting
    ) -> Ways:
        """Every way from a state to a state, with what it costs."""
        ways: Ways = [[] for _ in now.direction]
        for index, grip in enumerate(now.grips):
            alone = sum([cost for _, cost in grip_terms(grip, setting.home, self.costs)])
            for other, last in enumerate(before.grips):
                if not held or _holds_on(last, grip, held):
                    self._pair(ways, (before, other), (now, index), setting, alone)
        return ways

    def _pair(
        self, ways: Ways, before: tuple[Options, int], now: tuple[Options, int],
        setting: Setting, alone: float,
    ) -> None:  # fmt: skip
        """The ways from one grip to another."""
        costs, (old, other), (new, index) = self.costs, before, now
        last, grip = old.grips[other], new.grips[index]
        changed = last.direction is not grip.direction
        steady, flipped = (
            alone
            + sum([cost for _, cost in pair_terms(last, grip, setting, costs, changed_before=flip)])
            for flip in (False, True)
        )
        for hand in (*last.hands, *last.reaches):
            start = 2 * old.place[other, hand]
            for place in places_for(hand, grip, free=setting.free):
                extra = sum([cost for _, cost in hand_terms(hand, grip, place, setting, costs)])
                target = ways[2 * new.place[index, place] + changed]
                target.append((steady + extra, start))
                if changed:
                    target.append((flipped + extra, start + 1))

    def price(
        self, moments: Sequence[Moment], stands: Sequence[Stand], ways: Sequence[Way | None]
    ) -> dict[str, float]:
        """What a way through a melody costs, by the names of the table."""
        air = Air(self.costs, left_hand=any(moment.wishes for moment in moments))
        total: dict[str, float] = {}
        before: Way | None = None
        changed, spent = False, 0.0
        for moment, stand, way in zip(moments, stands, ways, strict=True):
            terms: Terms = []
            if way is not None:
                terms += self._step_terms(before, way, stand.setting, changed_before=changed)
                changed = before is not None and before.grip.direction is not way.grip.direction
                used, spent = air.used(moment, len(way.grip.presses)), 0.0 if changed else spent
                terms.append(("air", air.cost(spent, used, moment.seconds / moment.beat)))
                spent, before = spent + used, way
            if before is not None:
                terms.append(("chord-missing", stand.lacking(before.grip.direction)))
            for name, cost in terms:
                if cost:
                    total[name] = total.get(name, 0.0) + cost
        return total

    def _step_terms(
        self, before: Way | None, way: Way, setting: Setting, *, changed_before: bool
    ) -> Terms:
        terms = grip_terms(way.grip, setting.home, self.costs)
        if before is not None:
            terms += pair_terms(
                before.grip, way.grip, setting, self.costs, changed_before=changed_before
            )
            terms += hand_terms(before.hand, way.grip, way.hand, setting, self.costs)
        return terms


def _holds_on(last: Grip, grip: Grip, held: tuple[int, ...]) -> bool:
    """True where the notes that go on keep their buttons, and the bellows their way."""
    pairs = [(last.button_of(pitch), grip.button_of(pitch)) for pitch in held]
    kept = [(one, other) for one, other in pairs if one is not None and other is not None]
    return all(one == other for one, other in kept) and (
        not kept or last.direction is grip.direction
    )


def _go_on(before: _Layer, ways: Ways, found: Options, used: _Used) -> _Layer:
    """The cheapest way into every state of a moment."""
    if before.states is not None or used.tracked:
        return _go_on_with_air(before, ways, found, used)
    after_change = before.costs
    either = list(after_change)
    for place in range(0, len(either), 2):
        either[place] = min(after_change[place], after_change[place + 1])
    costs: list[float] = []
    back: list[int] = []
    for state, row in enumerate(ways):
        old = after_change if state % 2 else either
        best, origin = inf, -1
        for step, place in row:
            cost = old[place] + step
            if cost < best:
                best, origin = cost, place
        if not state % 2 and origin >= 0 and after_change[origin + 1] < after_change[origin]:
            origin += 1
        costs.append(best)
        back.append(origin)
    return _Layer(costs, back)


def _go_on_with_air(before: _Layer, ways: Ways, found: Options, used: _Used) -> _Layer:
    """The same where air counts: of the ways into a state those stay that none betters in
    both cost and air."""
    entries = _entries(before)
    layer = _Layer([], [])
    states: list[int] = []
    airs: list[float] = []
    for state, row in enumerate(ways):
        ahead = used.tracked.get(found.direction[state])
        for cost, air, entry in _into(row, entries, used, ahead, changed=bool(state % 2)):
            layer.costs.append(cost)
            layer.back.append(entry)
            states.append(state)
            airs.append(air)
    layer = layer._replace(states=states, air=airs)
    return layer if used.tracked else _by_state(layer, len(ways))


#: A way into a state: its cost, the air that its run has used, the entry it goes on from.
_Into = tuple[float, float, int]


def _into(
    row: list[tuple[float, int]], entries: dict[int, list[_Into]], used: _Used,
    ahead: float | None, *, changed: bool,
) -> list[_Into]:  # fmt: skip
    """The ways into a state that are worth keeping; `ahead` is the air that a run in its
    direction may still use, None where air does not count."""
    if changed or ahead is None:
        cost, entry = min(
            (
                (step + old, entry)
                for step, origin in row
                for old, _, entry in _of(entries, origin, changed=changed)
            ),
            default=(inf, -1),
        )
        if cost == inf:
            return []
        if ahead is None:
            return [(cost, 0.0, entry)]
        return [(cost + used.cost(0.0), used.after(0.0, ahead), entry)]
    found = [
        (step + old + used.cost(spent), used.after(spent, ahead), entry)
        for step, origin in row
        for old, spent, entry in _of(entries, origin, changed=False)
    ]
    kept, least = [], inf
    for way in sorted(found):
        if way[1] < least and way[0] < inf:
            least = way[1]
            kept.append(way)
    return kept


def _entries(layer: _Layer) -> dict[int, list[_Into]]:
    """The entries of each state."""
    states = layer.states if layer.states is not None else range(len(layer.costs))
    air = layer.air if layer.air is not None else [0.0] * len(layer.costs)
    found: dict[int, list[_Into]] = {}
    for entry, (state, cost, spent) in enumerate(zip(states, layer.costs, air, strict=True)):
        if cost < inf:
            found.setdefault(state, []).append((cost, spent, entry))
    return found


def _of(entries: dict[int, list[_Into]], state: int, *, changed: bool) -> list[_Into]:
    """The entries of a state; where the bellows do not change, those of both of its kind."""
    found = entries.get(state, [])
    return found if changed else found + entries.get(state + 1, [])


def _add_chords(layer: _Layer, found: Options, stand: Stand) -> None:
    """Add what the left hand lacks at a moment in the direction that is then played."""
    states = layer.states if layer.states is not None else range(len(layer.costs))
    layer.costs[:] = [
        cost + (stand.pull if found.pulls[state] else stand.push)
        for cost, state in zip(layer.costs, states, strict=True)
    ]


def _by_state(layer: _Layer, count: int) -> _Layer:
    """A layer in which every state has one entry at most, as one entry for every state."""
    costs, back = [inf] * count, [-1] * count
    for cost, entry, state in zip(layer.costs, layer.back, layer.states or (), strict=True):
        costs[state], back[state] = cost, entry
    return _Layer(costs, back)


def _long_runs(
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


def _backwards(
    layers: list[_Layer], played: Sequence[int], options: Sequence[Options]
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
