"""How hard a whole tune is on a box, as a grade: from the hardness of its bars."""

from collections.abc import Sequence
from typing import NamedTuple

from backing.box.difficulty import Trait
from backing.box.hardness import BarHardness, hard_reasons, usual_points
from backing.music.saying import said_in
from backing.music.tempo import Tempo
from backing.wording import listed

#: A grade's name, and below how many points it ends (working values: read against the tunes of
#: a collection, no source).
_GRADES = (
    ("easy", 1.5),
    ("fairly easy", 2.5),
    ("middling", 4.0),
    ("hard", 6.0),
)
_HARDEST = "very hard"
#: The grades' names, from the easiest.
GRADES = (*(name for name, _ in _GRADES), _HARDEST)
#: A tune is as hard as its bars on the whole and as its hardest bars: so much of its bars count
#: as the hardest, and they weigh as much as all.
_SHARE = 0.25
#: Kinds of difficulty that are told: no more than this many, each of so much of the points.
_MOST_TOLD, _TOLD = 3, 0.15


class Grade(NamedTuple):
    """How hard a tune is: the grade's name and its points; the bars that it is made of, and of
    these the hardest, the first of them first."""

    name: str
    points: float
    bars: tuple[BarHardness, ...]
    hardest: tuple[BarHardness, ...]

    @property
    def level(self) -> int:
        """The grade as a number: 1 for the easiest, one more for each that is harder."""
        return GRADES.index(self.name) + 1

    def shares(self) -> tuple[tuple[Trait, float], ...]:
        """What makes it hard: the points of each kind, which sum up to all, the most first."""
        found = []
        for trait in Trait:
            points = _mean_of(self.bars, trait) / 2 + _mean_of(self.hardest, trait) / 2
            found.append((trait, points))
        return tuple(sorted(found, key=lambda pair: -pair[1]))


def grade_of(bars: Sequence[BarHardness]) -> Grade:
    """The grade of a tune with these bars; pickups are left out.

    Half of its points are points a second of a bar on the whole, half those of its hardest
    quarter.  Where a bar gets harder and all else stays the grade never falls.
    """
    full = tuple(bar for bar in bars if not bar.pickup) or tuple(bars)
    most = max(round(len(full) * _SHARE), 1)
    hardest = tuple(sorted(full, key=lambda bar: (-round(bar.rate, 6), bar.index))[:most])
    points = (_mean(full) + _mean(hardest)) / 2
    name = next((name for name, below in _GRADES if points < below), _HARDEST)
    return Grade(name, points, full, hardest)


def grade_words(grade: Grade, tempo: Tempo) -> str:
    """The grade in a sentence or two: at which tempo, what makes it so, which bar is hardest."""
    parts = [(trait, points) for trait, points in grade.shares() if points >= _TOLD * grade.points]
    said = f"{grade.name.capitalize()} to play at {tempo}."
    if not parts:
        return said
    worst = grade.hardest[0]
    why = hard_reasons(worst, usual_points(grade.bars), 1)
    most = f", most of all in bar {worst.number}: {said_in(why[0])}" if why else ""
    kinds = listed([str(trait) for trait, _ in parts[:_MOST_TOLD]])
    return f"{said} Its difficulty is in {kinds}{most}."


def _mean(bars: Sequence[BarHardness]) -> float:
    return sum(bar.rate for bar in bars) / len(bars)


def _mean_of(bars: Sequence[BarHardness], trait: Trait) -> float:
    return sum(bar.of(trait) / bar.seconds for bar in bars) / len(bars)
