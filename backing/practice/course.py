"""Where a practice that sounds goes next: the same loop again, or where the player asks.

A `Course` yields the same stretches as a route, one at a time, for as long as it is
asked.  In between the player may send it elsewhere: to another span at a bar line, or
back to a count-in.
"""

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, MappedBar
from backing.music.tune import Tune
from backing.practice.plan import Bars, OneSection, Plan, Span, Step, Whole, check_plan
from backing.practice.route import (
    Kind,
    Loop,
    Stretch,
    Walk,
    count_in_bars,
    find_loop,
    first_stretch,
)


class Target(NamedTuple):
    """A span to go round in, and which bar of it comes first (0: its first full bar)."""

    span: Span
    bar: int = 0


class Course:
    """The way of a practice, one stretch after the other.

    It goes round in the step's span: `step.times` times, or with `endless` until it is
    stopped, as it does wherever the player sends it.  Stretches are at the tune's own
    tempo; `factor` is how the step scales it.
    """

    def __init__(
        self, arrangement: Arrangement, tune: Tune, step: Step, *, endless: bool = True
    ) -> None:
        check_plan(Plan((step,)), tune)
        self.arrangement, self.tune = arrangement, tune
        self.asked = Target(step.span)
        self._loops: dict[Span, Loop] = {}
        self._count_in = step.count_in
        self._times = None if endless else step.times
        self.factor = first_stretch(0, step, self.loop(step.span)).factor
        self._walk = Walk()
        self._next = self.asked
        self._time = 1
        self._lead = True
        self._counting = True

    def loop(self, span: Span) -> Loop:
        """A span's bars in one piece; raises PracticeError where there are none."""
        if span not in self._loops:
            self._loops[span] = find_loop(self.arrangement, self.tune, span)
        return self._loops[span]

    @property
    def _numbers(self) -> list[int]:
        """The numbers of the full bars."""
        return [bar.number for bar in self.arrangement.bars if not bar.begins]

    @property
    def span(self) -> Span:
        """What it goes round in."""
        return self._next.span

    def next(self, factor: Fraction) -> Stretch | None:
        """The next stretch; None when all has been played.

        `factor` is how fast it is played, which says how long a count-in must be.
        """
        loop = self.loop(self._next.span)
        base = replace(
            first_stretch(0, Step(self._next.span), loop), time=self._time, times=self._times or 0
        )
        if self._counting:
            self._counting = False
            bar = loop.frame[self._next.bar]
            count = self._count_in
            if count is None:
                count = count_in_bars(bar, base.tempo.scaled(factor))
            self._walk.start(count, bar, loop)
            if count:
                pickup = Fraction(0) if self._next.bar else loop.pickup
                return self._walk.clicks(Kind.COUNT_IN, base, bar, count, pickup)
        if self._times is not None and self._time > self._times:
            return None
        stretch = self._walk.play(
            base,
            loop,
            last=self._time == self._times,
            skip=self._next.bar,
            lead=self._lead,
        )
        self._time, self._lead = self._time + 1, True
        self._next = Target(self._next.span)
        return stretch

    def begin(self, target: Target, at: Fraction) -> None:
        """Count in at a position, then play from the target on."""
        self._turn(target, at)
        self._counting = True

    def turn(self, target: Target, at: Fraction, room: Fraction) -> None:
        """Go on with the target at a bar line; `room` is what is left of the bar before,
        for a pickup to sound in."""
        self._turn(target, at)
        self._walk.room = room
        self._lead = self.loop(target.span).pickup <= room

    def _turn(self, target: Target, at: Fraction) -> None:
        if target.span != self._next.span:
            self._times = None
        self._next, self._time = target, 1
        self._walk.at, self._walk.room, self._walk.looped = at, Fraction(0), False
        self._walk.started = True
        self._lead = True
        self._counting = False

    # -- where else to go -----------------------------------------------------------

    def place(self, bar: MappedBar) -> Target:
        """A bar as a place in the span that it goes round in; what leads in is its start."""
        return Target(self.span, max(self._place(self.span, bar), 0))

    def following(self, bar: MappedBar) -> Target:
        """What comes after a bar where nothing else is asked for."""
        return self._wrapped(self.span, self._place(self.span, bar) + 1)

    def bar_alone(self, bar: MappedBar) -> Target:
        """Round and round in this bar; in a first pickup it is the bar that follows."""
        number = max(bar.number, min(self._numbers))
        return Target(Bars(number, number))

    def section_alone(self, bar: MappedBar) -> Target:
        """Round and round in this part, with the ending of this time through it."""
        endings = {
            number
            for other in self.arrangement.bars
            if other.section == bar.section and other.ending
            for number in other.ending.numbers
        }
        return Target(OneSection(bar.section, bar.time if bar.time in endings else None))

    def whole(self, bar: MappedBar) -> Target:
        """The whole tune, from the bar after this one."""
        return self._wrapped(Whole(), self._place(Whole(), bar) + 1)

    def step_bars(self, target: Target, by: int) -> Target:
        """The bar before or after; a loop of bars moves along the tune."""
        if isinstance(target.span, Bars):
            return Target(self._moved(target.span, by))
        return self._wrapped(target.span, target.bar + by)

    def step_sections(self, target: Target, by: int) -> Target:
        """The part before or after; going back in the middle of one is to its beginning."""
        bars = self.loop(target.span).frame
        here = bars[target.bar]
        if isinstance(target.span, Whole):
            starts = [
                place
                for place, bar in enumerate(bars)
                if place == 0 or (bar.section, bar.time) != _part(bars[place - 1])
            ]
            before = [place for place in starts if place < target.bar]
            after = [place for place in starts if place > target.bar]
            return Target(Whole(), (before or [0])[-1] if by < 0 else (after or [0])[0])
        names = [section.name for section in self.tune.sections]
        name = names[(names.index(here.section) + by) % len(names)]
        if isinstance(target.span, OneSection):
            return Target(OneSection(name))
        first = next(bar for bar in self.arrangement.bars if bar.section == name and not bar.begins)
        return Target(self._moved(target.span, first.number - target.span.first))

    def _moved(self, span: Bars, by: int) -> Bars:
        first, last = min(self._numbers), max(self._numbers)
        by = max(first - span.first, min(by, last - span.last))
        return Bars(span.first + by, span.last + by)

    def _place(self, span: Span, bar: MappedBar) -> int:
        """Where a bar stands in a span's frame; the same bar of another time through where
        that time is not in it; -1 where it is not there."""
        frame = self.loop(span).frame
        same = [place for place, other in enumerate(frame) if other.index == bar.index]
        exact = [place for place in same if frame[place].time == bar.time]
        return (exact or same or [-1])[0]

    def _wrapped(self, span: Span, place: int) -> Target:
        return Target(span, place % len(self.loop(span).frame))


def _part(bar: MappedBar) -> tuple[str, int]:
    return bar.section, bar.time
