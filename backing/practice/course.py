"""The way through a practice: count-ins, times through, echoes, gaps, one after the other.

There is one walk of a plan.  Laid end to end it is the route that a file is made from; a
player takes it stretch by stretch, and may send it elsewhere in between: to another span at
a bar line, or back to a count-in.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from backing.arranging.arrangement import Arrangement, MappedBar, Role
from backing.arranging.face import Face
from backing.arranging.faces import Faces, faces_of
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.practice.devices import Lap
from backing.practice.ends import (
    LEAD_IN_BARS,
    last_bars,
    led_by_chord,
    tag_bars,
    tag_of,
    with_close,
)
from backing.practice.lasting import TimedRounds
from backing.practice.laying import (
    Free,
    Laid,
    Target,
    Turn,
    lay_clicks,
    lay_piece,
    lay_round,
)
from backing.practice.passages import FRAGMENTS, OneSection, Passage, endings_of
from backing.practice.plan import Close, Ears, LeadIn, Plan
from backing.practice.round import Round
from backing.practice.rounds import Piece
from backing.practice.stretch import Kind, Sounding, Stretch, full_length


class Course(TimedRounds):
    """The walk of a plan, one stretch after the other.

    `arranged` is the tune for each time through, or one arrangement for all of them; `others`
    are the further tunes of a practice.  With `endless` its last step goes round until it is
    stopped, as every step does once the player has sent it to another span.  Raises
    PracticeError where a step cannot be played.
    """

    def __init__(
        self,
        arranged: Faces | Arrangement,
        tune: Tune,
        plan: Plan,
        *,
        others: Sequence[Piece] = (),
        endless: bool = False,
    ) -> None:
        super().__init__((Piece(faces_of(arranged), tune), *others), plan)
        self._endless, self._sent = endless, False
        self._parted = any(step.ears for step in plan.steps)
        self._scale = Fraction(1)
        self._free: Free | None = None
        self._time, self._said = 1, {""}
        self._lap: Lap | None = None
        self.staying = False
        first = self.asked(0)
        self._turns = self._way(first, self._counted_in(first))

    @property
    def start(self) -> Stretch:
        """The first time through, as if nothing came before."""
        turn = Turn(Kind.PLAY, self.asked(0))
        laid = lay_round(turn, self._round(turn), self.pickup(turn.target), None)
        return self._stretch(turn, laid)

    def next(self, scale: Fraction = Fraction(1), *, rests: bool = True) -> Stretch | None:
        """The next stretch; None when all has been played.

        `scale` is how much faster than asked it is played now, which says how long a
        count-in must be.  Without `rests` those are left out.
        """
        self._scale = scale
        turn = next((turn for turn in self._turns if rests or turn.kind is not Kind.REST), None)
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
        lead = self.pickup(target) <= room
        time = max(self._time, 1) if target.last else target.time
        first = Turn(Kind.PLAY, target, time, lead=lead, jumped=True)
        self._turns = self._way(target, self._times(first))

    def _send(self, target: Target, free: Free) -> None:
        self.round(target)
        laps = self.laps[target.step]
        if target.span in laps.spans:
            self._lap = None
        elif self._lap is None:
            self._lap = laps.at(self._time)
        self._sent = self._sent or target.span not in laps.spans
        self._free = free

    def to_step(self, step: int) -> Target:
        """Where a step of the plan begins, for a player who leaves the one that sounds: all goes
        on as the plan says from there."""
        self._sent = self.staying = False
        return self.asked(step)

    def lap(self, step: int, time: int) -> Lap:
        """A time through a step; where the player has sent it to other bars, as it was then."""
        return self._lap or self.laps[step].at(time)

    def seconds_from(self, target: Target) -> Fraction | None:
        """How long a step still lasts from a bar of a time through on; None without an end."""
        if not self._how_often(target.step) and not self.plan.steps[target.step].rest:
            return None
        return self.seconds_on(target)

    # -- what comes next ----------------------------------------------------------------

    def _way(self, target: Target, first: Iterable[Turn]) -> Iterator[Turn]:
        """The turns of a target's step, then those of the steps after it."""
        yield from first
        for step in range(target.step + 1, len(self.plan.steps)):
            self._lap, self._sent, self.staying = None, False, False
            yield from self._counted_in(self.asked(step))

    def _counted_in(self, target: Target) -> Iterator[Turn]:
        """A count-in, then all times; without one, a pickup is a bar of its own."""
        bar = self.round(target).frame[target.bar]
        lead = target.bar == 0 or self.pickup(target) <= full_length(bar)
        step, times = self.plan.steps[target.step], self._how_often(target.step)
        if step.rest:
            yield Turn(Kind.REST, target, clicks=self._bars_of_rest(bar, step.rest, target))
            return
        tempo = self._tempo(target, target.time).scaled(self._scale)
        from_tune, clicks = self._is_led_by_tune(target), self._clicks_before(target, tempo)
        if clicks:
            kind = Kind.LEAD_IN if step.lead_in is LeadIn.CHORDS else Kind.COUNT_IN
            yield Turn(kind, target, target.time, times, clicks=clicks)
        if from_tune:
            yield Turn(Kind.LEAD_IN, target, target.time, times, clicks=LEAD_IN_BARS)
        if not clicks and not from_tune:
            target = target._replace(bar=self._led(target))
        yield from self._times(Turn(Kind.PLAY, target, target.time, lead=lead))

    def _times(self, first: Turn) -> Iterator[Turn]:
        """All times of a step, each with its echo, and the gaps between them."""
        number = first.target.step
        step = self.plan.steps[number]
        kinds = (Kind.PLAY, Kind.ECHO) if step.echo else (Kind.PLAY,)
        turn, time, going_on = first, first.time, True
        while going_on:
            times = self._times_from(first)
            over = 0 < times <= time
            for kind in kinds:
                ends = over and kind is kinds[-1]
                last = ends and not step.goes_on
                turn = turn._replace(kind=kind, time=time, times=times, last=last)
                later = turn if kind is not kinds[-1] else self._after(turn, over=over)
                yield self._leading_on(turn, later)
                if step.gap and not ends:
                    aside = turn.target._replace(bar=0)
                    yield Turn(Kind.GAP, aside, time, times, clicks=step.gap)
                if last and step.close is Close.TAG and not isinstance(turn.target.span, FRAGMENTS):
                    yield Turn(Kind.TAG, turn.target._replace(bar=0), time, times, clicks=1)
                turn = Turn(kind, turn.target._replace(bar=0))
            time += 1
            going_on = not over or self.staying
            if going_on:
                turn = Turn(Kind.PLAY, self._next_target(turn.target, time), time)

    def _times_from(self, first: Turn) -> int:
        """How many times a step goes round that begins with this one."""
        return first.time if first.target.last else self._how_often(first.target.step)

    def _next_target(self, target: Target, time: int) -> Target:
        """The same step at a later time through."""
        span = target.span if self._lap else self.laps[target.step].at(time).span
        return target._replace(span=span, bar=0, time=time)

    def _after(self, turn: Turn, *, over: bool) -> Turn | None:
        """What follows a time through at once: the next time, the next step where this one goes
        on to it; nothing at the end."""
        target = turn.target
        if not over:
            return turn._replace(target=self._next_target(target, turn.time + 1))
        if not self.plan.steps[target.step].goes_on or target.step + 1 == len(self.plan.steps):
            return None
        return Turn(Kind.PLAY, self.asked(target.step + 1))

    def _leading_on(self, turn: Turn, later: Turn | None) -> Turn:
        """A turn that knows what follows it."""
        steps, target = self.plan.steps, turn.target
        same = later is not None and later.target.step == target.step
        if later is None or (steps[target.step].gap and same):
            return turn
        span, step = later.target.span, steps[later.target.step]
        here, there = (self.round(each).frame[0].index for each in (target, later.target))
        # A first part once to yourself, and the tune after it, have one pickup.
        if step.piece == steps[target.step].piece and (span == target.span or here == there):
            return turn._replace(follows=True)
        return turn._replace(room=self.pickup(later.target))

    def _how_often(self, step: int) -> int:
        """How many times a step goes round; 0 for without an end."""
        final = step + 1 == len(self.plan.steps)
        endless = self._sent or self.staying or (self._endless and final)
        return 0 if endless else self.times(step)

    def _bars_of_rest(self, bar: MappedBar, seconds: int, target: Target) -> int:
        """How many bars of silence make a rest."""
        wholes = self._tempo(target, 1).scaled(self._scale).wholes
        return max(1, round(seconds * wholes / 60 / full_length(bar)))

    # -- where it lies --------------------------------------------------------------------

    def _stretch(self, turn: Turn, laid: Laid) -> Stretch:
        """A turn in its place."""
        target, step = turn.target, self.plan.steps[turn.target.step]
        muted = step.muted | self.lap(target.step, turn.time).muted
        stretch = Stretch(
            kind=turn.kind,
            step=target.step,
            time=turn.time,
            times=turn.times,
            frame=laid.frame,
            sounding=laid.sounding,
            tempo=self._tempo(target, turn.time),
            factor=self.factor(target.step, turn.time),
            muted=muted | {Role.MELODY} if turn.kind is Kind.ECHO else muted,
            span=target.span,
            click=step.click,
            name=step.name,
            ears=step.ears or (Ears.BOTH if self._parted else None),
        )
        if turn.clicks:
            return stretch._replace(pickup=self.pickup(target))
        found = self._round(turn)
        song = self._song(target, laid)
        return stretch._replace(
            notices=self._new_notice(turn, found),
            first=len(found.frame) - len(laid.frame),
            song=song,
            chord=self._chord(target.step, song),
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
        piece = self.piece(target.step)
        bar = self.round(target).frame[target.bar]
        if turn.kind is Kind.TAG:
            laid = lay_clicks(tag_bars(bar), bar, self._free)
            return laid._replace(sounding=Sounding(tag_of(piece.arrangement, laid.frame)))
        if turn.kind is Kind.LEAD_IN and lead_in is LeadIn.TUNE:
            going_on = piece.faces(Face(last=False))
            return lay_piece(last_bars(going_on, self.pickup(target)), self._free)
        laid = lay_clicks(turn.clicks, bar, self._free)
        if turn.kind in (Kind.GAP, Kind.REST) or lead_in in (LeadIn.CLICKS, LeadIn.TUNE):
            return laid
        held = lead_in is LeadIn.HELD
        chord = led_by_chord(self.round(target).piece, laid.frame, held=held)
        return laid._replace(sounding=Sounding(chord))

    def _round(self, turn: Turn) -> Round:
        step = self.plan.steps[turn.target.step]
        span = self._ending(turn)
        found = self.round(turn.target._replace(span=span), face=_face(turn))
        if turn.last and not isinstance(span, FRAGMENTS):
            return found._replace(piece=with_close(found.piece, step.close))
        return found

    def _ending(self, turn: Turn) -> Passage:
        """The span of a turn; a section with several endings takes them by turns, so that the
        last time has the last; without an end the first time has the first."""
        span = turn.target.span
        if not isinstance(span, OneSection) or span.ending is not None:
            return span
        endings = endings_of(self.piece(turn.target.step).tune, span.name)
        if len(endings) < 2:
            return span
        left = turn.times - turn.time if turn.times else -turn.time
        return span._replace(ending=endings[(-1 - left) % len(endings)])

    def _tempo(self, target: Target, time: int) -> Tempo:
        """The tempo at a target, as its step scales it at a time through."""
        return self._own_tempo(target).scaled(self.factor(target.step, time))

    def factor(self, step: int, time: int) -> Fraction:
        """How a step scales the tune's own tempo at a time through."""
        return self._factor_of(step, self.lap(step, time))


def _face(turn: Turn) -> Face:
    """What is played of a tune at a turn: a few bars never vary, and never stop."""
    span = turn.target.span
    if isinstance(span, FRAGMENTS):
        return Face(last=False, alone=True)
    return Face(max(turn.time, 1), turn.last, alone=isinstance(span, OneSection))
