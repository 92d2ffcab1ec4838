"""A practice laid end to end: the course of a plan, walked to its end."""

from collections import Counter
from collections.abc import Iterator, Sequence

from backing.arranging.arrangement import Arrangement
from backing.arranging.faces import Faces
from backing.errors import PracticeError
from backing.music.tune import Tune
from backing.music.unfold import MOST_PLAYED
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.plan import Plan
from backing.practice.rounds import Piece
from backing.practice.stretch import Stretch

#: More than this is no practice: some ten hours.
MOST_BARS = 20_000


def route(
    arranged: Faces | Arrangement, plan: Plan, tune: Tune, others: Sequence[Piece] = ()
) -> Iterator[Stretch]:
    """The stretches of a practice, in order.

    Raises PracticeError where a step cannot be played, or all of them take too long.
    """
    course = Course(arranged, tune, plan, others=others)
    check_route(course)
    return iter(course.next, None)


def check_route(course: Course) -> None:
    """Raise PracticeError where all steps of a course take too long."""
    bars = notes = 0
    for step, asked in enumerate(course.plan.steps):
        if asked.rest:
            continue
        melody = course.piece(step).tune.melody.bars
        kinds = 2 if asked.echo else 1
        laps = Counter(course.lap(step, time).span for time in range(1, course.times(step) + 1))
        for span, times in laps.items():
            frame = course.round(Target(span, step=step)).frame
            bars += (len(frame) + asked.gap) * kinds * times
            notes += sum(len(melody[bar.index]) for bar in frame) * kinds * times
    for count, most, what in ((bars, MOST_BARS, "bars"), (notes, MOST_PLAYED, "notes")):
        if count > most:
            raise PracticeError(
                f"{count:,} {what} to play in all", f"up to {most:,} are possible: fewer times"
            )
