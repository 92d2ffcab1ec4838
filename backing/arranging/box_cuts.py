"""Cuts that a box can really play: from a button in the direction of their note."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from backing.arranging.arrangement import CUT, Event
from backing.arranging.box_true import Side


def cuts_on_side(events: Sequence[Event], side: Side) -> tuple[Event, ...]:
    """A melody whose grace notes, cuts and taps need no turn of the bellows.

    One that the box lacks in the direction of its note becomes a stroke of the note itself, so
    that the note is repeated; where that was struck just before, or is missing too, it is left
    out and its note begins in its place.
    """
    return tuple(_played(events, side))


def _played(events: Sequence[Event], side: Side) -> Iterator[Event]:
    before: Event | None = None
    left_out: tuple[Fraction, Fraction] | None = None  # where one stopped, and where it began
    for at, event in enumerate(events):
        if left_out and event.onset == left_out[0]:
            onset = left_out[1]
            event = event._replace(onset=onset, length=event.stop - onset)  # noqa: PLW2901
        if event.limit is CUT and not _has(side, event.pitches, event.onset):
            note = _note_of(events, at)
            again = before is not None and (before.origin, before.pitches) == (event.origin, note)
            if again or not note or not _has(side, note, event.onset):
                left_out = (event.stop, event.onset)
                continue
            event = event._replace(pitches=note)  # noqa: PLW2901
        before = event
        yield event


def _has(side: Side, keys: Sequence[int], position: Fraction) -> bool:
    return all(side.melody_has(key, position) for key in keys)


def _note_of(events: Sequence[Event], at: int) -> tuple[int, ...]:
    """The keys of the note that a cut leads into; none where it was cut off."""
    origin = events[at].origin
    for place in range(at + 1, len(events)):
        event = events[place]
        if event.origin != origin:
            break
        if event.limit is not CUT:
            return event.pitches
    return ()
