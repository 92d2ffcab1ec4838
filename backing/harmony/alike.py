"""Which bars of a tune are to be harmonised alike: the same notes at the same place."""

from collections.abc import Sequence
from enum import Enum, auto

from backing.harmony.slots import Slot
from backing.music.chord import Chord
from backing.music.played import PHRASE
from backing.music.tune import Tune


class _Standing(Enum):
    """Where a bar stands, as far as it may ask for other chords."""

    ON_THE_WAY = auto()
    PHRASE_END = auto()
    SECTION_END = auto()


def alike_bars(
    tune: Tune, slots: Sequence[Slot], choices: Sequence[Sequence[Chord]]
) -> list[list[int]]:
    """Groups of bars with the same notes, in the same key, at the same place in their phrases,
    with the same chords to choose from; each bar as the index of its first slot."""
    groups: dict[object, list[int]] = {}
    for at, slot in enumerate(slots):
        if not slot.bar_start:
            continue
        stop = at + 1
        while stop < len(slots) and slots[stop].bar == slot.bar:
            stop += 1
        notes = tuple((n.onset, n.length, n.pitches) for n in tune.melody.bars[slot.bar])
        same = (notes, slot.key, _place(slot), tuple(tuple(chords) for chords in choices[at:stop]))
        groups.setdefault(same, []).append(at)
    return [group for group in groups.values() if len(group) > 1]


def _place(slot: Slot) -> _Standing:
    if not slot.bars_left:
        return _Standing.SECTION_END
    if slot.bars_in % PHRASE == PHRASE - 1:
        return _Standing.PHRASE_END
    return _Standing.ON_THE_WAY
