"""Where the chords come from that a tune is played with."""

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum

from backing.errors import Notice
from backing.music.chord import Chord
from backing.music.tune import Tune


class ChordSource(StrEnum):
    """Found for the melody, those in the tune, or none."""

    SUGGEST = "suggest"
    TUNE = "tune"
    NONE = "none"


def with_chords_from(
    tune: Tune, source: ChordSource | None, at_hand: Sequence[Chord] = ()
) -> tuple[Tune, tuple[Notice, ...]]:
    """The tune with the chords that it is to be played with, and what there is to say.

    Without a source they are the tune's own, found where it has none.  `at_hand` are the
    ones that a box has, preferred between chords that are nearly equally good.
    """
    if source is ChordSource.NONE:
        return replace(tune, bars=tuple(replace(bar, chords=()) for bar in tune.bars)), ()
    if source is ChordSource.TUNE or (source is None and tune.has_chords):
        return tune, ()
    if next(tune.notes(), None) is None:
        return tune, ()
    from backing.harmony.suggest import suggest_chords, with_chords

    harmony = suggest_chords(tune, at_hand=at_hand)
    found = with_chords(tune, harmony)
    names = dict.fromkeys(symbol.text for bar in found.bars for symbol in bar.chords)
    said = Notice(
        f"{'' if tune.has_chords else 'the tune gives no chords: '}"
        f"chords were found for it: {' '.join(names)}",
        "backing chords writes them into the tune; --chords none does without",
    )
    return found, (*harmony.notices, said)
