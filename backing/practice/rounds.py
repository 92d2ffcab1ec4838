"""What the steps of a plan are made of: their tunes, rounds, laps and tempi."""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement
from backing.arranging.face import ONCE, Face
from backing.arranging.faces import Faces
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.practice.devices import Lap, laps_of
from backing.practice.laying import Laid, Target
from backing.practice.passages import Passage, Whole
from backing.practice.plan import Plan, check_plan, check_speeds, scale_of
from backing.practice.round import Round, find_round


class Piece(NamedTuple):
    """A tune of a practice: its arrangements for each time through, and the tune."""

    faces: Faces
    tune: Tune

    @property
    def arrangement(self) -> Arrangement:
        """The tune as it is played once."""
        return self.faces()


class Rounds:
    """The rounds of a plan's steps, each made when it is first asked for.

    `factors` are how the stages of each step scale the tune's own tempo.  Raises PracticeError
    where a step cannot be played.
    """

    def __init__(self, pieces: Sequence[Piece], plan: Plan) -> None:
        check_plan(plan, [piece.tune for piece in pieces])
        self.pieces, self.plan = tuple(pieces), plan
        self._rounds: dict[tuple[int, Passage, bool, bool, Face], Round] = {}
        self.laps = tuple(laps_of(step, self.piece(at).tune) for at, step in enumerate(plan.steps))
        self.factors = tuple(map(self._factors_of, range(len(plan.steps))))

    def piece(self, step: int) -> Piece:
        """The tune that a step is of."""
        return self.pieces[self.plan.steps[step].piece]

    def times(self, step: int) -> int:
        """How often a step sounds by itself."""
        return self.plan.steps[step].times or self.laps[step].rounds

    def asked(self, step: int) -> Target:
        """What a step asks for: its span, from the beginning."""
        return Target(self.laps[step].at(1).span, step=step)

    @property
    def beats(self) -> tuple[Fraction, Fraction]:
        """The slowest and the fastest tempo in it, in felt beats a minute."""
        found = [
            factor * placed.tempo.beats
            for step, factors in enumerate(self.factors)
            for factor in factors
            for placed in self.piece(step).arrangement.tempos
        ]
        return min(found), max(found)

    def _factors_of(self, step: int) -> tuple[Fraction, ...]:
        """How the laps of a step scale the tune's own tempo, stage by stage.

        Raises PracticeError where that is too slow or too fast.
        """
        laps = self.laps[step]
        first = self.round(self.asked(step)).piece
        factors = tuple(scale_of(first, tempo) for tempo in laps.tempos)
        for span in laps.spans:
            piece = self.round(Target(span, step=step)).piece
            for factor in (min(factors), max(factors)):
                check_speeds(piece, factor)
        return factors

    def round(self, target: Target, *, face: Face = ONCE) -> Round:
        """One time through the span of a target; raises PracticeError where there are no such
        bars."""
        span, asked = target.span, self.plan.steps[target.step]
        edges = asked.edges and span in self.laps[target.step].spans
        known = asked.piece, span, asked.whole_pickup, edges, face
        if known not in self._rounds:
            piece = self.piece(target.step)
            self._rounds[known] = find_round(
                piece.faces(face), piece.tune, span, whole_pickup=asked.whole_pickup, edges=edges
            )
        return self._rounds[known]

    def _own_tempo(self, target: Target) -> Tempo:
        """The tune's own tempo at a target."""
        found = self.round(target)
        return found.piece.tempo_at(found.frame[target.bar].onset)

    def _factor_of(self, step: int, lap: Lap) -> Fraction:
        """How a lap of a step scales the tune's own tempo."""
        return self.factors[step][self.laps[step].tempos.index(lap.tempo)]

    def _song(self, target: Target, laid: Laid) -> Fraction:
        """Where a time through begins in the tune as it is played."""
        bar = laid.frame[0]
        if isinstance(target.span, Whole) and laid.sounding:
            return bar.onset - laid.sounding.by
        bars = self.piece(target.step).arrangement.bars
        return next(other.onset for other in bars if other.index == bar.index)

    def _chord(self, step: int, song: Fraction) -> str:
        """The chord symbol in force at a place in the tune as it is played."""
        chords = self.piece(step).arrangement.chords
        place = bisect_right(chords, song, key=lambda text: text.onset)
        return chords[place - 1].text if place else ""

    def pickup(self, target: Target) -> Fraction:
        """Length of the pickup that leads into a target."""
        found = self.round(target)
        if not target.bar:
            return found.pickup
        return found.frame[target.bar].onset - found.frame[self._led(target)].onset

    def _led(self, target: Target) -> int:
        """The place where the pickup into a target's bar begins; without one, the bar's."""
        frame, place = self.round(target).frame, target.bar
        while place and frame[place - 1].begins:
            place -= 1
        return place
