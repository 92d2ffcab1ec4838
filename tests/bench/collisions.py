"""Where drawn music touches: texts each other, and notes, signs, lines; kind by kind.

    python tests/bench/collisions.py [FILE ...] [--tunes 60] [--box D/G] [--each]

Without files: the examples, the tunes that are hard to set, and so many of music21's collection,
each in the two widths of a page and, with air button, fingers and hard bars, as wide as paper.
"""

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from common import collection_paths, sample_of
from ink import collisions

from backing.box.handout import handout
from backing.errors import BackingError
from backing.files import load_box, read_tune
from backing.files.tunes import read_book
from backing.harmony.source import with_chords_from
from backing.music.tune import Tune
from backing.parse.abc import tune_of
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.staff import lines_of

ROOT = Path(__file__).parents[2]
LOOKS = {
    "phone": (SheetLook(), 92.0),
    "tablet": (SheetLook(), 180.0),
    "paper": (SheetLook(air=True, fingers=True, hard=True), 180.0),
}


def page_of(tune: Tune, box: str) -> SheetPage:
    """A tune on a box, chords found where it has none."""
    layout = load_box(box)
    return SheetPage(*handout(with_chords_from(tune, None, layout.all_chords)[0], [layout])[0])


def tunes_of(paths: Sequence[Path]) -> Iterator[Tune]:
    """The tunes of files, all of a book."""
    for path in paths:
        texts = read_book(path)[0] if path.suffix == ".abc" else []
        if texts:
            yield from map(tune_of, texts)
        else:
            yield read_tune(path).tune


def report(name: str, tunes: Sequence[Tune], box: str, each: bool) -> None:
    """Count what touches in these tunes, look by look."""
    for title, (look, width) in LOOKS.items():
        counts: Counter[tuple[str, str]] = Counter()
        lines = 0
        for tune in tunes:
            for number, system in enumerate(lines_of(page_of(tune, box), look, [width])[0], 1):
                lines += 1
                for one in collisions(system.svg):
                    counts[one.kinds] += 1
                    if each:
                        print(f"  {tune.title}, line {number}: {one.kinds} {one.texts}")
        print(f"{name}, {title}: {sum(counts.values())} in {lines} lines of {len(tunes)} tunes")
        for kinds, count in counts.most_common():
            print(f"    {count:5}  {' / '.join(kinds)}")


def main() -> None:
    """Print what touches."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--tunes", type=int, default=60)
    parser.add_argument("--box", default="D/G")
    parser.add_argument("--each", action="store_true")
    given = parser.parse_args()
    if given.files:
        report("given", list(tunes_of(given.files)), given.box, given.each)
        return
    report("examples", list(tunes_of(sorted((ROOT / "examples").glob("*.abc")))), given.box,
           given.each)  # fmt: skip
    report("hard to set", list(tunes_of([ROOT / "tests/data/sheets/ugly.abc"])), given.box,
           given.each)  # fmt: skip
    found = []
    for path in sample_of(collection_paths(), given.tunes):
        try:
            found.append(read_tune(path).tune)
        except BackingError as error:
            print(f"{path.name}: {error}")
    report("collection", found, given.box, given.each)


if __name__ == "__main__":
    main()
