"""How long steps take, and how many rounds of each fill some minutes."""

from collections.abc import Sequence
from typing import NamedTuple

from backing.practice.backing import Backing
from backing.practice.course import Course
from backing.practice.plan import Plan, Step


class StepDraft(NamedTuple):
    """A step that a plan may have, with as few rounds as make sense, and how many at most: a
    round of a ladder is one on each rung.  Its share of the time that is left goes by its
    `weight`.  Steps with more `spare` go first where time is short; 0: it stays."""

    step: Step
    weight: int
    most: int
    spare: int = 0


class PlannedStep(NamedTuple):
    """A step, and how long it takes in seconds, its count-in too."""

    step: Step
    seconds: float


def filled(backing: Backing, drafts: Sequence[StepDraft], seconds: float) -> list[PlannedStep]:
    """The steps that there is time for, with the rounds that fill it best.

    Those that can be spared go first, the last of them first.  Then the step that is furthest
    behind its share gets a round more, as long as one comes nearer to the time.
    """
    lengths = _Lengths(backing)
    kept = list(drafts)
    while sum(lengths.of(draft.step) for draft in kept) > seconds:
        most = max(draft.spare for draft in kept)
        if not most:
            break
        at = max(n for n, draft in enumerate(kept) if draft.spare == most)
        del kept[at]
    steps = [PlannedStep(draft.step, lengths.of(draft.step)) for draft in kept]
    open_ = set(range(len(kept)))
    while open_:
        at = min(open_, key=lambda n: (steps[n].seconds / kept[n].weight, n))
        step = _longer(steps[at].step)
        longer = PlannedStep(step, lengths.of(step))
        spent = sum(step.seconds for step in steps)
        more = longer.seconds - steps[at].seconds
        rounds = step.times or step.every
        if rounds > kept[at].most or spent + more / 2 > seconds:
            open_.remove(at)
            continue
        steps[at] = longer
    return steps


def _longer(step: Step) -> Step:
    """A step with a round more, or with a round more on each rung of its ladder."""
    if step.times is None:
        return step._replace(every=step.every + 1)
    return step._replace(times=step.times + 1)


class _Lengths:
    """The lengths of steps on a backing, as its course has them; of each step two are walked, for
    every round more takes as long as the second."""

    def __init__(self, backing: Backing) -> None:
        self._backing = backing
        self._once: dict[Step, tuple[float, float]] = {}

    def of(self, step: Step) -> float:
        """How long a step takes in seconds, with its count-in, at its tempi."""
        once = step._replace(every=1) if step.times is None else step._replace(times=1)
        if once not in self._once:
            first = self._seconds(once)
            self._once[once] = first, self._seconds(_longer(once)) - first
        first, more = self._once[once]
        return first + more * ((step.times or step.every) - 1)

    def _seconds(self, step: Step) -> float:
        course = Course(self._backing.faces, self._backing.tune, Plan((step,)))
        return float(course.seconds(0))
