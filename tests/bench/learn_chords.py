"""Learn the weights of chord suggestion from tunes with editors' chords.

    python tests/bench/learn_chords.py FOLDER [--write] [--folds 3]

FOLDER holds ABC books with chord symbols, such as the development part of the Nottingham
Music Database (cleaned copy: github.com/jukedeck/nottingham-dataset, jigs and reels A to
L, 590 tunes with chords).  The model is a linear chain over the slots: the weights make
the editors' chords as likely as they can be (conditional random field), held small by
their squares.  Without --write it prints what held-out tunes reach, fold by fold; with it,
it learns from all of them and writes backing/harmony/weights.toml.  Needs numpy and scipy.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import chords as measure
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from backing.harmony.keys import keys_of
from backing.harmony.palette import label
from backing.harmony.slots import Slot, slots_of
from backing.harmony.weights import (
    FAMILIES,
    NUMERALS,
    PARTS,
    PLACES_IN_FOUR,
    PLACES_LEFT,
    places_of,
)
from backing.music.chord import Chord
from backing.music.tune import Tune

WEIGHTS = Path(__file__).parents[2] / "backing" / "harmony" / "weights.toml"
SQUARES = 8.0
STEPS = 90
Array = NDArray[Any]
_ROOTS = {
    "I": 0, "II": 2, "III": 4, "IV": 5, "V": 7, "VI": 9, "VII": 11, "bIII": 3, "bVI": 8, "bVII": 10,
}  # fmt: skip
_KINDS = ("major", "minor")
STATES = [(_ROOTS[n if n[0] == "b" else n.upper()], int(n == n.lower())) for n in NUMERALS]
_ROTATE = np.array([[(root + step) % 12 for step in range(12)] for root, _ in STATES])
_KIND = np.array([kind for _, kind in STATES])
_SHAPES = {
    "notes": (2, len(PARTS) * 12),
    "left": (2, PLACES_LEFT, len(STATES)),
    "phrase": (2, PLACES_IN_FOUR, len(STATES)),
    "follow": (2, 2, len(STATES), len(STATES)),
}


@dataclass
class Line:
    """One tune: what is heard (slots, states, parts by 12), family, places, link, chord."""

    heard: Array
    family: Array
    left: Array
    phrase: Array
    link: Array
    chord: Array


def line_of(tune: Tune) -> Line:
    """A tune's slots as numbers; chord -1 where the editor's is none of the states."""
    keys, _ = keys_of(tune)
    slots = slots_of(tune, keys)
    tones = np.zeros((len(slots), len(PARTS), 12), np.float32)
    for at, slot in enumerate(slots):
        for part, name in enumerate(PARTS):
            for tone, share in slot.tones.get(name, ()):
                tones[at, part, (tone - slot.key.tonic) % 12] += share
    places = np.array([places_of(slot) for slot in slots])
    return Line(
        tones[:, :, _ROTATE].transpose(0, 2, 1, 3).reshape(len(slots), len(STATES), -1),
        np.array([int(slot.key.minor) for slot in slots]),
        places[:, 0],
        places[:, 1],
        np.array([_link(slots, at) for at in range(len(slots))]),
        np.array([_state(c, s) for c, s in zip(measure.editors(tune), slots, strict=True)]),
    )


def _link(slots: Sequence[Slot], at: int) -> int:
    """0 inside a bar, 1 over a bar line, 2 where nothing follows from the slot before."""
    slot = slots[at]
    if at == 0 or slot.before != at - 1 or slot.key != slots[at - 1].key:
        return 2
    return int(slot.bar_start)


def _state(chord: measure.Triad | None, slot: Slot) -> int:
    if chord is None:
        return -1
    numeral = label(Chord("C", chord.root, _KINDS[chord.minor]), slot.key)
    return NUMERALS.index(numeral) if numeral in NUMERALS else -1


# -- the model ----------------------------------------------------------------------


@dataclass
class Batch:
    """Lines of like length side by side, filled up at their ends."""

    heard: Array
    family: Array
    left: Array
    phrase: Array
    link: Array
    chord: Array
    real: Array


def batches(lines: Sequence[Line], count: int = 6) -> list[Batch]:
    """The lines in batches of like length."""
    lines = sorted(lines, key=lambda line: len(line.chord))
    return [_batch([lines[i] for i in part]) for part in np.array_split(range(len(lines)), count)]


def _batch(lines: Sequence[Line]) -> Batch:
    longest = max(len(line.chord) for line in lines)

    def filled(name: str, fill: int = 0) -> Array:
        rows = [getattr(line, name) for line in lines]
        out = np.full((len(rows), longest, *rows[0].shape[1:]), fill, rows[0].dtype)
        for at, row in enumerate(rows):
            out[at, : len(row)] = row
        return out

    real = np.array([[at < len(line.chord) for at in range(longest)] for line in lines])
    return Batch(
        filled("heard"), filled("family"), filled("left"), filled("phrase"), filled("link", 2),
        filled("chord", -1), real,
    )  # fmt: skip


def split(flat: Array) -> dict[str, Array]:
    """The flat weights as tables."""
    tables, at = {}, 0
    for name, shape in _SHAPES.items():
        size = int(np.prod(shape))
        tables[name] = flat[at : at + size].reshape(shape)
        at += size
    return tables


def _nodes(w: dict[str, Array], batch: Batch) -> Array:
    points = np.empty(batch.heard.shape[:3])
    for kind in (0, 1):
        points[:, :, kind == _KIND] = batch.heard[:, :, kind == _KIND] @ w["notes"][kind]
    points += w["left"][batch.family, batch.left] + w["phrase"][batch.family, batch.phrase]
    return points


def _links(w: dict[str, Array], batch: Batch, at: int) -> Array:
    padded = np.concatenate([w["follow"], np.zeros_like(w["follow"][:, :1])], axis=1)
    return padded[batch.family[:, at], batch.link[:, at]]


def _logsum(points: Array, axis: int) -> Array:
    top = points.max(axis, keepdims=True)
    return (top + np.log(np.exp(points - top).sum(axis, keepdims=True))).squeeze(axis)


def loss(flat: Array, parts: Sequence[Batch]) -> tuple[float, Array]:
    """Minus the log likelihood of the editors' chords, and its gradient."""
    w = split(flat)
    grad = {name: np.zeros(shape) for name, shape in _SHAPES.items()}
    total = 0.0
    for batch in parts:
        free = _nodes(w, batch)
        free[~batch.real] = 0.0
        told = free.copy()
        row, at = np.where(batch.chord >= 0)
        told[row, at] -= 60.0
        told[row, at, batch.chord[row, at]] += 60.0
        for sign, points in ((1.0, free), (-1.0, told)):
            total += sign * _expect(w, batch, points, sign, grad)
    flat_grad = np.concatenate([grad[name].ravel() for name in _SHAPES])
    return total + SQUARES / 2 * float(flat @ flat), flat_grad + SQUARES * flat


def _expect(
    w: dict[str, Array], batch: Batch, points: Array, sign: float, grad: dict[str, Array]
) -> float:
    """The log of the sum over all ways; adds what each weight is expected to count."""
    longest = points.shape[1]
    links = [_links(w, batch, at) for at in range(longest)]
    forth, back = np.empty_like(points), np.zeros_like(points)
    forth[:, 0] = points[:, 0]
    for at in range(1, longest):
        forth[:, at] = _logsum(forth[:, at - 1][:, :, None] + links[at], 1) + points[:, at]
    for at in range(longest - 2, -1, -1):
        ahead = (points[:, at + 1] + back[:, at + 1])[:, None, :]
        back[:, at] = _logsum(links[at + 1] + ahead, 2)
    whole = _logsum(forth[:, -1], 1)
    shares = np.exp(forth + back - whole[:, None, None]) * batch.real[:, :, None] * sign
    for kind in (0, 1):
        of_kind = kind == _KIND
        grad["notes"][kind] += np.einsum(
            "bts,btsk->k", shares[:, :, of_kind].astype(np.float32), batch.heard[:, :, of_kind],
            optimize=True,
        )  # fmt: skip
    np.add.at(grad["left"], (batch.family, batch.left), shares)
    np.add.at(grad["phrase"], (batch.family, batch.phrase), shares)
    for at in range(1, longest):
        use = batch.real[:, at] & (batch.link[:, at] < 2)
        ahead = (points[:, at] + back[:, at])[:, None, :]
        pairs = np.exp(forth[:, at - 1][:, :, None] + links[at] + ahead - whole[:, None, None])
        np.add.at(grad["follow"], (batch.family[use, at], batch.link[use, at]), pairs[use] * sign)
    return float(whole.sum())


def learn(lines: Sequence[Line]) -> Array:
    """The weights that make the editors' chords likeliest."""
    parts = batches(lines)
    size = sum(int(np.prod(shape)) for shape in _SHAPES.values())
    found = minimize(
        loss, np.zeros(size), (parts,), method="L-BFGS-B", jac=True, options={"maxiter": STEPS}
    )
    return np.asarray(found.x)


# -- the table ------------------------------------------------------------------------

_HEAD = """\
# What speaks for a chord, in points that are added up.  Written by tests/bench/learn_chords.py.
# Learned from the chords that editors gave to {tunes} jigs and reels of the Nottingham Music
# Database (cleaned copy at github.com/jukedeck/nottingham-dataset); the tunes themselves are
# not part of this project.
#
# notes: for a chord of each kind, the weight of a note so many semitones (0 to 11) above its
#   root, by the part that the note plays in the half bar or beside it.
# left: for each chord of a major or minor key, its place counted from the section's end: last
#   bar, one bar left, two left, more; each at the bar's start and inside it.
# phrase: the same by bar of four, the section's first bar on its own at the end.
# mode: set by ear, since these keys are given as major or minor: a mixolydian tune takes the
#   chord on its flat seventh rather than one with a seventh in it.
# follow: a row for the chord before, a column for each chord, in this order:
#   {numerals}
"""

_MODES = """\
[mode.mixolydian]
bVII = 0.8

[mode.dorian]
bVII = 0.4
IV = 0.4
"""


def table(flat: Array, tunes: int) -> str:
    """The weights as the text of weights.toml."""
    w = split(np.round(flat, 2) + 0.0)
    lines = [_HEAD.format(tunes=tunes, numerals=" ".join(NUMERALS)), _MODES]
    for kind, name in enumerate(_KINDS):
        rows = w["notes"][kind].reshape(len(PARTS), 12)
        lines.append(f"[notes.{name}]")
        lines += [f'"{part}" = {_row(row)}' for part, row in zip(PARTS, rows, strict=True)] + [""]
    for place in ("left", "phrase"):
        for family, name in enumerate(FAMILIES):
            lines.append(f"[{place}.{name}]")
            columns = w[place][family].T
            lines += [f"{n} = {_row(row)}" for n, row in zip(NUMERALS, columns, strict=True)] + [""]
    for family, name in enumerate(FAMILIES):
        for link, between in enumerate(("inside the bar", "bar line")):
            lines.append(f'[follow.{name}."{between}"]')
            rows = w["follow"][family, link]
            lines += [f"{n} = {_row(row)}" for n, row in zip(NUMERALS, rows, strict=True)] + [""]
    return "\n".join(lines)


def _row(values: Array) -> str:
    return "[" + ", ".join(f"{value:5.2f}" for value in values) + "]"


def main() -> None:
    """Learn, and print or write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", action="store_true", help="write the table")
    parser.add_argument("--folds", type=int, default=3)
    options = parser.parse_args()
    tunes = measure.chorded_tunes(options.folder)
    lines = [line_of(tune) for tune in tunes]
    if options.write:
        WEIGHTS.write_text(table(learn(lines), len(lines)), encoding="utf-8")
        print(f"learned from {len(lines)} tunes")
        return
    order = np.random.default_rng(1).permutation(len(lines))
    for fold in range(options.folds):
        held = set(order[fold :: options.folds])
        learned = learn([line for at, line in enumerate(lines) if at not in held])
        text = table(learned, len(lines) - len(held))
        print(f"fold {fold}:", measure.agreement([tunes[at] for at in sorted(held)], text))


if __name__ == "__main__":
    main()
