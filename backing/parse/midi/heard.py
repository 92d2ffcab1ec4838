"""The metre of a tune that was played without a click: every metre, value of the pulse and
place of the first bar line is weighed, by what a listener goes by.

What is weighed: how fast such a metre usually goes, which notes are long and where they
fall, after how many bars melody and rhythm come back, whether there are eights of bars, where
the last note stands, how long the pickup would be.  The weights (`heard_weights`) are those
of a logistic model of the choice, learned from tunes of open collections, each metre as often
as the others, by `tests/bench/learn_metre.py`.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import exp, log
from statistics import median
from typing import NamedTuple

from backing.music.dance import DANCES
from backing.music.metre import Metre, parse_metre
from backing.parse.midi.heard_weights import WEIGHTS
from backing.wording import count as counted

#: The metres that are listened for.
METRES = ("2/4", "3/4", "4/4", "6/8", "9/8")
#: What a pulse may be worth, in whole notes.
VALUES = tuple(
    Fraction(n, d)
    for n, d in ((1, 16), (1, 8), (1, 4), (1, 12), (1, 24), (3, 8), (3, 16), (3, 32), (1, 6))
)
#: Seconds that a crotchet, or a beat of three, may last.
_QUICKEST, _SLOWEST = 0.21, 1.6
#: Places a whole note, notes that are looked at.
_GRID, _MOST_NOTES = 48, 4096
_LAGS = (1, 2, 4, 8, 16)
#: Lengths that are counted: semiquaver, quaver, dotted quaver, crotchet, dotted crotchet, minim.
_LENGTHS = (3, 6, 9, 12, 18, 24)
_LONGEST = Fraction(1, 2)
#: Tempi are spread so much (in logarithms) round the usual one of a dance; far ones are not
#: impossible.
_SPREAD, _FAR = 0.12, 0.02
#: Points from which on a reason is told; the share of notes that come back, that is.
_LEAST_GAIN, _COMES_BACK = 0.5, 0.4
_QUAVER = _GRID // 8
Features = dict[str, float]


class PulseNote(NamedTuple):
    """A note on a pulse: where, in pulses, its highest key."""

    place: Fraction
    key: int


class MetreHearing(NamedTuple):
    """A way to hear a tune: its metre, what a pulse is worth, the length of the pickup."""

    metre: Metre
    value: Fraction
    pickup: Fraction


class _PulseRow(NamedTuple):
    """A tune in a value of the pulse: where notes begin (in 48ths of a whole note after the
    first), how long to the next, their keys; where a bass or chord begins; seconds of a
    whole note."""

    places: tuple[int, ...]
    spans: tuple[int, ...]
    keys: tuple[int, ...]
    under: tuple[int, ...]
    whole: float


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
        row = _row(notes, below, value, period)
        for metre in metres or [parse_metre(name) for name in METRES]:
            beat = _beat(metre)
            if not _QUICKEST <= float(beat) * row.whole <= _SLOWEST:
                continue
            if metre.length * _GRID % 1:
                continue
            common = _common(row, metre)
            folded = _FoldedBar.of(row, metre)
            step = Fraction(1, 8) if metre.length > Fraction(1, 2) else Fraction(1, 16)
            for n in range(int(metre.length / step)):
                pickup = step * n
                features = _placed(row, folded, metre, pickup)
                yield MetreHearing(metre, value, pickup), {**common, **features}


def points(features: Features) -> float:
    """How likely a hearing is beside others, in logarithms."""
    return sum(WEIGHTS.get(name, 0.0) * size for name, size in features.items())


def speaks_for(hearing: MetreHearing, best: Features, other: Features) -> list[str]:
    """What speaks most for the best hearing rather than for another, in words; two at most."""
    gains: dict[str, float] = {}
    for name in {*best, *other}:
        words = _words(name, hearing, best)
        gain = WEIGHTS.get(name, 0.0) * (best.get(name, 0.0) - other.get(name, 0.0))
        if words:
            gains[words] = gains.get(words, 0.0) + gain
    ranked = sorted(gains, key=lambda words: -gains[words])
    return [words for words in ranked if gains[words] > _LEAST_GAIN][:2]


def _words(name: str, hearing: MetreHearing, best: Features) -> str:
    """What a feature is about, in words."""
    if name == "tempo":
        return f"such a tempo is usual for {hearing.metre}"
    if name.startswith(("melody", "part", "rhythm")):
        back = [lag for lag in _LAGS if best.get(f"melody {lag}", 0.0) > _COMES_BACK]
        where = 8 if 8 in back else 4 if 4 in back else min(back, default=0)
        return f"the melody comes back after {counted(where, 'bar')}" if where else ""
    if name.startswith(("bars", "eights", "fours")):
        return "it makes whole fours of bars" if best.get("fours") else ""
    if " long " in name or " struck " in name:
        return "the long notes fall on its beats"
    return ""


def _row(
    notes: Sequence[PulseNote], under: Sequence[Fraction], value: Fraction, period: float
) -> _PulseRow:
    first = notes[0].place
    places = [round((note.place - first) * value * _GRID) for note in notes]
    spans = [max(b - a, 0) for a, b in pairwise(places)]
    spans.append(min(max(spans[-8:], default=12), int(_LONGEST * _GRID)))
    return _PulseRow(
        tuple(places),
        tuple(spans),
        tuple(note.key for note in notes),
        tuple(round(place * value * _GRID) for place in under),
        period / float(value),
    )


def _beat(metre: Metre) -> Fraction:
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


def _common(row: _PulseRow, metre: Metre) -> Features:
    """What does not go by where the bar lines are."""
    name, bar = str(metre), int(metre.length * _GRID)
    middle = median(row.spans)
    known = name if name in METRES else ""
    size = "short" if middle <= 4 else "quaver" if middle <= 8 else "long"
    features = {
        f"{known} {size}": 1.0,
        "tempo": _tempo(metre, row.whole),
    }
    at = dict(zip(row.places, zip(row.keys, row.spans, strict=True), strict=True))
    for lag in _LAGS:
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


class _FoldedBar(NamedTuple):
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
    def of(cls, row: _PulseRow, metre: Metre) -> "_FoldedBar":
        """The tune folded."""
        bar = int(metre.length * _GRID)
        accents, onsets, under, tonic, leaps = ([0.0] * bar for _ in range(5))
        twice = [0.0] * (2 * bar)
        longest = int(_LONGEST * _GRID)
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


def _placed(row: _PulseRow, folded: _FoldedBar, metre: Metre, pickup: Fraction) -> Features:
    """What goes by where the bar lines are."""
    name, bar, first = str(metre), len(folded.accents), int(pickup * _GRID)
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
    beat = _beat(metre)
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
