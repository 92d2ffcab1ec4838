"""Where a player may go from a place in a practice: bars and parts on and back, a bar or a
part alone, the whole tune."""

from bisect import bisect_right
from dataclasses import dataclass

from backing.arranging.arrangement import MappedBar
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.stretch import Stretch


@dataclass(frozen=True, slots=True)
class WaysOn:
    """The ways that lead on in a course."""

    course: Course

    def place(self, stretch: Stretch, place: int) -> Target:
        """A place in the span of a stretch; what leads in goes with its bar."""
        full = self._full(Target(stretch.span, step=stretch.step))
        bar = next((other for other in full if other >= place), full[0])
        return Target(stretch.span, bar, stretch.step, time=max(stretch.time, 1))

    def bar_alone(self, here: Target) -> Target:
        """Round and round in this bar; in a first pickup it is the bar that follows."""
        number = self.number(here)
        return Target(Bars(number, number), step=here.step)

    def number(self, here: Target) -> int:
        """The number of this bar; of a first pickup that of the bar that follows."""
        return max(self.bar(here).number, min(self._numbers(here)))

    def section_alone(self, here: Target) -> Target:
        """Round and round in this part, with the ending of this time through it."""
        bar = self.bar(here)
        endings = {
            number
            for other in self.course.piece(here.step).arrangement.bars
            if other.section == bar.section and other.ending
            for number in other.ending.numbers
        }
        ending = bar.time if bar.time in endings else None
        return Target(OneSection(bar.section, ending), step=here.step)

    def step(self, here: Target, by: int) -> Target | None:
        """The step of the practice before or after, from its beginning; None for none."""
        starts = self.course.plan.starts
        step = self.number_of_step(here) - 1 + by
        return self.course.to_step(starts[step]) if 0 <= step < len(starts) else None

    def number_of_step(self, here: Target) -> int:
        """The number of the step that it is in, from 1, as a player counts them."""
        return bisect_right(self.course.plan.starts, here.step)

    def following(self, here: Target) -> Target:
        """What comes after a bar where nothing else is asked for."""
        return self._stepped(here, 1)

    def whole(self, here: Target) -> Target:
        """The whole tune, at the bar where it is now."""
        if isinstance(here.span, Whole):
            return here
        index = self.bar(here).index
        same = (place for place, other in enumerate(self._whole(here)) if other.index == index)
        return Target(Whole(), next(same, 0), here.step)

    def step_bars(self, here: Target, by: int) -> Target:
        """The bar before or after; a loop of bars moves along the tune."""
        if isinstance(here.span, Bars):
            return Target(self._moved(here, here.span, by), step=here.step)
        return self._stepped(here, by)

    def step_sections(self, here: Target, by: int) -> Target:
        """The part before or after; in the whole tune, going back in the middle of one is to
        its beginning."""
        if isinstance(here.span, Whole):
            return here._replace(bar=self._part_start(here, by))
        whole = self._whole(here)
        names = list(dict.fromkeys(bar.section for bar in whole))
        name = names[(names.index(self.bar(here).section) + by) % len(names)]
        if not isinstance(here.span, Bars):
            return Target(OneSection(name), step=here.step)
        part = [bar for bar in whole if bar.section == name]
        first = next((bar for bar in part if not bar.begins), part[0])
        span = self._moved(here, here.span, first.number - here.span.first)
        return Target(span, step=here.step)

    def _part_start(self, here: Target, by: int) -> int:
        """Where the part before or after a bar of the whole tune begins."""
        bar, bars, full = here.bar, self._whole(here), self._full(here)
        starts = [
            place
            for before, place in zip([None, *full], full, strict=False)
            if before is None or _part(bars[place]) != _part(bars[before])
        ]
        before = [place for place in starts if place < bar]
        after = [place for place in starts if place > bar]
        return (before or [0])[-1] if by < 0 else (after or [0])[0]

    def _moved(self, here: Target, span: Bars, by: int) -> Bars:
        numbers = self._numbers(here)
        first, last = min(numbers), max(numbers)
        by = max(first - span.first, min(by, last - span.last))
        return Bars(span.first + by, span.last + by)

    def _stepped(self, here: Target, by: int) -> Target:
        """So many full bars on, round and round."""
        full = self._full(here)
        return here._replace(bar=full[(full.index(here.bar) + by) % len(full)])

    def bar(self, here: Target) -> MappedBar:
        """The bar of the tune that a target begins with."""
        return self.course.round(here).frame[here.bar]

    def _whole(self, here: Target) -> tuple[MappedBar, ...]:
        """The whole tune that is played here."""
        return self.course.round(Target(Whole(), step=here.step)).frame

    def _full(self, here: Target) -> list[int]:
        """The places of a span's full bars, all where none is full."""
        frame = self.course.round(here).frame
        return [place for place, bar in enumerate(frame) if not bar.begins] or [0]

    def _numbers(self, here: Target) -> list[int]:
        """The numbers of the tune's full bars, of all where none is full."""
        bars = self.course.piece(here.step).arrangement.bars
        return [bar.number for bar in bars if not bar.begins] or [bar.number for bar in bars]


def _part(bar: MappedBar) -> tuple[str, int]:
    return bar.section, bar.time
