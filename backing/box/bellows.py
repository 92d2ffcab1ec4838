"""How far the bellows are out through a tune, when air runs out, and where to take some.

Every sounding reed lets air through; push closes the bellows by it, pull opens them.  How
much is a setting of the costs (`travel-seconds`, `left-hand-air`): no source, a working
choice, since every box and every player's touch differs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from backing.box.fingering import Fingered, Fingering
from backing.box.layout import Direction

#: A player starts with the bellows so far out, of these the best; no source.
_STARTS = (0.25, 0.0, 0.5, 0.75, 1.0)
#: Where the bellows are after air was taken; no source.
_MIDDLE = 0.5
#: A note this many beats long is long enough for the air button; no source.
_LONG = Fraction(3, 2)
#: Drifts smaller than this are not worth a word; no source.
SMALL = 0.1
#: The slow speeds that are looked at, in per cent.
SLOW = (75, 50)


class Point(NamedTuple):
    """How far out the bellows are at a position: 0 closed, 1 as far as they go."""

    position: Fraction
    out: float


class Limit(NamedTuple):
    """A place where the bellows can go no further: closed on the push, or full."""

    position: Fraction
    bar: int
    closed: bool


class Drift(NamedTuple):
    """How much further out the bellows end than a part began, in shares of the travel
    (negative: further in) and in felt beats of playing."""

    section: str
    part: int
    share: float
    beats: float


class Spot(NamedTuple):
    """A place where the air button can be used: why there ("rest", "long note", "end of
    phrase", "run"), and for how many seconds.  `bar` is as numbered in print, `written` is the
    index of the written bar, `note` that of the note in it; a rest comes after its note."""

    bar: int
    written: int
    note: int
    part: int
    why: str
    pitch: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Bellows:
    """The bellows through a tune: the curve from `start` on, its limits, what each part
    drifts, what that costs, and where air can be taken."""

    start: float
    points: tuple[Point, ...]
    limits: tuple[Limit, ...]
    drifts: tuple[Drift, ...]
    cost: float
    spots: tuple[Spot, ...]

    @property
    def lowest(self) -> float:
        """The furthest in."""
        return min(point.out for point in self.points)

    @property
    def highest(self) -> float:
        """The furthest out."""
        return max(point.out for point in self.points)

    @property
    def drift(self) -> float:
        """The sum of all drifts."""
        return sum(drift.share for drift in self.drifts)

    @property
    def steady(self) -> bool:
        """True where nothing runs out and the bellows come back to where they were."""
        return not self.limits and abs(self.drift) <= SMALL


def bellows(fingering: Fingering, *, percent: float = 100.0) -> Bellows:
    """The bellows through a fingered melody, at so many per cent of its tempo.

    Where the tune has chords, a bass and a chord by turns are reckoned with.
    """
    steps = _steps(fingering, 100 / percent)
    start = min(_STARTS, key=lambda out: _times_out(steps, out))
    points, limits = _walk(fingering, steps, start)
    drifts = _drifts(fingering, steps, percent)
    cost = sum(abs(drift.share) / 0.25 * fingering.costs["drift"] for drift in drifts)
    outwards = sum(drift.share for drift in drifts) > 0
    spots = _spots(fingering, 100 / percent, outwards=outwards)
    return Bellows(start, tuple(points), tuple(limits), drifts, cost, tuple(spots))


def _steps(fingering: Fingering, slower: float) -> list[float]:
    """The share of the travel that each moment moves the bellows by, out positive."""
    hand = fingering.costs["left-hand-air"] if fingering.line.has_chords else 0.0
    travel = fingering.costs["travel-seconds"] / slower
    steps = []
    for note in fingering.notes:
        air = note.moment.seconds * (len(note.presses) + hand * bool(note.presses))
        steps.append(air / travel if note.direction is Direction.PULL else -air / travel)
    return steps


def _walk(
    fingering: Fingering, steps: Sequence[float], start: float
) -> tuple[list[Point], list[Limit]]:
    """The curve, and where it meets its ends; there the player takes air to the middle."""
    line, out = fingering.line, start
    points, limits = [Point(fingering.notes[0].moment.onset, start)], []
    for note, step in zip(fingering.notes, steps, strict=True):
        after = out + step
        if not 0 <= after <= 1:
            number = line.bars[note.moment.bar].number
            limits.append(Limit(note.moment.onset, number, closed=after < 0))
            points.append(Point(note.moment.onset, _MIDDLE))
            after = min(1.0, max(0.0, _MIDDLE + step))
        out = after
        points.append(Point(note.moment.stop, out))
    return points, limits


def _times_out(steps: Sequence[float], out: float) -> int:
    """How often the bellows meet an end from a start."""
    count = 0
    for step in steps:
        if not 0 <= out + step <= 1:
            count, out = count + 1, _MIDDLE
        out = min(1.0, max(0.0, out + step))
    return count


def _drifts(fingering: Fingering, steps: Sequence[float], percent: float) -> tuple[Drift, ...]:
    line = fingering.line
    shares: dict[int, float] = {}
    beats: dict[int, float] = {}
    costs = fingering.costs.table()
    travel = costs["travel-seconds"] / (1 + (costs["left-hand-air"] if line.has_chords else 0.0))
    for note, step in zip(fingering.notes, steps, strict=True):
        part = line.bars[note.moment.bar].part
        beat = note.moment.beat * 100 / percent
        shares[part] = shares.get(part, 0.0) + step
        beats[part] = beats.get(part, 0.0) + step * travel / beat
    names = {bar.part: bar.section for bar in line.bars}
    return tuple(Drift(names[part], part, shares[part], beats[part]) for part in shares)


def _spots(fingering: Fingering, slower: float, *, outwards: bool) -> list[Spot]:
    """Where the air button can be used, the roomiest first: in rests, and on long notes and
    ends of phrases that go the way in which the bellows must move; then in runs that do."""
    wanted = Direction.PUSH if outwards else Direction.PULL
    notes, found = fingering.notes, []
    for note, after in zip(notes, (*notes[1:], None), strict=True):
        moment = note.moment
        bar = fingering.line.bars[moment.bar]
        pitch = moment.pitches[-1]
        seconds = moment.seconds * slower
        if after is not None and after.moment.rested:
            room = seconds * float((after.moment.onset - moment.stop) / moment.length)
            found.append(Spot(bar.number, bar.index, moment.note, bar.part, "rest", pitch, room))
        elif note.direction is wanted and note.presses and _roomy(note, after):
            ends = after is None or after.moment.phrase
            why = "end of phrase" if ends else "long note"
            found.append(Spot(bar.number, bar.index, moment.note, bar.part, why, pitch, seconds))
    return [*sorted(found, key=_by_room), *_runs(fingering, slower, wanted)]


def _by_room(spot: Spot) -> tuple[float, int, int]:
    return -round(spot.seconds, 3), spot.part, spot.bar


def _runs(fingering: Fingering, slower: float, wanted: Direction) -> list[Spot]:
    """Stretches of notes in a direction, of a beat and a half or more, the longest first."""
    found: list[Spot] = []
    for direction, run in groupby(fingering.notes, key=lambda note: note.direction):
        notes = list(run)
        bar = fingering.line.bars[notes[0].moment.bar]
        seconds = sum(note.moment.seconds for note in notes)
        if direction is wanted and seconds >= float(_LONG) * notes[0].moment.beat:
            pitch = notes[0].moment.pitches[-1]
            at = bar.number, bar.index, notes[0].moment.note, bar.part
            found.append(Spot(*at, "run", pitch, seconds * slower))
    return sorted(found, key=_by_room)


def _roomy(note: Fingered, after: Fingered | None) -> bool:
    """True for a note of a beat and a half, or of a beat at the end of a phrase."""
    beats = note.moment.seconds / note.moment.beat
    ends = after is None or after.moment.phrase
    return beats >= (0.99 if ends else float(_LONG))
