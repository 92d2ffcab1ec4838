"""Chords for a bare tune: those that fit its notes, each other, and the form.

The best way through all slots of the tune is found exactly (dynamic programming); what
speaks for a way is the sum over its slots of what notes and place say for each chord, and
of what each chord says for the next.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from backing.errors import Notice, TuneError
from backing.harmony.keys import keys_of
from backing.harmony.palette import Palette, choices, closing
from backing.harmony.slots import Slot, slots_of
from backing.harmony.weights import (
    Weights,
    follow_row,
    note_points,
    part_of,
    place_points,
    shipped_weights,
)
from backing.music.chord import Chord
from backing.music.tune import Bar, ChordSymbol, Jump, Tune

_NEVER = -1e9


class Rated(NamedTuple):
    """A chord at a slot, and what speaks for it there: points from -10 to 10 or so.

    `notes` come from what is heard (in the order of `weights.PARTS`), `place` from the
    section's end and from the four bars.
    """

    chord: Chord
    part: tuple[str, str]
    notes: tuple[float, ...]
    place: tuple[float, float]

    @property
    def points(self) -> float:
        """What speaks for the chord, its neighbours left out."""
        return sum(self.notes) + sum(self.place)


@dataclass(frozen=True, slots=True, eq=False)
class Suggestion:
    """The chord chosen for a slot, and all that could have been, as `rated`."""

    slot: Slot
    chosen: Rated
    rated: tuple[Rated, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Harmony:
    """The chords of a tune, slot by slot, and what was odd in it."""

    suggestions: tuple[Suggestion, ...]
    notices: tuple[Notice, ...]
    weights: Weights


def suggest_chords(
    tune: Tune,
    palette: Palette = Palette.FULL,
    *,
    only: Sequence[Chord] = (),
    weights: Weights | None = None,
) -> Harmony:
    """Chords for the melody of a tune; its own chord symbols are not looked at.

    `only` are the chords that there are, on a box say; none: all that the palette holds.
    Raises TuneError where the tune has no notes, or more than 50,000 half bars.
    """
    if next(tune.notes(), None) is None:
        raise TuneError("there are no notes to find chords for")
    weights = weights or shipped_weights()
    keys, notices = keys_of(tune)
    slots = slots_of(tune, keys)
    rated = _rate_all(slots, palette, only, weights)
    chosen = _best_way(slots, rated, weights)
    return Harmony(
        tuple(
            Suggestion(slot, here[at], tuple(here))
            for slot, here, at in zip(slots, rated, chosen, strict=True)
        ),
        notices,
        weights,
    )


def _rate_all(
    slots: Sequence[Slot], palette: Palette, only: Sequence[Chord], weights: Weights
) -> list[list[Rated]]:
    """The chords to choose from at each slot, rated.

    Where no note begins with a slot no new chord can stand, so it has those of the slot
    before it.
    """
    in_section = _tones_of_sections(slots)
    found: list[list[Rated]] = []
    heads: list[int] = []
    for at, slot in enumerate(slots):
        head = at if slot.struck or slot.before < 0 else heads[slot.before]
        heads.append(head)
        if head != at:
            chords: Sequence[Chord] = [rated.chord for rated in found[head]]
        else:
            in_bar = [tone for tone, _ in slot.tones["in the bar"]]
            chords = choices(slot.key, palette, in_section[slot.section], in_bar)
            chords = _at_hand(chords, only)
        if slot.closes and slot.tones.get("last"):
            chords = closing(slot.key, slot.tones["last"][0][0], chords)
            if head != at:
                found[head:at] = [
                    [rated for rated in here if rated.chord in chords] for here in found[head:at]
                ]
        found.append([_rate(slot, chord, weights) for chord in chords])
    return found


def _tones_of_sections(slots: Sequence[Slot]) -> Mapping[str, frozenset[int]]:
    tones: dict[str, set[int]] = {}
    for slot in slots:
        tones.setdefault(slot.section, set()).update(tone for tone, _ in slot.tones["sounding"])
    return {section: frozenset(heard) for section, heard in tones.items()}


def _at_hand(chords: Sequence[Chord], only: Sequence[Chord]) -> Sequence[Chord]:
    """Those of the chords that there are; all that there are where none of them is."""
    if not only:
        return chords
    sounds = {chord.pitch_classes: chord for chord in only}
    return [sounds[chord.pitch_classes] for chord in chords if chord.pitch_classes in sounds] or [
        chord for chord in only if not chord.silent
    ]


def _rate(slot: Slot, chord: Chord, weights: Weights) -> Rated:
    part = part_of(chord, slot.key)
    return Rated(
        chord,
        part,
        tuple(note_points(weights, slot.tones, chord)),
        place_points(weights, slot, chord, part),
    )


def _best_way(
    slots: Sequence[Slot], rated: Sequence[Sequence[Rated]], weights: Weights
) -> list[int]:
    """The choice at each slot that gives the most points in all.

    A slot may be followed by several (a first and a second ending), never preceded by
    several, so each slot hands the best that can follow it to the one before.
    """
    best = [[here.points for here in options] for options in rated]
    choice: list[list[int]] = [[] for _ in slots]
    for at in range(len(slots) - 1, -1, -1):
        slot, options = slots[at], rated[at]
        if slot.before < 0:
            continue
        before = best[slot.before]
        for place, earlier in enumerate(rated[slot.before]):
            says = _links(weights, slots, at, earlier, options)
            ways = [total + points for total, points in zip(best[at], says, strict=True)]
            most = max(ways)
            choice[at].append(ways.index(most))
            before[place] += most
    chosen: list[int] = []
    for at, slot in enumerate(slots):
        if slot.before < 0:
            chosen.append(max(range(len(best[at])), key=best[at].__getitem__))
        else:
            chosen.append(choice[at][chosen[slot.before]])
    return chosen


def linked(weights: Weights, slots: Sequence[Slot], at: int, earlier: Rated, later: Rated) -> float:
    """What a chord says for the one at the next slot: nothing where the key changes."""
    return _links(weights, slots, at, earlier, (later,))[0]


def _links(
    weights: Weights, slots: Sequence[Slot], at: int, earlier: Rated, options: Sequence[Rated]
) -> list[float]:
    """What a chord says for each of those at the next slot."""
    slot = slots[at]
    same_key = slot.key == slots[slot.before].key
    row = follow_row(weights, slot, earlier.part) if same_key else {}
    return [
        row.get(later.part[1], 0.0) if slot.struck or earlier.chord == later.chord else _NEVER
        for later in options
    ]


# -- into the tune ----------------------------------------------------------------


def with_chords(tune: Tune, harmony: Harmony) -> Tune:
    """The tune with the suggested chords as its symbols, those that it had left out.

    A symbol stands where the chord changes, and where players may come in: at the start of
    a section or an ending, after a repeat, at a segno or a coda.
    """
    found: dict[int, list[ChordSymbol]] = {}
    before: Chord | None = None
    entries = set(_entries(tune.bars))
    for suggestion in harmony.suggestions:
        slot, chord = suggestion.slot, suggestion.chosen.chord
        if chord != before or (slot.bar_start and slot.bar in entries):
            symbol = ChordSymbol(slot.onset, chord, str(chord))
            found.setdefault(slot.bar, []).append(symbol)
        before = chord
    bars = tuple(
        replace(bar, chords=tuple(found.get(index, ()))) for index, bar in enumerate(tune.bars)
    )
    return replace(tune, bars=bars)


def _entries(bars: Sequence[Bar]) -> Iterator[int]:
    """The bars at which players may come in from elsewhere."""
    for index, bar in enumerate(bars):
        before = bars[index - 1] if index else None
        if (
            before is None
            or before.pickup
            or before.section != bar.section
            or before.ending != bar.ending
            or before.plays
            or bar.opens_repeat
            or Jump.SEGNO in bar.jumps
            or Jump.CODA in bar.jumps
        ):
            yield index
