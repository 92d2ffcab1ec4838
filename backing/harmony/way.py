"""The best way through the chords of all slots, found exactly (dynamic programming), and the
same bar harmonised alike.

What speaks for a way is the sum over its slots of what speaks for each chord there, `own`,
and of what each chord says for the next, `links`.  A slot may be followed by several (a first
and a second ending), never preceded by several, so the slots make a tree.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from backing.harmony.slots import Slot

#: Points of a choice that can't be.
NEVER = -1e9
#: For each slot, each chord that could be there: its points.
Own = Sequence[Sequence[float]]
#: For each slot, each chord of the slot before: what it says for each chord here.
Links = Sequence[Sequence[Sequence[float]]]
#: For each slot of a bar the place of a chord among those that could be there.
Choice = tuple[int, ...]


class _Back(NamedTuple):
    """What the way from each slot on is worth at most: with each of its chords (`best`), and
    after each chord of the slot before (`most`), which takes `choice` here."""

    best: list[list[float]]
    most: list[list[float]]
    choice: list[list[int]]


def best_way(
    slots: Sequence[Slot], own: Own, links: Links, alike: Sequence[Sequence[int]]
) -> Choice:
    """The choice at each slot that gives the most points in all; of equals the first.

    `alike` are groups of bars to be harmonised alike, each bar by its first slot.  Where the best
    way has them differ, they all take those of their choices that cost least together.
    """
    back = _back(slots, own, links)
    chosen = _walk(slots, back)
    sizes = _sizes(slots)
    torn = [
        group
        for group in alike
        if len({_chosen_in(chosen, at, sizes[slots[at].bar]) for at in group}) > 1
    ]
    if not torn:
        return chosen
    around = _around(slots, links, back)
    held = [list(points) for points in own]
    for group in torn:
        size = sizes[slots[group[0]].bar]
        tried = list(dict.fromkeys(_chosen_in(chosen, at, size) for at in group))
        worth = [
            sum(_worth(own, links, back, around, at, choice) for at in group) for choice in tried
        ]
        for at in group:
            for step, place in enumerate(tried[worth.index(max(worth))]):
                held[at + step] = [
                    points if option == place else NEVER
                    for option, points in enumerate(own[at + step])
                ]
    return _walk(slots, _back(slots, held, links))


def _sizes(slots: Sequence[Slot]) -> Mapping[int, int]:
    """How many slots each bar has."""
    sizes: dict[int, int] = {}
    for slot in slots:
        sizes[slot.bar] = sizes.get(slot.bar, 0) + 1
    return sizes


def _chosen_in(chosen: Choice, at: int, size: int) -> Choice:
    return chosen[at : at + size]


def _back(slots: Sequence[Slot], own: Own, links: Links) -> _Back:
    best = [list(points) for points in own]
    most: list[list[float]] = [[] for _ in slots]
    choice: list[list[int]] = [[] for _ in slots]
    for at in range(len(slots) - 1, -1, -1):
        before = slots[at].before
        if before < 0:
            continue
        here, earlier = best[at], best[before]
        for place, says in enumerate(links[at]):
            ways = [total + points for total, points in zip(here, says, strict=True)]
            top = max(ways)
            most[at].append(top)
            choice[at].append(ways.index(top))
            earlier[place] += top
    return _Back(best, most, choice)


def _walk(slots: Sequence[Slot], back: _Back) -> Choice:
    chosen: list[int] = []
    for at, slot in enumerate(slots):
        if slot.before < 0:
            chosen.append(back.best[at].index(max(back.best[at])))
        else:
            chosen.append(back.choice[at][chosen[slot.before]])
    return tuple(chosen)


def _around(slots: Sequence[Slot], links: Links, back: _Back) -> list[list[float]]:
    """What all that does not come after a slot is worth at most, with each of its chords."""
    around: list[list[float]] = []
    for at, slot in enumerate(slots):
        if slot.before < 0:
            around.append([0.0] * len(back.best[at]))
            continue
        before = [
            outside + inside - own_branch
            for outside, inside, own_branch in zip(
                around[slot.before], back.best[slot.before], back.most[at], strict=True
            )
        ]
        columns = zip(*links[at], strict=True)
        around.append([max(map(float.__add__, before, column)) for column in columns])
    return around


def _worth(
    own: Own, links: Links, back: _Back, around: Sequence[Sequence[float]], at: int, choice: Choice
) -> float:
    """What the best way is worth that takes these chords in the bar that begins with a slot."""
    total = around[at][choice[0]]
    last = at + len(choice) - 1
    for step, place in enumerate(choice):
        if step:
            total += links[at + step][choice[step - 1]][place]
        total += back.best[last][place] if at + step == last else own[at + step][place]
    return total
