"""A plan of practice for a tune: its hard bars alone, joined, in their part, then the whole.

How long each step takes is worked out from its bars, tempo and rounds; rounds are added by
turns until the minutes are filled.  The order is teachers' common practice, the figures are
working values, no source.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import NamedTuple

from backing.arranging.arrangement import Role
from backing.box.hard_spots import HardSpot, hard_spots
from backing.box.line import MelodyLine, line_as_played
from backing.errors import PracticeError
from backing.language.tables import ENGLISH
from backing.music.played import as_played
from backing.music.saying import Fact, InBars, Parts, opened, said_in
from backing.music.tempo import SLOWEST
from backing.practice.backing import Backing
from backing.practice.devices import rungs
from backing.practice.filling import PlannedStep, StepDraft, filled
from backing.practice.passages import Bars, Join, OneSection, Whole
from backing.practice.plan import Plan, Step, check_tempo

LEAST_MINUTES, MOST_MINUTES = 3, 180
#: A rest of so many minutes comes after so many of playing.
REST, REST_AFTER = 3, 25
#: Minutes for each hard place, and how many places there are at most.
_MINUTES_A_SPOT, _MOST_SPOTS = 7, 6
#: Slow is where notes come every so many milliseconds, and between these per cent.
_SLOW_MS, _SLOWEST, _SLOW = 300, 40, 60
#: Minutes from which the tune is heard first.
_LISTENED = 8
_JOINS = 2
_MELODY = frozenset({Role.MELODY})


class PracticePlan(NamedTuple):
    """A plan made for a tune: what is hard in it, and the steps."""

    spots: tuple[HardSpot, ...]
    steps: tuple[PlannedStep, ...]

    @property
    def plan(self) -> Plan:
        """The steps as they are practised."""
        return Plan(tuple(planned.step for planned in self.steps))

    @property
    def seconds(self) -> float:
        """How long all of it takes, rests too."""
        return sum(planned.seconds for planned in self.steps)


class _Tempi(NamedTuple):
    """The tempi of a plan, in per cent of the tune's own: the one to come to, and the slowest
    that can be played."""

    goal: int
    least: int

    def share(self, per_cent: int) -> Fraction:
        """So many per cent of the goal, as a factor of the tune's own tempo."""
        return Fraction(max(round(per_cent * self.goal / 100), self.least), 100)

    def ladder(self, step: Step, low: int, high: int, by: int) -> Step:
        """The step with a ladder up to a tempo, or at that tempo where there is none slower."""
        first, last = self.share(low), self.share(high)
        if first >= last:
            return step._replace(tempo=last)
        tempi = rungs(first, last, Fraction(by, 100))
        return step._replace(tempo=tempi[0], ladder=tempi, times=None)


def plan_practice(
    backing: Backing, minutes: int, percent: int = 100, language: str = ENGLISH
) -> PracticePlan:
    """A plan of about so many minutes (3 to 180), which leads up to so many per cent of the
    tune's own tempo (10 to 200); on the box that the backing is for, where it is for one.  What
    each step is for is said in one of the LANGUAGES.

    A tune that takes long takes longer than few minutes.  Raises PracticeError for minutes and
    tempi out of range, TuneError where there are no notes.
    """
    if not LEAST_MINUTES <= minutes <= MOST_MINUTES:
        raise PracticeError(
            f"a plan of {minutes} minutes", f"give {LEAST_MINUTES} to {MOST_MINUTES}"
        )
    if not 10 <= percent <= 200:
        raise PracticeError(f"{percent} per cent of the tempo", "give 10 to 200")
    own = backing.arrangement.tempo_at(Fraction(0))
    check_tempo(own.scaled(Fraction(percent, 100)))
    tempi = _Tempi(percent, ceil(100 * SLOWEST / own.beats))
    most = min(max(round(minutes / _MINUTES_A_SPOT), 1), _MOST_SPOTS)
    line, fingering = _line(backing), backing.fit.fingering if backing.fit else None
    spots = hard_spots(line, fingering, most)
    rests = (minutes - 1) // (REST_AFTER + REST)
    drafts = [
        draft._replace(step=draft.step._replace(name=opened(said_in(what, language))))
        for what, draft in _drafts(backing, line, spots, tempi, minutes)
    ]
    steps = filled(backing, drafts, 60.0 * (minutes - rests * REST))
    return PracticePlan(
        spots, tuple(_with_rests(steps, opened(said_in(Fact("put-down"), language))))
    )


def _line(backing: Backing) -> MelodyLine:
    """The melody, as it is fingered where it is."""
    if backing.fit:
        return backing.fit.line
    return line_as_played(as_played(backing.tune, backing.manner.dance, backing.manner.swing))


def _with_rests(steps: Sequence[PlannedStep], name: str) -> Iterator[PlannedStep]:
    """The steps with a rest of this name where one has played for long, and it is not nearly
    over."""
    played, left = 0.0, sum(planned.seconds for planned in steps)
    for planned in steps:
        if played and played + planned.seconds / 2 > 60 * REST_AFTER and left > 60 * REST:
            yield PlannedStep(Step(rest=60 * REST, name=name), 60.0 * REST)
            played = 0.0
        played += planned.seconds
        left -= planned.seconds
        yield planned


# -- what there is to do -------------------------------------------------------------------

#: What a step is for, and the step.
_ToldDraft = tuple[Fact | Parts, StepDraft]


def _drafts(
    backing: Backing, line: MelodyLine, spots: Sequence[HardSpot], tempi: _Tempi, minutes: int
) -> Iterator[_ToldDraft]:
    """All steps that a plan may have, each with a round or a few."""
    if minutes >= _LISTENED:
        hard = InBars(tuple(n for s in spots for n in range(s.first, s.last + 1)))
        what = Fact("listen-and-mark", {"bars": hard}) if spots else Fact("listen")
        yield what, StepDraft(Step(tempo=tempi.share(80)), 1, 1, spare=3)
    sections = list(dict.fromkeys(section.name for section in backing.tune.sections))
    where = {bar.index: bar.section for bar in line.bars}
    for name in sections:
        here = [spot for spot in spots if where[spot.at] == name]
        for spot in here:
            yield from _of_spot(line, spot, tempi)
        if here and len(sections) > 1:
            yield from _of_part(name, tempi)
    for before, after in list(pairwise(sections))[:_JOINS]:
        if before.isalpha() and after.isalpha() and max(len(before), len(after)) <= 3:
            what = Fact("from-part-to-part", {"before": before, "after": after})
            step = tempi.ladder(Step(Join(before, after)), 70, 90, 10)
            yield what, StepDraft(step, 2, 4, spare=2)
    yield from _of_whole(tempi, alone=len(sections) == 1)


def _of_spot(line: MelodyLine, spot: HardSpot, tempi: _Tempi) -> Iterator[_ToldDraft]:
    """A hard place alone, then with its neighbours, then these without the melody."""
    slow = min(max(5 * round(100 * spot.gap / _SLOW_MS / 5), _SLOWEST), _SLOW)
    own = Bars(spot.first, spot.last)
    step = tempi.ladder(Step(own, edges=True), slow, 85, 5)
    yield _alone(spot), StepDraft(step, 4, 6)
    wide = _with_neighbours(line, spot)
    if wide != own:
        said = {"wider": _numbers(wide), "bars": _numbers(own)}
        into = Fact("into-and-on", said, spot.last - spot.first + 1)
        yield into, StepDraft(tempi.ladder(Step(wide), slow + 10, 90, 5), 3, 5)
    without = Fact("bars-without-melody", {"bars": _numbers(wide)})
    yield without, StepDraft(Step(wide, tempi.share(85), 2, _MELODY), 2, 10, spare=1)


def _alone(spot: HardSpot) -> Parts:
    """A hard place, why it is one, and where the same comes again."""
    own, number = _numbers(Bars(spot.first, spot.last)), spot.last - spot.first + 1
    alone = Fact("alone", {"bars": own}, number)
    if spot.reasons:
        why = Parts(spot.reasons, "semicolon")
        alone = Fact("alone-since", {"bars": own, "reasons": why}, number)
    return Parts((alone, *spot.again), "sentences")


def _numbers(span: Bars) -> InBars:
    return InBars(tuple(range(span.first, span.last + 1)))


def _of_part(name: str, tempi: _Tempi) -> Iterator[_ToldDraft]:
    """A part with its hard places, then by turns with the melody and without."""
    part = OneSection(name)
    yield (
        Fact("part-faster", {"part": name}),
        StepDraft(tempi.ladder(Step(part), 70, 90, 10), 3, 4),
    )
    yield (
        Fact("part-by-turns", {"part": name}),
        StepDraft(Step(part, tempi.share(90), 1, echo=True), 2, 4, spare=1),
    )


def _of_whole(tempi: _Tempi, *, alone: bool) -> Iterator[_ToldDraft]:
    """The whole tune; `alone` says that it has no parts that came before."""
    if alone:
        step = tempi.ladder(Step(), 70, 90, 10)
        yield Fact("tune-faster"), StepDraft(step, 3, 3, spare=1)
    step = Step(Whole(), tempi.share(90), 1, _MELODY)
    yield Fact("tune-without-melody"), StepDraft(step, 1, 4, spare=2)
    usual = tempi.goal == 100
    last = Fact("tune-last") if usual else Fact("tune-last-at", {"percent": tempi.goal})
    yield last, StepDraft(Step(tempo=tempi.share(100)), 1, 4)


def _with_neighbours(line: MelodyLine, spot: HardSpot) -> Bars:
    """The bars with the one before and the one after, where their numbers go on as they are
    played."""
    order = [bar.number for bar in line.bars if not bar.pickup]
    at = next(n for n, bar in enumerate(b for b in line.bars if not b.pickup)
              if bar.index == spot.at)  # fmt: skip
    end = at + spot.last - spot.first
    first, last = spot.first, spot.last
    if at and order[at - 1] == first - 1:
        first -= 1
    if end + 1 < len(order) and order[end + 1] == last + 1:
        last += 1
    return Bars(first, last)
