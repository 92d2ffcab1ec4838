"""The left hand of a box under a tune: melody fingering and chords chosen together."""

from typing import NamedTuple

from backing.arranging.arrange import Manner, grounds_of
from backing.arranging.style import Style
from backing.box.costs import Costs
from backing.box.fit import Fit, fit
from backing.box.layout import Layout
from backing.box.left_side import ChordSpan, LeftSide
from backing.box.line import line_as_played
from backing.music.played import as_played
from backing.music.tune import Tune


class OnBox(NamedTuple):
    """How a tune is fingered on a box, and what its bass side does under it."""

    fit: Fit
    side: LeftSide


def on_box(
    tune: Tune,
    style: Style,
    manner: Manner,
    layout: Layout,
    costs: Costs | None = None,
    *,
    fitted: Fit | None = None,
) -> OnBox:
    """A tune fingered on a box, at its own tempo, for the chords that a style plays.

    Practised slower it keeps the same buttons.  `fitted` is how it goes there, where that is
    known already: it is the same for every style.  Raises TuneError where there are no notes.
    """
    played = as_played(tune, manner.dance, manner.swing)
    found = fitted or fit(line_as_played(played), layout, costs)
    harmony = grounds_of(played, style).harmony.spans
    wanted = [ChordSpan(span.start, span.stop, span.chord) for span in harmony]
    return OnBox(found, LeftSide(found.fingering, wanted))
