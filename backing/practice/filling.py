"""How long steps take, and how many rounds of each fill some minutes."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.practice.backing import Backing
from backing.practice.laying import count_in_bars
from backing.practice.passages import Passage
from backing.practice.plan import Step, scale_of
from backing.practice.round import Round, find_round


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
    """The lengths of steps on a backing; each span is cut out once."""

    def __init__(self, backing: Backing) -> None:
        self._backing = backing
        self._rounds: dict[tuple[Passage, bool], Round] = {}

    def of(self, step: Step) -> float:
        """How long a step takes in seconds, with its count-in, at the tempo that its span begins
        with."""
        found = self._round(step.span, edges=step.edges)
        first, own = found.frame[0], found.piece.tempo_at(Fraction(0))
        factors = step.ladder or (scale_of(found.piece, step.tempo),)
        rounds = step.times or step.every * len(factors)
        speeds = [factors[min(at // step.every, len(factors) - 1)] for at in range(rounds)]
        bars = count_in_bars(first, own.scaled(speeds[0]), led=bool(found.pickup))
        counted = bars * (first.metre.length or Fraction(1))
        once = sum((bar.length for bar in found.frame), Fraction(0)) * (2 if step.echo else 1)
        wholes = counted / speeds[0] + sum((once / speed for speed in speeds), Fraction(0))
        return float(60 * wholes / own.wholes)

    def _round(self, span: Passage, *, edges: bool) -> Round:
        known = span, edges
        if known not in self._rounds:
            backing = self._backing
            self._rounds[known] = find_round(backing.arrangement, backing.tune, span, edges=edges)
        return self._rounds[known]
