"""The chords that each slot of a tune may have."""

from collections.abc import Mapping, Sequence

from backing.harmony.palette import Palette, choices, closing
from backing.harmony.slots import Slot
from backing.music.chord import Chord

#: What share of a slot a leading note sounds at least to ask for its chord (working value).
_LEADING = 0.25


def options_of(slots: Sequence[Slot], palette: Palette) -> list[Sequence[Chord]]:
    """The chords to choose from at each slot.

    Where no note begins with a slot no new chord can stand, so it has those of the slot
    before it.
    """
    in_section = _tones_of_sections(slots)
    found: list[Sequence[Chord]] = []
    heads: list[int] = []
    for at, slot in enumerate(slots):
        head = at if slot.struck or slot.before < 0 else heads[slot.before]
        heads.append(head)
        if head != at:
            chords = found[head]
        else:
            in_bar = [tone for tone, _ in slot.tones["in the bar"]]
            chords = choices(slot.key, palette, in_section[slot.section], in_bar)
            chords = _with_leading_note(slot, chords)
        if slot.closes and slot.ends_on:
            chords = closing(slot.key, slot.ends_on, chords)
            found[head:at] = [
                [chord for chord in here if chord in chords] for here in found[head:at]
            ]
        found.append(chords)
    return found


def _with_leading_note(slot: Slot, chords: Sequence[Chord]) -> Sequence[Chord]:
    """In a minor key that has to raise its leading note, and does so for more than a passing
    note, the chords that hold it (so editors in 68 of 79 slots that were learned from)."""
    leading = (slot.key.tonic - 1) % 12
    if not slot.key.minor or leading in slot.key.scale:
        return chords
    heard, passing = (dict(slot.tones.get(part, ())) for part in ("sounding", "passing"))
    if heard.get(leading, 0.0) - passing.get(leading, 0.0) < _LEADING:
        return chords
    return [chord for chord in chords if leading in chord.pitch_classes] or chords


def _tones_of_sections(slots: Sequence[Slot]) -> Mapping[str, frozenset[int]]:
    tones: dict[str, set[int]] = {}
    for slot in slots:
        tones.setdefault(slot.section, set()).update(tone for tone, _ in slot.tones["sounding"])
    return {section: frozenset(heard) for section, heard in tones.items()}
