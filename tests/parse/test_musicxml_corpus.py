"""Scores that come with the music21 package: its notes and ours must agree."""

import warnings
from collections import Counter
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import music21
import pytest

from backing.music.tune import Tune
from backing.parse.musicxml import parse_musicxml

SEED, SAMPLE, LARGEST = 20, 15, 9_000
CORPUS = Path(music21.__file__).parent / "corpus"
LEAD_SHEETS = sorted((CORPUS / "leadSheet").glob("*.mxl"))
SMALL = sorted(path for path in CORPUS.rglob("*.mxl") if path.stat().st_size <= LARGEST)
CHOSEN = sorted({*LEAD_SHEETS, *Random(SEED).sample(SMALL, min(SAMPLE, len(SMALL)))})

#: Key number, onset from the start, length: quarter notes.
Sound = tuple[int, Fraction, Fraction]


def exact(number: Any) -> Fraction:
    """music21 counts in floats where they are exact, else in fractions."""
    return Fraction(*number.as_integer_ratio())


def end_of(measure: Any) -> Fraction:
    """Where the last note or rest of a measure ends."""
    notes = measure.flatten().notesAndRests
    return max((exact(n.offset) + exact(n.quarterLength) for n in notes), default=Fraction(0))


def ours(tune: Tune) -> Counter[Sound]:
    """Every note of every voice."""
    found: Counter[Sound] = Counter()
    for voice in tune.voices:
        start = Fraction(0)
        for bar, notes in zip(tune.bars, voice.bars, strict=True):
            for note in notes:
                for pitch in note.pitches:
                    found[pitch.midi, (start + note.onset) * 4, note.length * 4] += 1
            start += bar.length
    return found


def theirs(score: Any) -> Counter[Sound]:
    """The same of what music21 reads, grace notes left out."""
    parts = [list(part.getElementsByClass("Measure")) for part in score.parts]
    found: Counter[Sound] = Counter()
    start = Fraction(0)
    for column in zip(*parts, strict=True):
        for measure in column:
            for note in measure.flatten().notes:
                if "ChordSymbol" not in note.classes and not note.duration.isGrace:
                    for pitch in note.pitches:
                        place = start + exact(note.offset)
                        found[pitch.midi, place, exact(note.quarterLength)] += 1
        start += max(map(end_of, column))
    return found


def music21_score(path: Path) -> Any:
    """A score of the corpus at sounding pitch."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score: Any = music21.converter.parse(path, forceSource=True)
        return score.toSoundingPitch()


@pytest.mark.parametrize("path", CHOSEN, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_notes_of_the_corpus(path: Path) -> None:
    """Key, onset and length of every note are what music21 reads (corpus of the music21
    package; grace notes have no length and are left out)."""
    assert ours(parse_musicxml(path.read_bytes())) == theirs(music21_score(path))


@pytest.mark.parametrize("path", LEAD_SHEETS, ids=lambda path: path.stem)
def test_the_chord_symbols_of_lead_sheets(path: Path) -> None:
    """Root and pitch classes of every chord symbol are what music21 reads (lead sheets of the
    music21 package)."""
    tune = parse_musicxml(path.read_bytes())
    assert tune.has_chords
    chords = [symbol.chord for bar in tune.bars for symbol in bar.chords]
    symbols = list(music21_score(path).recurse().getElementsByClass("ChordSymbol"))
    assert [chord.root for chord in chords] == [s.root().pitchClass for s in symbols]
    assert [set(chord.pitch_classes) for chord in chords] == [
        {pitch.pitchClass for pitch in symbol.pitches} for symbol in symbols
    ]
