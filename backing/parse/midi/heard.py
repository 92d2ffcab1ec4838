"""The metre of a tune that was played without a click: every metre, value of the pulse and
place of the first bar line is weighed, by what a listener goes by.

What is weighed: how fast such a metre usually goes, which notes are long and where they
fall, after how many bars melody and rhythm come back, whether there are eights of bars, where
the last note stands, how long the pickup would be.  The likeliest are looked at again, more
closely: where phrases come to rest, which degrees and leaps fall where, how beats are filled.
The weights (`heard_weights`, `closer_weights`) are those of two logistic models of the choice,
learned from tunes of open collections, each metre as often as the others, by
`tests/bench/learn_metre.py`.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.music.metre import Metre, parse_metre
from backing.parse.midi.closer_weights import CLOSER_WEIGHTS
from backing.parse.midi.heard_bar import FoldedBar, placed_signs
from backing.parse.midi.heard_lengths import length_signs
from backing.parse.midi.heard_phrase import FoldedPhrase, filled_beats, phrase_signs
from backing.parse.midi.heard_row import (
    GRID,
    LAGS,
    METRES,
    Features,
    PulseNote,
    PulseRow,
    beat_of,
    common_signs,
    row_of,
)
from backing.parse.midi.heard_weights import WEIGHTS
from backing.wording import count as counted

#: What a pulse may be worth, in whole notes.
VALUES = tuple(
    Fraction(n, d)
    for n, d in ((1, 16), (1, 8), (1, 4), (1, 12), (1, 24), (3, 8), (3, 16), (3, 32), (1, 6))
)
#: Seconds that a crotchet, or a beat of three, may last.
_QUICKEST, _SLOWEST = 0.21, 1.6
#: Notes that are looked at.
_MOST_NOTES = 4096
#: So many metres in a value of the pulse are looked at again, each with so many pickups.
_LIKELY, _PICKUPS = 8, 3
#: Points from which on a reason is told; the share of notes that come back, that is.
_LEAST_GAIN, _COMES_BACK = 0.5, 0.4


class MetreHearing(NamedTuple):
    """A way to hear a tune: its metre, what a pulse is worth, the length of the pickup."""

    metre: Metre
    value: Fraction
    pickup: Fraction


def hearings(
    notes: Sequence[PulseNote],
    under: Iterable[Fraction],
    period: float,
    metres: Sequence[Metre] = (),
) -> Iterator[tuple[MetreHearing, Features]]:
    """Every way to hear a tune, with what there is to weigh.

    `under` are places (in pulses) of basses and chords; `period` is the seconds of a pulse;
    `metres` are those that come into question.
    """
    notes = notes[:_MOST_NOTES]
    below = [place - notes[0].place for place in under][:_MOST_NOTES]
    for value in VALUES:
        row = row_of(notes, below, value, period)
        for metre in metres or [parse_metre(name) for name in METRES]:
            beat = beat_of(metre)
            if not _QUICKEST <= float(beat) * row.whole <= _SLOWEST:
                continue
            if metre.length * GRID % 1:
                continue
            common = common_signs(row, metre)
            folded = FoldedBar.of(row, metre)
            step = Fraction(1, 8) if metre.length > Fraction(1, 2) else Fraction(1, 16)
            for n in range(int(metre.length / step)):
                pickup = step * n
                features = placed_signs(row, folded, metre, pickup)
                yield MetreHearing(metre, value, pickup), {**common, **features}


def likeliest(
    found: Iterable[tuple[MetreHearing, Features]],
) -> list[tuple[MetreHearing, Features]]:
    """The hearings worth a closer look, the likeliest first: of each metre in a value of the
    pulse the best places of the bar lines."""
    ranked = sorted(found, key=lambda row: -_sum(WEIGHTS, row[1]))
    by_value: dict[tuple[Metre, Fraction], list[tuple[MetreHearing, Features]]] = {}
    for row in ranked:
        by_value.setdefault(row[0][:2], []).append(row)
    kept = [row for rows in list(by_value.values())[:_LIKELY] for row in rows[:_PICKUPS]]
    return sorted(kept, key=lambda row: -_sum(WEIGHTS, row[1]))


def seen_closely(
    notes: Sequence[PulseNote],
    period: float,
    found: Iterable[tuple[MetreHearing, Features]],
) -> Iterator[tuple[MetreHearing, Features]]:
    """Hearings with more to weigh."""
    notes = notes[:_MOST_NOTES]
    rows: dict[Fraction, PulseRow] = {}
    known: dict[tuple[Metre, Fraction], tuple[Features, FoldedPhrase]] = {}
    for hearing, features in found:
        metre, value, pickup = hearing
        row = rows.get(value) or row_of(notes, (), value, period)
        rows[value] = row
        if (metre, value) not in known:
            known[metre, value] = length_signs(row, metre), FoldedPhrase.of(row, metre)
        lengths, folded = known[metre, value]
        beat = int(beat_of(metre) * GRID)
        filled = filled_beats(row, beat, int(pickup * GRID) % beat)
        placed = phrase_signs(row, folded, metre, pickup, filled)
        yield hearing, {**features, **lengths, **placed}


def points(features: Features) -> float:
    """How likely a hearing that was seen closely is beside others, in logarithms."""
    return _sum(CLOSER_WEIGHTS, features)


def _sum(weights: dict[str, float], features: Features) -> float:
    return sum(weights.get(name, 0.0) * size for name, size in features.items())


def speaks_for(hearing: MetreHearing, best: Features, other: Features) -> list[str]:
    """What speaks most for the best hearing rather than for another, in words; two at most."""
    gains: dict[str, float] = {}
    for name in {*best, *other}:
        words = _words(name, hearing, best)
        gain = CLOSER_WEIGHTS.get(name, 0.0) * (best.get(name, 0.0) - other.get(name, 0.0))
        if words:
            gains[words] = gains.get(words, 0.0) + gain
    ranked = sorted(gains, key=lambda words: -gains[words])
    return [words for words in ranked if gains[words] > _LEAST_GAIN][:2]


def _words(name: str, hearing: MetreHearing, best: Features) -> str:
    """What a feature is about, in words."""
    first, _, others = name.partition(" ")
    sign = others if "/" in first else name
    if sign == "tempo" or sign.startswith("bars a minute"):
        return f"such a tempo is usual for {hearing.metre}"
    if sign.startswith(("melody", "part", "rhythm", "covered", "aligned")):
        back = [lag for lag in LAGS if best.get(f"melody {lag}", 0.0) > _COMES_BACK]
        where = 8 if 8 in back else 4 if 4 in back else min(back, default=0)
        return f"the melody comes back after {counted(where, 'bar')}" if where else ""
    if sign.startswith(("bars", "eights", "fours", "size", "wholes")):
        return "it makes whole fours of bars" if best.get("fours") else ""
    if "long " in sign or "struck " in sign:
        return "the long notes fall on its beats"
    return ""
