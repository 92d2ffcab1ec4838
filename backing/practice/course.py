"""Where a practice that sounds goes next: the same loop again, or where the player asks.

A `Course` yields what a route would, one leg at a time, for as long as it is asked.  In
between the player may send it elsewhere: to another span at a bar line, or back to a
count-in.
"""

from bisect import bisect_right
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import (
    Arrangement,
    MappedBar,
    PlacedTempo,
    PlacedText,
    Track,
    move,
)
from backing.music.tune import Tune
from backing.practice.plan import Bars, OneSection, Plan, Span, Step, Whole, check_plan
from backing.practice.route import (
    Kind,
    Loop,
    Stretch,
    Walk,
    check_speeds,
    count_in_bars,
    find_loop,
    first_stretch,
    full_bar,
)


class Target(NamedTuple):
    """A span to go round in, and which bar of it comes first: the place of a full bar
    among the span's bars from its first full one (0) on.  A pickup goes with its bar."""

    span: Span
    bar: int = 0


class Leg(NamedTuple):
    """A stretch whose events still lie where the tune has them, so that a long one can be
    made ready bar by bar.

    `tracks` sound later by `by`; the stretch's own piece has none.  They sound from
    `begin` on, bass and chords from `left` on (positions before `by` is added), None for
    all.  The frame's first bar has the `place` in the span (0: its first full bar, negative
    before), and stands at `song` in the tune as it is played.
    """

    stretch: Stretch
    tracks: tuple[Track, ...] = ()
    by: Fraction = Fraction(0)
    begin: Fraction | None = None
    left: Fraction | None = None
    place: int = 0
    song: Fraction = Fraction(0)


class Course:
    """The way of a practice, one leg after the other.

    It goes round in the step's span: `step.times` times, or with `endless` until it is
    stopped, as it does wherever the player sends it.  Legs are at the tune's own tempo;
    `factor` is how the step scales it.  Raises PracticeError where the step cannot be
    played.
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
        base = first_stretch(0, step, self.loop(step.span))
        check_speeds(base)
        self.factor = base.factor
        self._walk = Walk()
        self._next = self.asked
        self._time = 1
        self._lead = self._counting = True
        self._jumped = False

    def loop(self, span: Span) -> Loop:
        """A span's bars in one piece; raises PracticeError where there are none."""
        if span not in self._loops:
            self._loops[span] = find_loop(self.arrangement, self.tune, span)
        return self._loops[span]

    @property
    def _numbers(self) -> list[int]:
        """The numbers of the full bars, of all where none is full."""
        bars = self.arrangement.bars
        return [bar.number for bar in bars if not bar.begins] or [bar.number for bar in bars]

    @property
    def span(self) -> Span:
        """What it goes round in."""
        return self._next.span

    @property
    def start(self) -> Stretch:
        """What all legs of the span that it goes round in have in common."""
        return first_stretch(0, Step(self._next.span), self.loop(self._next.span))

    def next(self, factor: Fraction) -> Leg | None:
        """The next leg; None when all has been played.

        `factor` is how fast it is played, which says how long a count-in must be.
        """
        base = replace(self.start, time=self._time, times=self._times or 0)
        count_in = self._clicks(base, factor) if self._counting else None
        self._counting = False
        if count_in is not None:
            return Leg(count_in)
        if self._times is not None and self._time > self._times:
            return None
        leg = self._leg(base)
        self._time, self._lead, self._jumped = self._time + 1, True, False
        self._next = Target(self._next.span)
        return leg

    def _clicks(self, base: Stretch, factor: Fraction) -> Stretch | None:
        """The count-in to the bar that comes next, at that bar's tempo; None without one."""
        loop, place = self.loop(self._next.span), self._next.bar
        bar = loop.frame[place]
        tempo = loop.piece.tempo_at(bar.onset)
        count = self._count_in
        if count is None:
            count = count_in_bars(bar, tempo.scaled(factor))
        self._walk.start(count, bar, loop)
        pickup = self.pickup(self._next)
        self._lead = place == 0 or pickup <= full_bar(bar)
        if not count:
            self._next = Target(self.span, self._led(self._next))
            return None
        return self._walk.clicks(Kind.COUNT_IN, replace(base, tempo=tempo), bar, count, pickup)

    def _leg(self, base: Stretch) -> Leg:
        """The next time through, or what is left of it."""
        loop, skip = self.loop(self.span), self._next.bar
        laid = self._walk.lay(loop, last=self._time == self._times, skip=skip, lead=self._lead)
        by, begin = laid.downbeat, laid.begin
        start = laid.frame[0].onset - by
        if begin is not None and skip and self._lead:
            begin -= self.pickup(self._next)
        song = self._song(laid.frame[0], start)
        piece = _from(laid.piece, begin)
        chord = PlacedText(start, self._chord(song))
        return Leg(
            replace(
                base,
                frame=laid.frame,
                piece=move(replace(piece, chords=(chord, *piece.chords)), by),
            ),
            laid.piece.tracks,
            by,
            begin,
            start if self._jumped or skip else begin,
            len(loop.frame) - len(laid.frame),
            song,
        )

    def pickup(self, target: Target) -> Fraction:
        """Length of the pickup that leads into a target."""
        loop = self.loop(target.span)
        if not target.bar:
            return loop.pickup
        return loop.frame[target.bar].onset - loop.frame[self._led(target)].onset

    def _led(self, target: Target) -> int:
        """The place where the pickup into a target's bar begins; without one, the bar's."""
        frame, place = self.loop(target.span).frame, target.bar
        while place and frame[place - 1].begins:
            place -= 1
        return place

    def _song(self, bar: MappedBar, onset: Fraction) -> Fraction:
        """Where a bar at this place in the span stands in the tune as it is played."""
        if isinstance(self.span, Whole):
            return onset
        return next(other.onset for other in self.arrangement.bars if other.index == bar.index)

    def _chord(self, song: Fraction) -> str:
        """The chord symbol in force at a place in the tune as it is played."""
        chords = self.arrangement.chords
        place = bisect_right(chords, song, key=lambda text: text.onset)
        return chords[place - 1].text if place else ""

    def begin(self, target: Target, at: Fraction) -> None:
        """Count in at a position, then play from the target on."""
        self._turn(target, at, Fraction(0))
        self._counting = True

    def turn(self, target: Target, at: Fraction, room: Fraction) -> None:
        """Go on with the target at a bar line; `room` is what is left of the bar before,
        for a pickup to sound in."""
        self._turn(target, at, room)
        self._lead = self.pickup(target) <= room
        self._jumped = True

    def _turn(self, target: Target, at: Fraction, room: Fraction) -> None:
        self.loop(target.span)
        if target.span != self._next.span:
            self._times = None
        self._next, self._time = target, 1
        self._walk.jump(at, room)
        self._lead, self._counting, self._jumped = True, False, False

    # -- where else to go -----------------------------------------------------------

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

    def place(self, place: int) -> Target:
        """A place in the span that it goes round in; what leads in goes with its bar."""
        full = self._full(self.span)
        return Target(self.span, next((other for other in full if other >= place), full[0]))

    def following(self, here: Target) -> Target:
        """What comes after a bar where nothing else is asked for."""
        return self._stepped(here, 1)

    def whole(self, here: Target) -> Target:
        """The whole tune, at the bar where it is now."""
        if isinstance(here.span, Whole):
            return here
        bar = self.loop(here.span).frame[here.bar]
        bars = self.loop(Whole()).frame
        same = (place for place, other in enumerate(bars) if other.index == bar.index)
        return Target(Whole(), next(same, 0))

    def step_bars(self, target: Target, by: int) -> Target:
        """The bar before or after; a loop of bars moves along the tune."""
        if isinstance(target.span, Bars):
            return Target(self._moved(target.span, by))
        return self._stepped(target, by)

    def step_sections(self, target: Target, by: int) -> Target:
        """The part before or after; in the whole tune, going back in the middle of one is to
        its beginning."""
        bars = self.loop(target.span).frame
        here = bars[target.bar]
        if isinstance(target.span, Whole):
            full = self._full(Whole())
            starts = [
                place
                for before, place in zip([None, *full], full, strict=False)
                if before is None or _part(bars[place]) != _part(bars[before])
            ]
            before = [place for place in starts if place < target.bar]
            after = [place for place in starts if place > target.bar]
            return Target(Whole(), (before or [0])[-1] if by < 0 else (after or [0])[0])
        names = list(dict.fromkeys(bar.section for bar in self.loop(Whole()).frame))
        name = names[(names.index(here.section) + by) % len(names)]
        if isinstance(target.span, OneSection):
            return Target(OneSection(name))
        part = [bar for bar in self.loop(Whole()).frame if bar.section == name]
        first = next((bar for bar in part if not bar.begins), part[0])
        return Target(self._moved(target.span, first.number - target.span.first))

    def _moved(self, span: Bars, by: int) -> Bars:
        first, last = min(self._numbers), max(self._numbers)
        by = max(first - span.first, min(by, last - span.last))
        return Bars(span.first + by, span.last + by)

    def _stepped(self, target: Target, by: int) -> Target:
        """So many full bars on, round and round."""
        full = self._full(target.span)
        return Target(target.span, full[(full.index(target.bar) + by) % len(full)])

    def _full(self, span: Span) -> list[int]:
        """The places of a span's full bars, all where none is full."""
        frame = self.loop(span).frame
        return [place for place, bar in enumerate(frame) if not bar.begins] or [0]


def _part(bar: MappedBar) -> tuple[str, int]:
    return bar.section, bar.time


def _from(piece: Arrangement, begin: Fraction | None) -> Arrangement:
    """The tempi and chords of a piece from a position on, without its bars and events."""
    bare = replace(piece, bars=(), tracks=())
    if begin is None:
        return bare
    now = PlacedTempo(begin, piece.tempo_at(begin))
    return replace(
        bare,
        tempos=(now, *(placed for placed in piece.tempos if placed.onset >= begin)),
        chords=tuple(text for text in piece.chords if text.onset >= begin),
    )
