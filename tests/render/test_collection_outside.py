"""Sixty tunes of an open collection, read by us and heard by others.

The music21 package carries Ryan's Mammoth Collection (1883) in ABC notation; the tunes
are chosen by a fixed seed.
"""

import random
from pathlib import Path

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

pytestmark = pytest.mark.slow

STYLES = ("alternating", "sustained", "drone")
COUNT, SEED = 60, 1883


def collection() -> list[Path]:
    """Sixty files of the collection."""
    from importlib.util import find_spec

    spec = find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent / "corpus" / "ryansMammoth"
    return random.Random(SEED).sample(sorted(folder.glob("*.abc")), COUNT)


FILES = collection()
every_tune = pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])


def performed(path):
    """The whole tune, counted in, in a style that its name chooses."""
    text = path.read_bytes().decode("utf-8", errors="replace")
    tune = parse_abc(text)
    style = load_style(STYLES[len(path.stem) % 3])
    return perform(arrange(tune, style), Plan((Step(count_in=1),)), tune)


@every_tune
def test_pretty_midi_hears_the_performance(path, read_pretty, clock, downbeats, onsets_by_pitch):
    """Keys, onsets, downbeats and tempi are those of the performance, within a millisecond."""
    performance = performed(path)
    seconds = clock(performance)
    midi = read_pretty(render_midi(performance))
    sounding = [track.role for track in performance.tracks if track.events]
    assert Role.MELODY in sounding
    lines = {line.name: line for line in midi.instruments}
    for role in sounding:
        expected = onsets_by_pitch(performance, role, seconds)
        notes = lines[role.value].notes
        assert {note.pitch for note in notes} == set(expected)
        for pitch, onsets in expected.items():
            found = sorted(note.start for note in notes if note.pitch == pitch)
            assert found == pytest.approx(onsets, abs=0.001)
    bars = [seconds(position) for position in downbeats(performance)]
    found = list(midi.get_downbeats())
    # one more may stand at the very end
    assert found == pytest.approx([*bars, performance.seconds][: len(found)], abs=0.001)
    last = max(note.start for line in midi.instruments for note in line.notes)
    assert len(found) >= sum(1 for bar in bars if bar <= last)
    times, tempi = midi.get_tempo_changes()
    assert list(times) == pytest.approx(
        [seconds(placed.onset) for placed in performance.tempos], abs=0.001
    )
    assert list(tempi) == pytest.approx(
        [float(placed.tempo.wholes * 4) for placed in performance.tempos], rel=1e-5
    )


@every_tune
def test_music21_reads_the_melody(path):
    """music21 reads the melody's keys and onsets in quarters, within a tick."""
    import music21

    performance = performed(path)
    score = music21.converter.parseData(render_midi(performance), format="midi", quantizePost=False)
    melody = next(part for part in score.parts if part.partName == "melody")
    found = sorted(
        (pitch.midi, float(note.offset))
        for note in melody.stripTies().flatten().notes
        for pitch in note.pitches
    )
    expected = sorted(
        (pitch, float(4 * (event.onset - performance.start)))
        for event in performance.track(Role.MELODY).events
        for pitch in event.pitches
    )
    assert [key for key, _ in found] == [key for key, _ in expected]
    assert [at for _, at in found] == pytest.approx([at for _, at in expected], abs=0.0011)
