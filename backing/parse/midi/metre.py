"""The metre and the pickup, where a file does not tell them: worked out from accents.

A note is accented by its length, a bass note, a chord symbol.  Each metre, at each place
where its first bar may begin, is a pattern of strong and weak places; the one that goes
best with the accents is taken.  What comes back after one, two, four or eight bars speaks
for a metre, and so does a length that makes eights of bars.  The method is of our own
making, tried on a collection of tunes.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import sqrt

from backing.music.metre import Metre, parse_metre
from backing.parse.midi.swing import Struck

#: The finest place that is looked at, and how many of them at most.
_STEP = Fraction(1, 16)
_MOST_STEPS = 2048
_LONGEST = Fraction(1, 2)
_LONGEST_BAR = Fraction(4)
_BASS, _CHORD = 0.2, 0.4
_CANDIDATES = ("4/4", "6/8", "3/4", "9/8")
#: A pickup is believed where its bars go so much better with the accents than without.
_MARGIN = 0.12
#: What a pickup of a whole bar would cost, where the metre is known.
_LONG_PICKUP = 0.2
#: How much it counts that the melody comes back after so many bars.
_RETURNS = {8: 0.5, 4: 0.5, 2: 0.3}
#: What speaks for 6/8 where most notes are quavers or shorter: it is the commoner.
_QUICK_JIG = 0.1
_DOWNBEAT, _STRONG, _BEAT, _HALF = 4.0, 3.0, 2.0, 0.6
Accents = list[float]


@dataclass(frozen=True, slots=True)
class MetreFit:
    """A metre, the length of its pickup, and how well both go with the accents."""

    metre: Metre
    pickup: Fraction
    score: float


def accents_of(
    notes: Sequence[Struck], bass: Iterable[Fraction], chords: Iterable[Fraction]
) -> Accents:
    """How accented each semiquaver is, from the first note on."""
    start = notes[0].onset
    count = min(int((notes[-1].onset - start) / _STEP) + 1, _MOST_STEPS)
    accents = [0.0] * count
    for note, following in pairwise([*notes, notes[-1]]):
        _add(accents, note.onset - start, float(min(_span(note, following), _LONGEST)))
    for onsets, weight in ((bass, _BASS), (chords, _CHORD)):
        for onset in set(onsets):
            _add(accents, onset - start, weight)
    return accents


def _span(note: Struck, following: Struck) -> Fraction:
    return following.onset - note.onset or note.stop - note.onset


def _add(accents: Accents, at: Fraction, weight: float) -> None:
    place = at / _STEP
    if place.denominator == 1 and 0 <= place < len(accents):
        accents[int(place)] += weight


def find_metre(notes: Sequence[Struck], accents: Accents) -> MetreFit:
    """The metre and pickup that go best with the accents.

    Tunes whose notes are mostly semiquavers are given 2/4 in the place of 4/4.
    """
    melody = _melody(notes, len(accents))
    gaps = sorted(b.onset - a.onset for a, b in pairwise(notes))
    middle = gaps[len(gaps) // 2] if gaps else Fraction(1, 4)
    total = notes[-1].stop - notes[0].onset
    fits = []
    for metre in map(parse_metre, _CANDIDATES):
        form = _form(accents, melody, metre, total)
        if str(metre) == "6/8" and middle <= Fraction(1, 8):
            form += _QUICK_JIG
        fits += [MetreFit(metre, p, _fit(accents, metre, p) + form) for p in _pickups(metre)]
    best = max(fits, key=lambda fit: fit.score)
    if str(best.metre) == "4/4" and middle <= _STEP:
        metre = parse_metre("2/4")
        best = max(
            (MetreFit(metre, pickup, _fit(accents, metre, pickup)) for pickup in _pickups(metre)),
            key=lambda fit: fit.score,
        )
    return best


def find_pickup(accents: Accents, metre: Metre) -> Fraction:
    """The pickup of a tune whose metre is known and whose first note stands at 0; 0 where
    no other place for the bar lines goes clearly better with the accents."""
    if metre.length % _STEP or metre.length > _LONGEST_BAR:
        return Fraction(0)
    cost = _LONG_PICKUP / float(metre.length)
    scores = {p: _fit(accents, metre, p) - cost * float(p) for p in _pickups(metre)}
    best = max(scores, key=lambda pickup: scores[pickup])
    return best if scores[best] > scores[Fraction(0)] + _MARGIN else Fraction(0)


def _pickups(metre: Metre) -> list[Fraction]:
    """Where the first full bar may begin: up to half a bar after the first note."""
    step = Fraction(1, 8) if metre.length > Fraction(1, 2) else _STEP
    return [step * n for n in range(int(metre.length / step / 2) + 1)]


def _fit(accents: Accents, metre: Metre, pickup: Fraction) -> float:
    """How well a metre's pattern goes with the accents, -1 to 1: their correlation."""
    pattern = _pattern(metre)
    shift = int(pickup / _STEP)
    size = len(pattern)
    return _correlation(accents, [pattern[(n - shift) % size] for n in range(len(accents))])


def _pattern(metre: Metre) -> list[float]:
    """How strong each semiquaver of a bar is."""
    pattern = [0.0] * max(int(metre.length / _STEP), 1)
    for n in range(0, len(pattern), 2):
        pattern[n] = _HALF
    onsets = metre.beat_onsets()
    for index, onset in enumerate(onsets):
        place = int(onset / _STEP)
        if onset / _STEP == place:
            pattern[place] = _STRONG if index in metre.strong else _BEAT
    pattern[0] = _DOWNBEAT
    return pattern


def _form(accents: Accents, melody: Sequence[int], metre: Metre, total: Fraction) -> float:
    """What speaks for a metre besides its accents: what comes back after some bars, a
    length of eights of bars."""
    bar = int(metre.length / _STEP)
    back = _correlation(accents[:-bar], accents[bar:]) if len(accents) > 2 * bar else 0.0
    returns = sum(weight * _return(melody, n * bar) for n, weight in _RETURNS.items())
    bars = total / metre.length
    eights = 0.15 if bars % 8 == 0 else 0.05 if bars % 4 == 0 else 0.0
    return 0.5 * back + returns + eights


def _melody(notes: Sequence[Struck], count: int) -> list[int]:
    """The key struck at each semiquaver, -1 for none."""
    row = [-1] * count
    for note in notes:
        place = (note.onset - notes[0].onset) / _STEP
        if place.denominator == 1 and place < count:
            row[int(place)] = note.keys[-1]
    return row


def _return(melody: Sequence[int], lag: int) -> float:
    """The share of notes that are struck again after so many semiquavers."""
    if lag + 8 > len(melody):
        return 0.0
    pairs = [pair for pair in zip(melody, melody[lag:], strict=False) if max(pair) >= 0]
    return sum(a == b for a, b in pairs) / len(pairs) if pairs else 0.0


def _correlation(one: Sequence[float], other: Sequence[float]) -> float:
    count = len(one)
    if not count:
        return 0.0
    mean_one, mean_other = sum(one) / count, sum(other) / count
    both = sum(a * b for a, b in zip(one, other, strict=True)) - count * mean_one * mean_other
    spread_one = sum(a * a for a in one) - count * mean_one**2
    spread_other = sum(b * b for b in other) - count * mean_other**2
    spread = spread_one * spread_other
    return both / sqrt(spread) if spread > 1e-9 else 0.0
