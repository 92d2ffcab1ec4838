"""The left hand of a box under every tune of a collection.

    python tests/bench/on_box.py [--box D/G] [--every 1]

Each of the 1,059 tunes of Ryan's Mammoth Collection (in the music21 package), with I, IV and
V invented, is fingered on the box and given its left hand in four styles.  Counted are the
left-hand events that no button could sound in the direction of the melody through their whole
span (there must be none), how much of the free left hand is left, and the time.  The exit
code is 1 where an event could not be played.
"""

import argparse
import importlib.util
import sys
import time
from pathlib import Path

from common import collection_paths, with_chords

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role
from backing.files import load_box, load_style
from backing.parse.abc import parse_abc
from backing.practice.on_box import on_box

STYLES = ("alternating", "sustained", "polka", "bass-runs")
_TEST = Path(__file__).parent.parent / "practice" / "test_on_box.py"


def main() -> int:
    """Print a line for each style."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--box", default="D/G")
    parser.add_argument("--every", type=int, default=1, help="only every so-manieth tune")
    asked = parser.parse_args()
    spec = importlib.util.spec_from_file_location("on_box_test", _TEST)
    assert spec is not None
    assert spec.loader is not None
    checks = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(checks)
    texts = [p.read_text(encoding="utf-8", errors="replace") for p in collection_paths()]
    tunes = [with_chords(parse_abc(text)) for text in texts[:: asked.every]]
    box, bad = load_box(asked.box), 0
    for name in STYLES:
        style, started = load_style(name), time.perf_counter()
        done = [(tune, on_box(tune, style, Manner(), box)) for tune in tunes]
        made = [(arrange(tune, style, side=found.side), found) for tune, found in done]
        spent = time.perf_counter() - started
        faults = [fault for arr, found in made for fault in checks.faults_of(arr, found, box)]
        here, free = _events(arr for arr, _ in made), _events(arrange(t, style) for t in tunes)
        print(f"{name:12} {len(tunes)} tunes on {box.name}: {len(faults)} events that can't be "
              f"played; {here} of {free} events ({here / free:.0%}); "
              f"{spent / len(tunes) * 1000:.1f} ms a tune")  # fmt: skip
        print(*faults[:3], sep="\n", end="\n" if faults else "")
        bad += len(faults)
    return bool(bad)


def _events(arrangements: object) -> int:
    return sum(
        len(track.events)
        for arrangement in arrangements  # type: ignore[attr-defined]
        for track in arrangement.tracks
        if track.role is not Role.MELODY
    )


if __name__ == "__main__":
    sys.exit(main())
