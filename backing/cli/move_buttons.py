"""The buttons under the notes of a tune that is moved to another box."""

from backing.box.fingering import Fingering, finger
from backing.box.layout import Layout
from backing.box.line import line_of
from backing.box.moving import same_buttons
from backing.box.same import same_fingering
from backing.box.under_notes import has_buttons, with_buttons, without_buttons
from backing.errors import Notice
from backing.harmony.source import with_chords_from
from backing.music.tune import Tune


def with_same_buttons(
    tune: Tune, moved: Tune, source: Layout, target: Layout
) -> tuple[Tune, tuple[Notice, ...]]:
    """The moved tune with the buttons of the tune, as `fit` finds them, as the other box has
    them; found anew where they are not all the same there, which is said."""
    chorded, _ = with_chords_from(tune, None, source.all_chords)
    fingering = finger(line_of(chorded), source)
    kept = same_buttons(fingering, target)
    if kept is not None:
        return with_buttons(moved, kept), ()
    said = Notice(
        f"not every note has the same button on {target.name}: the buttons were found anew",
        "they are for the notes as they sound there",
    )
    return with_buttons(moved, _anew(fingering, target)), (said,)


def _anew(fingering: Fingering, target: Layout) -> Fingering:
    semitones = same_fingering(fingering.layout, target).semitones
    return finger(fingering.line.moved(semitones), target)


def without_old_buttons(moved: Tune) -> tuple[Tune, tuple[Notice, ...]]:
    """The moved tune without the buttons that stood under its notes before."""
    if not has_buttons(moved):
        return moved, ()
    said = Notice(
        "the buttons under the notes are left out: they were those of the tune before",
        "--buttons writes those of the box that it is moved to",
    )
    return without_buttons(moved), (said,)
