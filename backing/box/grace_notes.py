"""On which buttons grace notes are played: in the direction of their note, or not at all."""

from collections.abc import Iterator
from typing import NamedTuple

from backing.box.fingering import Fingered, Fingering
from backing.box.layout import Direction, Layout, Press
from backing.music.graces import struck_for
from backing.music.played import Keys


class GraceStroke(NamedTuple):
    """A grace note as a box plays it: the MIDI keys that are written, those that are struck (()
    where it is left out), and on which buttons."""

    written: Keys
    struck: Keys
    presses: tuple[Press, ...]

    @property
    def there(self) -> bool:
        """True where it is played as written."""
        return self.struck == self.written


class GraceChange(NamedTuple):
    """A grace note that is not there in the direction of its note, in which bars as numbered in
    print; with `again` the note is struck in its place, else it is left out."""

    grace: Keys
    note: Keys
    direction: Direction
    again: bool
    bars: tuple[int, ...]


def grace_strokes(note: Fingered, layout: Layout) -> tuple[GraceStroke, ...]:
    """How the grace notes before a note are played, in order."""
    return tuple(_strokes(note, layout)) if note.moment.graces else ()


def _strokes(note: Fingered, layout: Layout) -> Iterator[GraceStroke]:
    before: Keys = ()
    for grace in note.moment.graces:
        struck = struck_for(
            grace, note.moment.pitches, before, lambda key: note.direction in layout.directions(key)
        )
        before = struck or before
        again = struck == note.moment.pitches
        presses = note.presses if again else tuple(_press(note, layout, key) for key in struck)
        yield GraceStroke(grace, struck, presses)


def _press(note: Fingered, layout: Layout, key: int) -> Press:
    """The way to sound a grace note that is nearest to its note's button, in its row first."""
    at = note.presses[-1].button.number if note.presses else note.hand

    def away(press: Press) -> tuple[bool, int]:
        return press.button.row != note.row, abs(press.button.number - at)

    ways = (press for press in layout.presses(key) if press.direction is note.direction)
    return min(ways, key=away)


def first_graces(fingering: Fingering) -> Iterator[tuple[int, Fingered, tuple[GraceStroke, ...]]]:
    """The written notes that have grace notes, as they are played the first time, each with the
    number of its bar."""
    heard: set[tuple[int, int]] = set()
    for note in fingering.notes:
        bar = fingering.line.bars[note.moment.bar]
        place = bar.index, note.moment.note
        if note.moment.graces and place not in heard:
            heard.add(place)
            yield bar.number, note, grace_strokes(note, fingering.layout)


def grace_changes(fingering: Fingering) -> tuple[GraceChange, ...]:
    """The grace notes that a box cannot play as written, each with its bars."""
    found: dict[GraceChange, dict[int, None]] = {}
    for number, note, strokes in first_graces(fingering):
        for stroke in strokes:
            if not stroke.there:
                change = GraceChange(
                    stroke.written, note.moment.pitches, note.direction, bool(stroke.struck), ()
                )
                found.setdefault(change, {})[number] = None
    return tuple(change._replace(bars=tuple(sorted(bars))) for change, bars in found.items())
