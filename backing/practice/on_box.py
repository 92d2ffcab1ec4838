"""The left hand of a box under a tune: melody fingering and chords chosen together."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrange import Manner, bar_map, grounds_of, tune_dance, tune_swing
from backing.arranging.melody import swung
from backing.arranging.style import Style
from backing.box.costs import Costs
from backing.box.fit import Fit, fit
from backing.box.layout import Layout
from backing.box.left_side import ChordSpan, LeftSide
from backing.box.line import line_of
from backing.music.metre import Metre
from backing.music.tune import Note, Tune


class OnBox(NamedTuple):
    """How a tune is fingered on a box, and what its bass side does under it."""

    fit: Fit
    side: LeftSide


def on_box(
    tune: Tune, style: Style, manner: Manner, layout: Layout, costs: Costs | None = None
) -> OnBox:
    """A tune fingered on a box, at its own tempo, for the chords that a style plays.

    Practised slower it keeps the same buttons.  Raises TuneError where there are no notes.
    """
    dance = tune_dance(tune, manner)
    swing = tune_swing(tune, manner)

    def placing(
        notes: Sequence[Note], metre: Metre, begins: Fraction
    ) -> Sequence[tuple[Fraction, Fraction]]:
        return swung(notes, metre, begins, swing.ratio, swing.soften)

    found = fit(line_of(tune, dance=dance, placing=placing), layout, costs)
    harmony = grounds_of(tune, bar_map(tune, dance), style).harmony
    wanted = [ChordSpan(span.start, span.stop, span.chord) for span in harmony]
    return OnBox(found, LeftSide(found.fingering, wanted))
