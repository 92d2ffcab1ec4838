"""What speaks for a place of the bar lines: which notes fall where in the bar, the rhythms of the
beats, the last note, the number of bars, the pickup.
"""

from collections import Counter
from fractions import Fraction
from typing import NamedTuple

from backing.music.metre import Metre
from backing.parse.midi.heard_row import GRID, LONGEST, Features, PulseRow, beat_of

_QUAVER = GRID // 8
#: Rhythms of a beat that are counted, in 48ths of a whole note.
_CELLS: dict[int, frozenset[tuple[int, ...]]] = {
    12: frozenset({(), (0,), (0, 6), (0, 9), (0, 4, 8), (6,), (0, 3, 6, 9), (0, 6, 9), (0, 3, 6),
                   (0, 3), (6, 9)}),
    18: frozenset({(), (0,), (0, 6, 12), (0, 12), (0, 9, 12), (12,), (12, 15), (0, 12, 15), (0, 6),
                   (0, 3, 6, 12), (0, 3, 12), (6, 12)}),
}  # fmt: skip


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
    for cell, share in _cells(row, int(beat_of(metre) * GRID), first).items():
        features[f"{name} cell {cell}"] = share
    last = row.places[-1] - first
    bars = last // bar + 1
    for n in (0, 2, 3, 4, 6):
        features[f"{name} last {n}"] = float(last % bar == n * _QUAVER)
    size = next((n for n in (8, 16, 24, 32, 48, 64, 96) if abs(bars - n) <= n // 16), 0)
    features[f"bars {size}"] = 1.0
    features[f"{name} bars {size}"] = 1.0
    phrase = _phrase(row, bar, first)
    features["phrases of 4"] = phrase
    features[f"{name} phrases of 4"] = phrase
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


def _cells(row: PulseRow, beat: int, first: int) -> dict[str, float]:
    """The share of the beats that have each rhythm."""
    found: dict[int, list[int]] = {}
    for place in row.places:
        found.setdefault((place - first) // beat, []).append((place - first) % beat)
    known = _CELLS.get(beat, frozenset())
    counts = Counter(tuple(cell) if tuple(cell) in known else None for cell in found.values())
    beats = max((row.places[-1] - row.places[0]) // beat + 1, 1)
    shares = {
        "other" if cell is None else " ".join(map(str, cell)): count / beats
        for cell, count in counts.items()
    }
    shares["none"] = 1 - len(found) / beats
    return shares


def _phrase(row: PulseRow, bar: int, first: int) -> float:
    """How far the longest notes keep to one place of four bars: the share of the most, from
    1/4 bar by bar to 1."""
    longest = sorted(row.spans[:-1], reverse=True)[: max(len(row.spans) // 12, 4)]
    least = longest[-1] if longest else 0
    counts = Counter(
        ((place - first) // bar) % 4
        for place, span in zip(row.places, row.spans, strict=True)
        if span >= least
    )
    return max(counts.values()) / counts.total()
