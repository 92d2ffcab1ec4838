"""A practice of several steps, perhaps of several tunes: each tune's backing, and one plan."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.music.tune import Tune
from backing.music.unfold import unfold
from backing.practice.backing import Backing
from backing.practice.course import Course
from backing.practice.passages import Bars
from backing.practice.performance import Performance, balanced, perform
from backing.practice.plan import Plan, Step
from backing.practice.rounds import Piece


class Practice(NamedTuple):
    """What is practised: the backings of its tunes, and the steps, each with the number of its
    tune among them.  `title` is what it is called."""

    title: str
    backings: tuple[Backing, ...]
    plan: Plan

    @property
    def first(self) -> Backing:
        """The tune that comes first."""
        return self.backings[self.plan.steps[0].piece]

    @property
    def others(self) -> tuple[Piece, ...]:
        """The further tunes, as a course takes them."""
        return tuple(Piece(backing.faces, backing.tune) for backing in self.backings[1:])


def practice_of(backing: Backing) -> Practice:
    """A tune alone, practised as its plan says."""
    return Practice(backing.arrangement.title, (backing,), backing.plan)


def course_of(practice: Practice, *, endless: bool = False) -> Course:
    """The walk of a practice.  Raises PracticeError where a step cannot be played."""
    first = practice.backings[0]
    return Course(first.faces, first.tune, practice.plan, others=practice.others, endless=endless)


def performance_of_practice(practice: Practice) -> Performance:
    """The whole practice laid end to end, at the volumes of its first tune; rests are left out.

    Raises PracticeError where it cannot be played so slowly, so fast, or so long.
    """
    first = practice.backings[0]
    plan = Plan(tuple(step for step in practice.plan.steps if not step.rest))
    performance = perform(first.faces, plan, first.tune, practice.others)
    return balanced(performance._replace(title=practice.title), first.volumes)


# -- sets --------------------------------------------------------------------------------


def in_a_set(steps: Sequence[Step]) -> list[Step]:
    """Steps one after the other without a stop: only the first is counted in."""
    last = len(steps) - 1
    return [
        step._replace(goes_on=at < last, count_in=step.count_in if at == 0 else 0)
        for at, step in enumerate(steps)
    ]


def change_between(
    before: Step, after: Step, tunes: tuple[Tune, Tune], *, bars: int = 2, times: int = 4
) -> list[Step]:
    """The change from one tune into the next, so many times: the last bars of the one as it is
    played, as far as they stand in a row, and the first of the other."""
    tail = before._replace(span=_last_bars(tunes[0], bars), times=1, each=0)
    head = after._replace(span=_first_bars(tunes[1], bars), times=1, each=0)
    both = (tail._replace(goes_on=True), head._replace(count_in=0, goes_on=False, more=True))
    return [step._replace(more=step.more or time > 0) for time in range(times) for step in both]


def _last_bars(tune: Tune, count: int) -> Bars:
    """The last full bars that a tune plays, not those of an ending that is left out."""
    played = [tune.bars[each.index] for each in unfold(tune)]
    numbers = [bar.number for bar in played if not bar.begins][-count:]
    while numbers[-1] - numbers[0] != len(numbers) - 1:
        numbers.pop(0)
    return Bars(numbers[0], numbers[-1])


def _first_bars(tune: Tune, count: int) -> Bars:
    numbers = [bar.number for bar in tune.bars if not bar.begins][:count]
    return Bars(numbers[0], numbers[-1])


def seconds_of(course: Course, step: int) -> Fraction:
    """How long a step lasts once its devices have been gone through, count-in left out."""
    asked = course.plan.steps[step]
    if asked.rest:
        return Fraction(asked.rest)
    total = Fraction(0)
    for time in range(1, course.times(step) + 1):
        target = course.asked(step)._replace(span=course.lap(step, time).span, time=time)
        frame = course.round(target).frame
        wholes = sum((bar.length for bar in frame), Fraction(0))
        factor = course.factor(step, time)
        speed = course.round(target).piece.tempo_at(Fraction(0)).wholes * factor
        kinds = 2 if asked.echo else 1
        gap = asked.gap * (frame[0].metre.length or Fraction(1))
        total += 60 * (wholes * kinds + gap) / speed
    return total
