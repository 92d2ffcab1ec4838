"""Limits in seconds, kept at the tempo that is played: cuts, trills, the shortest bass.

Files, ports and sound get their events from a stretch, and a stretch keeps the limits here.
"""

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from math import ceil, floor

from backing.arranging.arrangement import TRILL, Event

#: Limits are kept in whole ticks of a file (960 a crotchet), so that rounding breaks none.
WHOLE_TICKS = 3840
_TICK = Fraction(1, WHOLE_TICKS)
#: The last note of a trill lasts at least this share of the others.
_LAST = Fraction(1, 2)


def within_limits(
    events: Iterable[Event], speed: Callable[[Fraction], Fraction], end: Fraction
) -> Iterable[Event]:
    """The same notes, none longer or shorter than its limit; what is made longer lasts up to
    `end` at most.

    `speed` gives whole notes a second at a position.  A note that follows a shortened one at
    once begins where that now ends, and ends where it did.
    """
    waiting = list(events)
    if not any(event.limit for event in waiting):
        return waiting
    found: list[Event] = []
    was = now = Fraction(0)  # where the note before stopped, and where it stops now
    at = 0
    while at < len(waiting):
        event = waiting[at]
        if found and was != now and event.onset == was:
            event = event._replace(onset=now, length=event.stop - now)
        if event.limit is TRILL:
            count = _trill_length(waiting, at)
            found += _slowed_trill([event, *waiting[at + 1 : at + count]], speed(event.onset))
            at += count
            continue
        if event.limit:
            written = waiting[at].length
            length = _kept(event, written, speed, end)
            if length < written or event.onset != waiting[at].onset:
                was, now = waiting[at].stop, event.onset + length
            event = event._replace(length=length)
        found.append(event)
        at += 1
    return found


def _kept(
    event: Event, written: Fraction, speed: Callable[[Fraction], Fraction], end: Fraction
) -> Fraction:
    """The length of a note within its limit; it was written so long."""
    if event.limit is None:
        return written
    wholes, (least, most) = speed(event.onset), event.limit
    if most is not None:
        return min(written, Fraction(floor(most * wholes * WHOLE_TICKS), WHOLE_TICKS))
    if least * wholes + _TICK <= written:  # as most are; the rest costs more
        return written
    return max(written, min(_at_least(least, wholes), end - event.onset))


def _at_least(seconds: Fraction, wholes: Fraction) -> Fraction:
    return Fraction(ceil(seconds * wholes * WHOLE_TICKS), WHOLE_TICKS)


def _trill_length(events: Sequence[Event], at: int) -> int:
    """How many events are one trill; one that repeats its note begins another."""
    stop = at + 1
    while stop < len(events):
        one, other = events[stop - 1], events[stop]
        if other.limit is not TRILL or other.origin != one.origin or other.pitches == one.pitches:
            break
        stop += 1
    return stop - at


def _slowed_trill(notes: Sequence[Event], wholes: Fraction) -> list[Event]:
    """A trill with fewer notes where they would be too quick, still ending on its note.

    Where three have no room it is the upper note and the note; where these have none, the note.
    """
    each = _at_least(TRILL.least, wholes)
    if len(notes) < 2 or min(note.length for note in notes[:-1]) >= each:
        return list(notes)
    start, last = notes[0].onset, notes[-1]
    room = last.stop - start
    count = len(notes)
    while count > 1 and (count - 1 + _LAST) * each > room:
        count -= 2
    before = notes[: count - 1] if count > 1 else ()
    if count == 1 and (1 + _LAST) * each <= room:
        before = notes[1:2]
    placed = [
        note._replace(onset=start + place * each, length=each) for place, note in enumerate(before)
    ]
    onset = start + len(placed) * each
    return [*placed, last._replace(onset=onset, length=last.stop - onset)]
