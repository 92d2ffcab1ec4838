"""Learn by what the metre of a played tune is heard: the weights in `heard_weights.py`.

    python tests/bench/learn_metre.py [--each COUNT] [--write]

Tunes of the `develop` half of `played_midi.py` are performed; of every way to hear each (metre,
value of the pulse, pickup) the printed one should be the likeliest, in a logistic model of
the choice with small weights (ridge), fitted by gradient steps.  Printed is what is right of
tunes that were left out of the fitting, by thirds; `--write` fits all and writes the weights.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import mido
import numpy as np
from played_midi import METRES, Performed, Printed, drawn, perform

from backing.parse.midi import heard
from backing.parse.midi.heard_row import PulseNote
from backing.parse.midi.pulse import find_pulse

WEIGHTS = Path(heard.__file__).with_name("heard_weights.py")
SEED, FOLDS, STEPS, RIDGE, RATE = 1, 3, 200, 0.0005, 0.15
_HEAD = '''"""What speaks for a way to hear a tune: learned, by `tests/bench/learn_metre.py`."""

WEIGHTS: dict[str, float] = {
'''
#: More signs than there are.
_MOST_SIGNS = 250
Array = Any


class Case(NamedTuple):
    """A tune: its metre, every way to hear it, their features in rows, which one is right."""

    metre: str
    hearings: list[heard.MetreHearing]
    rows: Array
    right: int


class Fitted(NamedTuple):
    """The names of the features and their weights."""

    names: list[str]
    weights: Array


def onsets_of(data: bytes) -> list[tuple[float, int]]:
    """Second and key of each note of a file in 120 crotchets a minute."""
    file, at, found = mido.MidiFile(file=BytesIO(data)), 0, []
    for message in file.tracks[0]:
        at += message.time
        if message.type == "note_on":
            found.append((at / (2 * file.ticks_per_beat), message.note))
    return found


def case_of(printed: Printed, performed: Performed, names: dict[str, int]) -> Case | None:
    """A tune as a case; None where its pulse or its printed way is not among those weighed."""
    onsets = onsets_of(performed.data)
    pulse = find_pulse([second for second, _ in onsets])
    if pulse is None or len(onsets) != len(performed.notes):
        return None
    rows = zip(pulse.places, onsets, performed.notes, strict=True)
    kept = [(place, key, note[0]) for place, (_, key), note in rows if place is not None]
    value = max(heard.VALUES, key=lambda value: _agree(kept, value))
    pickup = (performed.first_bar - kept[0][2]) % printed.tune.metre.length
    wanted = (printed.metre, value, pickup)
    notes = [PulseNote(place, key) for place, key, _ in kept]
    found = list(heard.hearings(notes, (), pulse.period))
    right = [n for n, (r, _) in enumerate(found) if (str(r.metre), r.value, r.pickup) == wanted]
    if not right:
        return None
    table = np.zeros((len(found), _MOST_SIGNS), dtype=np.float32)
    for index, (_, features) in enumerate(found):
        for name, size in features.items():
            table[index, names.setdefault(name, len(names))] = size
    return Case(printed.metre, [reading for reading, _ in found], table, right[0])


def _agree(kept: Sequence[tuple[Fraction, int, Fraction]], value: Fraction) -> int:
    """How many steps from note to note are as printed, in a value of the pulse."""
    return sum(
        abs((b[0] - a[0]) * value - (b[2] - a[2])) < Fraction(1, 64) for a, b in pairwise(kept)
    )


def fitted(cases: Sequence[Case], names: dict[str, int]) -> Fitted:
    """The weights that make the printed ways likeliest (Adam, in full batches), each metre as
    weighty as the others."""
    table = np.concatenate([case.rows[:, : len(names)] for case in cases])
    starts = np.cumsum([0, *(len(case.rows) for case in cases)])
    owner = np.repeat(np.arange(len(cases)), np.diff(starts))
    wanted = np.zeros(len(table), dtype=np.float32)
    wanted[[start + case.right for start, case in zip(starts, cases, strict=False)]] = 1
    counts = Counter(case.metre for case in cases)
    shares = np.array([1 / counts[case.metre] / len(counts) for case in cases])[owner]
    weights, mean, square = (np.zeros(len(names), dtype=np.float32) for _ in range(3))
    for step in range(1, STEPS + 1):
        points = table @ weights
        likely = np.exp(points - np.maximum.reduceat(points, starts[:-1])[owner])
        likely /= np.add.reduceat(likely, starts[:-1])[owner]
        slope = ((likely - wanted) * shares).astype(np.float32) @ table + RIDGE * weights
        mean, square = 0.9 * mean + 0.1 * slope, 0.99 * square + 0.01 * slope**2
        rate = RATE if step < STEPS * 3 / 4 else RATE / 4
        step_by = rate * (mean / (1 - 0.9**step)) / (np.sqrt(square / (1 - 0.99**step)) + 1e-8)
        weights = (weights - step_by).astype(np.float32)
    return Fitted(list(names), weights)


def tell(cases: Sequence[Case], model: Fitted, tally: Counter[tuple[str, str]]) -> None:
    """Count what is right."""
    for case in cases:
        best = case.hearings[int((case.rows[:, : len(model.names)] @ model.weights).argmax())]
        right = case.hearings[case.right]
        tally[case.metre, "of"] += 1
        tally[case.metre, "metre"] += best[:2] == right[:2]
        tally[case.metre, "bars"] += best == right
        if best[:2] != right[:2]:
            tally[case.metre, f"  {right.value} as {best.metre} in {best.value}"] += 1


def main() -> int:
    """Make the cases, fit, print, write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--each", type=int, default=230, help="how many tunes of each metre")
    parser.add_argument("--write", action="store_true", help="write the weights")
    asked = parser.parse_args()
    names: dict[str, int] = {}
    tunes = drawn("develop", SEED, asked.each)
    cases = [c for one in tunes if (c := case_of(one, perform(one, SEED), names))]
    print(f"{len(cases)} of {len(tunes)} tunes, {len(names)} features", flush=True)
    if asked.write:
        write(fitted(cases, names))
    tally: Counter[tuple[str, str]] = Counter()
    for fold in range(FOLDS):
        model = fitted([c for n, c in enumerate(cases) if n % FOLDS != fold], names)
        tell(cases[fold::FOLDS], model, tally)
    for metre in METRES:
        of = tally[metre, "of"]
        print(
            f"{metre} of {of}: metre {tally[metre, 'metre'] / of:.1%}, bars too "
            f"{tally[metre, 'bars'] / of:.1%}"
        )
        for (name, what), count in tally.most_common():
            if name == metre and what.startswith(" "):
                print(what, count)
    return 0


def _lines(model: Fitted) -> Iterator[str]:
    for name, weight in sorted(zip(model.names, model.weights, strict=True)):
        if abs(weight) >= 0.005:
            yield f'    "{name}": {weight:.2f},\n'


def write(model: Fitted) -> None:
    """Write the weights."""
    WEIGHTS.write_text(_HEAD + "".join(_lines(model)) + "}\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
