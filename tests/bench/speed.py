"""How fast a practice file is made, beside general libraries, in one run.

    python tests/bench/speed.py [--runs 25]

Printed are ratios as well as times: the machine's noise is in both sides of a ratio.

- process start to file written for `backing make` on a 32-bar example, against
  `python -c "import mido, typer"` (goal: at most 2.0 times that);
- in one process, text to MIDI bytes, for every tune of Ryan's Mammoth Collection (in the
  music21 package), each stage shown (goal: at most 10 ms a tune at the median);
- the same job with general libraries: music21 reads, expands repeats, realises chords,
  writes; and mido alone building and saving as many messages.
"""

import argparse
import io
import os
import subprocess
import sys
import tempfile
import time
import warnings
from itertools import pairwise
from pathlib import Path
from statistics import median, quantiles

import mido
from common import chorded_text, collection_paths, sample_of

from backing.arranging.arrange import arrange
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "the-towpath-mare.abc"
STAGES = ("read", "arrange", "perform", "write", "total")
MUSIC21 = """
import sys, music21
score = music21.converter.parse(sys.argv[1], format="abc", forceSource=True)
part = score.parts[0].expandRepeats()
for symbol in list(part.recurse().getElementsByClass("ChordSymbol")):
    symbol.writeAsChord = True
part.write("midi", fp=sys.argv[2])
"""


def seconds_of(command: list[str], env: dict[str, str]) -> float:
    """Wall time of one process."""
    started = time.perf_counter()
    subprocess.run(command, env=env, check=True, capture_output=True)
    return time.perf_counter() - started


def process_start(runs: int, folder: Path) -> None:
    """Process start to file written, interleaved with the imports alone."""
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = str(folder / "pycache")
    out = str(folder / "out.mid")
    make = ["make", str(EXAMPLE), "-o", out]
    commands = {
        "import mido, typer": [sys.executable, "-c", "import mido, typer"],
        "python -m backing make": [sys.executable, "-m", "backing", *make],
    }
    script = Path(sys.executable).with_name("backing")
    if script.exists():
        commands["backing make"] = [str(script), *make]
    times: dict[str, list[float]] = {name: [] for name in commands}
    for run in range(runs + 1):
        for name, command in commands.items():
            taken = seconds_of(command, env)
            if run:  # the first only warms the caches
                times[name].append(taken)
    print(f"process start to file written, {runs} runs each (goal: 2.0 times the imports)")
    base = median(times["import mido, typer"])
    for name, found in times.items():
        low, _, high = quantiles(found, n=4)
        middle = median(found)
        print(f"  {name:24} {middle * 1e3:7.1f} ms ({low * 1e3:.1f} to {high * 1e3:.1f})"
              f"   {middle / base:5.2f} x")  # fmt: skip
    taken = seconds_of([sys.executable, "-c", MUSIC21, str(EXAMPLE), out], env)
    print(f"  {'music21, the same tune':24} {taken * 1e3:7.1f} ms{'':19}{taken / base:5.2f} x")


def stages_of(text: str) -> tuple[tuple[float, ...], bytes]:
    """The time that each stage takes on one tune, in seconds, and the file."""
    style = load_style("alternating")
    marks = [time.perf_counter()]
    tune = parse_abc(text)
    marks.append(time.perf_counter())
    arrangement = arrange(tune, style)
    marks.append(time.perf_counter())
    performance = perform(arrangement, Plan((Step(),)), tune)
    marks.append(time.perf_counter())
    data = render_midi(performance)
    marks.append(time.perf_counter())
    steps = [stop - start for start, stop in pairwise(marks)]
    return (*steps, marks[-1] - marks[0]), data


def in_one_process() -> float:
    """Text to MIDI bytes over the whole collection; the median total in seconds."""
    paths = collection_paths()
    texts = [chorded_text(path.read_text(encoding="utf-8", errors="replace")) for path in paths]
    rows = [stages_of(text)[0] for text in texts]
    print(f"\ntext to MIDI bytes, {len(rows):,} tunes, alternating (goal: 10 ms at the median)")
    print(f"  {'stage':10}{'median':>9}{'95 %':>9}{'most':>9}  ms")
    middle = 0.0
    for place, stage in enumerate(STAGES):
        found = sorted(row[place] * 1e3 for row in rows)
        middle = median(found)
        late = found[int(len(found) * 0.95)]
        print(f"  {stage:10}{middle:9.2f}{late:9.2f}{found[-1]:9.2f}")
    return middle / 1e3


def general_libraries(ours: float) -> None:
    """music21 from text to file, and mido alone, on a sample of the same tunes."""
    import music21

    taken, failed = [], 0
    warnings.simplefilter("ignore")
    for path in sample_of(collection_paths(), 25):
        text = chorded_text(path.read_text(encoding="utf-8", errors="replace"))
        started = time.perf_counter()
        try:
            score = music21.converter.parse(text, format="abc", forceSource=True)
            part = score.parts[0].expandRepeats()
            for symbol in part.recurse().getElementsByClass("ChordSymbol"):
                symbol.writeAsChord = True
            music21.midi.translate.music21ObjectToMidiFile(part).writestr()
        except Exception:  # whatever it fails on is counted, not mended
            failed += 1
            continue
        taken.append(time.perf_counter() - started)
    print("\ngeneral libraries on the same tunes")
    middle = median(taken)
    print(f"  music21    {middle * 1e3:7.1f} ms a tune at the median, {failed} of 25 failed"
          f"   {middle / ours:6.1f} x ours")  # fmt: skip
    _, data = stages_of(EXAMPLE.read_text(encoding="utf-8"))
    messages = [list(track) for track in mido.MidiFile(file=io.BytesIO(data)).tracks]
    started = time.perf_counter()
    for _ in range(20):
        file = mido.MidiFile(type=1, ticks_per_beat=960, charset="utf-8")
        for track in messages:
            new = mido.MidiTrack()
            for message in track:
                fields = {k: v for k, v in vars(message).items() if k != "type"}
                new.append(type(message)(message.type, **fields))
            file.tracks.append(new)
        file.save(file=io.BytesIO())
    alone = (time.perf_counter() - started) / 20
    print(f"  mido alone {alone * 1e3:7.1f} ms to build and save 32 bars with as many messages"
          f"   {alone / ours:6.1f} x ours")  # fmt: skip


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--runs", type=int, default=25)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        process_start(asked.runs, Path(folder))
    general_libraries(in_one_process())


if __name__ == "__main__":
    main()
