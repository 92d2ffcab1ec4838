"""What the rhythm of a melody says of its dance, without a word of its title.

Lengths are seen against the bar, so that a reel in semiquavers in 2/4 and one in quavers in
4/4 look alike.  In two- and four-time points are added up that were learned
(`tests/bench/learn_dances.py`) from tunes whose dance is told: Ryan's Mammoth Collection,
O'Neill's Music of Ireland and Aird's Airs, beside songs of the Essen collection, all of them
in the music21 package.  In other metres a few limits do, set by the same collections.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from backing.music.metre import Metre
from backing.music.tune import Tune
from backing.wording import listed

#: Fewer full bars tell nothing (working values): in two- and four-time (one strain, whose last
#: bar lacks its pickup), of a waltz, and by the beats in threes: songs in 6/8 are many and
#: short, in 9/8 they are few.
LEAST_BARS, LEAST_OF_WALTZ, LEAST_IN_THREES = 7, 16, {2: 12, 3: 6, 4: 6}
_DUPLE = ("4/4", "2/2", "2/4")
#: Parts of a bar: quavers, semiquavers and triplets begin on them in all metres.
_PARTS = 144


class CountedNote(NamedTuple):
    """A note that is struck: where in its bar and how long, in 144ths of it; MIDI key."""

    at: int
    length: int
    key: int


class ByRhythm(NamedTuple):
    """A dance by the rhythm, and what in the rhythm says so, in words."""

    dance: str
    because: str


class RhythmShares(NamedTuple):
    """What is counted in two- and four-time, nearly all of it shares from 0 to 1.

    Of quarters of a bar: filled with an even pair, a dotted pair, a snap, a triplet, one note,
    or four notes and more; of half bars: filled with four even notes.  `density` is how many of
    eight notes a bar has.  Of the last bars of parts: those whose last two notes fall on the
    second and third quarter, those that come back to their first note, and how dense they are.
    Of bars: those heard before.  Of intervals: steps that go on in one direction, leaps of a
    fourth and more.  Of the first bar: how much of it a pickup fills.
    """

    even: float
    dotted: float
    snap: float
    triplet: float
    single: float
    crowded: float
    runs: float
    density: float
    three_beats: float
    comes_back: float
    ending: float
    again: float
    scales: float
    leaps: float
    pickup: float


#: Points for each dance, against songs and marches: one for each of `RhythmShares`, then a
#: number by itself.  The dance with most is taken, none where none has more than 0.
POINTS: Mapping[str, tuple[float, ...]] = {
    "reel": (
        3.1, 1.2, -1.8, 17.9, -3.4, -27.9, 4.3, -3.8, 0.6, 0.1, 5.8, 7.0, -3.1, 10.8, -0.9, -4.9,
    ),
    "hornpipe": (
        1.8, 6.9, -18.1, 20.8, -2.7, -55.4, 7.0, 1.1, 2.2, 1.4, -0.4, 5.6, -1.5, 9.9, 3.7, -8.9,
    ),
    "strathspey": (
        -1.9, -0.7, 9.8, 4.6, -4.3, 11.5, -0.8, -0.1, -2.3, -1.3, 5.7, 3.5, -4.1, 11.5, 0.8, -3.6,
    ),
}  # fmt: skip


def dance_by_rhythm(tune: Tune) -> ByRhythm | None:
    """The dance that such a rhythm is mostly found in; None where it is not clear."""
    if tune.metre.free:
        return None
    metre = str(tune.metre)
    bars = [notes for notes, full in _bars_struck(tune) if notes and full]
    if metre in _DUPLE:
        return _in_two(rhythm_shares(tune), metre) if len(bars) >= LEAST_BARS else None
    if metre in ("6/8", "9/8", "12/8"):
        return _in_threes(bars, tune.metre)
    return _waltz(bars) if metre == "3/4" else None


def _bars_struck(tune: Tune) -> Iterator[tuple[tuple[CountedNote, ...], bool]]:
    """What is struck in each bar of the melody, and whether the bar is a full one; a note that
    a tie leads to is not struck.  Bars of other metres have nothing."""
    tied = False
    over, below = tune.metre.length.as_integer_ratio()
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        found: list[CountedNote] = []
        for note in notes:
            if note.pitches and not tied:
                at, length = note.onset, note.length
                found.append(
                    CountedNote(
                        round(_PARTS * at.numerator * below / (at.denominator * over)),
                        round(_PARTS * length.numerator * below / (length.denominator * over)),
                        note.pitches[-1].midi,
                    )
                )
            tied = bool(note.ties)
        same = bar.metre == tune.metre and not bar.pickup
        yield tuple(found) if same else (), same and bar.length == bar.metre.length


# -- two- and four-time --------------------------------------------------------------------

_QUARTER = _PARTS // 4
#: How a quarter of a bar is filled, by where in it notes begin.
_FILLED = {
    (0, 18): "even", (0, 27): "dotted", (0, 9): "snap", (0,): "single", (0, 12, 24): "triplet",
}  # fmt: skip
#: So many of eight notes a bar the dances of `POINTS` have at least (working value).
_DENSE = 0.6
#: What counts as the last bar of a part: most of a bar, for its pickup may lack.
_MOST_OF_BAR = 5 / 8


def rhythm_shares(tune: Tune) -> RhythmShares:
    """What is counted in a tune in two- or four-time; it must have a full bar with notes."""
    struck = list(_bars_struck(tune))
    bars = [notes for notes, full in struck if notes and full]
    filled: Counter[str] = Counter()
    runs = 0
    for notes in bars:
        kinds = [_filled(notes, quarter) for quarter in range(0, _PARTS, _QUARTER)]
        filled.update(kinds)
        runs += (kinds[:2] == ["even", "even"]) + (kinds[2:] == ["even", "even"])
    count, quarters = len(bars), 4 * len(bars)
    endings = [notes for notes, _ in map(struck.__getitem__, _last_bars(tune)) if notes] or bars[
        -1:
    ]
    closes = [[note.at for note in notes[-2:]] == [_QUARTER, 2 * _QUARTER] for notes in endings]
    first = tune.bars[0]
    keys = [note.key for notes in bars for note in notes]
    moves = [after - before for before, after in pairwise(keys)] or [0]
    scales = sum(a * b > 0 and abs(a) <= 2 and abs(b) <= 2 for a, b in pairwise(moves))
    heard = {tuple((note.at, note.key) for note in notes) for notes in bars}
    return RhythmShares(
        even=filled["even"] / quarters,
        dotted=filled["dotted"] / quarters,
        snap=filled["snap"] / quarters,
        triplet=filled["triplet"] / quarters,
        single=filled["single"] / quarters,
        crowded=filled["crowded"] / quarters,
        runs=runs / (2 * count),
        density=len(keys) / (8 * count),
        three_beats=sum(closes) / len(endings),
        comes_back=sum(len(n) > 2 and n[0].key == n[-1].key for n in endings) / len(endings),
        ending=sum(map(len, endings)) / (8 * len(endings)),
        again=1 - len(heard) / count,
        scales=scales / len(moves),
        leaps=sum(abs(move) >= 5 for move in moves) / len(moves),
        pickup=float(first.length / first.metre.length) if first.pickup else 0.0,
    )


def _filled(notes: Sequence[CountedNote], quarter: int) -> str:
    """How the quarter of a bar that begins there is filled; "" in another way."""
    begins = tuple(n.at - quarter for n in notes if quarter <= n.at < quarter + _QUARTER)
    return "crowded" if len(begins) > 3 else _FILLED.get(begins, "")


def _last_bars(tune: Tune) -> Iterator[int]:
    """The index of the last bar of each part."""
    for section in tune.sections:
        for index in range(section.stop - 1, section.start - 1, -1):
            bar = tune.bars[index]
            if not bar.pickup and bar.length >= _MOST_OF_BAR * bar.metre.length:
                yield index
                break


def _in_two(shares: RhythmShares, metre: str) -> ByRhythm | None:
    if shares.density < _DENSE:
        return None
    counted = (*shares, 1.0)
    points = {
        dance: sum(a * b for a, b in zip(counted, weights, strict=True))
        for dance, weights in POINTS.items()
    }
    best = max(points, key=lambda dance: points[dance])
    if points[best] <= 0:
        return None
    short, long = ("semiquavers", "quavers") if metre == "2/4" else ("quavers", "crotchets")
    facts = {
        "dotted pairs": shares.dotted > 0.3,
        "snaps": best == "strathspey" and shares.snap > 0.05,
        f"running {short}": shares.even > 0.4,
        f"parts that end on three {long}": best == "hornpipe" and shares.three_beats >= 0.5,
    }
    said = [fact for fact, there in facts.items() if there]
    return ByRhythm(best, f"{metre}, {listed(said)}" if said else metre)


# -- beats in threes, and three-time -----------------------------------------------------------

#: A jig fills so many of its beats with three quavers, or crotchet and quaver, and has at most
#: so many shorter notes a beat: 0.87 to 0.92 of the jigs of four collections, 0.95 of slip
#: jigs, 0.12 of German songs in 6/8, 0.36 of Irish airs.
_TROTS, _SHORT = 0.7, 0.3
#: A waltz has at most so many notes a beat, and shorter notes and dotted pairs a beat: 25 of 26
#: waltzes of one collection, 0.14 of German songs in 3/4, 0.35 of Irish airs, whose usual
#: tempo in 3/4 is the same.
_NOTES, _SHARP = 1.5, 0.08


def _in_threes(bars: Sequence[Sequence[CountedNote]], metre: Metre) -> ByRhythm | None:
    beats = metre.count // 3
    beat = _PARTS // beats
    trots, shorts = 0, 0
    for notes in bars:
        for start in range(0, _PARTS, beat):
            begins = tuple(n.at - start for n in notes if start <= n.at < start + beat)
            trots += begins in ((0, beat // 3, 2 * beat // 3), (0, 2 * beat // 3))
        shorts += sum(4 * note.length < beat for note in notes)
    all_beats = beats * len(bars)
    enough = len(bars) >= LEAST_IN_THREES[beats]
    if not enough or trots < _TROTS * all_beats or shorts > _SHORT * all_beats:
        return None
    dance = {2: "jig", 3: "slip jig", 4: "slide"}[beats]
    return ByRhythm(dance, f"{metre} in running quavers")


def _waltz(bars: Sequence[Sequence[CountedNote]]) -> ByRhythm | None:
    beat = _PARTS // 3
    beats = 3 * len(bars)
    sharp = 0
    for notes in bars:
        sharp += sum(4 * note.length < beat for note in notes)
        for start in range(0, _PARTS, beat):
            begins = [n.at - start for n in notes if start <= n.at < start + beat]
            sharp += begins == [0, 3 * beat // 4]
    if len(bars) < LEAST_OF_WALTZ or sum(map(len, bars)) > _NOTES * beats or sharp > _SHARP * beats:
        return None
    return ByRhythm("waltz", "3/4, even and not crowded")
