"""The way through a practice: count-ins, times through, echoes, gaps, one after the other.

There is one walk of a plan.  Laid end to end it is the route that a file is made from; a
player takes it stretch by stretch, and may send it elsewhere in between: to another span at
a bar line, or back to a count-in.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import count

from backing.arranging.arrangement import Arrangement, Role
from backing.arranging.face import ONCE, Face
from backing.arranging.faces import Faces, faces_of
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.practice.ends import (
    LEAD_IN_BARS,
    last_bars,
    led_by_chord,
    tag_bars,
    tag_of,
    with_close,
)
from backing.practice.laying import (
    Free,
    Laid,
    Target,
    Turn,
    count_in_bars,
    lay_clicks,
    lay_piece,
    lay_round,
)
from backing.practice.plan import (
    Bars,
    Close,
    LeadIn,
    OneSection,
    Passage,
    Plan,
    Whole,
    check_plan,
    check_speeds,
    endings_of,
    scale_of,
)
from backing.practice.round import Round, find_round
from backing.practice.stretch import Kind, Sounding, Stretch, full_length


class Course:
    """The walk of a plan, one stretch after the other.

    `arranged` is the tune for each time through, or one arrangement for all of them.  With
    `endless` its last step goes round until it is stopped, as every step does once the
    player has sent it to another span.  `factors` are how the steps scale the tune's own
    tempo.  Raises PracticeError where a step cannot be played.
    """

    def __init__(
        self, arranged: Faces | Arrangement, tune: Tune, plan: Plan, *, endless: bool = False
    ) -> None:
        check_plan(plan, tune)
        self._faces = faces_of(arranged)
        self.arrangement, self.tune, self.plan = self._faces(), tune, plan
        self._endless, self._sent = endless, False
        self._rounds: dict[tuple[Passage, bool, Face], Round] = {}
        pieces = [self.round(step.span).piece for step in plan.steps]
        self.factors = tuple(map(scale_of, pieces, plan.steps))
        for piece, factor in zip(pieces, self.factors, strict=True):
            check_speeds(piece, factor)
        self._scale = Fraction(1)
        self._free: Free | None = None
        self._time, self._said = 1, {""}
        first = self.asked(0)
        self._turns = self._way(first, self._counted_in(first))

    def asked(self, step: int) -> Target:
        """What a step asks for: its span, from the beginning."""
        return Target(self.plan.steps[step].span, step=step)

    @property
    def start(self) -> Stretch:
        """The first time through, as if nothing came before."""
        turn = Turn(Kind.PLAY, self.asked(0))
        laid = lay_round(turn, self._round(turn), self.pickup(turn.target), None)
        return self._stretch(turn, laid)

    def round(self, span: Passage, *, whole_pickup: bool = False, face: Face = ONCE) -> Round:
        """One time through a span; raises PracticeError where there are no such bars."""
        known = span, whole_pickup, face
        if known not in self._rounds:
            piece = self._faces(face)
            self._rounds[known] = find_round(piece, self.tune, span, whole_pickup=whole_pickup)
        return self._rounds[known]

    def next(self, scale: Fraction = Fraction(1)) -> Stretch | None:
        """The next stretch; None when all has been played.

        `scale` is how much faster than asked it is played now, which says how long a
        count-in must be.
        """
        self._scale = scale
        turn = next(self._turns, None)
        if turn is None:
            return None
        laid = self._lay(turn)
        self._free, self._time = laid.free, turn.time
        return self._stretch(turn, laid)

    def begin(self, target: Target, at: Fraction) -> None:
        """Count in at a position, then play from the target on."""
        self._send(target, Free(at))
        self._turns = self._way(target, self._counted_in(target))

    def turn(self, target: Target, at: Fraction, room: Fraction) -> None:
        """Go on with the target at a bar line; `room` is what is left of the bar before,
        for a pickup to sound in."""
        self._send(target, Free(at, room))
        lead, time = self.pickup(target) <= room, self._time if target.last else 1
        first = Turn(Kind.PLAY, target, time, lead=lead, jumped=True)
        self._turns = self._way(target, self._times(first))

    def _send(self, target: Target, free: Free) -> None:
        self.round(target.span)
        self._sent = self._sent or target.span != self.plan.steps[target.step].span
        self._free = free

    # -- what comes next ----------------------------------------------------------------

    def _way(self, target: Target, first: Iterable[Turn]) -> Iterator[Turn]:
        """The turns of a target's step, then those of the steps after it."""
        yield from first
        for step in range(target.step + 1, len(self.plan.steps)):
            yield from self._counted_in(self.asked(step))

    def _counted_in(self, target: Target) -> Iterator[Turn]:
        """A count-in, then all times; without one, a pickup is a bar of its own."""
        bar = self.round(target.span).frame[target.bar]
        lead = target.bar == 0 or self.pickup(target) <= full_length(bar)
        step, times = self.plan.steps[target.step], self._how_often(target.step)
        from_tune = step.lead_in is LeadIn.TUNE and target == self.asked(target.step)
        clicks = step.count_in
        if clicks is None:
            tempo = self._tempo(target).scaled(self._scale)
            usual = count_in_bars(bar, tempo, led=self.pickup(target) > 0)
            clicks = 0 if from_tune else usual
        if clicks:
            kind = Kind.LEAD_IN if step.lead_in is LeadIn.CHORDS else Kind.COUNT_IN
            yield Turn(kind, target, times=times, clicks=clicks)
        if from_tune:
            yield Turn(Kind.LEAD_IN, target, times=times, clicks=LEAD_IN_BARS)
        if not clicks and not from_tune:
            target = target._replace(bar=self._led(target))
        yield from self._times(Turn(Kind.PLAY, target, lead=lead))

    def _times(self, first: Turn) -> Iterator[Turn]:
        """All times of a step, each with its echo, and the gaps between them."""
        step = self.plan.steps[first.target.step]
        times = first.time if first.target.last else self._how_often(first.target.step)
        kinds = (Kind.PLAY, Kind.ECHO) if step.echo else (Kind.PLAY,)
        turn, again = first, Turn(Kind.GAP, first.target._replace(bar=0))
        for time in range(first.time, times + 1) if times else count(first.time):
            for kind in kinds:
                last = time == times and kind is kinds[-1] and not step.goes_on
                yield turn._replace(
                    kind=kind, time=time, times=times, last=last, follows=not (last or step.gap)
                )
                turn = again
                if step.gap and not last:
                    yield again._replace(time=time, times=times, clicks=step.gap)
                if last and step.close is Close.TAG and not isinstance(turn.target.span, Bars):
                    yield Turn(Kind.TAG, again.target, time, times, clicks=1)

    def _how_often(self, step: int) -> int:
        """How many times a step goes round; 0 for without an end."""
        final = step + 1 == len(self.plan.steps)
        return 0 if self._sent or (self._endless and final) else self.plan.steps[step].times

    # -- where it lies --------------------------------------------------------------------

    def _stretch(self, turn: Turn, laid: Laid) -> Stretch:
        """A turn in its place."""
        target, step = turn.target, self.plan.steps[turn.target.step]
        stretch = Stretch(
            kind=turn.kind,
            step=target.step,
            time=turn.time,
            times=turn.times,
            frame=laid.frame,
            sounding=laid.sounding,
            tempo=self._tempo(target),
            factor=self.factors[target.step],
            muted=step.muted | {Role.MELODY} if turn.kind is Kind.ECHO else step.muted,
            span=target.span,
            click=step.click,
        )
        if turn.clicks:
            return stretch._replace(pickup=self.pickup(target))
        found = self._round(turn)
        song = self._song(target.span, laid)
        return stretch._replace(
            notices=self._new_notice(turn, found),
            first=len(found.frame) - len(laid.frame),
            song=song,
            chord=self._chord(song),
        )

    def _new_notice(self, turn: Turn, found: Round) -> tuple[str, ...]:
        """What there is to say of a seam, once."""
        if not turn.follows or found.notice in self._said:
            return ()
        self._said.add(found.notice)
        return (found.notice,)

    def _lay(self, turn: Turn) -> Laid:
        if turn.clicks:
            return self._lay_aside(turn)
        return lay_round(turn, self._round(turn), self.pickup(turn.target), self._free)

    def _lay_aside(self, turn: Turn) -> Laid:
        """Bars that are none of a time through: clicks, a lead-in, a tag."""
        target, lead_in = turn.target, self.plan.steps[turn.target.step].lead_in
        bar = self.round(target.span).frame[target.bar]
        if turn.kind is Kind.TAG:
            laid = lay_clicks(tag_bars(bar), bar, self._free)
            return laid._replace(sounding=Sounding(tag_of(self.arrangement, laid.frame)))
        if turn.kind is Kind.LEAD_IN and lead_in is LeadIn.TUNE:
            going_on = self._faces(Face(last=False))
            return lay_piece(last_bars(going_on, self.pickup(target)), self._free)
        laid = lay_clicks(turn.clicks, bar, self._free)
        if turn.kind is Kind.GAP or lead_in in (LeadIn.CLICKS, LeadIn.TUNE):
            return laid
        held = lead_in is LeadIn.HELD
        chord = led_by_chord(self.round(target.span).piece, laid.frame, held=held)
        return laid._replace(sounding=Sounding(chord))

    def _round(self, turn: Turn) -> Round:
        step = self.plan.steps[turn.target.step]
        span = self._ending(turn)
        found = self.round(span, whole_pickup=step.whole_pickup, face=_face(turn))
        if turn.last and not isinstance(span, Bars):
            return found._replace(piece=with_close(found.piece, step.close))
        return found

    def _ending(self, turn: Turn) -> Passage:
        """The span of a turn; a section with several endings takes them by turns, so that the
        last time has the last; without an end the first time has the first."""
        span = turn.target.span
        if not isinstance(span, OneSection) or span.ending is not None:
            return span
        endings = endings_of(self.tune, span.name)
        if len(endings) < 2:
            return span
        left = turn.times - turn.time if turn.times else -turn.time
        return span._replace(ending=endings[(-1 - left) % len(endings)])

    def _tempo(self, target: Target) -> Tempo:
        """The tempo at a target, as its step scales it."""
        found = self.round(target.span)
        own = found.piece.tempo_at(found.frame[target.bar].onset)
        return own.scaled(self.factors[target.step])

    def _song(self, span: Passage, laid: Laid) -> Fraction:
        """Where a time through begins in the tune as it is played."""
        bar = laid.frame[0]
        if isinstance(span, Whole) and laid.sounding:
            return bar.onset - laid.sounding.by
        return next(other.onset for other in self.arrangement.bars if other.index == bar.index)

    def _chord(self, song: Fraction) -> str:
        """The chord symbol in force at a place in the tune as it is played."""
        chords = self.arrangement.chords
        place = bisect_right(chords, song, key=lambda text: text.onset)
        return chords[place - 1].text if place else ""

    # -- pickups ----------------------------------------------------------------------------

    def pickup(self, target: Target) -> Fraction:
        """Length of the pickup that leads into a target."""
        found = self.round(target.span)
        if not target.bar:
            return found.pickup
        return found.frame[target.bar].onset - found.frame[self._led(target)].onset

    def _led(self, target: Target) -> int:
        """The place where the pickup into a target's bar begins; without one, the bar's."""
        frame, place = self.round(target.span).frame, target.bar
        while place and frame[place - 1].begins:
            place -= 1
        return place


def _face(turn: Turn) -> Face:
    """What is played of a tune at a turn: a few bars never vary, and never stop."""
    span = turn.target.span
    if isinstance(span, Bars):
        return Face(last=False, alone=True)
    return Face(max(turn.time, 1), turn.last, alone=isinstance(span, OneSection))
