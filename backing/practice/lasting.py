"""How long the steps of a plan last, as it asks for them, wherever a player has been sent."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.music.tempo import Tempo
from backing.practice.devices import Lap
from backing.practice.ends import LEAD_IN_BARS
from backing.practice.laying import Target, count_in_bars
from backing.practice.plan import LeadIn, Plan
from backing.practice.round import Round
from backing.practice.rounds import Piece, Rounds
from backing.practice.stretch import full_length

_ZERO, _ONE = Fraction(0), Fraction(1)


class _RoundSeconds(NamedTuple):
    """How long a time through lasts, with the gaps after it and after its echo; one gap."""

    whole: Fraction
    gap: Fraction


class TimedRounds(Rounds):
    """The rounds of a plan's steps, and how many seconds they take, at the tempi that are asked
    for."""

    def __init__(self, pieces: Sequence[Piece], plan: Plan) -> None:
        super().__init__(pieces, plan)
        self._lasting: dict[tuple[int, Lap], _RoundSeconds] = {}

    def seconds(self, step: int, scale: Fraction = _ONE) -> Fraction:
        """How long a step lasts, with its count-in; `scale` is how much faster than asked it is
        played, which says how long a count-in must be, and changes nothing else."""
        return self._seconds_before(step, scale) + self._seconds_of_rounds(step, 1)

    def seconds_on(self, target: Target) -> Fraction:
        """How long a step lasts from a bar of a time through on, as often as its plan says."""
        played = sum((bar.length for bar in self.round(target).frame[: target.bar]), _ZERO)
        gone = 60 * played / self._asked_tempo(target._replace(bar=0), target.time).wholes
        return self._seconds_of_rounds(target.step, target.time) - gone

    def _seconds_before(self, step: int, scale: Fraction) -> Fraction:
        """How long it takes until a step's first full bar: clicks, the tune's last bars, or
        without them the pickup, unless it sounds in the last bar of what goes on to it."""
        if self.plan.steps[step].rest:
            return _ZERO
        target = self.asked(step)
        tempo = self._asked_tempo(target, target.time)
        bars = self._clicks_before(target, tempo.scaled(scale))
        bars += LEAD_IN_BARS * self._is_led_by_tune(target)
        length = bars * full_length(self.round(target).frame[target.bar])
        if not bars and not (step and self.plan.steps[step - 1].goes_on):
            length = self.pickup(target)
        return 60 * length / tempo.wholes

    def _seconds_of_rounds(self, step: int, first: int) -> Fraction:
        """How long a step lasts from a time through on.  All rounds of a stage last as long: a
        player asks at every beat, of steps of a thousand rounds too."""
        asked, laps, times = self.plan.steps[step], self.laps[step], self.times(step)
        if asked.rest:
            return Fraction(asked.rest)
        total, time = _ZERO, first
        while time <= times:
            stop = laps.last_alike(time, times)
            total += (stop - time + 1) * self._round_seconds(step, time).whole
            time = stop + 1
        return total - self._round_seconds(step, times).gap

    def _round_seconds(self, step: int, time: int) -> _RoundSeconds:
        """How long a time through lasts, with its echo and the gaps after it; a part with several
        endings as if each time had the last."""
        known = step, self.laps[step].at(time)
        if known not in self._lasting:
            asked, lap = self.plan.steps[step], known[1]
            found = self.round(Target(lap.span, step=step))
            kinds, factor = 2 if asked.echo else 1, self._factor_of(step, lap)
            own = found.piece.tempo_at(_ZERO).wholes
            gap = 60 * asked.gap * full_length(found.frame[0]) / own / factor
            self._lasting[known] = _RoundSeconds((60 * _minutes(found) / factor + gap) * kinds, gap)
        return self._lasting[known]

    def _asked_tempo(self, target: Target, time: int) -> Tempo:
        """The tempo at a target, as its plan scales it at a time through."""
        lap = self.laps[target.step].at(time)
        return self._own_tempo(target).scaled(self._factor_of(target.step, lap))

    def _is_led_by_tune(self, target: Target) -> bool:
        """True where the tune's own last bars lead in."""
        tune = self.plan.steps[target.step].lead_in is LeadIn.TUNE
        return tune and target == self.asked(target.step)

    def _clicks_before(self, target: Target, tempo: Tempo) -> int:
        """How many bars of clicks, or of a chord, come before a target at a tempo."""
        asked = self.plan.steps[target.step].count_in
        if asked is not None:
            return asked
        if self._is_led_by_tune(target):
            return 0
        bar = self.round(target).frame[target.bar]
        return count_in_bars(bar, tempo, led=self.pickup(target) > 0)


def _minutes(found: Round) -> Fraction:
    """How long a round lasts at the tune's own tempi."""
    stop = found.frame[-1].stop
    starts = [max(placed.onset, _ZERO) for placed in found.piece.tempos]
    spans = zip(found.piece.tempos, starts, [*starts[1:], stop], strict=True)
    return sum(((end - at) / placed.tempo.wholes for placed, at, end in spans), _ZERO)
