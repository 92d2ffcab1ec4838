"""How well the dance of a tune is found again where it is not told.

    python tests/bench/dances.py [FOLDER]

The tunes are those of Ryan's Mammoth Collection and O'Neill's Music of Ireland whose `R:`
names a known dance; both come with the music21 package.  FOLDER holds books of ABC whose file
names are labels, such as those of the Nottingham Music Database (cleaned copy:
github.com/jukedeck/nottingham-dataset): jigs, reels, hpps, slip, waltzes.  There the books of
reels hold all that is in 4/4 and 2/4, marches and polkas too.  `R:` is hidden, then the titles
too.  Printed are, dance by dance, how many are found again, how many of those that are taken
for it are it, and what the others are taken for.  Dances that are played alike count as one:
clog and hornpipe, a jig in 9/8 and a slip jig.  Last come songs of the Essen collection (in
music21), of which none should be taken for a dance.

The points of the rhythm were learned from the first two collections: `learn_dances.py` prints
what they reach on tunes that they were not learned from.
"""

import argparse
import importlib.util
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import NamedTuple

from backing.errors import BackingError
from backing.music.dance import dance_of
from backing.music.dance_found import found_dance
from backing.music.rhythm import dance_by_rhythm
from backing.music.tune import Tune
from backing.parse.abc import split_book, tune_of

SEED = 1883
_ALIKE = {"clog": "hornpipe"}
_OF_FILES = {"jig": "jig", "reel": "reel", "hpps": "hornpipe", "slip": "slip jig", "waltz": "waltz"}


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


def main() -> None:
    """Print what is found again."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?")
    options = parser.parse_args()
    collections = {name: told(name) for name in ("ryansMammoth", "oneills1850")}
    if options.folder:
        collections[options.folder.name] = by_file(options.folder)
    for name, tunes in collections.items():
        for titles in (True, False):
            print(f"{name}, {len(tunes)} tunes, titles {'seen' if titles else 'hidden'}")
            print(*found_again(tunes, titles=titles).lines(), sep="\n")
    songs = [tune for _, tune in tunes_of(corpus_folder("essenFolksong"), 0.1)]
    taken = Counter(found.dance if (found := dance_by_rhythm(one)) else "none" for one in songs)
    print(f"{len(songs)} songs of the Essen collection, titles hidden: {dict(taken.most_common())}")


if __name__ == "__main__":
    main()
