"""How well a tune is understood that somebody played into a MIDI file without a click.

    python tests/bench/played_midi.py [--half develop|report] [--seed N] [--each COUNT]

Tunes of open collections (Ryan's, O'Neill's and Aird's, and what music21 calls miscFolk, all
in the music21 package) are drawn by seed, as many of each metre.  Each is performed with its
repeats, at a tempo around the usual one of its dance (15 per cent either way), from a random
start, drifting slowly by up to 2 per cent, every onset and end moved by chance (up to 20
milliseconds), and written in ticks that know nothing of its beats: no tempo or that of 120, no
metre.  Then it is read, and compared with what was printed: the metre, where the bar lines
stand, the value of each note.  `develop` is the half of the tunes that the reader was made
with, `report` the half that it was not; the same title is never in both.

Tunes whose middle note is shorter than a quaver are drawn apart (2/4 in semiquavers, as reels were
printed in 1883): played, they are the same as quavers in 4/4, and no ear can tell.  They have
a line of their own and are not in the sum.  "+notes" are tunes whose metre and 98 per cent of whose
notes (place, length and key) are right, "+bars" those whose bar lines are right as well.

Where a tune comes back with another metre that has the same bar lines (2/4 in semiquavers as
4/4 in quavers), or bars of half or double the length, it counts as wrong, and is told as such:
both can be heard, and the printer chose.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from io import BytesIO
from itertools import islice
from math import pi, sin
from random import Random
from typing import NamedTuple
from zlib import crc32

import mido
from common import collection_folder
from midi_reading import PLAIN, Struck, played, read

from backing.arranging.arrange import arrange
from backing.errors import BackingError
from backing.files import load_style
from backing.music.dance import dance_of, usual_tempo
from backing.music.tune import Note, Tune
from backing.parse import abc
from backing.parse.midi import parse_midi

COLLECTIONS = ("ryansMammoth", "oneills1850", "airdsAirs", "miscFolk")
METRES = ("2/4", "3/4", "4/4", "6/8", "9/8")
_ALIKE = {
    "2/4": "2/4",
    "3/4": "3/4",
    "4/4": "4/4",
    "C": "4/4",
    "C|": "4/4",
    "2/2": "4/4",
    "6/8": "6/8",
    "9/8": "9/8",
}
QUICK = "2/4 in semiquavers"
GOAL_SEED = 1850
JITTER_MS, DRIFT, SPEEDS = 20.0, 0.02, 0.15
#: A tune of fewer notes tells no metre.
_LEAST_NOTES = 48
_ENOUGH = Fraction(98, 100)
_TICKS = (96, 120, 480, 960)


class Printed(NamedTuple):
    """A tune of a collection, the metre it is drawn for, and whether its notes are mostly
    semiquavers."""

    name: str
    tune: Tune
    metre: str
    quick: bool


class Performed(NamedTuple):
    """A file of a tune, the notes that it should come back as, and where the bar lines of the
    tune stand after its first note, in whole notes."""

    data: bytes
    notes: list[Struck]
    first_bar: Fraction


class Outcome(NamedTuple):
    """What came of a tune: what it was read as, and how much of it was right."""

    heard: str
    metre: bool
    bars: bool
    notes: Fraction
    equivalent: str


@lru_cache(maxsize=1)
def texts() -> tuple[tuple[str, str, abc.TuneText], ...]:
    """The name, metre and text of every tune of the collections; none without music21."""
    folder = collection_folder()
    found = []
    for name in COLLECTIONS if folder else ():
        assert folder is not None
        for path in sorted((folder.parent / name).glob("*.abc")):
            text = path.read_bytes().decode("utf-8", errors="replace").replace(".", "")
            for place, each in enumerate(abc.split_book(text)):
                line = next((line for line in each.lines if line.startswith("M:")), "")
                found.append((f"{path.stem}:{place + 1}", _ALIKE.get(line[2:].strip(), ""), each))
    return tuple(found)


def in_half(text: abc.TuneText, half: str) -> bool:
    """Whether a tune belongs to a half: by its title, so that variants stay together."""
    title = "".join(letter for letter in text.title.lower() if letter.isalpha())
    return (crc32(title.encode()) % 2 == 0) == (half == "develop")


def drawn(half: str, seed: int, each: int, metres: Iterable[str] = METRES) -> list[Printed]:
    """So many tunes of each metre; fewer where there are not so many."""
    found: list[Printed] = []
    for metre in metres:
        chance = Random(f"{seed} {metre}")
        quick = metre == QUICK
        those = [one for one in texts() if one[1] == metre.split()[0] and in_half(one[2], half)]
        chance.shuffle(those)
        tunes = (one for one in map(printed_tune, those) if one and one.quick == quick)
        found += islice(tunes, each)
    return found


def named(stem: str) -> Printed:
    """The first tune of a file of the first collection."""
    folder = collection_folder()
    assert folder is not None
    text = (folder.parent / COLLECTIONS[0] / f"{stem}.abc").read_bytes().decode("utf-8", "replace")
    each = next(iter(abc.split_book(text.replace(".", ""))))
    line = next(line for line in each.lines if line.startswith("M:"))
    printed = printed_tune((stem, _ALIKE[line[2:].strip()], each))
    assert printed is not None
    return printed


def printed_tune(row: tuple[str, str, abc.TuneText]) -> Printed | None:
    """A tune of one metre and enough notes."""
    name, metre, text = row
    try:
        tune = abc.tune_of(text)
    except BackingError:
        return None
    lengths = sorted(note.length for note in tune.notes() if note.pitches)
    if len(lengths) < _LEAST_NOTES or any(bar.metre != tune.metre for bar in tune.bars):
        return None
    quick = lengths[len(lengths) // 2] < Fraction(1, 8)
    return Printed(f"{name} {tune.title}", tune, metre, quick)


def perform(printed: Printed, seed: int) -> Performed:
    """The tune as somebody plays it."""
    chance = Random(f"{seed} {printed.name}")
    tune = printed.tune
    arrangement = arrange(tune, load_style("drone"), PLAIN)
    notes = played(tune, arrangement)
    usual = usual_tempo(tune.metre, dance_of(tune.dance or tune.title, tune.metre))
    whole = 60 / float(usual.wholes) / chance.uniform(1 - SPEEDS, 1 + SPEEDS)
    start, drift = chance.uniform(0.2, 5), chance.uniform(0, DRIFT)
    turn, phase = chance.uniform(20, 60), chance.uniform(0, 2 * pi)

    def second(at: Fraction) -> float:
        even = float(at) * whole
        swell = drift * turn / (2 * pi) * (sin(2 * pi * even / turn + phase) - sin(phase))
        return start + even + swell

    def moved() -> float:
        return chance.uniform(-JITTER_MS, JITTER_MS) / 1000

    held = chance.uniform(0.85, 1)
    presses = []
    for onset, length, key in notes:
        on, off = second(onset) + moved(), second(onset + length * Fraction(held)) + moved()
        presses.append((on, max(off, on + 0.03), key))
    first = next(bar for bar in arrangement.bars if not bar.begins)
    origin = min(
        bar.onset + note.onset
        for bar in arrangement.bars[:3]
        for note in tune.melody.bars[bar.index]
        if note.pitches
    )
    data = file_of(presses, chance.choice(_TICKS), told=chance.random() < 0.5)
    return Performed(data, notes, (first.onset - origin) % first.length)


def file_of(presses: list[tuple[float, float, int]], ppq: int, *, told: bool) -> bytes:
    """A file of keys pressed (seconds); 120 crotchets a minute, told or not."""
    events = []
    for on, off, key in presses:
        events.append((round(on * 2 * ppq), 1, mido.Message("note_on", note=key, velocity=80)))
        events.append((round(off * 2 * ppq), 0, mido.Message("note_off", note=key, velocity=0)))
    events.sort(key=lambda event: event[:2])
    track, at = mido.MidiTrack(), 0
    if told:
        track.append(mido.MetaMessage("set_tempo", tempo=500_000))
    for tick, _, message in events:
        track.append(message.copy(time=tick - at))
        at = tick
    file = mido.MidiFile(type=0, ticks_per_beat=ppq)
    file.tracks.append(track)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def outcome(printed: Printed, performed: Performed) -> Outcome:
    """The tune read, beside the one printed."""
    tune = parse_midi(performed.data)
    heard, found = str(tune.bars[0].metre), read(tune)
    lead = tune.bars[0].length if tune.bars[0].pickup else Fraction(0)
    first = _first(tune)
    length = tune.metre.length
    bar = (lead - first) % length
    share = max(_same(performed.notes, found, shift) for shift in (0, bar - performed.first_bar))
    right = heard == printed.metre
    wanted = printed.tune.metre.length
    scale = _scale(performed.notes, found)
    equivalent = ""
    if not right or share < Fraction(1, 2):
        if scale and heard == printed.metre:
            equivalent = "bars of half or double the length" if scale != 1 else ""
        elif scale and scale * wanted == length:
            equivalent = "same bars, other note values"
        elif scale and scale * wanted in (length * 2, length / 2):
            equivalent = "bars of half or double the length"
    return Outcome(heard, right, right and bar == performed.first_bar % length, share, equivalent)


def _same(wanted: list[Struck], found: list[Struck], shift: Fraction | int) -> Fraction:
    """The share of the notes that are right, those read standing so much too late."""
    moved = Counter((onset + shift, length, key) for onset, length, key in wanted)
    return Fraction(sum((moved & Counter(found)).values()), len(wanted))


def _first(tune: Tune) -> Fraction:
    """Where the first note stands in the first bar."""
    note: Note = next(note for note in tune.melody.bars[0] if note.pitches)
    return note.onset


def _scale(wanted: list[Struck], found: list[Struck]) -> Fraction | None:
    """How much longer the notes are than printed; None where they are no multiple."""
    for scale in (Fraction(1), Fraction(2), Fraction(1, 2), Fraction(4), Fraction(1, 4)):
        scaled = Counter((onset * scale, key) for onset, _, key in wanted)
        same = sum((scaled & Counter((onset, key) for onset, _, key in found)).values())
        if same > len(wanted) * 0.6:
            return scale
    return None


def right(result: Outcome) -> bool:
    """Whether a tune came back with its metre and note values."""
    return result.metre and result.notes >= _ENOUGH


def row(label: str, results: list[Outcome]) -> str:
    """A line of the table, in per cent of the tunes."""

    def share(those: Iterator[bool] | list[bool]) -> str:
        return f"{100 * sum(those) / max(len(results), 1):7.1f}"

    same = Counter(result.equivalent for result in results if not right(result))
    both = sum(right(result) or bool(result.equivalent) for result in results)
    notes = sum(result.notes for result in results) / max(len(results), 1)
    return (
        f"  {label:22} {len(results):5} {share([r.metre for r in results])} "
        f"{share([right(r) for r in results])} {share([r.bars and right(r) for r in results])} "
        f"{share([r.notes == 1 for r in results])} {100 * float(notes):7.1f} "
        f"{same['same bars, other note values']:7} "
        f"{same['bars of half or double the length']:7} {100 * both / max(len(results), 1):7.1f}"
    )


def main() -> int:
    """Perform, read, compare, print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--half", choices=("develop", "report"), default="develop")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--each", type=int, default=40, help="how many tunes of each metre")
    parser.add_argument("--names", action="store_true", help="show which tunes fail")
    asked = parser.parse_args()
    tunes = drawn(asked.half, asked.seed, asked.each, (*METRES, QUICK))
    if not tunes:
        print("the collections are not here: install music21", file=sys.stderr)
        return 2
    results: list[tuple[Printed, Outcome]] = []
    seconds = 0.0
    for printed in tunes:
        performed = perform(printed, asked.seed)
        begun = time.perf_counter()
        result = outcome(printed, performed)
        seconds += time.perf_counter() - begun
        results.append((printed, result))
        if asked.names and not (right(result) and result.bars):
            print(
                f"  {printed.metre} as {result.heard} {float(result.notes):.3f} "
                f"{'bars' if result.bars else '-'} {result.equivalent or '-'}: {printed.name}"
            )
    print(
        "                         tunes   metre   +notes   +bars  all of   notes    same    half"
        "  or such"
    )
    for metre in METRES:
        print(row(metre, [r for p, r in results if p.metre == metre and not p.quick]))
    print(row("all", [r for p, r in results if not p.quick]))
    print(row(QUICK, [r for p, r in results if p.quick]))
    print(f"  {1000 * seconds / len(results):.0f} ms to read a file")
    return 0


if __name__ == "__main__":
    sys.exit(main())
