"""Learn what a rhythm in two- and four-time says of its dance.

    python tests/bench/learn_dances.py

Learned from are the tunes of Ryan's Mammoth Collection and O'Neill's Music of Ireland whose
`R:` names a known dance, and those of Aird's Airs whose titles do; as songs and marches those
that titles there call so, songs of the Essen collection, and numbers 1 to 625 of O'Neill's,
which are airs (the book's order, from memory).  All of them come with the music21 package.
Printed is what held-out tunes reach, fold by fold, and each collection when it is left out;
then the points, as they stand in backing/music/rhythm.py.  Needs numpy and scipy.
"""

from collections import Counter
from collections.abc import Sequence
from random import Random
from typing import Any, NamedTuple

import numpy as np
from dances import SEED, Labelled, Recall, corpus_folder, told, tunes_of
from numpy.typing import NDArray
from scipy.optimize import minimize

from backing.music.dance_found import dance_in_title
from backing.music.rhythm import LEAST_BARS, RhythmShares, rhythm_shares
from backing.music.tune import Tune

FOLDS, SONGS, SQUARES = 5, 900, 2.0
DUPLE = ("4/4", "2/2", "2/4")
OTHER = "other"
CLASSES = (OTHER, "reel", "hornpipe", "strathspey")
_LAST_AIR = 625
Array = NDArray[Any]


class Counted(NamedTuple):
    """What is counted in a tune, its class, and its collection."""

    shares: RhythmShares
    dance: str
    collection: str


def to_learn_from(told_tunes: Sequence[Labelled]) -> list[Counted]:
    """The tunes in two- and four-time that the points are learned from."""
    more = [*told_tunes]
    for _, tune in tunes_of(corpus_folder("airdsAirs")):
        more.append(Labelled(tune, dance_in_title(tune.title, tune.metre) or "", "airdsAirs"))
    for _, tune in tunes_of(corpus_folder("oneills1850")):
        if not tune.dance and tune.number.isdecimal() and int(tune.number) <= _LAST_AIR:
            more.append(Labelled(tune, "air", "oneills1850"))
    songs = [tune for _, tune in tunes_of(corpus_folder("essenFolksong"), 0.25)]
    more += [Labelled(tune, "air", "essenFolksong") for tune in songs[:SONGS]]
    names = {"air": OTHER, "march": OTHER} | {name: name for name in CLASSES}
    return [
        Counted(rhythm_shares(one.tune), names[one.dance], one.collection)
        for one in more
        if one.dance in names and str(one.tune.metre) in DUPLE and _has_full_bars(one.tune)
    ]


def _has_full_bars(tune: Tune) -> bool:
    full = (
        bar.length == bar.metre.length and bar.metre == tune.metre and any(n.pitches for n in notes)
        for bar, notes in zip(tune.bars, tune.melody.bars, strict=True)
        if not bar.pickup
    )  # fmt: skip
    return sum(full) >= LEAST_BARS


def learned(counted: Sequence[Counted]) -> dict[str, tuple[float, ...]]:
    """The points that make the classes as likely as they can be (multinomial logistic
    regression), each class weighing the same, held small by their squares."""
    rows = np.array([one.shares for one in counted])
    middle, spread = rows.mean(axis=0), rows.std(axis=0) + 1e-9
    inputs = np.c_[(rows - middle) / spread, np.ones(len(rows))]
    classes = np.array([CLASSES.index(one.dance) for one in counted])
    weight = len(rows) / len(CLASSES) / np.bincount(classes, minlength=len(CLASSES))[classes]
    size = inputs.shape[1]

    def cost(flat: Array) -> tuple[float, Array]:
        table = flat.reshape(len(CLASSES), size)
        points = inputs @ table.T
        points -= points.max(axis=1, keepdims=True)
        odds = np.exp(points)
        odds /= odds.sum(axis=1, keepdims=True)
        kept = table * np.r_[np.ones(size - 1), 0]
        right = odds[np.arange(len(rows)), classes]
        value = -(weight * np.log(right + 1e-12)).sum() + SQUARES * (kept**2).sum() / 2
        odds[np.arange(len(rows)), classes] -= 1
        return float(value), ((odds * weight[:, None]).T @ inputs + SQUARES * kept).ravel()

    start = np.zeros(len(CLASSES) * size)
    table = minimize(cost, start, jac=True, method="L-BFGS-B").x.reshape(len(CLASSES), size)
    raw = table[:, :-1] / spread
    ends = table[:, -1] - raw @ middle
    return {
        name: tuple(round(float(p), 1) for p in (*(raw[at] - raw[0]), ends[at] - ends[0]))
        for at, name in enumerate(CLASSES)
        if at
    }


def taken_for(points: dict[str, tuple[float, ...]], shares: RhythmShares) -> str:
    """The class that the points take such a tune for."""
    sums = {name: float(np.dot(row, (*shares, 1.0))) for name, row in points.items()}
    best = max(sums, key=lambda name: sums[name])
    return best if sums[best] > 0 else OTHER


def held_out(counted: Sequence[Counted]) -> Recall:
    """What the points reach on tunes that they were not learned from."""
    order = list(counted)
    Random(SEED).shuffle(order)
    pairs = []
    for fold in range(FOLDS):
        points = learned([one for at, one in enumerate(order) if at % FOLDS != fold])
        pairs += [(one.dance, taken_for(points, one.shares)) for one in order[fold::FOLDS]]
    return Recall(Counter(dance for dance, _ in pairs), Counter(pairs))


def without(collection: str, counted: Sequence[Counted]) -> Recall:
    """What points that were learned from the other collections reach on this one."""
    points = learned([one for one in counted if one.collection != collection])
    pairs = [
        (one.dance, taken_for(points, one.shares))
        for one in counted
        if one.collection == collection
    ]
    return Recall(Counter(dance for dance, _ in pairs), Counter(pairs))


def main() -> None:
    """Print what held-out tunes reach, and the points."""
    told_tunes = [one for name in ("ryansMammoth", "oneills1850") for one in told(name)]
    counted = to_learn_from(told_tunes)
    print(f"held out, {FOLDS} folds, {len(counted)} tunes")
    print(*held_out(counted).lines(), sep="\n")
    for name in ("ryansMammoth", "oneills1850"):
        print(f"{name}, learned from the others")
        print(*without(name, counted).lines(), sep="\n")
    for dance, row in learned(counted).items():
        print(f'    "{dance}": ({", ".join(map(str, row))}),')


if __name__ == "__main__":
    main()
