"""Where the music goes when a player asks for another place."""

from collections.abc import Callable, Mapping

from backing.live.actions import Action
from backing.practice.laying import Target
from backing.practice.ways import WaysOn

#: What each action asks for, from where the music is.
_GOES: Mapping[Action, Callable[[WaysOn, Target], Target]] = {
    Action.ASKED: lambda ways, here: ways.course.asked(here.step),
    Action.THIS_BAR: WaysOn.bar_alone,
    Action.THIS_SECTION: WaysOn.section_alone,
    Action.WHOLE: WaysOn.whole,
    Action.BAR_BACK: lambda ways, here: ways.step_bars(here, -1),
    Action.BAR_ON: lambda ways, here: ways.step_bars(here, 1),
    Action.SECTION_BACK: lambda ways, here: ways.step_sections(here, -1),
    Action.SECTION_ON: lambda ways, here: ways.step_sections(here, 1),
    Action.LAST_TIME: lambda ways, here: here._replace(last=True),
}


def goal(ways: WaysOn, action: Action, here: Target, *, waits: bool) -> Target:
    """Where an action leads from here.

    `waits` is True where `here` is still to come: the music is stopped, counts in or is on
    its way there.  Else the next bar comes by itself, and "on" is counted from that one.
    """
    if action in (Action.BAR_ON, Action.LAST_TIME) and not waits:
        here = ways.following(here)
    target = _GOES[action](ways, here)
    return ways.following(target) if action is Action.WHOLE and not waits else target


def step_goal(ways: WaysOn, action: Action, here: Target) -> Target | None:
    """Where an action leads among the steps of a practice; None where there is no such step."""
    return ways.step(here, 1 if action is Action.STEP_ON else -1)
