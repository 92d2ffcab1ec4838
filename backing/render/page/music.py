"""All that a page plays, as plain data: tunes for each box and style, steps, reeds."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from backing.language.tables import ENGLISH
from backing.practice.backing import Backing
from backing.practice.plan import Plan
from backing.practice.practice import Practice, course_of
from backing.render.page.arranged import PageScore, positions_in, written_data
from backing.render.page.grid import grid_for
from backing.render.page.plans import plan_data
from backing.render.page.voices import reed_data
from backing.render.tuning import A4, TREMOLO


class PageChoice(NamedTuple):
    """What the player can choose: a box ("" for none), a style, chords with their thirds or
    without, and with these the backings of the tunes that are practised."""

    box: str
    style: str
    backings: tuple[Backing, ...]
    thirds: bool = True


def music_data(
    title: str,
    choices: Sequence[PageChoice],
    plan: Plan,
    *,
    a4: float = A4,
    tremolo: float = TREMOLO,
    language: str = ENGLISH,
) -> dict[str, Any]:
    """The choices, each with the tunes' arrangements, and the steps of a plan."""
    score = PageScore(grid_for(_positions(choices)))
    made = [
        {
            "box": choice.box,
            "style": choice.style,
            "called": _called(choice, language),
            "thirds": choice.thirds,
            "pieces": [
                {"faces": score.faces(each.faces), "tune": written_data(each.tune, score.grid)}
                for each in choice.backings
            ],
        }
        for choice in choices
    ]
    first = choices[0].backings[0]
    return {
        "title": title,
        "score": score.data(),
        "choices": made,
        "steps": plan_data(plan),
        "listed": _listed(choices[0].backings, plan),
        "levels": {str(role): level for role, level in sorted(first.volumes.items())},
        "reeds": reed_data(a4, tremolo),
    }


def _called(choice: PageChoice, language: str) -> str:
    """What its style is called."""
    if language == ENGLISH or not choice.style:
        return choice.style
    return ", ".join(style.called(language) for style in choice.backings[0].styles.all)


def _positions(choices: Sequence[PageChoice]) -> Iterator[Fraction]:
    for choice in choices:
        for backing in choice.backings:
            yield from positions_in(backing.arrangement)


def _listed(backings: Sequence[Backing], plan: Plan) -> list[dict[str, Any]]:
    """The steps that a player knows as such, each with the number of its first step in the plan
    and how many seconds it takes; none of a single one."""
    starts = plan.starts
    if len(starts) < 2:
        return []
    course = course_of(Practice("", tuple(backings), plan))
    return [
        {"step": start, "seconds": round(sum(map(course.seconds, range(start, stop))))}
        for start, stop in zip(starts, [*starts[1:], len(plan.steps)], strict=True)
    ]
