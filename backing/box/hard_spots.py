"""The places of a tune to practise alone: its hard bars, each once however often it comes."""

from collections.abc import Sequence
from typing import NamedTuple

from backing.box.fingering import Fingering
from backing.box.hard_notes import Contents
from backing.box.hardness import (
    BarHardness,
    first_heard,
    hard_reasons,
    hardness_of,
    hardness_on,
    usual_points,
)
from backing.box.line import MelodyLine
from backing.music.saying import Fact, InBars, Parts

#: How many reasons are told of a bar.
_REASONS = 2
#: More hard bars in a row than this are two places.
_WIDEST = 2


class HardSpot(NamedTuple):
    """A hard bar, or some in a row: their first and last number, the index of the first (`at`), why
    they are hard and where the same comes again, and how many milliseconds its notes
    mostly are apart at the tune's own tempo."""

    first: int
    last: int
    at: int
    reasons: tuple[Fact | Parts, ...]
    again: tuple[Fact, ...]
    gap: float


def hard_spots(line: MelodyLine, fingering: Fingering | None, most: int) -> tuple[HardSpot, ...]:
    """The hardest places of a melody in their order, at most so many; on a box, where it is
    fingered for one (then `line` is the fingering's).

    First the hard bars, then others that are harder than the tune's bars on the whole; where
    all are alike the first of all, and none where nothing is hard.  Bars with the same notes, on
    the same buttons, are one.
    """
    bars = hardness_on(fingering) if fingering else hardness_of(line)
    numbers = {bar.index: bar.number for bar in bars}
    kinds = _kinds(line, fingering)
    chosen: list[int] = []
    for index in _candidates(bars):
        if len(chosen) < most and kinds[index] not in [kinds[other] for other in chosen]:
            first = next(other for other in kinds if kinds[other] == kinds[index])
            chosen.append(first if numbers[first] else index)
    return tuple(_spot(run, line, bars, kinds) for run in _runs(sorted(chosen), line))


def _candidates(bars: Sequence[BarHardness]) -> list[int]:
    """Bars worth practising alone, the hardest first."""
    full = sorted((bar for bar in bars if not bar.pickup), key=lambda bar: -round(bar.points, 6))
    usual = sum(bar.points for bar in full) / max(len(full), 1)
    harder = [bar.index for bar in full if bar.points > usual]
    return harder or [bar.index for bar in full[:1] if bar.points]


def _kinds(line: MelodyLine, fingering: Fingering | None) -> dict[int, tuple[object, ...]]:
    """What is played in each written bar, and on which buttons: the same for bars that are."""
    contents = Contents()
    found: dict[int, tuple[object, ...]] = {}
    for index, (_, start, stop) in first_heard(line).items():
        notes = fingering.notes[start:stop] if fingering else ()
        buttons = tuple((note.direction, note.presses) for note in notes)
        found[index] = (contents.of(line.moments[start:stop]), buttons)
    return found


def _runs(indices: Sequence[int], line: MelodyLine) -> list[list[int]]:
    """Two bars in a row taken together, where one section and one ending hold both."""
    bars = {bar.index: bar for bar in line.bars}
    runs: list[list[int]] = []
    for index in indices:
        bar, before = bars[index], bars.get(index - 1)
        joins = runs and runs[-1][-1] == index - 1 and len(runs[-1]) < _WIDEST
        if joins and before and before.section == bar.section and before.ending == bar.ending:
            runs[-1].append(index)
        else:
            runs.append([index])
    return runs


def _spot(
    run: Sequence[int],
    line: MelodyLine,
    bars: Sequence[BarHardness],
    kinds: dict[int, tuple[object, ...]],
) -> HardSpot:
    known = {bar.index: bar for bar in bars}
    usual = usual_points(bars)
    told = [hard_reasons(known[index], usual, _REASONS if len(run) == 1 else 1) for index in run]
    reasons = told[0]
    if len(run) > 1:
        named = zip(run, told, strict=True)
        reasons = tuple(
            Fact("in-bar", {"bar": known[i].number, "reason": why[0]}) for i, why in named if why
        )
    again = []
    for index in run:
        same = [
            bar.number for bar in bars
            if kinds[bar.index] == kinds[index] and bar.index not in run and not bar.pickup
        ]  # fmt: skip
        if same:
            others = InBars(tuple(dict.fromkeys(same)))
            bar = known[index].number
            again.append(Fact("same-as-bar", {"bars": others, "bar": bar}, number=len(same)))
    spans = first_heard(line)
    gaps = sorted(moment.gap for index in run for moment in line.moments[slice(*spans[index][1:])])
    first, last = known[run[0]].number, known[run[-1]].number
    return HardSpot(
        first,
        last,
        run[0],
        reasons,
        tuple(again),
        gaps[len(gaps) // 2],
    )
