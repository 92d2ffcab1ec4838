"""The same bar gets the same buttons, each time through.

The cheapest way may finger a bar otherwise when it is repeated, for what comes before and
after.  Then each section that differs takes one of its times through for all of them: the
first, the second or the last, whichever makes the whole cheapest, worked out exactly.  Where
every time through agrees nothing changes, and the way is the best of all.
"""

from collections.abc import Mapping, Sequence

from backing.box.grips import Grip
from backing.box.layers import Way
from backing.box.line import MelodyLine
from backing.box.price import PricedMoment
from backing.box.search import Search

_SettledNote = tuple[int, int]
_SettledWays = Sequence[Way | None]


def settled(
    search: Search, line: MelodyLine, stands: Sequence[PricedMoment], ways: _SettledWays
) -> _SettledWays:
    """The ways with one fingering for every written note."""
    notes = [(line.bars[moment.bar].index, moment.note) for moment in line.moments]
    odd = _odd_sections(line, notes, ways)
    if not odd:
        return ways
    parts: dict[str, list[int]] = {name: [] for name in odd}
    for name, part in dict.fromkeys((bar.section, bar.part) for bar in line.bars):
        if name in parts:
            parts[name].append(part)
    choices = (
        {name: own[0] for name, own in parts.items()},
        {name: own[min(1, len(own) - 1)] for name, own in parts.items()},
        {name: own[-1] for name, own in parts.items()},
    )
    tried = [
        search.best(line.moments, stands, _kept(line, notes, ways, chosen))
        for place, chosen in enumerate(choices)
        if chosen not in choices[:place]
    ]
    return min(tried, key=lambda best: best.cost).ways


def _odd_sections(line: MelodyLine, notes: Sequence[_SettledNote], ways: _SettledWays) -> set[str]:
    """The sections in which a note is fingered in two ways."""
    first: dict[_SettledNote, Grip] = {}
    odd = set()
    for moment, note, way in zip(line.moments, notes, ways, strict=True):
        if way is not None and first.setdefault(note, way.grip) != way.grip:
            odd.add(line.bars[moment.bar].section)
    return odd


def _kept(
    line: MelodyLine, notes: Sequence[_SettledNote], ways: _SettledWays, chosen: Mapping[str, int]
) -> list[Grip | None]:
    """The grips of the chosen time through each section for all of them, those of the first
    that has them for bars that it leaves out; other sections keep what they have."""
    grips: dict[_SettledNote, Grip] = {}
    for moment, note, way in zip(line.moments, notes, ways, strict=True):
        bar = line.bars[moment.bar]
        if way is not None and (note not in grips or chosen.get(bar.section) == bar.part):
            grips[note] = way.grip
    return [grips.get(note) for note in notes]
