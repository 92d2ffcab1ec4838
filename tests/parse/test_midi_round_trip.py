"""What this program writes as MIDI comes back as the tune that was played.

Compared are bars, metre, key (signature, and major or minor), tempo, chords, title and
notes, ties joined; in the tune read they are taken from the value, in the tune played from
the arrangement.  The tunes are those of examples/ and thirty of Ryan's Mammoth Collection
(1883), which the music21 package carries.
"""

from dataclasses import replace
from fractions import Fraction
from importlib.util import find_spec
from pathlib import Path
from random import Random

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style
from backing.parse.abc import parse_abc, read_tune, split_book
from backing.parse.midi import parse_midi
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
TUNES = [
    read_tune(text)
    for path in sorted(EXAMPLES.glob("*.abc"))
    for text in split_book(path.read_text(encoding="utf-8"))
]
STYLES = ("alternating", "sustained", "drone")
PLAIN = Manner(swing=Fraction(1), ornaments=False)
SEED, COUNT = 1883, 30
TITLES = [tune.title for tune in TUNES]


def collection():
    """Thirty files of the collection, chosen by a fixed seed."""
    spec = find_spec("music21")
    assert spec is not None
    assert spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "corpus" / "ryansMammoth"
    return Random(SEED).sample(sorted(folder.glob("*.abc")), COUNT)


FILES = collection()


def without_staccato(tune):
    """The tune without its staccatos, which a file tells as shorter notes."""
    bars = tuple(
        tuple(
            note._replace(decorations=tuple(d for d in note.decorations if d != "staccato"))
            for note in bar
        )
        for bar in tune.melody.bars
    )
    return replace(tune, voices=(replace(tune.melody, bars=bars),))


def written(tune, style="alternating", count_in=1, manner=PLAIN, **step):
    """The arrangement, the performance and the bytes of the whole tune."""
    arrangement = arrange(tune, load_style(style), manner)
    performance = perform(arrangement, Plan((Step(count_in=count_in, **step),)), tune)
    return arrangement, performance, render_midi(performance)


def joined(rows, begin=Fraction(0)):
    """(onset, length, keys) of every note struck, ties joined, from (bar start, note) pairs."""
    found, open_keys = [], {}
    for start, note in rows:
        keys = tuple(sorted({pitch.midi for pitch in note.pitches}))
        held = [key for key in keys if key in open_keys]
        for key in held:
            open_keys[key][1] += note.length
        new = [key for key in keys if key not in held]
        entries = {key: [start + note.onset - begin, note.length, key] for key in new}
        found += entries.values()
        ties = {pitch.midi for pitch in note.ties}
        now = {**{key: open_keys[key] for key in held}, **entries}
        open_keys = {key: entry for key, entry in now.items() if key in ties}
    return [tuple(entry) for entry in found]


def played_rows(tune, arrangement):
    """(start, note) of the tune as it is played."""
    return [
        (bar.onset, note)
        for bar in arrangement.bars
        for note in tune.melody.bars[bar.index]
        if note.pitches
    ]


def read_rows(tune):
    """(start, note) of the tune read, its first full bar at 0."""
    at = -tune.bars[0].length if tune.bars[0].pickup else Fraction(0)
    rows = []
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        rows += [(at, note) for note in notes if note.pitches]
        at += bar.length
    return rows


def frame_of(bars):
    """What both kinds of bar tell: length, metre, beats, signature, major or minor."""
    return [(b.length, str(b.metre), b.metre.beats, b.key.fifths, b.key.minor) for b in bars]


def filled(arrangement):
    """The bars as a file tells them: the last is full unless it completes the pickup."""
    bars = list(arrangement.bars)
    missing = bars[0].metre.length - bars[0].length if bars[0].begins else None
    if bars[-1].length != missing and bars[-1].room:
        bars[-1] = replace(bars[-1], length=bars[-1].metre.length)
    return bars


def chords_of(tune):
    """(position, text) of the chord symbols of a tune read."""
    at = -tune.bars[0].length if tune.bars[0].pickup else Fraction(0)
    found = []
    for bar in tune.bars:
        found += [(at + symbol.onset, symbol.text) for symbol in bar.chords]
        at += bar.length
    return found


def check(tune, arrangement, performance, data):
    """The tune read is the tune played."""
    read = parse_midi(data)
    assert read.title == " ".join(tune.title.split())
    assert frame_of(read.bars) == frame_of(filled(arrangement))
    assert joined(read_rows(read)) == joined(played_rows(tune, arrangement))
    assert read.tempo == performance.tempos[0].tempo
    assert chords_of(read) == [(text.onset, text.text) for text in arrangement.chords]
    return read


@pytest.mark.parametrize("count_in", [0, 1, 2])
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("tune", TUNES, ids=TITLES)
def test_examples_come_back(tune, style, count_in):
    """Every example comes back as it was played, in each style, after any count-in."""
    tune = without_staccato(tune)
    check(tune, *written(tune, style, count_in))


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_the_collection_comes_back(path):
    """Thirty tunes of Ryan's Mammoth Collection (1883) come back as they were played."""
    tune = without_staccato(parse_abc(path.read_bytes().decode("utf-8", errors="replace")))
    style = STYLES[len(path.stem) % 3]
    check(tune, *written(tune, style, len(path.stem) % 2))
