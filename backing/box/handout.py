"""A tune for pupils whose boxes differ: the same buttons for all, each box in its own key.

Where the same buttons are impossible, or all shall sound together, the tune stays in its key
and is fingered anew.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from backing.box.costs import Costs
from backing.box.fit import Fit, fit, fit_of
from backing.box.layout import Layout
from backing.box.line import line_of
from backing.box.moving import same_buttons
from backing.box.same import same_fingering
from backing.errors import BoxError
from backing.music.dance import Dance
from backing.music.key import Key
from backing.music.ledger import best_octave
from backing.music.saying import Fact, InBars, MovedBy
from backing.music.transpose import interval_of, move_tune, readable_interval
from backing.music.tune import Tune


class ForBox(NamedTuple):
    """A tune as it is written for a box, how it goes there, and what there is to say of it."""

    tune: Tune
    fit: Fit
    said: tuple[Fact, ...]


def handout(
    tune: Tune,
    layouts: Sequence[Layout],
    costs: Costs | None = None,
    *,
    dance: Dance | None = None,
    same_key: bool = False,
) -> tuple[ForBox, ...]:
    """The tune for each box; the first is the one that it stands for as it is written.

    `same_key` leaves it in its key for all of them, so that they can play together.  Raises
    TuneError where there are no notes.
    """
    first = fit(line_of(tune, dance=dance), layouts[0], costs)
    pages = [ForBox(tune, first, tuple(lacking_notes(first)))]
    for layout in layouts[1:]:
        moved = None if same_key else _moved(tune, first, layout)
        pages.append(moved or _anew(tune, first, layout, costs, same_key=same_key))
    return tuple(pages)


def lacking_notes(found: Fit) -> Iterator[Fact]:
    """What a page says of notes that have no button there."""
    if found.missing:
        notes = [
            Fact("note-in-bars", {"note": note.pitch, "bars": InBars(tuple(note.bars))})
            for note in found.missing
        ]
        yield Fact("no-button", {"box": found.layout.name, "notes": [*notes]}, len(notes))


def _anew(tune: Tune, first: Fit, layout: Layout, costs: Costs | None, *, same_key: bool) -> ForBox:
    """The tune in its own key, with buttons of its own."""
    found = fit(first.line, layout, costs)
    why = Fact("own-buttons-same-key" if same_key else "own-buttons", {"box": first.layout.name})
    return ForBox(tune, found, (why, *lacking_notes(found)))


def _moved(tune: Tune, first: Fit, layout: Layout) -> ForBox | None:
    """The tune where the same buttons put it; None where they do not sound it."""
    try:
        same, kept = same_fingering(first.layout, layout), same_buttons(first.fingering, layout)
    except BoxError:
        return None
    if kept is None:
        return None
    sounding = move_tune(tune, readable_interval(tune.key, same.semitones))
    octave = best_octave(sounding)
    moved = move_tune(sounding, interval_of(12 * octave))
    found = fit_of(kept)
    said = _same_buttons(first.layout, same.semitones, moved.key)
    written = [Fact("written", {"moved": MovedBy(12 * octave)})] if octave else []
    return ForBox(moved, found, (said, *written, *lacking_notes(found)))


def _same_buttons(layout: Layout, semitones: int, key: Key) -> Fact:
    """Where the buttons of another box lead to."""
    box = layout.name
    if not semitones:
        return Fact("same-buttons", {"box": box})
    moved = MovedBy(semitones)
    if key.mode == "none":
        return Fact("same-buttons-moved", {"box": box, "moved": moved})
    return Fact("same-buttons-in-key", {"box": box, "moved": moved, "key": key})
