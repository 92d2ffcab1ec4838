"""How fast sheets are made, in seconds of the processor.

    python tests/bench/sheet.py [--runs 5] [--tunes 100]

- process start to PDF for one tune with buttons, against `python -c "import mido, typer"`, by
  turns (goal: at most 1.0 s);
- tunes a second for a book in one process (goal: at least 8), of the examples by turns, and what
  the stages take a tune: fingering, MusicXML, engraving with it, and the setting of the book.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import TypeVar

from backing.box.handout import handout
from backing.box.under_notes import with_buttons
from backing.files import load_box, read_tune
from backing.harmony.source import with_chords_from
from backing.render.musicxml import render_musicxml
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.pages import lay_page
from backing.render.sheet.sheets import render_book

EXAMPLES = Path(__file__).parents[2] / "examples"
BASE = [sys.executable, "-c", "import mido, typer"]
Made = TypeVar("Made")


def children_cpu(command: list[str]) -> float:
    """What a command takes of the processor."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def process_start(runs: int, folder: Path) -> None:
    """One tune from process start, beside the imports."""
    made = [sys.executable, "-m", "backing", "sheet", str(EXAMPLES / "the-towpath-mare.abc"),
            "--box", "D/G", "-o", str(folder / "mare.pdf")]  # fmt: skip
    pairs = [(children_cpu(BASE), children_cpu(made)) for _ in range(runs + 1)][1:]
    base, sheet = (median(side) for side in zip(*pairs, strict=True))
    print(f"one tune {sheet:.2f} s, imports {base:.2f} s, {sheet / base:.1f} times")


def timed(spent: dict[str, float], stage: str, work: Callable[[], Made]) -> Made:
    """What the work gives; its time is added to the stage's."""
    start = time.process_time()
    made = work()
    spent[stage] = spent.get(stage, 0.0) + time.process_time() - start
    return made


def book(count: int) -> None:
    """A book of so many tunes, and its stages."""
    layout, look, spent = load_box("D/G"), SheetLook(), dict[str, float]()
    paths = [path for path in sorted(EXAMPLES.glob("*.abc")) if "book" not in path.name]
    tunes = [read_tune(paths[n % len(paths)]).tune for n in range(count)]
    chorded = [with_chords_from(tune, None, layout.all_chords)[0] for tune in tunes]
    pages = timed(
        spent, "fingering", lambda: [SheetPage(*handout(t, [layout])[0]) for t in chorded]
    )
    whole = timed(spent, "book", lambda: render_book("book", ([p] for p in pages), look))
    for page in pages[: len(paths)]:
        assert page.fit is not None
        tune = with_buttons(page.tune, page.fit.fingering)
        timed(spent, "MusicXML", lambda tune=tune: render_musicxml(tune))
        timed(spent, "page laid out", lambda page=page: lay_page(page, look, "p"))
    print(f"a book of {count}: {count / (spent['fingering'] + spent['book']):.1f} tunes a second, "
          f"{len(whole.files[0]) // 1024} KiB")  # fmt: skip
    for stage, seconds in spent.items():
        share = count if stage in ("fingering", "book") else min(count, len(paths))
        print(f"  {stage:14} {1000 * seconds / share:6.1f} ms a tune")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--tunes", type=int, default=100)
    wanted = parser.parse_args()
    print(f"load {os.getloadavg()[0]:.1f}; seconds of the processor")
    with tempfile.TemporaryDirectory() as folder:
        process_start(wanted.runs, Path(folder))
    book(wanted.tunes)


if __name__ == "__main__":
    main()
