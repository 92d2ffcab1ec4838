"""What practice files cost, in seconds of the processor.

    python tests/bench/practising.py [--runs 7] [--profile]

- a file of 40 steps (every way to practise, plain and on a ladder) of a tune that plays 32 bars:
  read, made, all of it laid end to end (goal: below 150 ms), and written as MIDI;
- time and memory as rounds grow: 10, 100, 1,000 of a ladder, a loop, an echo with gaps (in step
  with the rounds), and what is kept while a player goes through them.
"""

import argparse
import cProfile
import pstats
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from statistics import median
from typing import TypeVar

from backing.arranging.arrange import arrange
from backing.cli.practice_making import read_practice
from backing.files import load_style, read_tune
from backing.practice.course import Course
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.practice.practice import performance_of_practice
from backing.render.midi import render_midi

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNE = "the-lock-keepers-kettle.abc"
#: Ways to practise, as a file has them.
WAYS = (
    'bars = 6\npercent = "50..80"', 'bars = "5-6"\nedges = true\ntimes = 4',
    'join = "A-B"\npercent = 70\ntimes = 3\ngap = 1', 'bars = 6\ngrow = "phrase"\npercent = 70',
    'part = "A"\nless-help = true', 'part = "B"\necho = true\ntimes = 2',
    'percent = 80\nmute = "melody"', 'part = "B"\ngrow = "backwards"',
    'bars = "13-14"\nleft-hand-stages = true\nevery = 2', 'percent = "80..100"\nstep = 10',
)  # fmt: skip
ROUNDS = 10, 100, 1000
Made = TypeVar("Made")


def file_of(steps: int) -> str:
    """A practice file of so many steps."""
    found = (
        f'[[step]]\nfor = "way {place}"\n{WAYS[place % len(WAYS)]}\n' for place in range(steps)
    )
    return f'practice = "Much"\ntune = "{TUNE}"\n\n' + "\n".join(found)


def seconds(work: Callable[[], object], runs: int) -> float:
    """What the work takes of the processor, the middle of some runs after one for nothing."""
    spent = []
    for _ in range(runs + 1):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return median(spent[1:])


def whole_file(runs: int, *, profile: bool) -> None:
    """Forty steps of a tune."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "much.toml"
        (path.parent / TUNE).write_bytes((EXAMPLES / TUNE).read_bytes())
        path.write_text(file_of(40))
        read = seconds(lambda: read_practice(path), runs)
        practice = read_practice(path).practice
        laid = seconds(lambda: performance_of_practice(practice), runs)
        performance = performance_of_practice(practice)
        written = seconds(lambda: render_midi(performance), runs)
        bars = len(performance.bars)
        print(f"40 steps, {bars} bars: made {read * 1e3:.0f} ms, laid {laid * 1e3:.0f} ms, "
              f"together {(read + laid) * 1e3:.0f} ms (goal: below 150); "
              f"as MIDI {written * 1e3:.0f} ms more")  # fmt: skip
        if profile:
            work = cProfile.Profile()
            work.runcall(lambda: performance_of_practice(read_practice(path).practice))
            pstats.Stats(work).sort_stats("cumulative").print_stats(45)


def growth(runs: int) -> None:
    """Time and memory by rounds."""
    tune = read_tune(EXAMPLES / TUNE).tune
    arrangement = arrange(tune, load_style("jig"))
    span = Bars(5, 6)
    for name, step_of in (
        ("loop", lambda count: Step(span, times=count)),
        ("ladder", lambda count: Step(
            span, ladder=tuple(Fraction(1, 2) + Fraction(n, 400) for n in range(min(count, 200))),
            every=-(-count // 200), times=count)),
        ("echo and gaps", lambda count: Step(span, times=count, echo=True, gap=1)),
    ):  # fmt: skip
        print(f"{name}:")
        for count in ROUNDS:
            plan = Plan((step_of(count),))
            spent = seconds(lambda plan=plan: perform(arrangement, plan, tune), runs)
            tracemalloc.start()
            performance = perform(arrangement, plan, tune)
            most = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
            walked = kept_walking(Course(arrangement, tune, plan))
            print(f"  {count:5} rounds: {spent * 1e3:7.1f} ms, "
                  f"{spent * 1e6 / count:5.0f} us a round; {most / 1e6:6.2f} MB, "
                  f"{most / count / 1e3:5.1f} kB a round; walked through, "
                  f"{walked / 1e3:.0f} kB are kept ({len(performance.bars)} bars)")  # fmt: skip


def kept_walking(course: Course) -> int:
    """How much memory a course keeps more than after its first stretches."""
    for _ in range(3):
        course.next()
    tracemalloc.start()
    while course.next() is not None:
        pass
    kept = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    return kept


def main() -> None:
    """Print what is measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--profile", action="store_true", help="show where the time goes")
    asked = parser.parse_args()
    whole_file(asked.runs, profile=asked.profile)
    if not asked.profile:
        growth(asked.runs)


if __name__ == "__main__":
    main()
