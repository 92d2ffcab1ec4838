"""Make practice files of all 1,059 tunes of Ryan's Mammoth Collection, and check them.

    python tests/bench/collection.py [--style NAME] [--sample COUNT]

The collection comes with the music21 package.  Every tune is read, arranged with each
style that is shipped, performed and written, with chords invented by rule (`common.py`);
then a sample is practised with every kind of loop, count-in and muting.  Each file must
be one that mido reads, in which every note-on has its note-off, no message comes before
its time, every track has a name and ends where the practice does, muted tracks are
silent and the melody is the tune's.  Printed are counts, the notices by kind (numbers
masked) and the tunes that end in an error.  The exit code is 1 where a check fails or
anything but a BackingError is raised.
"""

import argparse
import re
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from common import (
    SEED,
    STYLES,
    collection_paths,
    faults_in,
    make_file,
    sample_of,
    steps_for,
    with_chords,
)

from backing.errors import BackingError
from backing.files import load_style, read_tune
from backing.music.tune import Tune
from backing.practice.plan import Step

_QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"")
_NUMBER = re.compile(r"\d+(?:/\d+)?")


@dataclass
class Tally:
    """What a sweep has counted."""

    files: int = 0
    faults: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    raised: list[str] = field(default_factory=list)
    notices: Counter[str] = field(default_factory=Counter)
    tunes_with: Counter[str] = field(default_factory=Counter)

    def note(self, messages: list[str]) -> None:
        """Count the notices of one tune or practice by kind."""
        kinds = [masked(message) for message in messages]
        self.notices.update(kinds)
        self.tunes_with.update(set(kinds))

    def make(
        self, what: str, tune: Tune, style: str, step: Step | None = None, *, single: bool = False
    ) -> None:
        """Make one file and check it; nothing that goes wrong stops the sweep."""
        try:
            made = make_file(tune, load_style(style), step, single_track=single)
        except BackingError as error:
            self.refused.append(f"{what}: {error.message}")
            return
        except Exception as error:
            self.raised.append(f"{what}: {error!r}")
            return
        self.files += 1
        try:
            self.faults += [f"{what}: {fault}" for fault in faults_in(made)]
        except Exception as error:
            self.faults.append(f"{what}: not readable: {error!r}")
        if style == STYLES[0]:
            self.note(list(made.performance.notices))


def masked(message: str) -> str:
    """The kind of a message: numbers and quoted texts masked.

    >>> masked("bar 5 lasts 7/8, the metre is 4/4")
    'bar # lasts #, the metre is #'
    """
    return _NUMBER.sub("#", _QUOTED.sub("'…'", message))


def read_all(paths: list[Path], tally: Tally) -> dict[str, Tune]:
    """The tunes by file name, as `backing make` reads them."""
    tunes = {}
    for path in paths:
        try:
            reading = read_tune(path)
        except BackingError as error:
            tally.refused.append(f"{path.name}: {error.message}")
        except Exception as error:
            tally.raised.append(f"{path.name}: {error!r}")
        else:
            tunes[path.stem] = reading.tune
            tally.note([notice.message for notice in reading.notices + reading.tune.notices])
    return tunes


def sweep_loops(tunes: dict[str, Tune], styles: list[str], tally: Tally) -> None:
    """Every practice of every tune, style and form of file taken by turns."""
    chance = Random(SEED)
    turn = 0
    for name, tune in tunes.items():
        for asked, step in steps_for(tune, chance):
            style = styles[turn % len(styles)]
            single = turn % 4 == 3
            track = " --single-track" if single else ""
            tally.make(f"{name} {asked} --style {style}{track}", tune, style, step, single=single)
            turn += 1


def report(title: str, tally: Tally, started: float) -> None:
    """Print what a sweep found."""
    print(f"\n{title}: {tally.files:,} files checked in {time.perf_counter() - started:.0f} s")
    for kind, number in tally.notices.most_common():
        print(f"  notice   {number:5}  (in {tally.tunes_with[kind]})  {kind}")
    by_reason = Counter(masked(text.partition(": ")[2]) for text in tally.refused)
    for kind, number in by_reason.most_common():
        print(f"  refused  {number:5}  {kind}")
    for label, texts in (("refused", tally.refused), ("FAULT", tally.faults)):
        for text in texts[:40]:
            print(f"  {label}: {text}")
        if len(texts) > 40:
            print(f"  and {len(texts) - 40} more")
    for text in tally.raised:
        print(f"  RAISED: {text}")


def main() -> int:
    """Run both sweeps; 1 where anything is wrong."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--style", help="only this style")
    parser.add_argument("--sample", type=int, default=60, help="tunes that are looped")
    asked = parser.parse_args()
    styles = [asked.style] if asked.style else list(STYLES)
    paths = collection_paths()
    if not paths:
        print("the collection is not here: install music21", file=sys.stderr)
        return 2

    started, whole = time.perf_counter(), Tally()
    bare = read_all(paths, whole)
    tunes = {name: with_chords(tune) for name, tune in bare.items()}
    own = sum(tune.has_chords for tune in bare.values())
    chorded = sum(tune.has_chords for tune in tunes.values())
    print(f"{len(paths):,} files, {len(tunes):,} tunes read, {own} with chords of their own, "
          f"{chorded - own:,} given chords, {len(tunes) - chorded} left without")  # fmt: skip
    for style in styles:
        for name, tune in tunes.items():
            whole.make(f"{name} --style {style}", tune, style)
    report(f"whole tunes with {', '.join(styles)}", whole, started)

    started, loops = time.perf_counter(), Tally()
    chosen = [path.stem for path in sample_of(paths, asked.sample)]
    sweep_loops({name: tunes[name] for name in chosen if name in tunes}, styles, loops)
    report(f"practices of {len(chosen)} tunes", loops, started)
    return 1 if whole.faults or whole.raised or loops.faults or loops.raised else 0


if __name__ == "__main__":
    sys.exit(main())
