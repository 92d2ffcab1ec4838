"""What a site costs: a page for each tune of a collection, on all cores; a second run; one change.

    python tests/bench/site.py [--tunes 200] [--box D/G] [--seed 1883]

The tunes are a sample of Ryan's Mammoth Collection, as the music21 package carries it, in one book.
Goals: eight pages a second on two idle cores (0.25 s of a core for each), the cores busy
throughout, a second run at a hundredth of the first.  Seconds of processors hardly hang on what
else the machine does, those on the clock do.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent))
from common import SEED, collection_paths, sample_of

CORES = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Run(NamedTuple):
    """A run: seconds on the clock and of processors, megabytes of its largest process, what it
    said last."""

    clock: float
    processors: float
    memory: float
    said: str


def run(book: Path, out: Path, box: str) -> Run:
    """Make the site of a book."""
    command = [sys.executable, "-m", "backing", "page", str(book), "--box", box, "-o", f"{out}/"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    clock = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Run(clock, used, after.ru_maxrss / 1000, done.stderr.strip().splitlines()[-1])


def main() -> None:
    """Print all of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tunes", type=int, default=200)
    parser.add_argument("--box", default="D/G")
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    paths = sample_of(collection_paths(), given.tunes, given.seed)
    texts = [path.read_text(encoding="utf-8").strip() for path in paths]
    with tempfile.TemporaryDirectory() as folder:
        book, out = Path(folder) / "book.abc", Path(folder) / "site"
        book.write_text("\n\n".join(texts), encoding="utf-8")
        for what in ("all", "nothing", "one"):
            if what == "one":
                changed = texts[0].replace("T:", "T:Another ", 1)
                book.write_text("\n\n".join([changed, *texts[1:]]), encoding="utf-8")
            made = run(book, out, given.box)
            busy = made.processors / (made.clock * CORES)
            print(f"{what} to make: {made.said.partition(': ')[2]}")
            print(
                f"  {made.clock:.1f} s on the clock, {made.processors:.1f} s of processors, "
                f"{CORES} cores {busy:.0%} busy; largest process {made.memory:.0f} MB"
            )
            if what == "all":
                each = made.processors / len(texts)
                goal = 1000 * each / CORES
                print(f"  {each:.3f} s of a core for each: 1,000 in {goal:.0f} s on these if idle")
        sizes = [path.stat().st_size for path in out.iterdir()]
        index = (out / "index.html").stat().st_size
        print(f"{len(sizes)} files, {sum(sizes) / 1e6:.1f} MB; the index {index / 1e3:.0f} KB")


if __name__ == "__main__":
    main()
