"""A plan as a page takes it: the same steps under the names that its script has."""

from collections.abc import Mapping
from typing import Any

from backing.music.tempo import FeltBeats, Tempo
from backing.practice.passages import Bars, Join, OneSection, Passage
from backing.practice.plan import Plan, Step
from backing.render.page.arranged import ratio


def plan_data(plan: Plan) -> list[dict[str, Any]]:
    """The steps of a plan."""
    return list(map(_step, plan.steps))


def _step(step: Step) -> dict[str, Any]:
    return {
        "span": passage_data(step.span),
        "tempo": _speed(step),
        "times": step.times,
        "muted": sorted(step.muted),
        "countIn": step.count_in,
        "echo": step.echo,
        "gap": step.gap,
        "wholePickup": step.whole_pickup,
        "leadIn": step.lead_in,
        "close": step.close,
        "goesOn": step.goes_on,
        "click": step.click,
        "ladder": [ratio(rung) for rung in step.ladder],
        "every": step.every,
        "grow": step.grow,
        "lessHelp": step.less_help,
        "hands": step.hands,
        "edges": step.edges,
        "ears": step.ears,
        "piece": step.piece,
        "name": step.name,
        "rest": step.rest,
        "more": step.more,
    }


def passage_data(span: Passage) -> dict[str, Any]:
    """Which bars are practised.

    >>> passage_data(Bars(5, 6))
    {'kind': 'bars', 'first': 5, 'last': 6, 'ending': None}
    """
    if isinstance(span, Bars):
        return {"kind": "bars", **span._asdict()}
    if isinstance(span, OneSection):
        return {"kind": "section", **span._asdict()}
    if isinstance(span, Join):
        return {"kind": "join", **span._asdict()}
    return {"kind": "whole"}


def _speed(step: Step) -> Mapping[str, Any]:
    tempo = step.tempo
    if isinstance(tempo, Tempo):
        return {"beats": ratio(tempo.beats), "unit": ratio(tempo.unit)}
    if isinstance(tempo, FeltBeats):
        return {"beats": ratio(tempo.beats), "unit": None}
    return {"factor": ratio(tempo)}
