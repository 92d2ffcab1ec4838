"""What the left hand of a tune costs, in every style.

    python tests/bench/left_hand.py

One process, the 1,059 tunes of Ryan's Mammoth Collection (in the music21 package) with
invented chords: seconds for all of them (goal: 3 s for 1,000) and milliseconds a tune,
beside what reading them took.
"""

import time

from common import chorded_text, collection_paths

from backing.arranging.arrange import grounds_of
from backing.arranging.left_hand import left_hand
from backing.files import load_style, style_names
from backing.music.played import as_played
from backing.parse.abc import parse_abc


def main() -> None:
    """Print a line for reading and for each style."""
    texts = [chorded_text(path.read_text(errors="replace")) for path in collection_paths()]
    started = time.perf_counter()
    tunes = [parse_abc(text) for text in texts]
    _line("reading", time.perf_counter() - started, len(tunes))
    tunes_played = [as_played(tune) for tune in tunes]
    for name in style_names():
        style = load_style(name)
        started = time.perf_counter()
        for played in tunes_played:
            left_hand(played, grounds_of(played, style), style)
        _line(name, time.perf_counter() - started, len(tunes))


def _line(name: str, seconds: float, tunes: int) -> None:
    print(f"{name:12}{seconds:6.2f} s{seconds / tunes * 1000:7.2f} ms a tune")


if __name__ == "__main__":
    main()
