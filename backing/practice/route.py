"""The way through a practice: count-ins, times through, gaps, one after the other.

`route` yields stretches lazily; a file is all of them laid end to end, a live player
walks them and may jump.  Positions are whole notes; the first full bar of the first
step starts at 0, so a count-in lies before it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import takewhile
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, MappedBar, Role, cut, join, move
from backing.errors import PracticeError
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.practice.plan import (
    Plan,
    Span,
    Step,
    Whole,
    check_plan,
    check_speed,
    check_tempo,
    find_bars,
)

#: More than this is no practice: some ten hours.
MOST_BARS = 20_000
_FOUR_BEATS = 4
#: Three-time slower than this is counted in with one bar, quicker with two.
_QUICK = Fraction(100)


class Kind(StrEnum):
    """What a stretch is."""

    COUNT_IN = "count-in"
    PLAY = "play"
    ECHO = "echo"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the way: what sounds, and the bars that measure it.

    `frame` are the bars from where the stretch starts to where the next one does; the
    last is filled up to a full bar where the tune's own is short.  `piece` is what
    sounds, at its positions; a pickup in it may begin before the frame, inside the
    stretch before.  Every tempo of the tune is scaled by `factor`.  `pickup` is the
    length of a pickup that sounds over the end of a count-in or a gap.
    """

    kind: Kind
    step: int
    time: int
    times: int
    frame: tuple[MappedBar, ...]
    piece: Arrangement | None
    tempo: Tempo
    factor: Fraction
    muted: frozenset[Role]
    pickup: Fraction = Fraction(0)
    notices: tuple[str, ...] = ()

    @property
    def start(self) -> Fraction:
        """Where it begins."""
        return self.frame[0].onset

    @property
    def stop(self) -> Fraction:
        """Where the next one begins."""
        return self.frame[-1].stop


class Loop(NamedTuple):
    """One time through a span; its first full bar is at 0.

    `lead` are the pickup's bars; `frame` are the others, the last filled up to a full
    bar.  `again` is the piece as it sounds where another time follows: where the pickup
    needs the end of its last note, that note is shorter.  `fits` is False where the last
    bar and the pickup make more than one bar, so that the pickup needs a bar of its own.
    With `once` the last bar already ends with the pickup, as first-time bars are printed:
    it is played before the first time only.
    """

    piece: Arrangement
    again: Arrangement
    lead: tuple[MappedBar, ...]
    frame: tuple[MappedBar, ...]
    fits: bool
    notice: str = ""
    once: bool = False

    @property
    def pickup(self) -> Fraction:
        """Length of what leads into the first full bar."""
        return -self.piece.start

    @property
    def room(self) -> Fraction:
        """How much the last bar was filled up by."""
        return self.frame[-1].stop - self.piece.stop


class Laid(NamedTuple):
    """Where a time through lies: its bars in their places; the piece that sounds, still
    with its own downbeat at 0, which comes at `downbeat`; and where in the piece it
    begins, None for the very start."""

    frame: tuple[MappedBar, ...]
    piece: Arrangement
    downbeat: Fraction
    begin: Fraction | None


def route(arrangement: Arrangement, plan: Plan, tune: Tune) -> Iterator[Stretch]:
    """The stretches of a practice, in order.

    Raises PracticeError (at the first stretch) where a step cannot be played.
    """
    check_plan(plan, tune)
    walk = Walk()
    loops = [find_loop(arrangement, tune, step.span) for step in plan.steps]
    bars = sum(len(loop.frame) * step.times for loop, step in zip(loops, plan.steps, strict=True))
    if bars > MOST_BARS:
        raise PracticeError(
            f"{bars:,} bars to play in all", f"up to {MOST_BARS:,} are possible: fewer times"
        )
    for index, (loop, step) in enumerate(zip(loops, plan.steps, strict=True)):
        yield from walk.step(index, step, loop)


class Walk:
    """Where a practice has come to: the next free position, and what of the last bar is
    free for a pickup."""

    def __init__(self) -> None:
        self.started = False
        self.looped = False
        self.at = Fraction(0)
        self.room = Fraction(0)

    def step(self, index: int, step: Step, loop: Loop) -> Iterator[Stretch]:
        """All stretches of a step."""
        base = first_stretch(index, step, loop)
        check_speeds(base)
        bar = loop.frame[0]
        count = count_in_bars(bar, base.tempo) if step.count_in is None else step.count_in
        self.start(count, bar, loop)
        if count:
            yield self.clicks(Kind.COUNT_IN, base, bar, count, loop.pickup)
        kinds = (Kind.PLAY, Kind.ECHO) if step.echo else (Kind.PLAY,)
        rounds = [(time, kind) for time in range(1, step.times + 1) for kind in kinds]
        for place, (time, kind) in enumerate(rounds):
            last = place + 1 == len(rounds)
            muted = step.muted | {Role.MELODY} if kind is Kind.ECHO else step.muted
            yield self.play(
                replace(base, kind=kind, time=time, muted=muted), loop, last=last, gap=step.gap > 0
            )
            if step.gap and not last:
                yield self.clicks(Kind.GAP, base, bar, step.gap, loop.pickup)

    def jump(self, at: Fraction, room: Fraction) -> None:
        """Go on at another position; `room` of the bar before it is free for a pickup."""
        self.at, self.room = at, room
        self.looped, self.started = False, True

    def start(self, count: int, bar: MappedBar, loop: Loop) -> None:
        """The very beginning lies so that the first full bar is at 0."""
        if not self.started:
            self.at = -count * full_bar(bar) if count else -loop.pickup
            self.started = True

    def clicks(
        self, kind: Kind, base: Stretch, bar: MappedBar, count: int, pickup: Fraction
    ) -> Stretch:
        """Bars of nothing but clicks, with room for the pickup at their end."""
        full = full_bar(bar)
        frame = tuple(
            replace(
                bar, index=-1, number=0, section="", time=0, ending=None,
                onset=self.at + full * place, length=full, begins=Fraction(0),
            )
            for place in range(count)
        )  # fmt: skip
        self.at, self.room, self.looped = self.at + full * count, full, False
        return replace(base, kind=kind, frame=frame, piece=None, pickup=pickup)

    def play(self, base: Stretch, loop: Loop, *, last: bool, gap: bool = False) -> Stretch:
        """One time through."""
        laid = self.lay(loop, last=last, gap=gap)
        piece = laid.piece
        if laid.begin is not None:
            piece = cut(piece, laid.begin, piece.stop)
        first = base.time == 1 and base.kind is Kind.PLAY
        notice = loop.notice if first and not last and not gap else ""
        return replace(
            base,
            frame=laid.frame,
            piece=move(piece, laid.downbeat),
            notices=(notice,) if notice else (),
        )

    def lay(
        self, loop: Loop, *, last: bool, gap: bool = False, skip: int = 0, lead: bool = True
    ) -> Laid:
        """Where the next time through lies; its pickup goes into the bar before where that
        has room.

        It may begin with a later bar of the frame, the first but `skip`, or without its
        `lead`.
        """
        led = (loop.once and self.looped) or not lead or skip > 0
        inside = led or loop.pickup <= self.room
        begin = loop.frame[skip].onset
        downbeat = (self.at if inside else self.at + loop.pickup) - begin
        bars = loop.frame[skip:] if inside else loop.lead + loop.frame
        frame = tuple(replace(bar, onset=bar.onset + downbeat) for bar in bars)
        again = not last and loop.fits and not gap
        self.at = frame[-1].stop
        self.room = loop.pickup if again else loop.room
        self.looped = not last
        return Laid(frame, loop.again if again else loop.piece, downbeat, begin if led else None)


def first_stretch(index: int, step: Step, loop: Loop) -> Stretch:
    """What all stretches of a step have in common, as its first time through."""
    factor = scale_of(loop.piece, step)
    tempo = loop.piece.tempo_at(Fraction(0)).scaled(factor)
    return Stretch(
        Kind.PLAY, index, 1, step.times, loop.frame, loop.piece, tempo, factor, step.muted
    )


def check_speeds(base: Stretch) -> None:
    """Raise PracticeError where a step is too slow or too fast, at its start or later."""
    check_tempo(base.tempo)
    for placed in base.piece.tempos if base.piece else ():
        check_speed(placed.tempo.scaled(base.factor))


def scale_of(piece: Arrangement, step: Step) -> Fraction:
    """How the step scales every tempo of what it plays: its own tempo is that of the start."""
    if isinstance(step.tempo, Fraction):
        return step.tempo
    own = piece.tempo_at(Fraction(0))
    return step.tempo.in_unit(own.unit).wholes / own.wholes


def count_in_bars(bar: MappedBar, tempo: Tempo) -> int:
    """How many bars to count in: at least four felt beats; slow three-time one bar."""
    beats = len(bar.metre.beats) or 4
    if beats == 3 and tempo.beats < _QUICK:
        return 1
    return -(-_FOUR_BEATS // beats)


def find_loop(arrangement: Arrangement, tune: Tune, span: Span) -> Loop:
    """The bars of a span in one piece, with the pickup that leads into them."""
    if isinstance(span, Whole):
        piece = arrangement
    else:
        piece = _gather(arrangement, tune, find_bars(tune, span))
    pickups = 0
    while pickups + 1 < len(piece.bars) and piece.bars[pickups].begins:
        pickups += 1
    piece = move(piece, -piece.bars[pickups].onset)
    return _seam(piece, pickups)


def _gather(arrangement: Arrangement, tune: Tune, indices: tuple[int, ...]) -> Arrangement:
    """The written bars of these indices, cut from where they are played in a row, and the
    pickup that stands before the first."""
    first = indices[0]
    if first and tune.bars[first - 1].pickup and not tune.bars[first].pickup:
        indices = (first - 1, *indices)
    pieces = []
    at = 0
    while at < len(indices):
        start, count = _longest_run(arrangement.bars, indices[at:])
        bars = arrangement.bars[start : start + count]
        pieces.append(cut(arrangement, bars[0].onset, bars[-1].stop))
        at += count
    joined = join(pieces)
    return replace(joined, bars=tuple(replace(bar, time=1) for bar in joined.bars))


def _longest_run(bars: tuple[MappedBar, ...], indices: tuple[int, ...]) -> tuple[int, int]:
    """Where the first of these bars is played with most of the others right after it.

    Raises PracticeError where the tune's order never plays it.
    """
    best = (0, 0)
    for start, bar in enumerate(bars):
        if bar.index != indices[0]:
            continue
        run = zip(indices, bars[start:], strict=False)
        count = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1].index, run))
        if count > best[1]:
            best = (start, count)
    if not best[1]:
        raise PracticeError("these bars are never played", "the tune's order leaves them out")
    return best


def _seam(piece: Arrangement, pickups: int) -> Loop:
    """See that the last bar and the pickup make one bar, where they can."""
    lead, frame = piece.bars[:pickups], piece.bars[pickups:]
    last = frame[-1]
    frame = (*frame[:-1], replace(last, length=last.length + last.room))
    pickup, stop = -piece.start, frame[-1].stop
    if pickup <= last.room:
        return Loop(piece, piece, lead, frame, fits=True)
    long = f"bar {last.number} and the pickup are longer than one bar: "
    if _ends_with_pickup(piece, pickup):
        return Loop(piece, piece, lead, frame, fits=True, once=True)
    if any(onset >= stop - pickup for onset in _struck(piece, last.onset)):
        notice = long + "the pickup is played whole between them"
        return Loop(piece, piece, lead, frame, fits=False, notice=notice)
    notice = long + "the pickup takes the end of the last note"
    return Loop(piece, _shortened(piece, stop - pickup), lead, frame, fits=True, notice=notice)


def _ends_with_pickup(piece: Arrangement, pickup: Fraction) -> bool:
    """True where the last bar already ends with the pickup, as first-time bars are printed."""
    events = piece.tracks[0].events
    lead = [(e.onset + pickup, e.length, e.pitches) for e in events if e.onset < 0]
    start = piece.stop - pickup
    tail = [(e.onset - start, e.length, e.pitches) for e in events if e.onset >= start]
    return bool(lead) and lead == tail


def _struck(piece: Arrangement, start: Fraction) -> Iterable[Fraction]:
    """Where the melody's notes from `start` on begin; an ornament's belong to one note."""
    events = piece.tracks[0].events
    return {e.origin: e.onset for e in reversed(events) if e.onset >= start}.values()


def _shortened(piece: Arrangement, stop: Fraction) -> Arrangement:
    """The piece with its melody ended at a position."""
    melody = piece.tracks[0]
    events = tuple(
        event._replace(length=min(event.length, stop - event.onset))
        for event in melody.events
        if event.onset < stop
    )
    return replace(piece, tracks=(replace(melody, events=events), *piece.tracks[1:]))


def full_bar(bar: MappedBar) -> Fraction:
    """Length of a full bar; four crotchets in free metre."""
    return bar.metre.length or Fraction(1)
