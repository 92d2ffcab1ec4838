"""The grades of a collection on a D/G box: its twenty easiest and hardest tunes, and what
grading costs.

Run it from the root of the repository:

    python tests/bench/grades.py [--tunes 1000]

The tunes are those of Ryan's Mammoth Collection (see `common.py`); those that a D/G has not
every note of are graded for the time it takes, and not listed.  Times are of the processor:
first reading, then line, fingering and grade, which must stay below 20 s for 1,000 tunes.
"""

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

from common import collection_paths

from backing.box.fingering import Fingering, finger
from backing.box.grade import Grade, grade_of
from backing.box.hardness import hard_reasons, hardness_on, usual_points
from backing.box.line import line_of
from backing.errors import BackingError
from backing.files import load_box, read_tune
from backing.music.tune import Tune

_LISTED = 20


def read_all(paths: list[Path]) -> list[Tune]:
    """The tunes that can be read and have notes."""
    tunes = []
    for path in paths:
        try:
            tune = read_tune(path).tune
        except BackingError:
            continue
        if any(tune.notes()):
            tunes.append(tune)
    return tunes


def one_line(grade: Grade, fingering: Fingering, dance: str) -> str:
    """A tune's grade, what makes it hard, and its hardest bar."""
    line = fingering.line
    bars = sum(not bar.pickup for bar in line.bars)
    parts = ", ".join(f"{trait} {points:.1f}" for trait, points in grade.shares()[:3])
    worst = grade.hardest[0]
    why = "; ".join(hard_reasons(worst, usual_points(grade.bars)))
    return (
        f"{grade.points:5.2f} {grade.name:<11} {line.title[:34]:<34} {dance:<10} {line.key!s:<9} "
        f"{fingering.reversals / bars:4.1f} changes a bar; {parts}\n"
        f"{'':18}bar {worst.number}: {why}"
    )


def main() -> int:
    """Print all of it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--tunes", type=int, default=1000)
    parser.add_argument("--dance", default="", help="List tunes of this dance alone.")
    asked = parser.parse_args()
    paths = collection_paths()[: asked.tunes]
    if not paths:
        print("the collection is not here: install music21", file=sys.stderr)
        return 2
    layout = load_box("D/G")
    started = time.process_time()
    tunes = read_all(paths)
    print(f"{len(tunes):,} tunes read in {time.process_time() - started:.1f} s")
    spent = {"line": 0.0, "fingering": 0.0, "grade": 0.0}
    found: list[tuple[Grade, Fingering, str]] = []
    for tune in tunes:
        at = time.process_time()
        line = line_of(tune)
        lined = time.process_time()
        fingering = finger(line, layout)
        fingered = time.process_time()
        grade = grade_of(hardness_on(fingering))
        spent["grade"] += time.process_time() - fingered
        spent["fingering"] += fingered - lined
        spent["line"] += lined - at
        if not any(note.missing for note in fingering.notes):
            found.append((grade, fingering, tune.dance))
    parts = ", ".join(f"{name} {seconds:.1f}" for name, seconds in spent.items())
    print(f"graded with a box in {sum(spent.values()):.1f} s: {parts}")
    names = Counter(grade.name for grade, _, _ in found)
    print(f"{len(found)} have all notes on a {layout.name}: "
          + ", ".join(f"{n} {name}" for name, n in names.most_common()))  # fmt: skip
    listed = [one for one in found if asked.dance.lower() in one[2].lower()]
    listed.sort(key=lambda one: one[0].points)
    print("\nthe easiest")
    for one in listed[:_LISTED]:
        print(one_line(*one))
    print("\nthe hardest")
    for one in listed[: -_LISTED - 1 : -1]:
        print(one_line(*one))
    return 0


if __name__ == "__main__":
    sys.exit(main())
