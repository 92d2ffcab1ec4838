"""The steps of a practice in words."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from backing.cli.speech import per_cent
from backing.cli.step_text import devices_text, manner_text, passage_text
from backing.music.tempo import decimal
from backing.practice.course import Course
from backing.practice.practice import Practice
from backing.wording import count, listed


def steps_text(practice: Practice, course: Course) -> Iterator[str]:
    """A line for each step: what for, what is played, how fast, how often, how long."""
    steps = practice.plan.steps
    starts = practice.plan.starts
    for number, (at, stop) in enumerate(pairwise((*starts, len(steps))), start=1):
        name = f"{steps[at].name}: " if steps[at].name else ""
        change = stop - at > 1
        said = _change(practice, course, at, stop) if change else _step(practice, course, at)
        yield f"{number}. {name}{', '.join(said)}"


def _change(practice: Practice, course: Course, at: int, stop: int) -> Iterator[str]:
    """The change of two tunes, again and again."""
    one, two = (practice.backings[practice.plan.steps[n].piece].tune.title for n in (at, at + 1))
    yield f"from {one} into {two}"
    tempi = [step.tempo for step in practice.plan.steps[at:stop]]
    shares = [decimal(100 * tempo) for tempo in tempi if isinstance(tempo, Fraction)]
    if shares:
        first, last = shares[0], shares[-1]
        yield f"{first} %" if first == last else f"from {first} to {last} %"
    times = (stop - at) // 2
    yield "once" if times == 1 else f"{times} times"
    yield minutes(sum(float(course.seconds(number)) for number in range(at, stop)))


def _step(practice: Practice, course: Course, at: int) -> Iterator[str]:
    step = practice.plan.steps[at]
    if step.rest:
        yield f"rest, {minutes(step.rest)}"
        return
    if len(practice.backings) > 1:
        yield practice.backings[step.piece].tune.title
    yield passage_text(step.span) or "the whole tune"
    if not step.ladder:
        first = course.asked(at)
        own = course.round(first).piece.tempo_at(course.round(first).frame[0].onset)
        yield per_cent(own.scaled(course.factor(at, 1)), own)
    times = course.times(at)
    yield "once" if times == 1 else f"{times} times"
    yield from devices_text(step, practice.backings[step.piece].tune)
    yield from manner_text(step)
    if step.muted:
        yield f"without {listed(sorted(step.muted))}"
    yield minutes(float(course.seconds(at)))


def minutes(seconds: float) -> str:
    """How long, roughly.

    >>> minutes(40), minutes(90), minutes(200)
    ('40 seconds', '1½ minutes', '3½ minutes')
    """
    if seconds < 55:
        return count(max(5, round(seconds / 5) * 5), "second")
    halves = round(seconds / 30)
    whole, half = divmod(halves, 2)
    return f"{whole}{'½' if half else ''} {'minute' if halves == 2 else 'minutes'}"
