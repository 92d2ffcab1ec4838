"""How well suggested chords agree with editors' chords.

    python tests/bench/chords.py FOLDER [--palette plain]

FOLDER holds ABC books with chord symbols.  Each tune's symbols are taken away, chords are
suggested, and both are compared slot by slot over the written bars, pickups left out: a
slot is half a bar where the bar has two or four felt beats, else the bar.  The editor's
chord of a slot is the one that holds longest in it, carried over from before where it has
none, reduced to root and major or minor; slots of diminished or augmented chords are left
out.  Two baselines stand beside: always the tonic, and the triad of the key that fills
most of the slot.  Two editors of the same tune agree in 79 per cent (measured on the
Nottingham Music Database, cleaned copy: github.com/jukedeck/nottingham-dataset).
"""

import argparse
import time
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError
from backing.harmony.keys import keys_of
from backing.harmony.palette import Palette, closing, triad
from backing.harmony.slots import slots_of
from backing.harmony.suggest import suggest_chords
from backing.harmony.weights import Weights, parse_weights
from backing.music.chord import KINDS, Chord
from backing.music.tune import Tune
from backing.parse.abc import split_book, tune_of

_OTHER_KINDS = ("augmented", "diminished", "half-diminished")


class Triad(NamedTuple):
    """A chord reduced: pitch class of the root, and whether it is minor."""

    root: int
    minor: bool


class Agreement(NamedTuple):
    """Shares of slots: the same root and quality, and the same root, of so many."""

    quality: float
    root: float
    slots: int

    def __str__(self) -> str:
        return f"root+quality {self.quality:6.2%}  root {self.root:6.2%}  of {self.slots} slots"


def chorded_tunes(folder: Path) -> list[Tune]:
    """The tunes of the books in a folder that have chord symbols."""
    found = []
    for path in sorted(folder.glob("*.abc")):
        for text in split_book(path.read_text(encoding="utf-8", errors="replace")):
            try:
                tune = tune_of(text)
            except BackingError as error:
                print(f"{path.name}, {text.title}: {error.message}")
                continue
            if tune.has_chords:
                found.append(tune)
    return found


def reduced(chord: Chord | None) -> Triad | None:
    """The chord as root and quality; None where it has neither major nor minor."""
    if chord is None or chord.silent or chord.kind.startswith(_OTHER_KINDS):
        return None
    return Triad(chord.root, 3 in KINDS[chord.kind])


def editors(tune: Tune) -> list[Triad | None]:
    """The editor's chord in each slot."""
    keys, _ = keys_of(tune)
    spans = list(_chord_spans(tune))
    found = []
    for slot in slots_of(tune, keys):
        held: dict[Chord, Fraction] = {}
        for start, stop, chord in spans[slot.bar]:
            time_ = min(stop, slot.onset + slot.length) - max(start, slot.onset)
            if time_ > 0 and chord is not None:
                held[chord] = held.get(chord, Fraction(0)) + time_
        longest = max(held, key=lambda chord: held[chord]) if held else None
        found.append(reduced(longest))
    return found


def _chord_spans(tune: Tune) -> Iterator[list[tuple[Fraction, Fraction, Chord | None]]]:
    """For each bar its chords with start and stop, the last one carried on."""
    chord: Chord | None = None
    for bar in tune.bars:
        spans, at = [], Fraction(0)
        for symbol in bar.chords:
            spans.append((at, symbol.onset, chord))
            at, chord = symbol.onset, symbol.chord
        spans.append((at, bar.length, chord))
        yield spans


def _suggested(tune: Tune, weights: Weights | None, palette: Palette) -> list[Triad | None]:
    harmony = suggest_chords(tune, palette, weights=weights)
    return [reduced(suggestion.chosen.chord) for suggestion in harmony.suggestions]


def _tonic(tune: Tune) -> list[Triad | None]:
    slots = slots_of(tune, [bar.key for bar in tune.bars])
    return [Triad(slot.key.tonic, slot.key.minor) for slot in slots]


def _fullest(tune: Tune) -> list[Triad | None]:
    """The triad of the key whose notes sound longest in each slot, the lower degree first."""
    found = []
    for slot in slots_of(tune, [bar.key for bar in tune.bars]):
        heard = dict(slot.tones["sounding"])
        chords = [triad(slot.key, degree) for degree in (1, 4, 5, 2, 6, 3, 7)]
        best = max(chords, key=lambda chord: sum(heard.get(t, 0.0) for t in chord.pitch_classes))
        found.append(reduced(best))
    return found


def compare(pairs: Iterator[tuple[list[Triad | None], list[Triad | None]]]) -> Agreement:
    """The agreement of chords with editors' chords, tune by tune."""
    same = roots = count = 0
    for told, given in pairs:
        for editor, other in zip(told, given, strict=True):
            if editor is not None:
                count += 1
                same += editor == other
                roots += other is not None and editor.root == other.root
    return Agreement(same / count, roots / count, count)


def agreement(
    tunes: Sequence[Tune], weights: str = "", palette: Palette = Palette.FULL
) -> Agreement:
    """How far suggestions agree with the editors of some tunes."""
    table = parse_weights(weights) if weights else None
    return compare((editors(tune), _suggested(tune, table, palette)) for tune in tunes)


def tonic(tunes: Sequence[Tune]) -> Agreement:
    """How far the tonic throughout agrees."""
    return compare((editors(tune), _tonic(tune)) for tune in tunes)


def fullest(tunes: Sequence[Tune]) -> Agreement:
    """How far the triad that fills most of the slot agrees."""
    return compare((editors(tune), _fullest(tune)) for tune in tunes)


def odd_endings(tunes: Sequence[Tune]) -> tuple[int, int]:
    """Sections that end on no closing chord though one holds the last note; all sections."""
    odd = ends = 0
    for tune in tunes:
        for suggestion in suggest_chords(tune).suggestions:
            slot = suggestion.slot
            if slot.closes and slot.tones.get("last"):
                ends += 1
                last = slot.tones["last"][0][0]
                triads = [triad(slot.key, degree) for degree in range(1, 8)]
                at_end = closing(slot.key, last, triads)
                odd += len(at_end) < len(triads) and suggestion.chosen.chord.root not in {
                    chord.root for chord in at_end
                }
    return odd, ends


def main() -> None:
    """Print agreement and time for the tunes of a folder."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--palette", type=Palette, default=Palette.FULL)
    options = parser.parse_args()
    tunes = chorded_tunes(options.folder)
    print(f"{len(tunes)} tunes with editors' chords")
    suggest_chords(tunes[0])
    start = time.perf_counter()
    bars = sum(len(tune.bars) for tune in tunes if suggest_chords(tune, options.palette))
    spent = time.perf_counter() - start
    print("always the tonic      ", tonic(tunes))
    print("the fullest triad     ", fullest(tunes))
    print("suggested             ", agreement(tunes, palette=options.palette))
    odd, ends = odd_endings(tunes)
    print(f"sections that end on another chord than the key's I, IV, V: {odd} of {ends}")
    print(f"{spent / len(tunes) * 1000:.1f} ms a tune, {spent / bars * 32000:.1f} ms for 32 bars")


if __name__ == "__main__":
    main()
