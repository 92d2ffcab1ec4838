"""A practice as a practice file: TOML, its keys the words of the options of `backing make`."""

import json
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from backing.practice.filling import PlannedStep
from backing.practice.passages import Bars, Join, OneSection, Passage
from backing.practice.plan import Step

#: What a key may hold.
PracticeValue = str | int | float | bool | list[str]


def render_practice(
    title: str, head: Mapping[str, PracticeValue], steps: Sequence[PlannedStep], about: str = ""
) -> str:
    """The text of a practice file: its title, what is for every step (`tune`, `box`, ...), the
    steps, each with how long it takes as a comment; `about` is a comment above all.

    A step's tempo is a factor of the tune's own, its ladder goes up by equal rungs, and of the
    ways to practise it has `edges` and `echo` alone, with tracks muted and times.
    """
    lines = [f"# {line}" for line in about.splitlines()]
    lines += [_line("practice", title), *(_line(key, value) for key, value in head.items())]
    for planned in steps:
        lines += ["", f"[[step]]  # {_lasting(planned.seconds)}"]
        lines += [_line(key, value) for key, value in _keys(planned.step)]
    return "\n".join(lines) + "\n"


def _line(key: str, value: PracticeValue) -> str:
    if isinstance(value, bool):
        return f"{key} = {str(value).lower()}"
    return f"{key} = {value if isinstance(value, int | float) else _quoted(value)}"


def _quoted(value: str | list[str]) -> str:
    """Texts as TOML has them: JSON's escapes are TOML's too, but for DEL, which JSON leaves."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _lasting(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d} minutes"


def _keys(step: Step) -> Iterator[tuple[str, PracticeValue]]:
    yield "for", step.name
    if step.rest:
        yield "rest", step.rest // 60
        return
    yield from _span_keys(step.span)
    if step.ladder:
        yield "percent", f"{_per_cent(step.ladder[0])}..{_per_cent(step.ladder[-1])}"
        yield "step", _per_cent(step.ladder[1] - step.ladder[0])
    elif isinstance(step.tempo, Fraction):
        yield "percent", _per_cent(step.tempo)
    if step.every > 1:
        yield "every", step.every
    if step.times is not None:
        yield "times", step.times
    if step.muted:
        yield "mute", ",".join(sorted(step.muted))
    if step.edges:
        yield "edges", True
    if step.echo:
        yield "echo", True


def _span_keys(span: Passage) -> Iterator[tuple[str, PracticeValue]]:
    if isinstance(span, Bars):
        yield "bars", f"{span.first}" if span.first == span.last else f"{span.first}-{span.last}"
    elif isinstance(span, OneSection):
        yield "part", span.name
        if span.ending:
            yield "ending", span.ending
    elif isinstance(span, Join):
        bars = "" if span.bars == Join("", "").bars else f" {span.bars}"
        yield "join", f"{span.name}-{span.following}{bars}"


def _per_cent(factor: Fraction) -> int | float:
    share = 100 * factor
    return int(share) if share.denominator == 1 else float(share)
