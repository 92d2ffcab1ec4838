"""Seconds of sound for a second of work, beside the FluidSynth program.

    python tests/bench/sound.py [--runs 5] [--sound-font FILE]

Both sides make the same three-minute practice (a tune of the examples, played so often that
it lasts that long, all tracks sounding) into a WAV file of 16 bits at 48,000 Hz, by turns,
each in a process of its own whose start is counted: ours from the tune's text, loudness
measured and set, FluidSynth from the MIDI file that we write of it, as it comes (with reverb
and chorus) and dry as ours is.  Goal: at least 1.5 times as fast.  Beside the wall time stands
that of the processors, which depends less on what else the machine does.  Then, in one
process, what the reeds alone take, and what a block costs a sound card that asks for them
live: six keys held, and struck anew.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from shutil import which
from statistics import median

import numpy as np

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style, read_tune
from backing.practice.performance import Performance, perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi
from backing.render.mix import Desk, reed_blocks
from backing.render.reeds import Reeds

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "the-towpath-mare.abc"
FONTS = ("/usr/share/sounds/sf2", "/usr/share/sounds/sf3", "/usr/share/soundfonts")
STYLE, RATE, SECONDS = "alternating", 48000, 180
OURS = """
import sys
from pathlib import Path
from backing.arranging.arrange import arrange
from backing.files import load_style, read_tune
from backing.files.audio import save_audio
from backing.files.tags import Tags
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.mix import frames_of, reed_blocks
source, style, times, rate, out = sys.argv[1:]
tune, rate = read_tune(Path(source)).tune, int(rate)
performance = perform(arrange(tune, load_style(style)), Plan((Step(times=int(times)),)), tune)
blocks = reed_blocks(performance, rate)
save_audio(Path(out), blocks, rate, Tags(tune.title), frames=frames_of(performance, rate))
"""


def three_minutes() -> tuple[int, Performance]:
    """How often the tune is played, and the practice."""
    tune = read_tune(EXAMPLE).tune
    arrangement = arrange(tune, load_style(STYLE))
    times = 1
    while True:
        performance = perform(arrangement, Plan((Step(times=times),)), tune)
        if performance.seconds >= SECONDS:
            return times, performance
        times += 1


def sound_font() -> Path | None:
    """The smallest General MIDI sound font where Linux systems keep them."""
    found = [font for folder in FONTS for font in Path(folder).glob("*.sf[23]")]
    return min((f for f in found if f.is_file()), key=lambda f: f.stat().st_size, default=None)


def processes(runs: int, font: Path | None, folder: Path) -> None:
    """Whole processes by turns: ours and FluidSynth's."""
    times, performance = three_minutes()
    (folder / "tune.mid").write_bytes(render_midi(performance))
    asked = [str(EXAMPLE), STYLE, str(times), str(RATE), str(folder / "ours.wav")]
    commands = {"ours, from the tune": [sys.executable, "-c", OURS, *asked]}
    if which("fluidsynth") and font:
        render = ["-F", str(folder / "theirs.wav"), str(font), str(folder / "tune.mid")]
        plain = ["fluidsynth", "-ni", "-r", str(RATE)]
        commands["fluidsynth as it comes"] = [*plain, *render]
        commands["fluidsynth, dry"] = [*plain, "-R", "0", "-C", "0", *render]
    else:
        print("no fluidsynth program or no sound font: ours alone")
    found = by_turns(commands, runs)
    print(f"{performance.seconds:.0f} s of sound, process start to file written, of {runs} runs")
    wall, worked = map(median, zip(*found["ours, from the tune"], strict=True))
    for name, taken in found.items():
        one, other = map(median, zip(*taken, strict=True))
        print(f"  {name:24}{one:7.2f} s wall ({performance.seconds / one:.0f} x as fast as it "
              f"sounds){one / wall:7.2f} x ours {other:9.2f} s of the processors"
              f"{other / worked:7.2f} x ours")  # fmt: skip


def by_turns(commands: dict[str, list[str]], runs: int) -> dict[str, list[tuple[float, float]]]:
    """Wall and processor times of processes run by turns; a first round only fills caches."""
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    for turn in range(runs + 1):
        for name, command in commands.items():
            started, worked = time.perf_counter(), children_seconds()
            subprocess.run(command, check=True, capture_output=True, env=env)
            if turn:
                taken = time.perf_counter() - started
                found[name].append((taken, children_seconds() - worked))
    return found


def children_seconds() -> float:
    """What the processes started from here have taken of the processors so far."""
    times = os.times()
    return times.children_user + times.children_system


def reeds_alone(runs: int) -> None:
    """The blocks of the practice, made and thrown away."""
    _, performance = three_minutes()
    taken = []
    for _ in range(runs):
        started = time.perf_counter()
        frames = sum(len(block.wanted) for block in reed_blocks(performance, RATE))
        taken.append(time.perf_counter() - started)
    print(f"\nreeds alone: {frames / RATE / median(taken):.0f} x as fast as it sounds "
          f"({median(taken):.2f} s for {frames / RATE:.0f} s)")  # fmt: skip


def live_blocks(size: int) -> None:
    """Blocks as a sound card asks for them, a chord of six keys struck anew in some of them."""
    struck, going = [], []
    desk = Desk(Reeds(RATE), Role.CHORDS, 90)
    for number in range(2000):
        started = time.perf_counter()
        first = number * size
        if number % 20 == 0:
            for voice in range(6):
                key = 48 + (number // 20 + 7 * voice) % 40
                desk.press(key, 80, first).let_go(first + 15 * size)
        desk.add_to([np.zeros((size, 2), np.float32)], first)
        spent = (time.perf_counter() - started) * 1e3
        (struck if number % 20 == 0 else going).append(spent)
    print(f"  {size:5} frames ({size / RATE * 1e3:5.2f} ms): six keys sounding "
          f"{median(going):.3f} ms, struck {median(struck):.3f} ms, "
          f"struck for the first time at most {max(struck):.2f} ms")  # fmt: skip


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--sound-font", type=Path, default=sound_font())
    asked = parser.parse_args()
    load, processors = os.getloadavg()[0], os.cpu_count()
    print(f"load at the start {load:.1f} on {processors} processors; best read below 1\n")
    with tempfile.TemporaryDirectory() as folder:
        processes(asked.runs, asked.sound_font, Path(folder))
    reeds_alone(asked.runs)
    print("\nlive, a block at a time")
    for size in (256, 1024, 2048):
        live_blocks(size)


if __name__ == "__main__":
    main()
