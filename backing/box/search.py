"""The cheapest way through a melody, found exactly.

Dynamic programming over moments.  A state is a grip, the place of the hand, and whether the
bellows changed for it; that is all that later costs depend on, but for air.  Air counts along
a run in one direction; it is kept beside the state only where a run can grow long enough to
cost.
"""

from collections.abc import Iterator, Sequence
from math import inf
from typing import NamedTuple

from backing.box.grips import Grip, grips_of
from backing.box.layers import (
    Layer,
    Options,
    Row,
    RowWays,
    Used,
    Way,
    add_chords,
    backwards,
    by_state,
    go_on,
    long_runs,
)
from backing.box.layout import Direction, Layout
from backing.box.line import ChordWish, Moment
from backing.box.price import (
    Air,
    CostTable,
    LeftHand,
    PricedMoment,
    Setting,
    Terms,
    grip_terms,
    hand_terms,
    pair_terms,
    places_for,
    setting_of,
)

#: Tables that are kept for the next tunes, of about 4.5 kB: a thousand tunes are fingered in half
#: the time that 2,000 of them take.
_MOST_TABLES = 20_000


class Best(NamedTuple):
    """The cheapest way through a melody, and what it costs."""

    ways: list[Way | None]
    cost: float


class Search:
    """Searches on one box with one table of costs; what it works out serves the next tunes."""

    def __init__(self, layout: Layout, costs: CostTable) -> None:
        self.layout, self.costs = layout, costs
        self.left_hand = LeftHand(layout, costs)
        self._options: dict[tuple[object, ...], Options] = {}
        self._tables: dict[tuple[object, ...], RowWays] = {}
        self._lacking: dict[tuple[ChordWish, ...], tuple[float, float]] = {}
        self._hands: dict[tuple[int, bool, float, float], float] = {}

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
        stands: Sequence[PricedMoment],
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
        tracked = long_runs(moments, options, air)
        layers: list[Layer] = []
        before = -1
        for index in range(played[0], len(moments)):
            moment, found = moments[index], options[index]
            if found.grips:
                used = Used(air, air.used(moment, found.reeds), moment, tracked[index])
                if before < 0:
                    layers.append(self._first(found, stands[index].setting.home, used))
                else:
                    layers.append(
                        self._next(layers[-1], options[before], found, stands[index].setting, used)
                    )
                before = index
            if stands[index].push or stands[index].pull:
                add_chords(layers[-1], options[before], stands[index])
        return Best(backwards(layers, played, options), min(layers[-1].costs))

    def stand(self, moment: Moment, home: int) -> PricedMoment:
        """A moment's setting with its home row, and what its chords cost."""
        lacking = self._lacking.get(moment.wishes)
        if lacking is None:
            push, pull = (self.left_hand.cost(moment.wishes, way) for way in Direction)
            lacking = self._lacking[moment.wishes] = (push, pull)
        return PricedMoment(setting_of(moment, home, self.costs), *lacking)

    def _next(
        self, last: Layer, before: Options, now: Options, setting: Setting, used: Used
    ) -> Layer:
        """The layer of a moment; where notes that are held on can't be, they are let go."""
        held = used.moment.held
        layer = go_on(last, self._ways(before, now, held, setting), now, used)
        if held and min(layer.costs, default=inf) == inf:
            layer = go_on(last, self._ways(before, now, (), setting), now, used)
        return layer

    def _first(self, found: Options, home: int, used: Used) -> Layer:
        """Wherever the hand starts."""
        layer = Layer([], [], [], [])
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
        return layer if used.tracked else by_state(layer, len(found.direction))

    def _ways(
        self, before: Options, now: Options, held: tuple[int, ...], setting: Setting
    ) -> RowWays:
        key = (before.key, now.key, held, setting)
        ways = self._tables.get(key)
        if ways is None:
            if len(self._tables) >= _MOST_TABLES:
                self._tables.clear()
            ways = self._tables[key] = self._work_out(before, now, held, setting)
        return ways

    def _work_out(
        self, before: Options, now: Options, held: tuple[int, ...], setting: Setting
    ) -> RowWays:
        """Every way from a state to a state, with what it costs."""
        rows: dict[int, Row] = {}
        for index, grip in enumerate(now.grips):
            alone = sum([cost for _, cost in grip_terms(grip, setting.home, self.costs)])
            for other, last in enumerate(before.grips):
                if not held or _holds_on(last, grip, held):
                    self._pair(rows, (before, other), (now, index), setting, alone)
        return sorted(rows.items())

    def _pair(
        self, rows: dict[int, Row], before: tuple[Options, int], now: tuple[Options, int],
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
                extra = self._hand(hand, grip, place, setting)
                target = rows.setdefault(2 * new.place[index, place] + changed, [])
                target.append((steady + extra, start))
                if changed:
                    target.append((flipped + extra, start + 1))

    def _hand(self, hand: int, grip: Grip, place: int, setting: Setting) -> float:
        """What the hand's way costs."""
        key = (abs(place - hand), place in grip.reaches, setting.shift, setting.pace)
        cost = self._hands.get(key)
        if cost is None:
            terms = hand_terms(hand, grip, place, setting, self.costs)
            cost = self._hands[key] = sum(cost for _, cost in terms)
        return cost

    def priced(
        self, moments: Sequence[Moment], stands: Sequence[PricedMoment], ways: Sequence[Way | None]
    ) -> Iterator[Terms]:
        """What a way through a melody costs, moment by moment, by the names of the table."""
        air = Air(self.costs, left_hand=any(moment.wishes for moment in moments))
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
            yield terms

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
