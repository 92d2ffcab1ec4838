"""A tune that was played without a click, in one value of its pulse; what of it speaks for a
metre wherever its bar lines are: the tempo, the lengths of the notes, what comes back when.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import exp, log
from statistics import median
from typing import NamedTuple

from backing.music.dance import DANCES
from backing.music.metre import Metre

#: The metres that are listened for.
METRES = ("2/4", "3/4", "4/4", "6/8", "9/8")
#: Places a whole note; the longest note that counts, in whole notes.
GRID, LONGEST = 48, Fraction(1, 2)
#: After how many bars melody and rhythm may come back.
LAGS = (1, 2, 4, 8, 16)
#: Lengths that are counted: semiquaver, quaver, dotted quaver, crotchet, dotted crotchet, minim.
_LENGTHS = (3, 6, 9, 12, 18, 24)
#: Tempi are spread so much (in logarithms) round the usual one of a dance; far ones are not
#: impossible.
_SPREAD, _FAR = 0.12, 0.02
Features = dict[str, float]


class PulseNote(NamedTuple):
    """A note on a pulse: where, in pulses, its highest key."""

    place: Fraction
    key: int


class PulseRow(NamedTuple):
    """A tune in a value of the pulse: where notes begin (in 48ths of a whole note after the
    first), how long to the next, their keys; where a bass or chord begins; seconds of a
    whole note."""

    places: tuple[int, ...]
    spans: tuple[int, ...]
    keys: tuple[int, ...]
    under: tuple[int, ...]
    whole: float


def row_of(
    notes: Sequence[PulseNote], under: Sequence[Fraction], value: Fraction, period: float
) -> PulseRow:
    """The tune where a pulse has a value; `period` is the seconds of a pulse."""
    first = notes[0].place
    places = _in_grid([note.place - first for note in notes], value)
    spans = [max(b - a, 0) for a, b in pairwise(places)]
    spans.append(min(max(spans[-8:], default=12), int(LONGEST * GRID)))
    return PulseRow(
        tuple(places),
        tuple(spans),
        tuple(note.key for note in notes),
        tuple(_in_grid(under, value)),
        period / float(value),
    )


def _in_grid(places: Sequence[Fraction], value: Fraction) -> list[int]:
    """Places on a pulse in 48ths of a whole note, rounded as `round` does: in whole numbers,
    since fractions are slow."""
    top, bottom = value.numerator * GRID, value.denominator
    found = []
    for place in places:
        under = place.denominator * bottom
        whole, rest = divmod(place.numerator * top, under)
        found.append(whole + (2 * rest > under or (2 * rest == under and whole % 2)))
    return found


def beat_of(metre: Metre) -> Fraction:
    """A beat of three, or the written note; a crotchet at least."""
    return max(metre.beats, default=Fraction(1, 4))


@lru_cache(maxsize=64)
def _usual(metre: str) -> tuple[float, ...]:
    """Bars a minute of the dances in a metre."""
    alike = {"4/4": ("4/4", "2/2"), "2/2": ("4/4", "2/2")}.get(metre, (metre,))
    found = {float(dance.bars[name]) for dance in DANCES for name in alike if name in dance.bars}
    return tuple(sorted(found))


def _tempo(metre: Metre, whole: float) -> float:
    """How usual the tempo is for the metre, in logarithms."""
    usual = _usual(str(metre))
    if not usual:
        return 0.0
    bars = 60 / (whole * float(metre.length))
    near = sum(exp(-((log(bars / each) / _SPREAD) ** 2) / 2) for each in usual)
    return log(near / len(usual) + _FAR)


def common_signs(row: PulseRow, metre: Metre) -> Features:
    """What does not go by where the bar lines are."""
    name, bar = str(metre), int(metre.length * GRID)
    middle = median(row.spans)
    known = name if name in METRES else ""
    size = "short" if middle <= 4 else "quaver" if middle <= 8 else "long"
    features = {
        f"{known} {size}": 1.0,
        "tempo": _tempo(metre, row.whole),
    }
    at = dict(zip(row.places, zip(row.keys, row.spans, strict=True), strict=True))
    for lag in LAGS:
        same, alike, run = _returns(at, row.places, bar * lag)
        features[f"melody {lag}"] = same
        features[f"rhythm {lag}"] = alike
        features[f"part {lag}"] = float(run >= 0.8)
    for length in _LENGTHS:
        features[f"{known} of {length}"] = row.spans.count(length) / len(row.spans)
    features["odd"] = sum(span % 3 > 0 for span in row.spans) / len(row.spans)
    return features


def _returns(
    at: Mapping[int, tuple[int, int]], places: Sequence[int], lag: int
) -> tuple[float, float, float]:
    """The shares of notes whose key, whose key and length, come back after a lag, of those that
    are not too near the end; the longest stretch that comes back whole, in lags."""
    last = places[-1] - lag
    count = key = length = 0
    begun, longest = places[0], 0
    for place in places:
        if place > last:
            break
        count += 1
        now, then = at[place], at.get(place + lag)
        if then and now[0] == then[0]:
            key += 1
            longest = max(longest, place + now[1] - begun)
        else:
            begun = place + now[1]
        length += then is not None and now[1] == then[1]
    if count < 8:
        return 0.0, 0.0, 0.0
    return key / count, length / count, longest / lag
