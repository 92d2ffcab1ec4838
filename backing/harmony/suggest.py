"""Chords for a bare tune: those that fit its notes, each other, and the form.

What notes and place say for each chord, and each chord for the next, is added up; the best
way through all slots of the tune is taken.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from backing.errors import Notice, TuneError
from backing.harmony.alike import alike_bars
from backing.harmony.keys import keys_of
from backing.harmony.options import options_of
from backing.harmony.palette import Palette
from backing.harmony.slots import Slot, slots_of
from backing.harmony.way import NEVER, Links, best_way
from backing.harmony.weights import (
    Weights,
    follow_row,
    note_row,
    part_of,
    place_points,
    places_in_row,
    shipped_weights,
    stay_points,
)
from backing.music.chord import Chord
from backing.music.key import Key
from backing.music.tune import Bar, ChordSymbol, Jump, Tune

#: How many points a slot a chord at hand may lack and still be taken: so little that either
#: could stand there (working value).
_AT_HAND = 0.6


class Rated(NamedTuple):
    """A chord at a slot, and what speaks for it there: points from -10 to 10 or so.

    `notes` come from what is heard (`weights.note_points` tells its parts), `place` from the
    section's end and from the four bars, `at_hand` from the buttons that there are.
    """

    chord: Chord
    part: tuple[str, str]
    notes: float
    place: tuple[float, float]
    at_hand: float

    @property
    def points(self) -> float:
        """What speaks for the chord, its neighbours left out."""
        return self.notes + sum(self.place) + self.at_hand


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
    at_hand: Sequence[Chord] = (),
    weights: Weights | None = None,
) -> Harmony:
    """Chords for the melody of a tune; its own chord symbols are not looked at.

    `at_hand` are the chords that there are, on a box say; they are preferred between chords
    that are nearly equally good, and never bring one that the tune would not have otherwise.
    Raises TuneError where the tune has no notes, or more than 50,000 half bars.
    """
    if next(tune.notes(), None) is None:
        raise TuneError("there are no notes to find chords for")
    weights = weights or shipped_weights()
    keys, notices = keys_of(tune)
    slots = slots_of(tune, keys)
    rated = _rate_all(slots, options_of(slots, palette), weights, at_hand)
    options = [tuple(one.chord for one in here) for here in rated]
    chosen = best_way(
        slots,
        [[one.points for one in here] for here in rated],
        _links_of(slots, rated, weights),
        alike_bars(tune, slots, options),
    )
    return Harmony(
        tuple(
            Suggestion(slot, here[at], tuple(here))
            for slot, here, at in zip(slots, rated, chosen, strict=True)
        ),
        notices,
        weights,
    )


def _rate_all(
    slots: Sequence[Slot],
    chords: Sequence[Sequence[Chord]],
    weights: Weights,
    at_hand: Sequence[Chord],
) -> list[list[Rated]]:
    """The chords to choose from at each slot, rated."""
    there_are = frozenset(chord.pitch_classes for chord in at_hand)
    rows: dict[tuple[Key, Chord], list[float]] = {}
    found = []
    for slot, here in zip(slots, chords, strict=True):
        places = places_in_row(slot.tones)
        rated = []
        for chord in here:
            row = rows.get((slot.key, chord))
            if row is None:
                row = rows[slot.key, chord] = note_row(weights, chord, slot.key)
            part = part_of(chord, slot.key)
            rated.append(
                Rated(
                    chord,
                    part,
                    sum([share * row[place] for place, share in places]),
                    place_points(weights, slot, chord, part),
                    _AT_HAND if there_are and chord.pitch_classes in there_are else 0.0,
                )
            )
        found.append(rated)
    return found


def _links_of(slots: Sequence[Slot], rated: Sequence[Sequence[Rated]], weights: Weights) -> Links:
    """What each chord at the slot before says for each one here; slots with the same chords to
    choose from share a table."""
    tables: dict[object, list[list[float]]] = {}
    numbers: dict[tuple[Chord, ...], int] = {}
    options = [
        numbers.setdefault(tuple([one.chord for one in here]), len(numbers)) for here in rated
    ]
    found: list[list[list[float]]] = []
    for at, slot in enumerate(slots):
        if slot.before < 0:
            found.append([])
            continue
        before = slots[slot.before]
        same = (slot.key, before.key, slot.bar_start, slot.pace, slot.struck,
                options[slot.before], options[at])  # fmt: skip
        if same not in tables:
            tables[same] = [
                _links(weights, slots, at, earlier, rated[at]) for earlier in rated[slot.before]
            ]
        found.append(tables[same])
    return found


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
    stay = stay_points(weights, slot) if same_key else 0.0
    elsewhere = 0.0 if slot.struck else NEVER
    return [
        row.get(later.part[1], 0.0) + (stay if earlier.chord == later.chord else elsewhere)
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
