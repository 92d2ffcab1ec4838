"""A closer look at where the bar lines of a hearing are: which degrees and leaps fall where in
the bar, where phrases of two, four and eight bars come to rest, how beats are filled.
"""

from collections import Counter
from fractions import Fraction
from typing import NamedTuple

from backing.music.metre import Metre
from backing.parse.midi.heard_row import GRID, LONGEST, Features, PulseRow, beat_of

_QUAVER, _PHRASE = GRID // 8, 8
#: Rhythms of a beat that are counted, in 48ths of a whole note: a crotchet, a dotted one.
_IN_TWO = {
    (0, 6): "quavers", (0,): "one", (0, 9): "dotted", (0, 3, 6, 9): "semiquavers",
    (0, 6, 9): "quaver first", (0, 3, 6): "quaver last", (0, 4, 8): "triplet", (0, 3): "snap",
}  # fmt: skip
_IN_THREE = {
    (0, 6, 12): "quavers", (0, 12): "crotchet first", (0,): "one", (0, 9, 12): "dotted",
    (12,): "last", (0, 3, 6, 12): "quick", (0, 6): "crotchet last",
    (0, 3, 6, 9, 12, 15): "semiquavers",
}  # fmt: skip
#: Notes whose mean is what a note lies above or below; notes too few to say much of a place.
_AROUND, _FEW = 16, 4
#: Whole numbers of bars that tunes have.
_SIZES = (8, 16, 24, 32, 48, 64, 96, 128)


class FoldedPhrase(NamedTuple):
    """A tune folded at eight bars and, for its keys, at one; bar lines not yet known.

    `accents` and `onsets` are by place in eight bars; `counts` by place in a bar, as are `keys`:
    for each kind the sum at each place, and the mean of all notes.
    """

    bar: int
    bars: float
    accents: list[float]
    onsets: list[int]
    counts: list[int]
    keys: dict[str, tuple[list[float], float]]

    @classmethod
    def of(cls, row: PulseRow, metre: Metre) -> "FoldedPhrase":
        """The tune folded."""
        bar = int(metre.length * GRID)
        longest = int(LONGEST * GRID)
        accents, onsets, counts = [0.0] * (_PHRASE * bar), [0] * (_PHRASE * bar), [0] * bar
        sums = {kind: [0.0] * bar for kind in ("tonic", "fifth", "leap", "height", "same", "up")}
        before, last = row.keys[0], row.keys[-1]
        around = sum(row.keys[:_AROUND]) / len(row.keys[:_AROUND])
        for place, span, key in zip(row.places, row.spans, row.keys, strict=True):
            at = place % bar
            accents[place % (_PHRASE * bar)] += min(span, longest)
            onsets[place % (_PHRASE * bar)] += 1
            counts[at] += 1
            sums["tonic"][at] += (key - last) % 12 == 0
            sums["fifth"][at] += (key - last) % 12 == 7
            sums["leap"][at] += min(abs(key - before), 12) / 2
            sums["height"][at] += (key - around) / 3
            sums["same"][at] += key == before
            sums["up"][at] += key > before
            around += (key - around) / _AROUND
            before = key
        keys = {kind: (row_, sum(row_) / len(row.places)) for kind, row_ in sums.items()}
        return cls(bar, max(row.places[-1] / bar, 1), accents, onsets, counts, keys)


def filled_beats(row: PulseRow, beat: int, first: int) -> tuple[Counter[tuple[int, ...]], int]:
    """How often beats (48ths of a whole note, one begins at `first`) are struck in which rhythm,
    and how many beats there are."""
    found: dict[int, list[int]] = {}
    for place in row.places:
        found.setdefault((place - first) // beat, []).append((place - first) % beat)
    beats = (row.places[-1] - first) // beat + 1 - (-first) // beat
    return Counter(tuple(places) for places in found.values()), max(beats, 1)


def phrase_signs(
    row: PulseRow,
    folded: FoldedPhrase,
    metre: Metre,
    pickup: Fraction,
    filled: tuple[Counter[tuple[int, ...]], int],
) -> Features:
    """What goes by where the bar lines are, and phrases with them."""
    name, bar, first = str(metre), folded.bar, int(pickup * GRID)
    beat = int(beat_of(metre) * GRID)
    features: Features = {}
    for n in range(bar // _QUAVER):
        features |= _at_place(folded, name, first, n)
    last = row.places[-1] - first
    features[f"{name} ends {last % bar // _QUAVER}"] = float(last % _QUAVER == 0)
    bars = last // bar + 1
    size = next((n for n in _SIZES if abs(bars - n) <= n // 16), 0)
    features[f"{name} size {size}"] = 1.0
    for whole in (8, 4, 2):
        features[f"{name} wholes {whole}"] = float(bars % whole == 0)
    long = "long" if first * 2 > bar else "some"
    kind = "no" if not first else "short" if first < beat else "beat" if first == beat else long
    features[f"{name} {kind} pickup"] = 1.0
    features[f"{name} half pickup"] = float(first * 2 == bar)
    rhythms = _IN_THREE if beat == 18 else _IN_TWO
    counts, beats = filled
    for rhythm, count in counts.items():
        word = rhythms.get(rhythm)
        features[f"{name} beat {word}" if word else "beat other"] = count / beats + (
            0.0 if word else features.get("beat other", 0.0)
        )
    features[f"{name} beat held"] = 1 - counts.total() / beats
    features[f"{name} beat late"] = sum(n for at, n in counts.items() if at[0]) / beats
    return features


def _at_place(folded: FoldedPhrase, name: str, first: int, quaver: int) -> Features:
    """What stands so many quavers after the bar line."""
    at = (first + quaver * _QUAVER) % folded.bar
    count = folded.counts[at]
    features = {
        f"{name} {kind} {quaver}": (sums[at] / count - mean) * count / (count + _FEW)
        for kind, (sums, mean) in folded.keys.items()
        if count
    }
    places = [(first + n * folded.bar + quaver * _QUAVER) % len(folded.accents) for n in range(8)]
    phrases = folded.bars / _PHRASE

    def accent(*bars: int) -> float:
        total = sum(folded.accents[places[n]] for n in bars)
        return min(total / (len(bars) * phrases) / _QUAVER, 6) / 3

    def struck(*bars: int) -> float:
        return min(sum(folded.onsets[places[n]] for n in bars) / (len(bars) * phrases), 1)

    features[f"{name} fourth long {quaver}"] = accent(3, 7)
    features[f"{name} second long {quaver}"] = accent(1, 5)
    features[f"{name} odd long {quaver}"] = accent(0, 2, 4, 6)
    features[f"{name} eighth long {quaver}"] = accent(7)
    features[f"{name} fourth struck {quaver}"] = struck(3, 7)
    features[f"{name} other struck {quaver}"] = struck(0, 1, 2, 4, 5, 6)
    return features
