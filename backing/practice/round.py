"""A round: one time through a span, with its pickup and its seam."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import takewhile
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, MappedBar, cut, join, shifted
from backing.arranging.breathing import bellows_between
from backing.errors import PracticeError
from backing.music.tune import Tune
from backing.practice.passages import Passage, Whole, find_bars


class Round(NamedTuple):
    """One time through a span; its first full bar is at 0.

    `lead` are the pickup's bars; `frame` are the others, the last filled up to a full
    bar.  `again` is the piece as it sounds where another time follows: where the pickup
    needs the end of its last note, that note is shorter.  With `once` the pickup is played
    before the first time only: the last bar leaves no room for it, or already ends with it,
    as first-time bars are printed.  `fits` is False where it is played whole all the same,
    in a bar of its own.
    """

    piece: Arrangement
    again: Arrangement
    lead: tuple[MappedBar, ...]
    frame: tuple[MappedBar, ...]
    fits: bool = True
    once: bool = False
    notice: str = ""

    @property
    def pickup(self) -> Fraction:
        """Length of what leads into the first full bar."""
        return -self.piece.start

    @property
    def room(self) -> Fraction:
        """How much the last bar was filled up by."""
        return self.frame[-1].stop - self.piece.stop


def find_round(
    arrangement: Arrangement,
    tune: Tune,
    span: Passage,
    *,
    whole_pickup: bool = False,
    edges: bool = False,
) -> Round:
    """The bars of a span in one piece, with the pickup that leads into them.

    With `edges` the last felt beat before them stands for a pickup, and the first note after
    them for a bar, in which the next time is led into.  Raises PracticeError where the span
    cannot be played.
    """
    if isinstance(span, Whole):
        piece = arrangement
    else:
        indices = find_bars(tune, span)
        piece = _gather(arrangement, tune, indices)
        if edges:
            piece = join([*_before(arrangement, piece), piece, *_after(arrangement, piece)])
    pickups = 0
    while pickups + 1 < len(piece.bars) and piece.bars[pickups].begins:
        pickups += 1
    piece = shifted(piece, -piece.bars[pickups].onset)
    return _seam(piece, pickups, whole_pickup=whole_pickup)


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
    return joined._replace(bars=tuple(replace(bar, time=1) for bar in joined.bars))


def _before(arrangement: Arrangement, piece: Arrangement) -> Iterator[Arrangement]:
    """The last felt beat before a piece, as a pickup; none where the piece has its own, or
    begins the tune."""
    first = piece.bars[0]
    place = _place(arrangement, first)
    if first.begins or not place:
        return
    bar = arrangement.bars[place - 1]
    at, length, _ = bar.beats()[-1]
    length = min(length, bar.length - at)
    lead = cut(arrangement, bar.onset + at, bar.onset + at + length)
    full = bar.metre.length or Fraction(1)
    short = replace(bar, onset=bar.onset + at, length=length, begins=full - length, time=1)
    yield lead._replace(bars=(short,))


def _after(arrangement: Arrangement, piece: Arrangement) -> Iterator[Arrangement]:
    """The first note after a piece, alone in its bar, with what the left hand has on its first
    beat; none at the tune's end."""
    place = _place(arrangement, piece.bars[-1]) + 1
    if place == len(arrangement.bars):
        return
    bar = arrangement.bars[place]
    while bar.begins and place + 1 < len(arrangement.bars):
        place += 1
        bar = arrangement.bars[place]
    beat = bar.beats()[0][1]
    landing = cut(arrangement, bar.onset, bar.stop)
    melody = landing.tracks[0]
    first = next((event for event in melody.events), None)
    origin = first.origin if first else None
    notes = tuple(event for event in melody.events if event.origin == origin)
    length = max([beat, *(event.stop - bar.onset for event in notes)])
    hands = cut(landing, bar.onset, bar.onset + beat).tracks[1:]
    tracks = (melody._replace(events=notes), *hands)
    yield landing._replace(bars=(replace(bar, length=length, time=1),), tracks=tracks)


def _place(arrangement: Arrangement, bar: MappedBar) -> int:
    """Where a written bar is first played."""
    return next(at for at, other in enumerate(arrangement.bars) if other.index == bar.index)


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


def _seam(piece: Arrangement, pickups: int, *, whole_pickup: bool) -> Round:
    """See that the last bar and the pickup make one bar."""
    lead, frame = piece.bars[:pickups], piece.bars[pickups:]
    last = frame[-1]
    frame = (*frame[:-1], replace(last, length=last.length + last.room))
    plain = Round(piece, piece, lead, frame)
    pickup, stop = -piece.start, frame[-1].stop
    if pickup <= last.room:
        return plain
    if _ends_with_pickup(piece, pickup):
        return plain._replace(once=True)
    long = f"bar {last.number} and the pickup are longer than one bar: "
    if any(onset >= stop - pickup for onset in _struck(piece, last.onset)):
        if whole_pickup:
            notice = long + "the pickup is played whole between them"
            return plain._replace(fits=False, notice=notice)
        return plain._replace(once=True, notice=long + "the pickup sounds once, at the start")
    notice = long + "the pickup takes the end of the last note"
    return plain._replace(again=melody_ended(piece, stop - pickup), notice=notice)


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


def melody_ended(piece: Arrangement, stop: Fraction) -> Arrangement:
    """The piece with its melody, and the bellows that it moves, ended at a position."""
    melody = piece.tracks[0]
    events = tuple(
        event._replace(length=min(event.length, stop - event.onset))
        for event in melody.events
        if event.onset < stop
    )
    return piece._replace(
        tracks=(melody._replace(events=events), *piece.tracks[1:]),
        bellows=tuple(bellows_between(piece.bellows, piece.start, stop)),
    )
