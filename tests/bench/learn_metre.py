"""Learn by what the metre of a played tune is heard: `heard_weights.py`, `closer_weights.py`.

    python tests/bench/learn_metre.py [--each COUNT] [--write]

Tunes of the `develop` half of `played_midi.py` are performed; of every way to hear each (metre,
value of the pulse, pickup) the printed one should be the likeliest, in a logistic model of
the choice with small weights (ridge), fitted by gradient steps.  A second one chooses among
those that are the likeliest by the first, with more to weigh.  Printed is what it gets right of
tunes that were left out of its fitting, by quarters, tunes of one title together; `--write first`
fits all by the first and writes its weights, `--write closer` those of the second, which goes by
the first as it is written.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from io import BytesIO
from itertools import pairwise
from multiprocessing import Pool
from pathlib import Path
from typing import Any, NamedTuple
from zlib import crc32

import mido
import numpy as np
from played_midi import METRES, Printed, drawn, perform

from backing.parse.midi import heard
from backing.parse.midi.heard_row import Features, PulseNote
from backing.parse.midi.pulse import find_pulse

#: The file of each model, how its table is named, what holds the weights small.
MODELS = {
    "first": ("heard_weights.py", "WEIGHTS", 0.0005),
    "closer": ("closer_weights.py", "CLOSER_WEIGHTS", 0.001),
}
SEED, FOLDS, STEPS, RATE = 1, 4, 200, 0.15
_HEADS = {
    "first": "What speaks for a way to hear a tune",
    "closer": "What speaks for a way to hear a tune, seen closely",
}
_WIDTH = 98
Array = Any


class Case(NamedTuple):
    """A tune: its title, its metre, the value of its pulse, ways to hear it with their features,
    which one is right (None: none of them)."""

    title: str
    metre: str
    value: Fraction
    hearings: list[heard.MetreHearing]
    features: list[Features]
    right: int | None


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


def case_of(asked: tuple[Printed, str]) -> Case | None:
    """A tune as a case of a model; None where its pulse is not found."""
    printed, model = asked
    performed = perform(printed, SEED)
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
    if model == "closer":
        found = list(heard.seen_closely(notes, pulse.period, heard.likeliest(found)))
    right = [n for n, (r, _) in enumerate(found) if (str(r.metre), r.value, r.pickup) == wanted]
    hearings, features = [row[0] for row in found], [row[1] for row in found]
    title = "".join(letter for letter in printed.tune.title.lower() if letter.isalpha())
    return Case(title, printed.metre, value, hearings, features, right[0] if right else None)


def _agree(kept: Sequence[tuple[Fraction, int, Fraction]], value: Fraction) -> int:
    """How many steps from note to note are as printed, in a value of the pulse."""
    return sum(
        abs((b[0] - a[0]) * value - (b[2] - a[2])) < Fraction(1, 64) for a, b in pairwise(kept)
    )


def table_of(cases: Sequence[Case], names: dict[str, int]) -> Array:
    """The features of all ways to hear all cases, in rows; names are added to those known."""
    for case in cases:
        for features in case.features:
            for name in features:
                names.setdefault(name, len(names))
    table = np.zeros((sum(len(case.features) for case in cases), len(names)), dtype=np.float32)
    rows = (features for case in cases for features in case.features)
    for row, features in zip(table, rows, strict=True):
        row[[names[name] for name in features]] = list(features.values())
    return table


def fitted(cases: Sequence[Case], ridge: float) -> Fitted:
    """The weights that make the printed ways likeliest (Adam, in full batches), each metre as
    weighty as the others."""
    cases = [case for case in cases if case.right is not None]
    names: dict[str, int] = {}
    table = table_of(cases, names)
    starts = np.cumsum([0, *(len(case.hearings) for case in cases)])
    owner = np.repeat(np.arange(len(cases)), np.diff(starts))
    wanted = np.zeros(len(table), dtype=np.float32)
    wanted[[start + (case.right or 0) for start, case in zip(starts, cases, strict=False)]] = 1
    counts = Counter(case.metre for case in cases)
    shares = np.array([1 / counts[case.metre] / len(counts) for case in cases])[owner]
    weights, mean, square = (np.zeros(len(names), dtype=np.float32) for _ in range(3))
    for step in range(1, STEPS + 1):
        points = table @ weights
        likely = np.exp(points - np.maximum.reduceat(points, starts[:-1])[owner])
        likely /= np.add.reduceat(likely, starts[:-1])[owner]
        slope = ((likely - wanted) * shares).astype(np.float32) @ table + ridge * weights
        mean, square = 0.9 * mean + 0.1 * slope, 0.99 * square + 0.01 * slope**2
        rate = RATE if step < STEPS * 3 / 4 else RATE / 4
        step_by = rate * (mean / (1 - 0.9**step)) / (np.sqrt(square / (1 - 0.99**step)) + 1e-8)
        weights = (weights - step_by).astype(np.float32)
    return Fitted(list(names), weights)


def tell(cases: Sequence[Case], model: Fitted, tally: Counter[tuple[str, str]]) -> None:
    """Count what is right."""
    known = dict(zip(model.names, model.weights.tolist(), strict=True))
    for case in cases:
        points = [sum(known.get(n, 0.0) * x for n, x in row.items()) for row in case.features]
        best = case.hearings[int(np.argmax(points))]
        found = str(best.metre), best.value
        tally[case.metre, "of"] += 1
        tally[case.metre, "metre"] += found == (case.metre, case.value)
        tally[case.metre, "bars"] += case.right is not None and best == case.hearings[case.right]
        if found != (case.metre, case.value):
            tally[case.metre, f"  {case.value} as {best.metre} in {best.value}"] += 1


def main() -> int:
    """Make the cases, fit, print, write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--each", type=int, default=300, help="how many tunes of each metre")
    parser.add_argument("--model", choices=MODELS, default="closer", help="which model is tried")
    parser.add_argument("--write", choices=MODELS, help="write the weights of a model")
    parser.add_argument("--jobs", type=int, default=2, help="how many processes")
    asked = parser.parse_args()
    model = asked.write or asked.model
    ridge = MODELS[model][2]
    tunes = drawn("develop", SEED, asked.each)
    with Pool(asked.jobs) as pool:
        made = pool.map(case_of, [(one, model) for one in tunes], chunksize=4)
    cases = [case for case in made if case]
    print(f"{len(cases)} of {len(tunes)} tunes", flush=True)
    if asked.write:
        write(fitted(cases, ridge), model)
    tally: Counter[tuple[str, str]] = Counter()
    for fold in range(FOLDS):
        out = [crc32(case.title.encode()) // 2 % FOLDS == fold for case in cases]
        weights = fitted([case for case, left in zip(cases, out, strict=True) if not left], ridge)
        tell([case for case, left in zip(cases, out, strict=True) if left], weights, tally)
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
    """The table, as many weights a line as there is room for."""
    line = "   "
    for name, weight in sorted(zip(model.names, model.weights, strict=True)):
        if abs(weight) < 0.005:
            continue
        entry = f' "{name}": {weight:.2f},'
        if len(line) + len(entry) > _WIDTH:
            yield line + "\n"
            line = "   "
        line += entry
    yield line + "\n"


def write(fit: Fitted, model: str) -> None:
    """Write the weights of a model."""
    file, table, _ = MODELS[model]
    head = f'"""{_HEADS[model]}: learned, by `tests/bench/learn_metre.py`."""\n\n'
    text = f"{head}{table}: dict[str, float] = {{\n{''.join(_lines(fit))}}}  # fmt: skip\n"
    Path(heard.__file__).with_name(file).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
