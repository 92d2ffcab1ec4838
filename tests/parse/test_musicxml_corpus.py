"""Scores that come with the music21 package: its notes and ours must agree."""

import warnings
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any

import music21
import pytest

from backing.parse.musicxml import parse_musicxml

pytestmark = pytest.mark.slow

SEED, SAMPLE, LARGEST = 20, 15, 9_000
CORPUS = Path(music21.__file__).parent / "corpus"
LEAD_SHEETS = sorted((CORPUS / "leadSheet").glob("*.mxl"))
SMALL = sorted(path for path in CORPUS.rglob("*.mxl") if path.stat().st_size <= LARGEST)
CHOSEN = sorted({*LEAD_SHEETS, *Random(SEED).sample(SMALL, min(SAMPLE, len(SMALL)))})


@pytest.fixture(scope="module")
def sounds(bench: Callable[[str], ModuleType]) -> ModuleType:
    """The benchmark's functions."""
    return bench("musicxml")


def theirs(score: Any, sounds: ModuleType) -> Counter[Any]:
    """Every note that music21 reads, grace notes left out."""
    parts = [list(part.getElementsByClass("Measure")) for part in score.parts]
    found: Counter[Any] = Counter()
    start = Fraction(0)
    for column in zip(*parts, strict=True):
        for measure in column:
            for note in measure.flatten().notes:
                if "ChordSymbol" not in note.classes and not note.duration.isGrace:
                    for pitch in note.pitches:
                        place = start + sounds.exact(note.offset)
                        found[pitch.midi, place, sounds.exact(note.quarterLength)] += 1
        start += max(map(sounds.end_of, column))
    return found


def music21_score(path: Path) -> Any:
    """A score of the corpus at sounding pitch."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score: Any = music21.converter.parse(path, forceSource=True)
        return score.toSoundingPitch()


@pytest.mark.parametrize("path", CHOSEN, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_notes_of_the_corpus(path: Path, sounds: ModuleType) -> None:
    """Key, onset and length of every note are what music21 reads (corpus of the music21
    package; grace notes have no length and are left out)."""
    tune = parse_musicxml(path.read_bytes())
    assert sounds.sounds_of_tune(tune) == theirs(music21_score(path), sounds)


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
