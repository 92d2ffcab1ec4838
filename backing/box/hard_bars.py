"""Which bars of a tune are the hard ones on a box, to be practised first."""

from backing.box.fingering import Fingering

#: A bar is hard that costs so many times as much as the tune's bars do on the whole; and no
#: more bars than these are hard: a teacher chooses three (working values, no source).
_MARKED, _MOST = 1.4, 3


def hard_bars(fingering: Fingering) -> frozenset[int]:
    """The indices of the written bars that are hardest to play, at most three.

    What a bar costs is what its movements cost by the profile of the fingering, as it is
    played the first time.  In a tune whose bars are all alike none is hard.
    """
    heard: dict[int, int] = {}
    costs: dict[int, float] = {}
    for note, price in zip(fingering.notes, fingering.prices, strict=True):
        bar = fingering.line.bars[note.moment.bar]
        if heard.setdefault(bar.index, note.moment.bar) == note.moment.bar and not bar.pickup:
            costs[bar.index] = costs.get(bar.index, 0.0) + price
    if not costs:
        return frozenset()
    usual = sum(costs.values()) / len(costs)
    hard = [index for index, cost in costs.items() if cost > _MARKED * usual]
    return frozenset(sorted(hard, key=lambda index: (-round(costs[index], 6), index))[:_MOST])
