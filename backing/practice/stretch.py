"""A stretch of a practice: a count-in, a time through, an echo, a gap.

Positions are whole notes; the first full bar of a practice starts at 0, so a count-in lies
before it.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from itertools import takewhile
from typing import NamedTuple

from backing.arranging.arrangement import (
    LEFT_HAND,
    Arrangement,
    Event,
    MappedBar,
    PlacedTempo,
    PlacedText,
    Role,
    move_events,
)
from backing.arranging.breathing import BellowsSpan, bellows_between, bellows_later
from backing.music.tempo import Tempo
from backing.practice.limits import within_limits
from backing.practice.passages import Passage
from backing.practice.plan import Click, Ears


class Kind(StrEnum):
    """What a stretch is."""

    COUNT_IN = "count-in"
    PLAY = "play"
    ECHO = "echo"
    GAP = "gap"
    LEAD_IN = "lead-in"
    TAG = "tag"
    REST = "rest"


class Sounding(NamedTuple):
    """What sounds in a stretch: a piece that still lies where the tune has it, so that a long
    one can be made ready bar by bar.

    Everything sounds later by `by`: from `begin` on, bass and chords from `left` on
    (positions in the piece), None for all of it.
    """

    piece: Arrangement
    by: Fraction = Fraction(0)
    begin: Fraction | None = None
    left: Fraction | None = None

    def events(
        self, track: int, start: Fraction | None = None, stop: Fraction | None = None
    ) -> Iterable[Event]:
        """What a track (by its place) begins between two positions; None leaves a side open.

        Held bass and chords are struck again where the stretch begins; a melody note that
        began before is not.
        """
        line = self.piece.tracks[track]
        again = line.role in LEFT_HAND
        begin = self.left if again else self.begin
        events, held = line.events, []
        first, last = 0, len(events)
        if start is not None:
            first = bisect_left(events, start - self.by, key=_onset)
        elif begin is not None:
            first = bisect_left(events, begin, key=_onset)
            held = [
                event._replace(onset=begin, length=event.stop - begin)
                for event in (events[:first] if again else ())
                if event.stop > begin
            ]
        if stop is not None:
            last = bisect_left(events, stop - self.by, key=_onset)
        if held or first or last < len(events):
            events = (*held, *events[first:last])
        return move_events(events, self.by)

    @property
    def stop(self) -> Fraction:
        """Where its last bar ends, before that is filled up."""
        return self.piece.stop + self.by

    @property
    def tempos(self) -> Iterator[PlacedTempo]:
        """The tune's own tempi in it, the one in force at its start first."""
        tempos = self.piece.tempos
        if self.begin is not None:
            yield PlacedTempo(self.begin + self.by, self.piece.tempo_at(self.begin))
            tempos = tempos[bisect_left(tempos, self.begin, key=_onset) :]
        for onset, tempo, held in tempos:
            yield PlacedTempo(onset + self.by, tempo, held)

    def chords(
        self, start: Fraction | None = None, stop: Fraction | None = None
    ) -> Iterator[PlacedText]:
        """The chord symbols that begin between two positions; None leaves a side open."""
        chords = self.piece.chords
        begin = self.begin if start is None else start - self.by
        first = 0 if begin is None else bisect_left(chords, begin, key=_onset)
        last = len(chords) if stop is None else bisect_left(chords, stop - self.by, key=_onset)
        for onset, text in chords[first:last]:
            yield PlacedText(onset + self.by, text)

    def bellows(
        self, start: Fraction | None = None, stop: Fraction | None = None
    ) -> Iterator[BellowsSpan]:
        """The ways of the bellows that begin between two positions; None leaves a side open."""
        spans: Sequence[BellowsSpan] = self.piece.bellows
        if start is None and self.begin is not None:
            spans = tuple(bellows_between(spans, self.begin, self.piece.stop))
        first = 0 if start is None else bisect_left(spans, start - self.by, key=_start)
        last = len(spans) if stop is None else bisect_left(spans, stop - self.by, key=_start)
        return bellows_later(spans[first:last], self.by)

    def tempo_at(self, position: Fraction) -> Tempo:
        """The tune's own tempo in force at a position, fermatas left aside."""
        return self.piece.tempo_at(position - self.by)


class Stretch(NamedTuple):
    """A piece of the way: what sounds, and the bars that measure it.

    `frame` are the bars from where the stretch starts to where the next one does; the
    last is filled up to a full bar where the tune's own is short.  What is `sounding` may
    begin before the frame: a pickup sounds inside the stretch before.  `pickup` is the
    length of one that sounds over the end of a count-in or a gap.

    It is time `time` of `times` (0: without an end) of step number `step`, which goes round
    in `span`.  Every tempo of the tune is scaled by `factor`; `tempo` is the one at its
    start, so scaled.  The frame's first bar has the place `first` in the span (0: the span's
    first full bar, negative before), stands at `song` in the tune as it is played, and
    `chord` is the symbol in force there; `click` is what was asked of the click; `name` says
    what its step is for; `ears` where its tracks sound, None where nothing was ever said of that.
    """

    kind: Kind
    step: int
    time: int
    times: int
    frame: tuple[MappedBar, ...]
    sounding: Sounding | None
    tempo: Tempo
    factor: Fraction
    muted: frozenset[Role]
    span: Passage
    pickup: Fraction = Fraction(0)
    notices: tuple[str, ...] = ()
    first: int = 0
    song: Fraction = Fraction(0)
    chord: str = ""
    click: Click | None = None
    name: str = ""
    ears: Ears | None = None

    @property
    def start(self) -> Fraction:
        """Where it begins."""
        return self.frame[0].onset

    @property
    def stop(self) -> Fraction:
        """Where the next one begins."""
        return self.frame[-1].stop

    def events(
        self,
        track: int,
        start: Fraction | None = None,
        stop: Fraction | None = None,
        scale: Fraction = Fraction(1),
    ) -> Iterable[Event]:
        """What a track (by its place) begins between two positions, within its limits in
        seconds, `scale` times as fast as asked; None leaves a side open."""
        sounding = self.sounding
        if sounding is None:
            return ()
        tempos, by, factor = sounding.piece.tempos, sounding.by, self.factor * scale / 60
        steady = tempos[0].tempo.wholes * factor if len(tempos) == 1 else None

        def speed(position: Fraction) -> Fraction:
            """Whole notes a second; a pickup goes at the tempo that leads into it."""
            if steady is not None:
                return steady
            at = max(position, self.start) - by
            place = max(bisect_right(tempos, at, key=_onset) - 1, 0)
            return tempos[place].tempo.wholes * factor

        return within_limits(sounding.events(track, start, stop), speed, self.stop)

    def bellows(
        self, start: Fraction | None = None, stop: Fraction | None = None
    ) -> Iterator[BellowsSpan]:
        """The ways of the bellows that begin between two positions; None leaves a side open."""
        return iter(()) if self.sounding is None else self.sounding.bellows(start, stop)

    @property
    def in_tune(self) -> bool:
        """True for a time through or its echo; False for what stands before, between, after."""
        return self.kind in (Kind.PLAY, Kind.ECHO)

    @property
    def lead(self) -> tuple[MappedBar, ...]:
        """The bars of a pickup that sound before it, inside the stretch before."""
        if self.sounding is None or self.sounding.begin is not None:
            return ()
        piece, by = self.sounding.piece, self.sounding.by
        lead = takewhile(lambda bar: bar.onset + by < self.start, piece.bars)
        return tuple(replace(bar, onset=bar.onset + by) for bar in lead)

    def tempo_at(self, position: Fraction) -> Tempo:
        """The tempo in force at a position, fermatas left aside."""
        if self.sounding is None:
            return self.tempo
        return self.sounding.tempo_at(position).scaled(self.factor)


def tempos_of(stretches: Iterable[Stretch]) -> Iterator[PlacedTempo]:
    """The tempi in force, each where it changes."""
    current = None
    for stretch in stretches:
        placed = [PlacedTempo(stretch.start, stretch.tempo)]
        if stretch.sounding is not None:
            placed = [
                PlacedTempo(max(tempo.onset, stretch.start), tempo.tempo.scaled(stretch.factor))
                for tempo in stretch.sounding.tempos
                if tempo.onset < stretch.stop
            ]
        for index, tempo in enumerate(placed):
            covered = index + 1 < len(placed) and placed[index + 1].onset <= tempo.onset
            if not covered and tempo.tempo != current:
                current = tempo.tempo
                yield tempo


def full_length(bar: MappedBar) -> Fraction:
    """Length of a full bar; four crotchets in free metre."""
    return bar.metre.length or Fraction(1)


def plain_bar(bar: MappedBar, onset: Fraction) -> MappedBar:
    """A full bar in the metre of one of the tune's, that is none of the tune's."""
    return replace(
        bar, index=-1, number=0, section="", time=0, ending=None,
        onset=onset, length=full_length(bar), begins=Fraction(0),
    )  # fmt: skip


def _start(span: BellowsSpan) -> Fraction:
    return span.start


def _onset(placed: Event | PlacedText | PlacedTempo) -> Fraction:
    return placed.onset
