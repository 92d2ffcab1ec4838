"""On which button and in which direction each note of a melody is played.

`finger` finds the cheapest fingering of all, by the named costs of a profile, exactly.  One
wish is not in it: that the bellows come back to where a part began (`drift`); the bellows
curve is worked out afterwards.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import NamedTuple

from backing.box.costs import Costs, profile
from backing.box.grips import FINGERS, tonic_of
from backing.box.layers import Way
from backing.box.layout import Direction, Layout, Press
from backing.box.line import MelodyLine, Moment
from backing.box.price import Terms
from backing.box.search import Search
from backing.box.settle import settled
from backing.errors import TuneError
from backing.music.key import Key

#: Notes as they are played, struck together counted once, that a fingering is found for: the
#: slowest music takes 0.6 ms for each.
MOST_MOMENTS = 10_000


class Fingered(NamedTuple):
    """A moment and how it is played: the buttons struck, the direction, the finger (1 the
    first) of the highest of them; `hand` is the lowest of the four buttons under the hand.

    `changed`: the bellows change for it; `crossed`: the row changes.  Where the box lacks
    its notes there is no press, and the direction is that of the note before.
    """

    moment: Moment
    presses: tuple[Press, ...]
    direction: Direction
    row: int
    hand: int
    finger: int
    changed: bool
    crossed: bool

    @property
    def missing(self) -> tuple[int, ...]:
        """The notes that are struck and not played, as MIDI keys."""
        played = {press.midi for press in self.presses}
        return tuple(pitch for pitch in self.moment.pitches if pitch not in played)


class DirectionSpan(NamedTuple):
    """A stretch [start, stop) in which the bellows must go one way."""

    start: Fraction
    stop: Fraction
    direction: Direction


@dataclass(frozen=True)
class Fingering:
    """A melody on a box, moment by moment, and what it costs: by the names of the table, and
    moment by moment (`priced`)."""

    layout: Layout
    line: MelodyLine
    costs: Costs
    homes: tuple[int, ...]
    notes: tuple[Fingered, ...]
    terms: dict[str, float]
    priced: tuple[Terms, ...]

    @property
    def cost(self) -> float:
        """The sum of all costs."""
        return sum(self.terms.values())

    def count(self, direction: Direction) -> int:
        """How many moments are played in a direction."""
        return sum(bool(note.presses) and note.direction is direction for note in self.notes)

    @property
    def reversals(self) -> int:
        """How often the bellows change."""
        return sum(note.changed for note in self.notes)

    @property
    def crossings(self) -> int:
        """How often the row changes."""
        return sum(note.crossed for note in self.notes)

    @cached_property
    def spans(self) -> tuple[DirectionSpan, ...]:
        """The stretches in which the melody holds the bellows one way.

        From each note's onset to its end; neighbours that go on without a rest in the same
        direction are one.  Between the stretches, in rests, the bellows are free.
        """
        found: list[DirectionSpan] = []
        for note in self.notes:
            start, stop = note.moment.onset, note.moment.stop
            if found and found[-1].stop >= start:
                last = found[-1]
                if last.direction is note.direction:
                    found[-1] = last._replace(stop=max(last.stop, stop))
                    continue
                found[-1] = last._replace(stop=start)
            found.append(DirectionSpan(start, stop, note.direction))
        return tuple(found)

    def direction_at(self, position: Fraction) -> Direction | None:
        """The direction at a position; None where the bellows are free."""
        index = bisect_right(self._starts, position) - 1
        if index < 0 or position >= self.spans[index].stop:
            return None
        return self.spans[index].direction

    @cached_property
    def _starts(self) -> list[Fraction]:
        return [span.start for span in self.spans]


@lru_cache(maxsize=32)
def _search(layout: Layout, costs: Costs) -> Search:
    return Search(layout, costs.table())


def finger(line: MelodyLine, layout: Layout, costs: Costs | None = None) -> Fingering:
    """The cheapest fingering of a melody on a box.

    The best of all where no bar is played twice; bars that are get the same buttons each
    time.  Of fingerings that cost the same always the same is found.  Notes that the box
    lacks keep the direction before them.  Raises TuneError past 10,000 notes as they are played.
    """
    if len(line.moments) > MOST_MOMENTS:
        raise TuneError(
            f"as it is played the tune has more than {MOST_MOMENTS:,} notes, too many to put on "
            "buttons",
            "split the tune in two, or check the repeat signs",
        )
    costs = costs or profile()
    search = _search(layout, costs)
    rows = home_rows(line, layout)
    homes = [rows[line.bars[moment.bar].section] for moment in line.moments]
    stands = [search.stand(m, home) for m, home in zip(line.moments, homes, strict=True)]
    ways = settled(search, line, stands, search.best(line.moments, stands).ways)
    priced = tuple(search.priced(line.moments, stands, ways))
    notes = _fingered(line.moments, ways)
    return Fingering(layout, line, costs, tuple(homes), notes, _by_name(priced), priced)


def _by_name(priced: Sequence[Terms]) -> dict[str, float]:
    """What all costs together, name by name."""
    total: dict[str, float] = {}
    for name, cost in (term for terms in priced for term in terms):
        if cost:
            total[name] = total.get(name, 0.0) + cost
    return total


def home_rows(line: MelodyLine, layout: Layout) -> dict[str, int]:
    """The home row of each section: the row that has the most of it; of two that have as
    much the one in the tune's key."""
    heard: dict[str, dict[int, float]] = {}
    for moment in line.moments:
        weights = heard.setdefault(line.bars[moment.bar].section, {})
        for pitch in moment.pitches:
            weights[pitch] = weights.get(pitch, 0.0) + moment.seconds
    keys = [tonic_of(row) for row in layout.rows]
    return {
        section: max(
            range(len(layout.rows)),
            key=lambda row: (
                round(_share(weights, layout, row), 3), keys[row] == signature_tonic(line.key), -row
            ),
        )
        for section, weights in heard.items()
    }  # fmt: skip


def _share(weights: dict[int, float], layout: Layout, row: int) -> float:
    """The share of the time in which notes of a row sound, its accidental buttons left out:
    they stand in a row and are no part of its scale."""
    scale = [button for button in layout.rows[row] if not button.accidental]
    keys = {key for button in scale for key in (button.push, button.pull)}
    return sum(time for pitch, time in weights.items() if pitch in keys) / sum(weights.values())


def signature_tonic(key: Key) -> int:
    """Pitch class of the key note of the major key with the same signature."""
    return key.fifths * 7 % 12


def _fingered(moments: Sequence[Moment], ways: Sequence[Way | None]) -> tuple[Fingered, ...]:
    """How each moment is played."""
    found = []
    first = next((way for way in ways if way is not None), None)
    direction = first.grip.direction if first else Direction.PUSH
    row, hand = (first.grip.row, first.hand) if first else (0, 1)
    for moment, way in zip(moments, ways, strict=True):
        if way is None:
            found.append(Fingered(moment, (), direction, row, hand, 0, False, False))
            continue
        grip, before = way.grip, (direction, row)
        direction, row, hand = grip.direction, grip.row, way.hand
        finger = min(max(grip.number - hand + 1, 1), FINGERS)
        struck = tuple(press for press in grip.presses if press.midi in moment.pitches)
        found.append(
            Fingered(
                moment, struck, direction, row, hand, finger,
                direction is not before[0], row != before[1],
            )
        )  # fmt: skip
    return tuple(found)
