"""How well the dance of a tune is found again where it is not told.

    python tests/bench/dances.py [FOLDER] [--learn]

The tunes are those of Ryan's Mammoth Collection and O'Neill's Music of Ireland whose `R:`
names a known dance; both come with the music21 package.  FOLDER holds books of ABC whose file
names are labels, such as those of the Nottingham Music Database (cleaned copy:
github.com/jukedeck/nottingham-dataset): jigs, reels, hpps, slip, waltzes.  `R:` is hidden, then
the titles too.  Printed are, dance by dance, how many are found again, how many of those that
are taken for it are it, and what the others are taken for.  Dances that are played alike count
as one: clog and hornpipe, a jig in 9/8 and a slip jig.

For titles hidden there is a held-out figure besides: the points are learned from four fifths of
the tunes and tried on the rest, fold by fold, and from all collections but one, tried on that.
What is learned from, besides: tunes of Aird's Airs whose titles name a dance; as songs and
marches those that titles there call so, songs of the Essen collection (both in music21), and
numbers 1 to 625 of O'Neill's, which are airs (the book's order, from memory).  --learn prints
the points as they stand in backing/music/rhythm.py.  Needs numpy and scipy.
"""

import argparse
import importlib.util
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from backing.errors import BackingError
from backing.music import rhythm
from backing.music.dance import dance_of
from backing.music.dance_found import dance_in_title, found_dance
from backing.music.rhythm import POINTS, RhythmShares, dance_by_rhythm, rhythm_shares
from backing.music.tune import Tune
from backing.parse.abc import split_book, tune_of

SEED, FOLDS, SONGS = 1883, 5, 900
SQUARES = 2.0
DUPLE = ("4/4", "2/2", "2/4")
OTHER = "other"
CLASSES = (OTHER, "reel", "hornpipe", "strathspey")
_ALIKE = {"clog": "hornpipe"}
_OF_FILES = {"jig": "jig", "reel": "reel", "hpps": "hornpipe", "slip": "slip jig", "waltz": "waltz"}
_LAST_AIR = 625
Array = NDArray[Any]


class Labelled(NamedTuple):
    """A tune, the dance that it is, and the collection that it stands in."""

    tune: Tune
    dance: str
    collection: str


def corpus_folder(name: str) -> Path | None:
    """A folder of the tunes in the installed music21, which is not imported; else None."""
    spec = importlib.util.find_spec("music21")
    if spec is None or not spec.submodule_search_locations:
        return None
    folder = Path(next(iter(spec.submodule_search_locations))) / "corpus" / name
    return folder if folder.is_dir() else None


def tunes_of(folder: Path | None, share: float = 1.0) -> Iterator[tuple[str, Tune]]:
    """The tunes of the books in a folder with the names of their files, or a share of them by
    chance; those that cannot be read are left out."""
    chance = Random(SEED)
    for path in sorted(folder.glob("*.abc")) if folder else []:
        for text in split_book(path.read_bytes().decode("latin-1")):
            if chance.random() >= share:
                continue
            try:
                yield path.name, tune_of(text)
            except BackingError:
                continue


def alike(dance: str, tune: Tune) -> str:
    """The dance, or the one that is played as it is; a jig in 2/4, as the stage had them, is
    none that is known here."""
    if dance == "jig" and str(tune.metre) == "9/8":
        return "slip jig"
    return (
        f"jig in {tune.metre}"
        if dance == "jig" and tune.metre.unit < 8
        else _ALIKE.get(dance, dance)
    )


def told(name: str, share: float = 1.0) -> list[Labelled]:
    """The tunes of a collection of music21 whose `R:` names a known dance."""
    found = []
    for _, tune in tunes_of(corpus_folder(name), share):
        text = "slip jig" if tune.dance.strip().lower() == "slipjig" else tune.dance
        dance = dance_of(text, tune.metre)
        if dance is not None:
            found.append(Labelled(tune, alike(dance.name, tune), name))
    return found


def by_file(folder: Path) -> list[Labelled]:
    """The tunes of a folder, and its folders, whose file names are labels."""
    folders = [folder, *(path for path in sorted(folder.iterdir()) if path.is_dir())]
    return [
        Labelled(tune, dance, folder.name)
        for one in folders
        for name, tune in tunes_of(one)
        for start, dance in _OF_FILES.items()
        if name.startswith(start)
    ]


def hidden(tune: Tune, *, titles: bool = True) -> Tune:
    """The tune without its `R:`, and without its titles if asked."""
    bare = replace(tune, dance="")
    return replace(bare, title="", titles=()) if titles else bare


class Recall(NamedTuple):
    """What was found, by what it is: counts by dance, and by dance and what it was taken for."""

    tunes: Counter[str]
    taken: Counter[tuple[str, str]]

    def share(self, dance: str) -> float:
        """The share of a dance that is found again."""
        return self.taken[dance, dance] / self.tunes[dance]

    def lines(self) -> Iterator[str]:
        """A line for each dance."""
        for dance, number in self.tunes.most_common():
            all_taken = sum(n for (_, other), n in self.taken.items() if other == dance)
            right = self.taken[dance, dance] / all_taken if all_taken else 0.0
            others = [
                f"{n} {other or 'none'}"
                for (is_, other), n in self.taken.most_common()
                if is_ == dance != other
            ]
            yield (
                f"  {dance:12} {number:5}  found {self.share(dance):6.1%}  right {right:6.1%}"
                f"  taken for: {', '.join(others) or '-'}"
            )


def found_again(labelled: Sequence[Labelled], *, titles: bool) -> Recall:
    """What is found of tunes whose `R:` is hidden, with or without their titles."""
    pairs = []
    for one in labelled:
        found = found_dance(hidden(one.tune, titles=not titles))
        pairs.append((one.dance, alike(found.dance.name, one.tune) if found else ""))
    return Recall(Counter(dance for dance, _ in pairs), Counter(pairs))


# -- learning -------------------------------------------------------------------------------


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
    return sum(full) >= rhythm.LEAST_BARS


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
    """Print what is found again."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument("--learn", action="store_true")
    options = parser.parse_args()
    collections = {name: told(name) for name in ("ryansMammoth", "oneills1850")}
    told_tunes = [one for tunes in collections.values() for one in tunes]
    if options.folder:
        collections[options.folder.name] = by_file(options.folder)
    for name, tunes in collections.items() if POINTS else ():
        for titles in (True, False):
            print(f"{name}, {len(tunes)} tunes, titles {'seen' if titles else 'hidden'}")
            print(*found_again(tunes, titles=titles).lines(), sep="\n")
    counted = to_learn_from(told_tunes)
    print(f"held out, {FOLDS} folds, {len(counted)} tunes in two- and four-time, titles hidden")
    print(*held_out(counted).lines(), sep="\n")
    for name in ("ryansMammoth", "oneills1850"):
        print(f"{name}, learned from the others, titles hidden")
        print(*without(name, counted).lines(), sep="\n")
    if options.learn:
        for dance, row in learned(counted).items():
            print(f'    "{dance}": ({", ".join(map(str, row))}),')
    songs = [tune for _, tune in tunes_of(corpus_folder("essenFolksong"), 0.1)] if POINTS else []
    none = Counter(found.dance if (found := dance_by_rhythm(one)) else "none" for one in songs)
    print(f"{len(songs)} songs of the Essen collection, titles hidden: {dict(none.most_common())}")


if __name__ == "__main__":
    main()
