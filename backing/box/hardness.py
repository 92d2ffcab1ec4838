"""How hard each bar of a tune is, explained by its parts.

What the notes alone ask for (`hard_notes`), and on a box what the buttons ask for besides
(`hard_moves`), all in the points of one table (`difficulty`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from backing.box.difficulty import Difficulty, Trait
from backing.box.fingering import Fingering
from backing.box.hard_moves import moves_in
from backing.box.hard_notes import likenesses, notes_in
from backing.box.line import MelodyLine, Moment
from backing.music.played import MappedBar
from backing.music.saying import Fact, Parts

_CROTCHET = 0.25
#: Reasons of fewer points are hardly felt (a working value).
_FELT = 0.3


@dataclass(frozen=True, slots=True)
class BarHardness:
    """How hard a written bar is: its index and number, how long a full bar of its metre lasts
    in seconds, and what makes it hard."""

    index: int
    number: int
    pickup: bool
    seconds: float
    parts: tuple[Difficulty, ...]

    @property
    def points(self) -> float:
        """All its parts together."""
        return sum(part.points for part in self.parts)

    @property
    def rate(self) -> float:
        """Points a second."""
        return self.points / self.seconds

    def of(self, trait: Trait) -> float:
        """The points of a kind."""
        return sum(part.points for part in self.parts if part.trait is trait)


def hardness_of(line: MelodyLine) -> tuple[BarHardness, ...]:
    """How hard each bar of a melody is by its notes alone, on whatever instrument."""
    return _hardness(line, None)


def hardness_on(fingering: Fingering) -> tuple[BarHardness, ...]:
    """How hard each bar of a melody is on the box that it is fingered for."""
    return _hardness(fingering.line, fingering)


def _hardness(line: MelodyLine, fingering: Fingering | None) -> tuple[BarHardness, ...]:
    """Written bars in their order, each as it is played the first time, those left out that
    never are."""
    moments = line.moments
    spans = first_heard(line)
    heard = {index: moments[start:stop] for index, (_, start, stop) in spans.items()}
    usual = median(moment.gap for moment in moments)
    alike = likenesses([bar for bar, _, _ in spans.values()], heard)
    found = []
    speed = _speed(moments[0], line.bars)
    for index, (bar, start, stop) in spans.items():
        inside = heard[index]
        speed = _speed(inside[0], line.bars) if inside else speed
        before = moments[start - 1] if start else None
        changed = (
            [note.changed for note in fingering.notes[start:stop]]
            if fingering
            else [False] * len(inside)
        )
        parts = list(notes_in(bar, inside, before, usual, changed))
        if index in alike:
            parts.append(alike[index])
        if fingering:
            notes, priced = fingering.notes, fingering.priced
            last = notes[start - 1] if start else None
            parts += moves_in(notes[start:stop], priced[start:stop], last, bar.key)
        seconds = speed * float(max(bar.length, bar.metre.length or bar.length))
        found.append(BarHardness(index, bar.number, bar.pickup, seconds, tuple(parts)))
    return tuple(found)


def first_heard(line: MelodyLine) -> dict[int, tuple[MappedBar, int, int]]:
    """Each written bar as it is played the first time, and its moments [start, stop)."""
    found: dict[int, tuple[MappedBar, int, int]] = {}
    at = 0
    for place, bar in enumerate(line.bars):
        start = at
        while at < len(line.moments) and line.moments[at].bar == place:
            at += 1
        found.setdefault(bar.index, (bar, start, at))
    return dict(sorted(found.items()))


def _speed(moment: Moment, bars: Sequence[MappedBar]) -> float:
    """How many seconds a whole note lasts where a moment is."""
    beats = bars[moment.bar].metre.beats
    return moment.beat / (float(beats[0]) if beats else _CROTCHET)


def usual_points(bars: Iterable[BarHardness]) -> dict[Trait, float]:
    """The points of each kind that a bar of the tune has on the whole, pickups left out."""
    full = [bar for bar in bars if not bar.pickup]
    return {trait: sum(bar.of(trait) for bar in full) / max(len(full), 1) for trait in Trait}


def hard_reasons(
    bar: BarHardness, usual: dict[Trait, float], most: int = 2
) -> tuple[Fact | Parts, ...]:
    """What makes a bar harder than others of its tune, the weightiest first; what is
    hardly felt is told only where there is nothing else."""
    above = [(part.points - usual[part.trait], part) for part in bar.parts]
    above = [(more, part) for more, part in above if more > 0]
    above.sort(key=lambda pair: -round(pair[0], 6))
    felt = [part for _, part in above if part.points >= _FELT] or [part for _, part in above[:1]]
    return tuple(part.reason for part in felt[:most])
