"""Learn the weights of chord suggestion from tunes with editors' chords.

    python tests/bench/learn_chords.py FOLDER [--write] [--folds 5]

FOLDER holds ABC books with chord symbols, such as the development part of the Nottingham
Music Database (cleaned copy: github.com/jukedeck/nottingham-dataset; jigs, reels A to L, half
of the waltzes, slip jigs, morris and playford tunes, 643 tunes with chords).  The model is a
linear chain over the slots: the weights make the editors' chords as likely as they can be
(conditional random field), held small by their squares.  Without --write it prints what
held-out tunes reach, fold by fold; with it, it learns from all of them and writes
backing/harmony/weights.toml, with what is set by ear added.  Needs numpy and scipy;
OMP_NUM_THREADS=1 makes it fastest.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import chords as measure
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from backing.harmony.heard import PARTS
from backing.harmony.keys import keys_of
from backing.harmony.palette import label
from backing.harmony.slots import Pace, Slot, slots_of
from backing.harmony.weights import (
    FAMILIES,
    NUMERALS,
    PLACES_IN_FOUR,
    PLACES_LEFT,
    parse_weights,
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
#: What is added by ear to the learned weights of a chord that the notes spell, and of one that
#: holds the note on which a phrase comes to rest; and the most that speaks for staying in metres
#: of three quick beats: waltzes that change for their cadence are rare among those learned from.
SPELLED, AT_REST, MOST_STAY = 1.0, 0.7, 0.5
#: For each state the note at each step above its root, and the step of each note.
_ROTATE = np.array([[(root + step) % 12 for step in range(12)] for root, _ in STATES])
_STEPS = np.array([[(note - root) % 12 for note in range(12)] for root, _ in STATES])
_KIND = np.array([kind for _, kind in STATES])
PACES = tuple(Pace)
_NO_LINK = 2 * len(PACES)
_SHAPES = {
    "notes": (2, len(PARTS) * 12),
    "degrees": (2, len(STATES), 12),
    "left": (2, PLACES_LEFT, len(STATES)),
    "phrase": (2, PLACES_IN_FOUR, len(STATES)),
    "follow": (2, 2, len(STATES), len(STATES)),
    "stay": (len(PACES) - 1, 2),
}


@dataclass
class Line:
    """One tune: what is heard (slots, parts by 12 steps from the tonic), family, places, link,
    chord."""

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
    tones = np.zeros((len(slots), len(PARTS), 12))
    for at, slot in enumerate(slots):
        for part, name in enumerate(PARTS):
            for tone, share in slot.tones.get(name, ()):
                tones[at, part, (tone - slot.key.tonic) % 12] += share
    places = np.array([places_of(slot) for slot in slots])
    spans = [measure.Span(slot.bar, slot.onset, slot.onset + slot.length) for slot in slots]
    told = measure.editors(tune, spans)
    return Line(
        tones.reshape(len(slots), -1),
        np.array([int(slot.key.minor) for slot in slots]),
        places[:, 0],
        places[:, 1],
        np.array([_link(slots, at) for at in range(len(slots))]),
        np.array([_state(chord, slot) for chord, slot in zip(told, slots, strict=True)]),
    )


def _link(slots: Sequence[Slot], at: int) -> int:
    """Twice the pace of the metre and whether a bar line lies before the slot; the last one
    where nothing follows from the slot before."""
    slot = slots[at]
    if at == 0 or slot.before != at - 1 or slot.key != slots[at - 1].key:
        return _NO_LINK
    return 2 * PACES.index(slot.pace) + int(slot.bar_start)


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
        filled("heard"), filled("family"), filled("left"), filled("phrase"),
        filled("link", _NO_LINK), filled("chord", -1), real,
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
    by_tone = w["notes"].reshape(2, len(PARTS), 12)[_KIND[:, None], :, _STEPS]
    points = batch.heard @ by_tone.reshape(len(STATES), 12, len(PARTS)).transpose(2, 1, 0).reshape(
        -1, len(STATES)
    )
    sounding = batch.heard[:, :, :12]
    for family in range(len(FAMILIES)):
        of_degree = np.take_along_axis(w["degrees"][family], _STEPS, 1)
        points += (sounding @ of_degree.T) * (batch.family == family)[:, :, None]
    return points + w["left"][batch.family, batch.left] + w["phrase"][batch.family, batch.phrase]


def _links(w: dict[str, Array]) -> Array:
    """How a chord leads to the next, as factors: family, link, chord before, chord."""
    tables = np.zeros((2, _NO_LINK + 1, len(STATES), len(STATES)))
    stay = np.concatenate([np.zeros((1, 2)), w["stay"]]).ravel()
    for link in range(_NO_LINK):
        tables[:, link] = w["follow"][:, link % 2] + stay[link] * np.eye(len(STATES))
    return np.exp(tables)


def loss(flat: Array, parts: Sequence[Batch]) -> tuple[float, Array]:
    """Minus the log likelihood of the editors' chords, and its gradient."""
    w = split(flat)
    grad = {name: np.zeros(shape) for name, shape in _SHAPES.items()}
    links = _links(w)
    total = 0.0
    for batch in parts:
        points = _nodes(w, batch)
        points[~batch.real] = 0.0
        free = np.exp(points - points.max(2, keepdims=True))
        told = free.copy()
        row, at = np.where(batch.chord >= 0)
        told[row, at] *= np.arange(len(STATES)) == batch.chord[row, at][:, None]
        for sign, factors in ((1.0, free), (-1.0, told)):
            total += sign * _expect(links, batch, factors, sign, grad)
    flat_grad = np.concatenate([grad[name].ravel() for name in _SHAPES])
    return total + SQUARES / 2 * float(flat @ flat), flat_grad + SQUARES * flat


def _groups(batch: Batch, at: int) -> Iterator[tuple[int, int, Array]]:
    """The rows of a batch by the family and link of a slot."""
    code = batch.family[:, at] * (_NO_LINK + 1) + batch.link[:, at]
    for value in np.unique(code):
        yield *divmod(int(value), _NO_LINK + 1), np.where(code == value)[0]


def _expect(
    links: Array, batch: Batch, factors: Array, sign: float, grad: dict[str, Array]
) -> float:
    """The log of the sum over all ways; adds what each weight is expected to count."""
    longest = factors.shape[1]
    groups = [list(_groups(batch, at)) for at in range(longest)]
    forth, back = np.empty_like(factors), np.ones_like(factors)
    scale = np.empty(factors.shape[:2])
    for at in range(longest):
        here = factors[:, at].copy()
        if at:
            for family, link, rows in groups[at]:
                here[rows] *= forth[rows, at - 1] @ links[family, link]
        scale[:, at] = here.sum(1)
        forth[:, at] = here / scale[:, at][:, None]
    for at in range(longest - 1, 0, -1):
        ahead = factors[:, at] * back[:, at] / scale[:, at][:, None]
        for family, link, rows in groups[at]:
            table = links[family, link]
            back[rows, at - 1] = ahead[rows] @ table.T
            if link < _NO_LINK:
                pairs = sign * table * (forth[rows, at - 1].T @ ahead[rows])
                grad["follow"][family, link % 2] += pairs
                if link > 1:
                    grad["stay"][link // 2 - 1, link % 2] += pairs.trace()
    shares = forth * back * batch.real[:, :, None] * sign
    tones = np.einsum("btk,bts->ks", batch.heard, shares, optimize=True)
    tones = tones.reshape(len(PARTS), 12, len(STATES))
    for state, kind in enumerate(_KIND):
        grad["notes"][kind] += tones[:, _ROTATE[state], state].ravel()
    for family in range(len(FAMILIES)):
        of_family = shares * (batch.family == family)[:, :, None]
        tones = np.einsum("btk,bts->sk", batch.heard[:, :, :12], of_family, optimize=True)
        grad["degrees"][family] += np.take_along_axis(tones, _ROTATE, 1)
    np.add.at(grad["left"], (batch.family, batch.left), shares)
    np.add.at(grad["phrase"], (batch.family, batch.phrase), shares)
    return float(np.log(scale)[batch.real].sum())


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
# Learned from the chords that editors gave to {tunes} dance tunes of the Nottingham Music
# Database (cleaned copy at github.com/jukedeck/nottingham-dataset); the tunes themselves are
# not part of this project.
#
# notes: for a chord of each kind, the weight of a note so many semitones (0 to 11) above its
#   root, by the part that the note plays in the half bar or beside it.
#   "spells": by the root of a triad of which the slot, or the bar, has all notes and no other;
#   1 is added by ear to what was learned for that triad itself, 0.7 for a chord that holds the
#   note on which a phrase comes to rest ("closing").
# degrees: the same for each chord of a major or minor key, for what sounds in the slot: the
#   seventh of V is no stranger.
# left: for each chord of a major or minor key, its place counted from the section's end: last
#   bar, one bar left, two left, more; each at the bar's start and inside it.
# phrase: the same by bar of four, the section's first bar on its own at the end.
# mode: set by ear, since these keys are given as major or minor: a mixolydian tune takes the
#   chord on its flat seventh rather than one with a seventh in it.  Not where a section begins
#   or ends.
# stay: in metres of three beats what speaks for the same chord again, inside the bar and over
#   the bar line; held down to 0.5 by ear.
# heard: how much what is heard counts in modes whose tunes follow their notes more than the
#   cadences of the table; set by ear.
# follow: a row for the chord before, a column for each chord, in this order:
#   {numerals}
"""

_MODES = """\
[heard]
dorian = 1.4
mixolydian = 1.4
minor = 1.4
phrygian = 1.4
lydian = 1.4
locrian = 1.4

[mode.mixolydian]
bVII = 0.8

[mode.dorian]
bVII = 0.4
IV = 0.2
"""


def table(flat: Array, tunes: int) -> str:
    """The weights as the text of weights.toml."""
    w = split(np.round(flat, 2) + 0.0)
    lines = [_HEAD.format(tunes=tunes, numerals=" ".join(NUMERALS)), _MODES]
    for kind, name in enumerate(_KINDS):
        rows = w["notes"][kind].reshape(len(PARTS), 12)
        for part in (f"spells {name}", f"bar spells {name}"):
            rows[PARTS.index(part), 0] += SPELLED
        rows[PARTS.index("closing"), [0, 3 if kind else 4, 7]] += AT_REST
        lines.append(f"[notes.{name}]")
        lines += [f'"{part}" = {_row(row)}' for part, row in zip(PARTS, rows, strict=True)] + [""]
    by_numeral = {"degrees": w["degrees"], "left": w["left"].transpose(0, 2, 1),
                  "phrase": w["phrase"].transpose(0, 2, 1)}  # fmt: skip
    for what, tables in by_numeral.items():
        for family, name in enumerate(FAMILIES):
            lines.append(f"[{what}.{name}]")
            rows = zip(NUMERALS, tables[family], strict=True)
            lines += [f"{n} = {_row(row)}" for n, row in rows] + [""]
    for family, name in enumerate(FAMILIES):
        for link, between in enumerate(("inside the bar", "bar line")):
            lines.append(f'[follow.{name}."{between}"]')
            rows = w["follow"][family, link]
            lines += [f"{n} = {_row(row)}" for n, row in zip(NUMERALS, rows, strict=True)] + [""]
    lines.append("[stay]")
    for pace, row in zip(PACES[1:], w["stay"], strict=True):
        lines.append(f'"{pace}" = {_row(np.minimum(row, MOST_STAY))}')
    return "\n".join([*lines, ""])


def _row(values: Array) -> str:
    return "[" + ", ".join(f"{value:5.2f}" for value in values) + "]"


def main() -> None:
    """Learn, and print or write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", action="store_true", help="write the table")
    parser.add_argument("--folds", type=int, default=5)
    options = parser.parse_args()
    tunes = measure.chorded_tunes(options.folder)
    lines = [line_of(tune) for tune in tunes]
    if options.write:
        WEIGHTS.write_text(table(learn(lines), len(lines)), encoding="utf-8")
        print(f"learned from {len(lines)} tunes")
        return
    order = np.random.default_rng(1).permutation(len(lines))
    pairs = []
    for fold in range(options.folds):
        held = sorted(order[fold :: options.folds])
        learned = learn([line for at, line in enumerate(lines) if at not in set(held)])
        weights = parse_weights(table(learned, len(lines) - len(held)))
        found = [(tunes[at], measure.suggested(tunes[at], weights)) for at in held]
        print(f"fold {fold}:", measure.agreement_of(found), flush=True)
        pairs += found
    print("together:", measure.agreement_of(pairs))
    print("\n".join(measure.by_metre(pairs)))


if __name__ == "__main__":
    main()
