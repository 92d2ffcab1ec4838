"""Read every MusicXML score of the music21 package, and compare the notes with its own.

    python tests/bench/musicxml.py [--largest BYTES]

The package carries a corpus and a suite of small scores for readers.  Each is read by
`parse_musicxml` and by music21; where they lie and how long they sound must agree for all
notes of all parts.  Printed are counts, the notices by kind, what is refused, and where
the two disagree.  The exit code is 1 where anything but a BackingError is raised.
"""

import argparse
import sys
import time
import warnings
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

from backing.errors import BackingError
from backing.music.tune import Tune
from backing.parse.musicxml import parse_musicxml

SUFFIXES = (".mxl", ".xml", ".musicxml")
#: Key number, onset from the start of the score, length: quarter notes.
Sound = tuple[int, Fraction, Fraction]


def corpus_paths(largest: int) -> list[Path]:
    """The scores that come with music21, up to a size."""
    import music21

    root = Path(music21.__file__).parent
    folders = (root / "corpus", root / "musicxml" / "lilypondTestSuite")
    paths = [path for folder in folders for path in folder.rglob("*") if path.suffix in SUFFIXES]
    return sorted(path for path in paths if path.stat().st_size <= largest)


def sounds_of_tune(tune: Tune) -> Counter[Sound]:
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


def sounds_of_score(path: Path) -> Counter[Sound]:
    """The same of what music21 reads, at sounding pitch, grace and cue notes left out."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score: Any = converter.parse(path, forceSource=True, format="musicxml")
        score.toSoundingPitch(inPlace=True)
    parts = [list(part.getElementsByClass("Measure")) for part in score.parts]
    found: Counter[Sound] = Counter()
    start = Fraction(0)
    for index in range(max(map(len, parts), default=0)):
        column = [measures[index] for measures in parts if index < len(measures)]
        for measure in column:
            for note in measure.flatten().notes:
                if "ChordSymbol" in note.classes or note.duration.isGrace:
                    continue
                for pitch in getattr(note, "pitches", ()):
                    place = start + exact(note.offset)
                    found[pitch.midi, place, exact(note.quarterLength)] += 1
        start += max(map(end_of, column))
    return found


def end_of(measure: Any) -> Fraction:
    """Where the last note or rest of a measure ends."""
    notes = measure.flatten().notesAndRests
    return max(
        (exact(note.offset) + exact(note.quarterLength) for note in notes), default=Fraction(0)
    )


def exact(number: Any) -> Fraction:
    """music21's offsets: floats where they are exact, else fractions."""
    return Fraction(*number.as_integer_ratio())


def main() -> int:
    """Read them all; 1 where one is read with a traceback."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--largest", type=int, default=60_000, help="bytes of the largest score")
    paths = corpus_paths(parser.parse_args().largest)
    started, spent = time.perf_counter(), 0.0
    notices: Counter[str] = Counter()
    raised = differ = 0
    for path in paths:
        name = f"{path.parent.name}/{path.name}"
        begun = time.perf_counter()
        try:
            tune = parse_musicxml(path.read_bytes())
        except BackingError as error:
            print(f"  refused: {name}: {error.message}")
            continue
        except Exception as error:
            raised += 1
            print(f"  RAISED: {name}: {error!r}")
            continue
        spent += time.perf_counter() - begun
        notices.update(
            notice.message.partition(": ")[2] or notice.message for notice in tune.notices
        )
        try:
            theirs = sounds_of_score(path)
        except Exception as error:
            print(f"  music21 fails: {name}: {str(error)[:80]}")
            continue
        ours = sounds_of_tune(tune)
        if ours != theirs:
            differ += 1
            print(
                f"  differ: {name}: {sum((ours - theirs).values())} only here, "
                f"{sum((theirs - ours).values())} only there of {sum(theirs.values())}"
            )
    for message, number in notices.most_common(40):
        print(f"  notice {number:5}  {message}")
    print(f"{len(paths)} scores, {differ} differ, {raised} raised; read in {spent:.0f} s, "
          f"all in {time.perf_counter() - started:.0f} s")  # fmt: skip
    return 1 if raised else 0


if __name__ == "__main__":
    sys.exit(main())
