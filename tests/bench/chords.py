"""How well suggested chords agree with editors' chords.

    python tests/bench/chords.py FOLDER [--palette plain]

FOLDER holds ABC books with chord symbols.  Each tune's symbols are taken away, chords are
suggested, and both are compared span by span over the written bars, pickups left out: a
span is half a bar where the bar has two or four felt beats, else the bar.  The chord of a
span is the one that holds longest in it, carried over from before where it has none, reduced
to root and major or minor; spans where the editor has a diminished or augmented chord are left
out.  A table says it metre by metre, for three-beat metres beat by beat too.  Two baselines
stand beside: always the tonic, and the triad of the key that fills most of the span.  Two
editors of the same tune agree in 79 per cent (measured on the Nottingham Music Database,
cleaned copy: github.com/jukedeck/nottingham-dataset).
"""

import argparse
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError
from backing.harmony.palette import Palette, closing, triad
from backing.harmony.suggest import suggest_chords, with_chords
from backing.harmony.weights import Weights, parse_weights
from backing.music.chord import KINDS, Chord
from backing.music.tune import Tune
from backing.parse.abc import split_book, tune_of

_OTHER_KINDS = ("augmented", "diminished", "half-diminished")


class Triad(NamedTuple):
    """A chord reduced: pitch class of the root, and whether it is minor."""

    root: int
    minor: bool


class Span(NamedTuple):
    """A stretch of a written bar, from onset to stop."""

    bar: int
    onset: Fraction
    stop: Fraction


class Agreement(NamedTuple):
    """Shares of spans: the same root and quality, and the same root, of so many."""

    quality: float
    root: float
    spans: int

    def __str__(self) -> str:
        return f"root+quality {self.quality:6.2%}  root {self.root:6.2%}  of {self.spans} spans"


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


def spans_of(tune: Tune, *, by_beats: bool = False) -> list[Span]:
    """The spans that are compared: half bars where two or four beats are felt, else bars."""
    found = []
    for index, bar in enumerate(tune.bars):
        beats = len(bar.metre.beats)
        parts = beats if by_beats else 2 if beats in (2, 4) or bar.metre.free else 1
        step = (bar.metre.length or Fraction(1)) / max(parts, 1)
        at = Fraction(0)
        while at < bar.length and not bar.pickup:
            found.append(Span(index, at, min(at + step, bar.length)))
            at += step
    return found


def editors(tune: Tune, spans: Sequence[Span] | None = None) -> list[Triad | None]:
    """The editor's chord in each span."""
    chords = list(_chord_spans(tune))
    found = []
    for index, onset, end in spans_of(tune) if spans is None else spans:
        held: dict[Chord, Fraction] = {}
        for start, stop, chord in chords[index]:
            time_ = min(stop, end) - max(start, onset)
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


def suggested(tune: Tune, weights: Weights | None = None, palette: Palette = Palette.FULL) -> Tune:
    """The tune with suggested chords in the place of its editor's."""
    return with_chords(tune, suggest_chords(tune, palette, weights=weights))


def _tonic(tune: Tune) -> list[Triad | None]:
    keys = [tune.bars[span.bar].key for span in spans_of(tune)]
    return [Triad(key.tonic, key.minor) for key in keys]


def _fullest(tune: Tune) -> list[Triad | None]:
    """The triad of the key whose notes sound longest in each span, the lower degree first."""
    found = []
    for index, onset, end in spans_of(tune):
        key = tune.bars[index].key
        heard = [0.0] * 12
        for note in tune.melody.bars[index]:
            time_ = min(note.onset + note.length, end) - max(note.onset, onset)
            if time_ > 0 and note.pitches:
                heard[max(pitch.midi for pitch in note.pitches) % 12] += float(time_)
        chords = [triad(key, degree) for degree in (1, 4, 5, 2, 6, 3, 7)]
        best = max(chords, key=lambda chord: sum(heard[t] for t in chord.pitch_classes))
        found.append(reduced(best))
    return found


def compare(pairs: Iterator[tuple[list[Triad | None], list[Triad | None]]]) -> Agreement:
    """The agreement of chords with editors' chords, tune by tune."""
    same = roots = count = 0
    for told, given in pairs:
        for editor, other in zip(told, given, strict=True):
            if editor is not None:
                count += 1
                same += int(editor == other)
                roots += int(other is not None and editor.root == other.root)
    return Agreement(same / count, roots / count, count) if count else Agreement(0.0, 0.0, 0)


def agreement(
    tunes: Sequence[Tune], weights: str = "", palette: Palette = Palette.FULL
) -> Agreement:
    """How far suggestions agree with the editors of some tunes."""
    table = parse_weights(weights) if weights else None
    return agreement_of([(tune, suggested(tune, table, palette)) for tune in tunes])


def agreement_of(pairs: Sequence[tuple[Tune, Tune]], *, by_beats: bool = False) -> Agreement:
    """How far tunes with suggested chords agree with the same tunes with their editors'."""
    return compare(
        (editors(tune, spans), editors(other, spans))
        for tune, other in pairs
        for spans in (spans_of(tune, by_beats=by_beats),)
    )


def by_metre(pairs: Sequence[tuple[Tune, Tune]]) -> Iterator[str]:
    """Lines that say how far they agree, metre by metre; tunes go by the metre of most bars."""
    groups: dict[str, list[tuple[Tune, Tune]]] = {}
    for pair in pairs:
        metres = Counter(bar.metre for bar in pair[0].bars)
        groups.setdefault(str(metres.most_common(1)[0][0]), []).append(pair)
    for metre, group in sorted(groups.items()):
        yield f"  {metre:<5} {len(group):4} tunes  {agreement_of(group)}"
        if len(group[0][0].bars[-1].metre.beats) == 3:
            yield f"        beat by beat {agreement_of(group, by_beats=True)}"


def tonic(tunes: Sequence[Tune]) -> Agreement:
    """How far the tonic throughout agrees."""
    return compare((editors(tune), _tonic(tune)) for tune in tunes)


def fullest(tunes: Sequence[Tune]) -> Agreement:
    """How far the triad that fills most of the slot agrees."""
    return compare((editors(tune), _fullest(tune)) for tune in tunes)


def odd_endings(tunes: Sequence[Tune]) -> tuple[int, int]:
    """Sections that end on no closing chord though one holds what they end on; all sections."""
    odd = ends = 0
    for tune in tunes:
        for suggestion in suggest_chords(tune).suggestions:
            slot = suggestion.slot
            if slot.closes and slot.ends_on:
                ends += 1
                triads = [triad(slot.key, degree) for degree in range(1, 8)]
                at_end = closing(slot.key, slot.ends_on, triads)
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
    start = time.process_time()
    for tune in tunes:
        suggest_chords(tune, options.palette)
    spent = time.process_time() - start
    bars = sum(len(tune.bars) for tune in tunes)
    print("always the tonic      ", tonic(tunes))
    print("the fullest triad     ", fullest(tunes))
    pairs = [(tune, suggested(tune, palette=options.palette)) for tune in tunes]
    print("suggested             ", agreement_of(pairs))
    print("\n".join(by_metre(pairs)))
    odd, ends = odd_endings(tunes)
    print(f"sections that end on another chord than the key's I, IV, V: {odd} of {ends}")
    print(f"{spent / len(tunes) * 1000:.1f} ms a tune, {spent / bars * 32000:.1f} ms for 32 bars")


if __name__ == "__main__":
    main()
