"""Other libraries read from our files what is in the performance: the tunes in examples/.

mido tells ticks and bytes, pretty_midi seconds and downbeats, music21 notated lengths.
"""

from collections import Counter
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import split_book, tune_of
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
TUNES = [
    tune_of(text)
    for path in sorted(EXAMPLES.glob("*.abc"))
    for text in split_book(path.read_text(encoding="utf-8"))
]
STYLES = ("alternating", "sustained", "drone")
ROLES = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)
every_tune = pytest.mark.parametrize("tune", TUNES, ids=[tune.title for tune in TUNES])
every_style = pytest.mark.parametrize("style", STYLES)


def performed(tune, style):
    """The whole tune in a style, counted in with one bar."""
    return perform(arrange(tune, load_style(style)), Plan((Step(count_in=1),)), tune)


def test_there_are_examples():
    """There are examples enough for these checks to mean something."""
    assert len(TUNES) >= 15


@every_style
@every_tune
def test_mido_reads_it(tune, style, tracks_of):
    """mido finds every key of every event at its tick, and the length in seconds."""
    performance = performed(tune, style)
    data = render_midi(performance)
    tracks = tracks_of(data)
    for role in ROLES:
        expected = Counter(
            (round((event.onset - performance.start) * 3840), pitch)
            for event in performance.track(role).events
            for pitch in event.pitches
        )
        found = Counter((t, m.note) for t, m in tracks[role.value] if m.type == "note_on")
        assert found == expected
    length = mido.MidiFile(file=BytesIO(data)).length
    assert length == pytest.approx(performance.seconds, abs=0.001)


@every_style
@every_tune
def test_pretty_midi_hears_it(tune, style, read_pretty, clock, onsets_by_pitch):
    """pretty_midi hears the same keys at the same seconds, within a millisecond."""
    performance = performed(tune, style)
    midi = read_pretty(render_midi(performance))
    assert [line.name for line in midi.instruments] == [role.value for role in ROLES]
    assert [line.program + 1 for line in midi.instruments][:3] == [22, 24, 24]
    assert [line.is_drum for line in midi.instruments] == [False, False, False, True]
    for role, line in zip(ROLES, midi.instruments, strict=True):
        expected = onsets_by_pitch(performance, role, clock(performance))
        assert {note.pitch for note in line.notes} == set(expected)
        for pitch, onsets in expected.items():
            found = sorted(note.start for note in line.notes if note.pitch == pitch)
            assert found == pytest.approx(onsets, abs=0.001)


@every_tune
def test_pretty_midi_finds_the_downbeats(tune, read_pretty, clock, downbeats):
    """pretty_midi finds a downbeat at every bar line, count-in and seams included, and
    perhaps one more at the very end."""
    performance = performed(tune, "alternating")
    seconds = clock(performance)
    found = read_pretty(render_midi(performance)).get_downbeats()
    expected = [seconds(position) for position in downbeats(performance)]
    assert list(found[: len(expected)]) == pytest.approx(expected, abs=0.001)
    assert all(at == pytest.approx(performance.seconds, abs=0.001) for at in found[len(expected) :])


@every_tune
def test_pretty_midi_finds_the_key(tune, read_pretty):
    """pretty_midi reads the signature of the tune's mode."""
    (signature,) = read_pretty(render_midi(performed(tune, "drone"))).key_signature_changes
    # pretty_midi numbers major keys by semitones above C, minor ones from 12 on
    fifths = tune.key.fifths
    tonic = (7 * fifths + (9 if tune.key.minor else 0)) % 12
    assert signature.key_number == tonic + (12 if tune.key.minor else 0)


@every_tune
def test_music21_writes_the_same_notes(tune):
    """music21 reads the same keys with the same onsets and lengths in quarters, once the ties
    that it writes over bar lines are joined."""
    import music21

    performance = performed(tune, STYLES[len(tune.title) % 3])
    score = music21.converter.parseData(render_midi(performance), format="midi", quantizePost=False)
    parts = {part.partName: part for part in score.parts}
    for role in ROLES[:3]:
        expected = Counter(
            (tick(event.onset - performance.start), tick(event.length), pitch)
            for event in performance.track(role).events
            for pitch in event.pitches
        )
        found = Counter(
            (round(note.offset * 960), round(note.quarterLength * 960), pitch.midi)
            for note in parts[role.value].stripTies().flatten().notes
            for pitch in note.pitches
        )
        assert found == expected


def tick(position: Fraction) -> int:
    """A position in ticks of 960 a quarter; those of the examples are whole ones."""
    assert (position * 3840).denominator == 1
    return int(position * 3840)
