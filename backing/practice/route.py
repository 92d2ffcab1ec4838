"""A practice laid end to end: the course of a plan, walked to its end."""

from collections.abc import Iterator

from backing.arranging.arrangement import Arrangement
from backing.arranging.faces import Faces
from backing.errors import PracticeError
from backing.music.tune import Tune
from backing.music.unfold import MOST_PLAYED
from backing.practice.course import Course
from backing.practice.plan import Plan
from backing.practice.stretch import Stretch

#: More than this is no practice: some ten hours.
MOST_BARS = 20_000


def route(arranged: Faces | Arrangement, plan: Plan, tune: Tune) -> Iterator[Stretch]:
    """The stretches of a practice, in order.

    Raises PracticeError where a step cannot be played, or all of them take too long.
    """
    course = Course(arranged, tune, plan)
    rounds = [(course.round(step.span).frame, step.times) for step in plan.steps]
    bars = sum(len(frame) * times for frame, times in rounds)
    notes = sum(
        len(tune.melody.bars[bar.index]) * times for frame, times in rounds for bar in frame
    )
    for count, most, what in ((bars, MOST_BARS, "bars"), (notes, MOST_PLAYED, "notes")):
        if count > most:
            raise PracticeError(
                f"{count:,} {what} to play in all", f"up to {most:,} are possible: fewer times"
            )
    return iter(course.next, None)
