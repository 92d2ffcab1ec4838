"""How much speaks for a chord at a place: one table of weights, and what is read from it.

The weights were learned from tunes with editors' chords; `weights.toml` names the source.
What speaks for a chord is a plain sum of them, so that every choice can be explained.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from backing.harmony.heard import PARTS, HeardTones
from backing.harmony.palette import label, mode_of
from backing.harmony.slots import Slot
from backing.music.chord import Chord
from backing.music.key import Key

#: The chords of the table, as Roman numerals from the major scale of the tonic.
NUMERALS = (
    "I", "ii", "II", "bIII", "iii", "III", "iv", "IV", "v", "V", "bVI", "vi", "VI", "bVII", "i",
)  # fmt: skip
FAMILIES = ("major", "minor")
#: Places counted from the section's end (last bar, one left, two left, more), and places in
#: four bars with the section's first bar on its own; each at a bar's start and inside it.
PLACES_LEFT, PLACES_IN_FOUR = 8, 10
#: Where a part's twelve weights begin in a row of `note_row`.
_AT = {part: 12 * place for place, part in enumerate(PARTS)}
#: A chord that the table does not know, as editors take it once in a thousand times.
_RARE = -4.0
#: In modes the chords play parts that the major and minor tables give to others.
_PARTS_IN_MODE = {
    "mixolydian": {"bVII": "V", "ii": "vi"},
    "phrygian": {"bII": "bVII", "bvii": "v"},
    "locrian": {"bII": "bVII", "bV": "v", "bvii": "v"},
    "lydian": {"II": "IV"},
}


@dataclass(frozen=True, slots=True)
class Weights:
    """The table.

    `notes` by chord kind and part: twelve weights by semitones above the root; `degrees` by
    family and numeral, the same for what sounds.  `left` and `phrase` by family and numeral, for
    each place.  `follow` by family, whether a bar line lies between, and the two numerals;
    `stay` by the pace of the metre: what speaks for the same chord again inside the bar, and over
    the bar line.  `mode` by mode and numeral; `heard` by mode: what the points of `notes` and
    `degrees` are multiplied by.
    """

    notes: Mapping[str, Mapping[str, tuple[float, ...]]]
    degrees: Mapping[str, Mapping[str, tuple[float, ...]]]
    left: Mapping[str, Mapping[str, tuple[float, ...]]]
    phrase: Mapping[str, Mapping[str, tuple[float, ...]]]
    follow: Mapping[tuple[str, bool], Mapping[str, Mapping[str, float]]]
    stay: Mapping[str, tuple[float, float]]
    mode: Mapping[str, Mapping[str, float]]
    heard: Mapping[str, float]


@cache
def shipped_weights() -> Weights:
    """The weights that come with us."""
    text = files("backing.harmony").joinpath("weights.toml").read_text(encoding="utf-8")
    return parse_weights(text)


def parse_weights(text: str) -> Weights:
    """The table from its TOML text."""
    data = tomllib.loads(text)
    notes = {
        kind: {part: tuple(map(float, row)) for part, row in rows.items()}
        for kind, rows in data["notes"].items()
    }
    notes["diminished"] = {part: _diminished(row) for part, row in notes["minor"].items()}
    return Weights(
        notes=notes,
        degrees=_by_numeral(data["degrees"]),
        left=_by_numeral(data["left"]),
        phrase=_by_numeral(data["phrase"]),
        follow={
            (family, between == "bar line"): {
                before: dict(zip(NUMERALS, map(float, row), strict=True))
                for before, row in rows.items()
            }
            for family, sides in data["follow"].items()
            for between, rows in sides.items()
        },
        stay={pace: (float(inside), float(over)) for pace, (inside, over) in data["stay"].items()},
        mode=data.get("mode", {}),
        heard=data.get("heard", {}),
    )


def _by_numeral(data: dict[str, Any]) -> dict[str, dict[str, tuple[float, ...]]]:
    return {
        family: {numeral: tuple(map(float, row)) for numeral, row in rows.items()}
        for family, rows in data.items()
    }


def _diminished(row: tuple[float, ...]) -> tuple[float, ...]:
    """A minor chord's weights with the fifth a semitone lower; editors' diminished chords
    are too few to learn from."""
    return (*row[:6], row[7], row[6], *row[8:])


@lru_cache(maxsize=4096)
def part_of(chord: Chord, key: Key) -> tuple[str, str]:
    """The family whose table counts, and the numeral under which the chord stands there."""
    numeral = label(chord, key)
    moved = _PARTS_IN_MODE.get(mode_of(key), {})
    return ("minor" if key.minor else "major"), moved.get(numeral, numeral)


def note_row(weights: Weights, chord: Chord, key: Key) -> list[float]:
    """What each pitch class, heard all the time, says for a chord of a key: twelve weights for
    each of `PARTS` in turn.  What sounds says it for a chord of its kind and of its degree."""
    family, numeral = part_of(chord, key)
    degree = weights.degrees[family].get(numeral, (0.0,) * 12)
    factor = weights.heard.get(mode_of(key), 1.0)
    steps = [(tone - chord.root) % 12 for tone in range(12)]
    rows = weights.notes[chord.kind]
    row = [factor * rows[part][step] for part in PARTS for step in steps]
    for tone, step in enumerate(steps):
        row[tone] += factor * degree[step]
    return row


def places_in_row(tones: Mapping[str, HeardTones]) -> list[tuple[int, float]]:
    """What is heard in a slot, as places in a row of `note_row` and shares."""
    return [(_AT[part] + tone, share) for part, heard in tones.items() for tone, share in heard]


def note_points(weights: Weights, slot: Slot, chord: Chord) -> dict[str, float]:
    """What each part of what is heard in a slot says for a chord."""
    row = note_row(weights, chord, slot.key)
    return {
        part: sum(share * row[_AT[part] + tone] for tone, share in heard)
        for part, heard in slot.tones.items()
    }


def place_points(
    weights: Weights, slot: Slot, chord: Chord, part: tuple[str, str]
) -> tuple[float, float]:
    """What the place from the section's end, and in four bars, says for a chord."""
    family, numeral = part
    row = weights.left[family].get(numeral)
    if row is None:
        return _RARE, 0.0
    left, in_four = places_of(slot)
    inside = slot.bars_in and slot.bars_left
    modal = weights.mode.get(mode_of(slot.key), {}) if inside else {}
    bias = modal.get(label(chord, slot.key), 0.0)
    return row[left] + bias, weights.phrase[family][numeral][in_four]


def places_of(slot: Slot) -> tuple[int, int]:
    """A slot's place from the section's end, and in four bars, as the table counts them."""
    inside = not slot.bar_start
    in_four = slot.bars_in % 4 if slot.bars_in else 4
    return 2 * min(slot.bars_left, 3) + inside, 2 * in_four + inside


def stay_points(weights: Weights, slot: Slot) -> float:
    """What the metre of a slot says for the chord that was there before."""
    inside, over_bar_line = weights.stay.get(slot.pace, (0.0, 0.0))
    return over_bar_line if slot.bar_start else inside


def follow_row(weights: Weights, slot: Slot, before: tuple[str, str]) -> Mapping[str, float]:
    """What the chord before, in the same key, says for each chord of the slot, by numeral."""
    family, numeral = before
    return weights.follow[family, slot.bar_start].get(numeral, {})
