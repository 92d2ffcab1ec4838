"""How long fit and fingering take, which boxes tunes fit, and how the profiles play.

    python tests/bench/fingering.py [--tunes COUNT]

Printed are: one 64-bar tune; 32, 320 and 1,280 bars written out; up to 1,000 tunes of Ryan's
Mammoth Collection (it comes with the music21 package) in one process, read, lined up and
fingered; the share of them that fits each box; and for those in D and G on a D/G, with
chords invented by rule (`common.py`), changes and crossings a bar and the share of the time
in which the chord is at hand, by profile.  Times are of the processor.
"""

import argparse
import statistics
import sys
import time
from pathlib import Path

from common import collection_paths, with_chords

from backing.box.costs import PROFILES, profile
from backing.box.fit import fit
from backing.box.layout import Layout
from backing.box.line import MelodyLine, line_of
from backing.errors import BackingError
from backing.files import box_names, load_box, read_tune
from backing.music.tune import Tune
from backing.parse.abc import parse_abc

_EXAMPLES = Path(__file__).parent.parent.parent / "examples"
_BARS = (
    '"D"d2fd Adfa|"G"gfed "D"f2A2|"Em"egfe "A"c2ec|"D"dfaf d2A2|'
    '"G"BGBd "D"AFAd|"Em"gfeg "A"fedc|"D"dAFA "G"BGdB|"A"Acec "D"d4|'
)


def written_out(bars: int) -> Tune:
    """A reel of so many bars without a repeat; neighbouring eights differ by an octave of
    their last note, so that no two eights are alike."""
    eights = [_BARS.replace("d4|", "d4|" if n % 2 else "D4|") for n in range(bars // 8)]
    return parse_abc("X:1\nT:Long\nR:reel\nM:4/4\nL:1/8\nK:D\n" + "\n".join(eights) + "\n")


def milliseconds(tune: Tune, layout: Layout, times: int = 5) -> float:
    """The median time of a line and its fit."""
    taken = []
    for _ in range(times):
        started = time.process_time()
        fit(line_of(tune), layout)
        taken.append(time.process_time() - started)
    return 1000 * statistics.median(taken)


def speed(layout: Layout) -> None:
    """One tune, and longer and longer ones."""
    tune = written_out(64)
    started = time.process_time()
    fit(line_of(tune), layout)
    first = 1000 * (time.process_time() - started)
    print(f"fit of 64 bars, {len(line_of(tune).moments)} notes: first {first:.1f} ms, "
          f"then {milliseconds(tune, layout):.1f} ms")  # fmt: skip
    for path in sorted(_EXAMPLES.glob("*.abc")):
        tune = read_tune(path).tune
        line = line_of(tune)
        print(f"  {path.stem:<28} {len(line.bars):3} bars {len(line.moments):4} notes "
              f"{milliseconds(tune, layout):6.1f} ms")  # fmt: skip
    for bars in (32, 320, 1280):
        taken = milliseconds(written_out(bars), layout, 3)
        print(f"  {bars:5} bars {taken:8.1f} ms, {taken / bars:.3f} ms a bar")


def read_all(paths: list[Path]) -> dict[str, Tune]:
    """The tunes that can be read, with invented chords."""
    tunes = {}
    for path in paths:
        try:
            tunes[path.stem] = with_chords(read_tune(path).tune)
        except BackingError:
            continue
    return tunes


def sweep(paths: list[Path], layout: Layout) -> None:
    """Read and fit every tune."""
    started = time.process_time()
    fitted = notes = 0
    worst = (0.0, "")
    for path in paths:
        begun = time.process_time()
        try:
            line = line_of(read_tune(path).tune)
        except BackingError:
            continue
        fit(line, layout)
        fitted, notes = fitted + 1, notes + len(line.moments)
        worst = max(worst, (time.process_time() - begun, path.stem))
    taken = time.process_time() - started
    print(f"\n{fitted:,} tunes of {notes:,} notes read and fitted in {taken:.1f} s; "
          f"the slowest {worst[1]}, {1000 * worst[0]:.0f} ms")  # fmt: skip


def shares(lines: dict[str, MelodyLine]) -> None:
    """The share of the tunes that each box has every note of."""
    print("\nshare of the tunes with all notes on the box, as written / in some octave")
    for name in box_names():
        layout = load_box(name)
        whole = octave = 0
        for line in lines.values():
            pitches = {pitch for moment in line.moments for pitch in moment.pitches}
            there = [all(layout.presses(pitch + up) for pitch in pitches) for up in (0, -12, 12)]
            whole, octave = whole + there[0], octave + any(there)
        print(f"  {name:<10} {whole / len(lines):5.0%} {octave / len(lines):5.0%}")


def characters(lines: dict[str, MelodyLine], layout: Layout) -> None:
    """How each profile plays the tunes in D and G that fit."""
    print(f"\n{'':14} changes  crossings  chord at   of {len(lines)} tunes in D and G on a "
          f"{layout.name}\n{'profile':14}   a bar      a bar      hand")  # fmt: skip
    for name in PROFILES:
        changes, crossings, bars, at_hand = 0, 0, 0, []
        for line in lines.values():
            found = fit(line, layout, profile(name))
            changes += found.fingering.reversals
            crossings += found.fingering.crossings
            bars += sum(not bar.pickup for bar in line.bars)
            at_hand += [] if found.share is None else [found.share]
        share = statistics.mean(at_hand)
        print(f"{name:14} {changes / bars:7.2f} {crossings / bars:10.2f} {share:9.0%}")


def main() -> int:
    """Print all of it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--tunes", type=int, default=1000)
    asked = parser.parse_args()
    layout = load_box("D/G")
    speed(layout)
    paths = collection_paths()[: asked.tunes]
    if not paths:
        print("the collection is not here: install music21", file=sys.stderr)
        return 2
    sweep(paths, layout)
    tunes = read_all(paths)
    lines = {name: line_of(tune) for name, tune in tunes.items() if any(tune.notes())}
    shares(lines)
    home = {
        name: line
        for name, line in lines.items()
        if (str(line.key) in ("D major", "G major"))
        and all(layout.presses(p) for m in line.moments for p in m.pitches)
    }
    characters(dict(list(home.items())[:400]), layout)
    return 0


if __name__ == "__main__":
    sys.exit(main())
