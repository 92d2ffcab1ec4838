"""How fast a practice file is made, beside general libraries, in one run.

    python tests/bench/speed.py [--runs 25]

Printed are ratios as well as times.  The two sides of a ratio are timed by turns, so that
the machine's noise is in both; the times alone, and the 10 ms goal, are as noisy as the
machine, whose load is printed first.

- process start to file written for `backing make` on a 32-bar example, against
  `python -c "import mido, typer"` (goal: at most 2.0 times that), and for a short script
  that does the same job with music21; all of them with their bytecode cached;
- in one process, text to MIDI bytes, for every tune of Ryan's Mammoth Collection (in the
  music21 package), each stage shown (goal: at most 10 ms a tune at the median); then the
  same with the package's own caches emptied before each tune, as in a new process;
- the same job with general libraries, each against our time for the same tunes: music21
  reads, expands repeats, realises chords, writes; and mido alone building and saving as
  many messages as the 32-bar example has.
"""

import argparse
import io
import os
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from statistics import median, quantiles

import mido
from common import chorded_text, collection_paths, sample_of

from backing.arranging.arrange import arrange
from backing.arranging.style import Style
from backing.files import load_style
from backing.harmony.suggest import suggest_chords
from backing.parse.abc import parse_abc
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "the-towpath-mare.abc"
STAGES = ("read", "arrange", "perform", "write", "total")
SAMPLE = 25
BASE = "import mido, typer"
MUSIC21 = """
import sys
from music21 import converter
part = converter.parse(sys.argv[1], format="abc", forceSource=True).parts[0].expandRepeats()
for symbol in part.recurse().getElementsByClass("ChordSymbol"):
    symbol.writeAsChord = True
part.write("midi", fp=sys.argv[2])
"""


# -- from process start -------------------------------------------------------------


def process_start(runs: int, folder: Path) -> None:
    """Process start to file written, interleaved with the imports alone."""
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = str(folder / "pycache")
    out = str(folder / "out.mid")
    make = ["make", str(EXAMPLE), "-o", out]
    commands = {
        BASE: [sys.executable, "-c", BASE],
        "python -m backing make": [sys.executable, "-m", "backing", *make],
    }
    script = Path(sys.executable).with_name("backing")
    if script.exists():
        commands["backing make"] = [str(script), *make]
    slow = {
        BASE: commands[BASE],
        "music21, the same tune": [sys.executable, "-c", MUSIC21, str(EXAMPLE), out],
    }
    print("process start to file written (goal: 2.0 times the imports)")
    process_rows(interleaved(commands, runs, env))
    process_rows(interleaved(slow, max(3, runs // 3), env))


def process_rows(times: dict[str, list[float]]) -> None:
    """Print median and quartiles of each command, and the ratio to the imports."""
    base = median(times[BASE])
    for name, found in times.items():
        low, middle, high = quantiles(found, n=4, method="inclusive")
        print(f"  {name:24}{middle * 1e3:8.1f} ms {f'({low * 1e3:.1f} to {high * 1e3:.1f})':20}"
              f"{middle / base:6.2f} x  of {len(found)}")  # fmt: skip


def interleaved(
    commands: dict[str, list[str]], runs: int, env: dict[str, str]
) -> dict[str, list[float]]:
    """Wall times of processes run by turns; a first round only fills the bytecode cache."""
    times: dict[str, list[float]] = {name: [] for name in commands}
    for turn in range(runs + 1):
        for name, command in commands.items():
            started = time.perf_counter()
            subprocess.run(command, env=env, check=True, capture_output=True)
            if turn:
                times[name].append(time.perf_counter() - started)
    return times


# -- in one process -----------------------------------------------------------------


def stages_of(text: str, style: Style) -> tuple[float, ...]:
    """Seconds of each stage from text to MIDI bytes on one tune, and of all of them."""
    marks = [time.perf_counter()]
    tune = parse_abc(text)
    marks.append(time.perf_counter())
    arrangement = arrange(tune, style)
    marks.append(time.perf_counter())
    performance = perform(arrangement, Plan((Step(),)), tune)
    marks.append(time.perf_counter())
    render_midi(performance)
    marks.append(time.perf_counter())
    return (*(stop - start for start, stop in pairwise(marks)), marks[-1] - marks[0])


def chords_of(text: str) -> float:
    """Seconds that finding chords takes on one tune, reading left out."""
    tune = parse_abc(text)
    started = time.perf_counter()
    suggest_chords(tune)
    return time.perf_counter() - started


def own_caches() -> list[Callable[[], None]]:
    """What empties each function cache of the package."""
    modules = [m for name, m in sys.modules.items() if name.partition(".")[0] == "backing"]
    found = {id(value): value for module in modules for value in vars(module).values()}
    return [value.cache_clear for value in found.values() if hasattr(value, "cache_clear")]


def in_one_process(texts: dict[str, str], style: Style) -> None:
    """Text to MIDI bytes over the whole collection."""
    rows = {name: stages_of(text, style) for name, text in texts.items()}
    caches = own_caches()
    fresh = []
    for text in texts.values():
        for clear in caches:
            clear()
        fresh.append(stages_of(text, style)[-1])
    print(f"\ntext to MIDI bytes, {len(rows):,} tunes, alternating (goal: 10 ms at the median)")
    print(f"  {'stage':24}{'median':>9}{'95 %':>9}{'most':>9}  ms")
    for place, stage in enumerate(STAGES):
        table_row(stage, [row[place] for row in rows.values()])
    table_row("total, caches empty", fresh)
    table_row("find chords, besides", [chords_of(text) for text in texts.values()])
    slowest = sorted(rows, key=lambda name: rows[name][-1], reverse=True)[:5]
    print("  slowest: " + ", ".join(f"{name} {rows[name][-1] * 1e3:.1f}" for name in slowest))


def table_row(name: str, seconds: list[float]) -> None:
    """Print the median, the 95th percentile and the largest."""
    found = sorted(second * 1e3 for second in seconds)
    late = found[int(len(found) * 0.95)]
    print(f"  {name:24}{median(found):9.2f}{late:9.2f}{found[-1]:9.2f}")


# -- general libraries --------------------------------------------------------------


def music21_alone(texts: dict[str, str], style: Style) -> None:
    """music21 from text to MIDI bytes on these tunes, each beside our own way."""
    from music21 import converter, midi

    taken: list[float] = []
    ratios: list[float] = []
    unrealised = 0
    failed: list[str] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, text in texts.items():
            ours = stages_of(text, style)[-1]
            started = time.perf_counter()
            try:
                score = converter.parse(text, format="abc", forceSource=True)
                part = score.parts[0].expandRepeats()
                for symbol in part.recurse().getElementsByClass("ChordSymbol"):
                    symbol.writeAsChord = True
                    unrealised += not symbol.pitches
                midi.translate.music21ObjectToMidiFile(part).writestr()
            except Exception as error:  # whatever it fails on is counted, not mended
                failed.append(f"{name} ({type(error).__name__})")
                continue
            taken.append(time.perf_counter() - started)
            ratios.append(taken[-1] / ours)
    print(f"  music21     {median(taken) * 1e3:7.1f} ms a tune at the median of {len(taken)}: "
          f"{median(ratios):.1f} x ours; "
          f"{len(failed)} failed, {unrealised} chords not realised")  # fmt: skip
    if failed:
        print(f"              failed: {', '.join(failed)}")


def mido_alone(style: Style, runs: int) -> None:
    """Building and saving the messages of the 32-bar example with mido, nothing else."""
    text = EXAMPLE.read_text(encoding="utf-8")
    tune = parse_abc(text)
    data = render_midi(perform(arrange(tune, style), Plan((Step(),)), tune))
    tracks = [
        [(type(message), vars(message).copy()) for message in track]
        for track in mido.MidiFile(file=io.BytesIO(data), charset="utf-8").tracks
    ]
    ours, alone = [], []
    for _ in range(runs):
        ours.append(stages_of(text, style)[-1])
        started = time.perf_counter()
        file = mido.MidiFile(type=1, ticks_per_beat=960, charset="utf-8")
        for track in tracks:
            file.tracks.append(mido.MidiTrack([kind(**fields) for kind, fields in track]))
        file.save(file=io.BytesIO())
        alone.append(time.perf_counter() - started)
    print(f"  mido alone  {median(alone) * 1e3:7.1f} ms to build and save the "
          f"{sum(map(len, tracks)):,} messages of the example: "
          f"{median(alone) / median(ours):.1f} x ours from its text on")  # fmt: skip


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--runs", type=int, default=25)
    runs = parser.parse_args().runs
    load, processors = os.getloadavg()[0], os.cpu_count()
    print(f"load at the start {load:.1f} on {processors} processors; best read below 1\n")
    with tempfile.TemporaryDirectory() as folder:
        process_start(runs, Path(folder))
    style = load_style("alternating")
    paths = collection_paths()
    if not paths:
        print("\nthe collection is not here: install music21", file=sys.stderr)
        return
    texts = {path.stem: chorded_text(path.read_text(encoding="utf-8")) for path in paths}
    in_one_process(texts, style)
    print("\ngeneral libraries")
    chosen = [path.stem for path in sample_of(paths, SAMPLE)]
    music21_alone({name: texts[name] for name in chosen}, style)
    mido_alone(style, runs)


if __name__ == "__main__":
    main()
