"""Which bars of a tune are practised: all, some by number, a section, the join of two."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from backing.errors import PracticeError, did_you_mean
from backing.music.tune import Section, Tune


@dataclass(frozen=True, slots=True)
class Whole:
    """The whole tune with its repeats."""


class Bars(NamedTuple):
    """Written bars `first` to `last`, both played, straight through whatever repeats.

    They are numbered as in print: a pickup is bar 0.  With an `ending` the bars of other endings
    are left out.
    """

    first: int
    last: int
    ending: int | None = None


class OneSection(NamedTuple):
    """Once through a section, with this ending; None: the last it has, and where the section
    comes several times each by turns, so that the last time has the last."""

    name: str
    ending: int | None = None


class Join(NamedTuple):
    """The last `bars` bars of one section and the first of another, or of the same again: what
    leads from one into the next.  A pickup that is not written between them is played where the bar
    before it leaves room."""

    name: str
    following: str
    bars: int = 2


Passage = Whole | Bars | OneSection | Join
#: Passages in which a tune never varies, and never comes to its end.
FRAGMENTS = (Bars, Join)


def find_bars(tune: Tune, span: Passage) -> tuple[int, ...]:
    """The indices of the written bars that a span plays straight, pickups left out.

    Raises PracticeError for bars past the end, a reversed range, an unknown section.
    """
    if isinstance(span, Whole):
        return tuple(range(len(tune.bars)))
    if isinstance(span, Bars):
        return _numbered(tune, span)
    if isinstance(span, Join):
        return _joined(tune, span)
    return _in_section(tune, span)


def _numbered(tune: Tune, span: Bars) -> tuple[int, ...]:
    last = max(bar.number for bar in tune.bars)
    if span.first > span.last:
        raise PracticeError(
            f"bars {span.first}-{span.last} run backwards", f"give {span.last}-{span.first}"
        )
    first = min(bar.number for bar in tune.bars)
    if span.last > last or span.first < first:
        one = span.first == span.last
        asked = f"is no bar {span.first}" if one else f"are no bars {span.first}-{span.last}"
        raise PracticeError(f"there {asked} here", f"the tune has bars {first} to {last}")
    indices = [
        i
        for i, bar in enumerate(tune.bars)
        if span.first <= bar.number <= span.last and _with_ending(tune, i, span.ending)
    ]
    while len(indices) > 1 and tune.bars[indices[-1]].pickup:
        indices.pop()
    return tuple(indices)


def _with_ending(tune: Tune, index: int, ending: int | None) -> bool:
    """True for a bar of no ending, or of this one; of the last where its section has fewer."""
    bar = tune.bars[index]
    if ending is None or bar.ending is None:
        return True
    return min(ending, max(endings_of(tune, bar.section))) in bar.ending.numbers


def endings_of(tune: Tune, name: str) -> tuple[int, ...]:
    """The endings that a section has, in their order.  Raises PracticeError for no such one."""
    section = _find_section(tune, name)
    bars = tune.bars[section.start : section.stop]
    return tuple(sorted({n for bar in bars if bar.ending for n in bar.ending.numbers}))


def _in_section(tune: Tune, span: OneSection) -> tuple[int, ...]:
    section = _find_section(tune, span.name)
    endings = endings_of(tune, span.name)
    if span.ending is not None and span.ending not in endings:
        given = f"it has {', '.join(map(str, endings))}" if endings else "it has none"
        raise PracticeError(f"section {section.name} has no ending {span.ending}", given)
    ending = span.ending or max(endings, default=1)
    return tuple(
        index
        for index in range(section.start, section.stop)
        if (marked := tune.bars[index].ending) is None or ending in marked.numbers
    )


def _joined(tune: Tune, span: Join) -> tuple[int, ...]:
    """The bars of a join; a section that comes again ends with its first ending."""
    if span.bars < 1:
        raise PracticeError(f"a join of {span.bars} bars", "give 1 or more")
    same = _find_section(tune, span.name) == _find_section(tune, span.following)
    endings = endings_of(tune, span.name)
    ending = min(endings, default=None) if same else None
    before = _in_section(tune, OneSection(span.name, ending))
    after = _in_section(tune, OneSection(span.following))
    full = [index for index in before if not tune.bars[index].begins][-span.bars :]
    first = [index for index in after if not tune.bars[index].begins][: span.bars]
    if not (full and first):
        raise PracticeError("there is no full bar to join", "name parts with full bars")
    ends = tuple(i for i in before if i >= full[0])
    lead = tuple(index for index in after if index < first[0])
    return (
        *ends,
        *(lead if _has_room(tune, ends[-1], lead) else ()),
        *(i for i in after if first[0] <= i <= first[-1]),
    )


def _has_room(tune: Tune, last: int, lead: Sequence[int]) -> bool:
    """True where a pickup stands right behind a bar, or completes it."""
    if not lead or lead[0] == last + 1:
        return True
    bar, pickup = tune.bars[last], sum(tune.bars[index].length for index in lead)
    return bar.begins + bar.length + pickup <= bar.metre.length


def _find_section(tune: Tune, name: str) -> Section:
    for section in tune.sections:
        if section.name.lower() == name.strip().lower():
            return section
    names = [section.name for section in tune.sections]
    raise PracticeError(
        f"there is no section {name!r}", did_you_mean(name, names) or f"it has {', '.join(names)}"
    )
