"""Cuts that a box can really play: from a button in the direction of their note."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import takewhile

from backing.arranging.arrangement import CUT, Event
from backing.arranging.box_true import Side
from backing.music.graces import struck_for
from backing.music.played import Keys


def cuts_on_side(events: Sequence[Event], side: Side) -> tuple[Event, ...]:
    """A melody whose grace notes, cuts and taps need no turn of the bellows.

    Where one is left out its note begins in its place.
    """
    return tuple(_played(events, side))


def _played(events: Sequence[Event], side: Side) -> Iterator[Event]:
    before: Event | None = None
    left_out: tuple[Fraction, Fraction] | None = None  # where one stopped, and where it began
    for at, event in enumerate(events):
        if left_out and event.onset == left_out[0]:
            onset = left_out[1]
            event = event._replace(onset=onset, length=event.stop - onset)  # noqa: PLW2901
        if event.limit is CUT:
            struck = _struck(event, _note_of(events, at), before, side)
            if not struck:
                left_out = (event.stop, event.onset)
                continue
            event = event._replace(pitches=struck)  # noqa: PLW2901
        before = event
        yield event


def _struck(cut: Event, note: Keys, before: Event | None, side: Side) -> Keys:
    """The keys that are struck for a cut into a note."""
    same = before is not None and before.origin == cut.origin
    last = before.pitches if before is not None and same else ()
    return struck_for(cut.pitches, note, last, lambda key: side.melody_has(key, cut.onset))


def _note_of(events: Sequence[Event], at: int) -> Keys:
    """The keys of the note that a cut leads into; none where it was cut off."""
    origin = events[at].origin
    own = takewhile(lambda event: event.origin == origin, events[at + 1 :])
    note = [event for event in own if event.limit is not CUT]
    return tuple(key for event in note if event.onset == note[0].onset for key in event.pitches)
