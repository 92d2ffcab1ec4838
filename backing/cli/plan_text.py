"""A plan of practice as `backing plan` prints it."""

from collections.abc import Iterator
from fractions import Fraction
from textwrap import wrap

from backing.music.saying import in_bars
from backing.practice.passages import Bars, Join, OneSection, Passage
from backing.practice.plan import Step
from backing.practice.planning import PracticePlan
from backing.wording import count

_WIDTH = 80
_INDENT = " " * 10


def plan_lines(plan: PracticePlan) -> Iterator[str]:
    """One step after the other: when it begins, what is played and how, what for."""
    at = 0.0
    for planned in plan.steps:
        minutes, seconds = divmod(round(at), 60)
        yield f"{minutes:4}:{seconds:02d}   {_played(planned.step)}"
        yield from wrap(
            planned.step.name, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT
        )
        at += planned.seconds
    minutes, seconds = divmod(round(at), 60)
    yield f"{minutes:4}:{seconds:02d}   the end"


def _played(step: Step) -> str:
    if step.rest:
        return f"rest, {count(step.rest // 60, 'minute')}"
    said = [_span(step.span)]
    if step.ladder:
        said.append(f"{_share(step.ladder[0])} to {_share(step.ladder[-1])} %")
        each = "" if step.every == 1 else f", each tempo {step.every} times"
        said.append(f"by {_share(step.ladder[1] - step.ladder[0])}{each}")
    elif isinstance(step.tempo, Fraction):
        said.append(f"{_share(step.tempo)} %")
    if step.times is not None and step.times > 1:
        said.append(f"{step.times} times")
    if step.muted:
        said.append("without the melody")
    if step.echo:
        said.append("with and without the melody by turns")
    return ", ".join(said)


def _span(span: Passage) -> str:
    if isinstance(span, Bars):
        return in_bars(range(span.first, span.last + 1))
    if isinstance(span, OneSection):
        return f"{span.name} part"
    if isinstance(span, Join):
        return f"{span.name} part into {span.following} part"
    return "whole tune"


def _share(factor: Fraction) -> str:
    return f"{float(100 * factor):g}"
