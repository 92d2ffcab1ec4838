"""Where what comes next lies: the bars of a count-in, of a gap, of a time through."""

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, MappedBar
from backing.music.tempo import Tempo
from backing.practice.passages import Passage
from backing.practice.round import Round, melody_ended
from backing.practice.stretch import Kind, Sounding, full_length, plain_bar

_FOUR_BEATS = 4
#: Three-time slower than this is counted in with one bar, quicker or before a pickup with two.
_QUICK = Fraction(100)


class Target(NamedTuple):
    """A span to go round in, which bar of it comes first, and the step of the plan that it
    is in; the bar is the place of a full one among the span's from its first full one (0)
    on.  A pickup goes with its bar.  With `last` the step is over when its end is reached.
    `time` is which time through the step it is, from 1."""

    span: Passage
    bar: int = 0
    step: int = 0
    last: bool = False
    time: int = 1


class Turn(NamedTuple):
    """What comes next, before it is known where it lies: `clicks` bars of nothing else, or a
    time through from a target on.

    `follows` is True where the span comes again at once; it may begin without its `lead`,
    the pickup.  Where it was `jumped` to, the left hand waits for the bar line.  Where something
    else follows at once, the melody ends so early that its pickup has `room`.
    """

    kind: Kind
    target: Target
    time: int = 1
    times: int = 1
    clicks: int = 0
    last: bool = False
    follows: bool = False
    lead: bool = True
    jumped: bool = False
    room: Fraction = Fraction(0)


class Free(NamedTuple):
    """The next free position; how much of the bar before it is free for a pickup; whether
    what sounded there goes round, and has played its pickup, or leaves it out."""

    at: Fraction
    room: Fraction = Fraction(0)
    led: bool = False


class Laid(NamedTuple):
    """Bars in their places, what sounds over them, and what is free after them."""

    frame: tuple[MappedBar, ...]
    sounding: Sounding | None
    free: Free


def lay_clicks(count: int, bar: MappedBar, free: Free | None) -> Laid:
    """So many full bars like this one, with room for a pickup at their end."""
    full = full_length(bar)
    at = -count * full if free is None else free.at
    frame = tuple(plain_bar(bar, at + full * place) for place in range(count))
    return Laid(frame, None, Free(at + full * count, full))


def lay_piece(piece: Arrangement, free: Free | None) -> Laid:
    """A piece of its own, from 0 on, in its place; a pickup may sound in its last bar."""
    last = piece.bars[-1]
    bars = (*piece.bars[:-1], replace(last, length=max(last.length, full_length(last))))
    by = -bars[-1].stop if free is None else free.at
    frame = tuple(replace(bar, onset=bar.onset + by) for bar in bars)
    return Laid(frame, Sounding(piece, by), Free(frame[-1].stop, full_length(last)))


def lay_round(turn: Turn, found: Round, pickup: Fraction, free: Free | None) -> Laid:
    """A time through, or what is left of it from a later bar on; the `pickup` into it goes
    into the bar before where that has room."""
    free = Free(-pickup) if free is None else free
    first = turn.target.bar
    led = free.led or not turn.lead or first > 0
    inside = led or found.pickup <= free.room
    onset = found.frame[first].onset
    by = (free.at if inside else free.at + found.pickup) - onset
    bars = found.frame[first:] if inside else found.lead + found.frame
    begin = None
    if led:
        begin = onset - pickup if first and turn.lead else onset
    left = bars[0].onset if turn.jumped or first else begin
    again = found.fits and turn.follows
    frame = tuple(replace(bar, onset=bar.onset + by) for bar in bars) if by else bars
    piece = found.again if again else found.piece
    room = found.pickup if again else found.room
    if turn.room > room:
        room = turn.room
        piece = melody_ended(piece, found.frame[-1].stop - room)
    sounding = Sounding(piece, by, begin, left)
    once = found.once and turn.follows
    return Laid(frame, sounding, Free(frame[-1].stop, room, once))


def count_in_bars(bar: MappedBar, tempo: Tempo, *, led: bool = False) -> int:
    """How many bars to count in: at least four felt beats; slow three-time one bar, but for
    tunes `led` by a pickup, which would leave two beats of it."""
    beats = len(bar.metre.beats) or 4
    if beats == 3 and tempo.beats < _QUICK and not led:
        return 1
    return -(-_FOUR_BEATS // beats)
