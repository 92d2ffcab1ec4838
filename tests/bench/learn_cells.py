"""Count how often a beat is struck in which rhythm: the shares in `cell_shares.py`.

    python tests/bench/learn_cells.py [--write]

Counted are the tunes of the `develop` half of `played_midi.py`, crotchets in 2/4, 3/4 and 4/4,
dotted crotchets in 6/8 and 9/8, each metre as often as the others of its kind.  A rhythm is the
places at which notes begin in a beat, in 24ths of a crotchet and 36ths of a dotted crotchet.
"""

import argparse
import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path

from played_midi import METRES, Printed, in_half, printed_tune, texts

from backing.parse.midi import grid

SHARES = Path(grid.__file__).with_name("cell_shares.py")
#: A rhythm that is so rare, in shares of the beats, is left out.
_LEAST = 0.00008
_HEAD = '''"""How often a beat is struck in which rhythm: counted, by `tests/bench/learn_cells.py`.

By the parts of a beat (24 to a crotchet, 36 to a dotted one): the places struck, and
the share of all struck beats.
"""

SHARES: dict[int, dict[tuple[int, ...], float]] = {
'''
Cell = tuple[int, ...]


def cells_of(printed: Printed) -> list[Cell]:
    """The rhythm of each beat that is struck; none of those that no such places make."""
    tune = printed.tune
    parts = unit_of(printed.metre)
    beat = Fraction(3, 8) if parts == 36 else Fraction(1, 4)
    found: dict[Fraction, list[Fraction]] = {}
    start = Fraction(0)
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        lead = tune.metre.length - bar.length if bar.pickup else Fraction(0)
        for note in notes:
            if note.pitches:
                at = start + lead + note.onset
                found.setdefault(at // beat, []).append(at % beat / beat * parts)
        start += tune.metre.length * -(-bar.length // tune.metre.length)
    whole = (row for row in found.values() if all(place.denominator == 1 for place in row))
    return [tuple(int(place) for place in row) for row in whole]


def unit_of(metre: str) -> int:
    """The parts of a beat."""
    return 36 if metre.endswith("/8") else 24


def shares() -> dict[int, dict[Cell, float]]:
    """The share of each rhythm, the metres of a kind counted alike."""
    counts = {metre: Counter[Cell]() for metre in METRES}
    for row in texts():
        if row[1] and in_half(row[2], "develop"):
            printed = printed_tune(row)
            if printed and not printed.quick:
                counts[row[1]].update(cells_of(printed))
    found: dict[int, dict[Cell, float]] = {24: {}, 36: {}}
    for metre, counted in counts.items():
        kind = [name for name in METRES if unit_of(name) == unit_of(metre)]
        for cell, count in counted.items():
            table = found[unit_of(metre)]
            table[cell] = table.get(cell, 0.0) + count / counted.total() / len(kind)
    return found


def main() -> int:
    """Count, print, write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--write", action="store_true", help="write the shares")
    asked = parser.parse_args()
    text = _HEAD
    for unit, table in shares().items():
        ranked = sorted(table.items(), key=lambda row: (-row[1], row[0]))
        rows = [f"        {cell}: {share:.5f},\n" for cell, share in ranked if share >= _LEAST]
        text += f"    {unit}: {{\n{''.join(rows)}    }},\n"
    text += "}\n"
    print(text)
    if asked.write:
        SHARES.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
