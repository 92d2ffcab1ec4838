"""What speaks for a place of the bar lines: which notes fall where in the bar, the last note,
the number of bars, the pickup.
"""

from fractions import Fraction
from typing import NamedTuple

from backing.music.metre import Metre
from backing.parse.midi.heard_row import GRID, LONGEST, Features, PulseRow, beat_of

_QUAVER = GRID // 8


class FoldedBar(NamedTuple):
    """What falls on each place of a bar, bar lines not yet known: accents, onsets, basses,
    notes of the key note, steps in semitones that lead there."""

    accents: list[float]
    onsets: list[float]
    under: list[float]
    tonic: list[float]
    leaps: list[float]
    twice: list[float]
    bars: float

    @classmethod
    def of(cls, row: PulseRow, metre: Metre) -> "FoldedBar":
        """The tune folded."""
        bar = int(metre.length * GRID)
        accents, onsets, under, tonic, leaps = ([0.0] * bar for _ in range(5))
        twice = [0.0] * (2 * bar)
        longest = int(LONGEST * GRID)
        before = row.keys[0]
        for place, span, key in zip(row.places, row.spans, row.keys, strict=True):
            at = place % bar
            accents[at] += min(span, longest)
            twice[place % (2 * bar)] += min(span, longest)
            onsets[at] += 1
            tonic[at] += (key - row.keys[-1]) % 12 == 0
            leaps[at] += min(abs(key - before), 12)
            before = key
        for place in row.under:
            under[place % bar] += 1
        return cls(accents, onsets, under, tonic, leaps, twice, max(row.places[-1] / bar, 1))


def placed_signs(row: PulseRow, folded: FoldedBar, metre: Metre, pickup: Fraction) -> Features:
    """What goes by where the bar lines are."""
    name, bar, first = str(metre), len(folded.accents), int(pickup * GRID)
    scale = bar / _QUAVER / sum(folded.accents)
    onsets = folded.bars * 1.0
    features: Features = {}
    rest = 1.0
    for n in range(bar // _QUAVER):
        at = (first + n * _QUAVER) % bar
        accent = folded.accents[at] * scale
        rest -= accent / (bar / _QUAVER)
        features[f"{name} long {n}"] = accent
        features[f"{name} struck {n}"] = min(folded.onsets[at] / onsets, 1.0)
    features[f"{name} long between"] = rest
    down = first % bar
    other = (down + bar) % (2 * bar)
    one, two = folded.twice[down], folded.twice[other]
    features[f"alternate {name}"] = abs(one - two) / max(one + two, 1)
    tonics = max(sum(folded.tonic), 1)
    mean_leap = max(sum(folded.leaps) / len(row.places), 0.1)
    features["tonic down"] = folded.tonic[down] / tonics * (bar / _QUAVER)
    features["leap down"] = folded.leaps[down] / max(folded.onsets[down], 1) / mean_leap
    last = row.places[-1] - first
    bars = last // bar + 1
    for n in (0, 2, 3, 4, 6):
        features[f"{name} last {n}"] = float(last % bar == n * _QUAVER)
    size = next((n for n in (8, 16, 24, 32, 48, 64, 96) if abs(bars - n) <= n // 16), 0)
    features[f"bars {size}"] = 1.0
    features["eights"] = float(bars % 8 == 0)
    features["fours"] = float(bars % 4 == 0)
    beat = beat_of(metre)
    kind = "three" if beat.numerator == 3 else "two"
    length = (
        "no"
        if not pickup
        else "short"
        if pickup < beat
        else "beat"
        if pickup == beat
        else ("long" if pickup * 2 > metre.length else "some")
    )
    features[f"{length} pickup {kind}"] = 1.0
    if any(folded.under):
        features["under"] = folded.under[down] / sum(folded.under)
    return features
