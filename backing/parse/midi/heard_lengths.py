"""A closer look at a hearing, wherever its bar lines are: how fast it goes, how dense it is,
and what of it comes back whole.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import log
from typing import NamedTuple

from backing.music.metre import Metre
from backing.parse.midi.heard_row import GRID, Features, PulseRow

#: After how many bars melody and rhythm may come back, one seen closely.
_LAGS = (1, 2, 3, 4, 6, 8, 12, 16)
#: Lengths that are counted: semiquaver to dotted minim.
_LENGTHS = (3, 6, 9, 12, 18, 24, 36)
#: A stretch that comes back whole is so much of a lag; its start may be so far off a bar.
_WHOLE, _OFF = 0.8, 0.06
#: Fewer notes tell nothing of what comes back.
_FEW = 8


class _Scale(NamedTuple):
    """Steps of a size seen in logarithms: the least, how far apart (e to the power), how many."""

    least: float
    apart: float
    steps: int

    def shares(self, size: float) -> list[tuple[int, float]]:
        """The two steps that a size lies between, and how near it is to each (0 to 1)."""
        at = min(max((log(size) - log(self.least)) / self.apart, 0), self.steps - 1.000001)
        low = int(at)
        return [(low, 1 - at + low), (low + 1, at - low)]


#: Bars a minute; seconds of a crotchet; seconds of a note; notes a bar.
_BARS, _CROTCHET, _NOTE, _DENSITY = (
    _Scale(12, 0.15, 18), _Scale(0.2, 0.2, 12), _Scale(0.1, 0.2, 10), _Scale(1.5, 0.25, 10),
)  # fmt: skip


class _Return(NamedTuple):
    """What comes back after a lag: shares of the notes whose key, whose key and length, do; the
    share of the tune that stretches cover which come back whole; where these begin."""

    keys: float
    lengths: float
    covered: float
    starts: tuple[int, ...]


def length_signs(row: PulseRow, metre: Metre) -> Features:
    """What goes by the lengths of bars and notes."""
    name, bar = str(metre), int(metre.length * GRID)
    last = max(row.places[-1], 1)
    sizes = {
        "bars a minute": (_BARS, 60 / (row.whole * float(metre.length))),
        "crotchet": (_CROTCHET, row.whole / 4),
        "note": (_NOTE, row.whole / GRID * last / max(len(row.places) - 1, 1)),
        "density": (_DENSITY, len(row.places) / max(last / bar, 1)),
    }
    features = {
        f"{name} {what} {step}": share
        for what, (scale, size) in sizes.items()
        for step, share in scale.shares(size)
    }
    at = dict(zip(row.places, zip(row.keys, row.spans, strict=True), strict=True))
    part = bar // 3 if metre.length % Fraction(3, 8) == 0 and name != "6/8" else bar // 2
    inside = _return(at, row.places, part)
    features[f"{name} melody inside"] = inside.keys
    features[f"{name} rhythm inside"] = inside.lengths
    for lag in _LAGS:
        found = _return(at, row.places, bar * lag)
        features[f"{name} melody {lag}"] = found.keys
        features[f"{name} rhythm {lag}"] = found.lengths
        features[f"{name} covered {lag}"] = found.covered
        features[f"{name} aligned {lag}"] = _aligned(found.starts, bar * lag)
    for length in _LENGTHS:
        features[f"{name} lasting {length}"] = row.spans.count(length) / len(row.spans)
    return features


def _aligned(starts: Sequence[int], lag: int) -> float:
    """The share of stretches that begin whole lags after the first of them."""
    turns = [(start - starts[0]) / lag for start in starts[1:]]
    return sum(abs(turn - round(turn)) < _OFF for turn in turns) / max(len(starts), 1)


def _return(at: Mapping[int, tuple[int, int]], places: Sequence[int], lag: int) -> _Return:
    """What of a tune comes back after a lag (48ths of a whole note)."""
    last = places[-1] - lag
    count = keys = lengths = covered = 0
    begun = end = places[0]
    starts = []
    for place in places:
        if place > last:
            break
        count += 1
        (key, span), then = at[place], at.get(place + lag)
        lengths += then is not None and then[1] == span
        if then and then[0] == key:
            keys += 1
            end = place + span
            continue
        if end - begun >= _WHOLE * lag:
            covered += end - begun
            starts.append(begun)
        begun = end = place + span
    if end - begun >= _WHOLE * lag:
        covered += end - begun
        starts.append(begun)
    if count < _FEW:
        return _Return(0.0, 0.0, 0.0, ())
    return _Return(keys / count, lengths / count, covered / places[-1], tuple(starts))
