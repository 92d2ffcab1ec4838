"""A MIDI file that somebody played without a click is read with beats of its own.

The files are built here with mido, in ticks that know nothing of the beat; the tunes are
invented, but for those of open collections in the music21 package, which
`tests/bench/played_midi.py` performs.
"""

import importlib.util
import sys
from fractions import Fraction
from io import BytesIO
from math import sin
from pathlib import Path
from random import Random

import mido
import pytest

from backing.errors import TuneError
from backing.files import read_tune
from backing.music.metre import parse_metre
from backing.music.tempo import FeltBeats, parse_tempo
from backing.parse.midi import parse_midi
from backing.parse.played_as import PlayedAs

#: (key, length in quavers); a jig in G of two parts, each of eight bars.
A_PART = [
    (67, 2), (69, 1), (71, 1), (69, 1), (67, 1), (74, 2), (71, 1), (74, 1), (71, 1), (67, 1),
    (72, 2), (76, 1), (74, 1), (72, 1), (71, 1), (69, 2), (66, 1), (69, 1), (66, 1), (62, 1),
    (67, 2), (69, 1), (71, 1), (69, 1), (67, 1), (74, 2), (71, 1), (74, 1), (71, 1), (67, 1),
    (72, 1), (71, 1), (69, 1), (66, 1), (69, 1), (66, 1), (67, 3), (67, 3),
]  # fmt: skip
B_PART = [
    (79, 2), (78, 1), (76, 1), (78, 1), (79, 1), (74, 2), (71, 1), (67, 3),
    (72, 2), (76, 1), (76, 1), (74, 1), (72, 1), (71, 2), (69, 1), (69, 3),
    (79, 2), (78, 1), (76, 1), (78, 1), (79, 1), (74, 2), (71, 1), (67, 1), (69, 1), (71, 1),
    (72, 1), (71, 1), (69, 1), (66, 1), (69, 1), (66, 1), (67, 3), (67, 3),
]  # fmt: skip
JIG = [*A_PART, *A_PART, *B_PART, *B_PART]
REEL = [
    (key, 1)
    for part in (
        "62 66 69 66 71 66 69 66 62 66 69 66 69 64 64 66 62 66 69 66 71 69 74 73 "
        "71 69 67 66 64 62 61 64 62 66 69 66 71 66 69 66 74 73 71 69 67 66 64 67 "
        "66 69 74 69 67 71 76 74 73 69 71 73 74 74 74 69",
        "78 74 76 73 74 71 69 66 78 74 76 73 76 69 69 66 78 74 76 73 74 71 69 66 "
        "71 69 67 66 64 62 61 64 78 74 76 73 74 71 69 66 74 73 71 69 67 66 64 67 "
        "66 69 74 69 67 71 76 74 73 69 71 73 74 74 74 69",
    )
    for key in [*map(int, part.split())] * 2
]
H = Fraction(1, 8)
#: Shares of the tunes: 90 per cent are wanted; the metre is right in 90, metre and values (98 per
#: cent of the notes) in 82, and no fewer may be.
GOAL_METRE, GOAL_NOTES = 0.9, 0.82


def played(notes, quaver, *, seed=1, jitter=0.02, start=1.3, drift=0.0, held=0.9):
    """(on, off, key) in seconds of notes one after the other, as somebody plays them."""
    chance, at, found = Random(seed), 0, []

    def second(quavers):
        even = quavers * quaver
        return start + even + drift * 5 * sin(even / 5)

    for key, length in notes:
        on, off = (second(x) + chance.uniform(-jitter, jitter) for x in (at, at + length * held))
        if key:
            found.append((on, max(off, on + 0.03), key))
        at += length
    return found


def file_of(*voices, ppq=480, head=()):
    """A file of voices, a track each, 120 crotchets a minute."""
    file = mido.MidiFile(type=1, ticks_per_beat=ppq)
    for place, presses in enumerate(voices):
        events = [(0, 0, message) for message in head if place == 0]
        for on, off, key in presses:
            note = {"note": key, "channel": place}
            events.append((round(on * 2 * ppq), 2, mido.Message("note_on", **note)))
            events.append((round(off * 2 * ppq), 1, mido.Message("note_off", **note)))
        events.sort(key=lambda event: event[:2])
        track, at = mido.MidiTrack(), 0
        for tick, _, message in events:
            track.append(message.copy(time=tick - at))
            at = tick
        file.tracks.append(track)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def read(data, metre="", beat=""):
    """The tune, heard as told."""
    return parse_midi(
        data,
        told=PlayedAs(parse_metre(metre) if metre else None, parse_tempo(beat) if beat else None),
    )


def flat(tune):
    """(key, length in quavers) of every note, ties joined; 0 is a rest."""
    found, held = [], False
    for bar in tune.melody.bars:
        for note in bar:
            key = note.pitches[-1].midi if note.pitches else 0
            if held:
                found[-1] = (key, found[-1][1] + note.length / H)
            else:
                found.append((key, note.length / H))
            held = bool(note.ties)
    return found


def heard(tune):
    """The notice that says how it was heard."""
    (notice,) = [notice for notice in tune.notices if notice.message.startswith("heard as")]
    return notice


def test_a_jig_is_heard():
    """A jig in no tempo of the file's comes back in 6/8, note for note, and how it was heard,
    why, and how far its notes were moved is said."""
    tune = read(file_of(played(JIG, 0.171)))
    assert (str(tune.metre), len(tune.bars), tune.bars[0].pickup) == ("6/8", 32, False)
    assert flat(tune) == JIG
    assert str(tune.tempo) in ("3/8 = 116", "3/8 = 117", "3/8 = 118")
    notice = heard(tune)
    assert notice.message.startswith("heard as 6/8 at 117 dotted crotchets a minute")
    assert "since " in notice.hint
    assert [n for n in tune.notices if "ms on average" in n.message]


@pytest.mark.slow
@pytest.mark.parametrize("drift", [0.0, 0.03])
@pytest.mark.parametrize("ppq", [96, 480])
@pytest.mark.parametrize(
    ("notes", "quaver", "metre"), [(JIG, 0.17, "6/8"), (REEL, 0.14, "4/4")], ids=["jig", "reel"]
)
def test_a_slow_drift_is_followed(notes, quaver, metre, ppq, drift):
    """Beats that drift by three per cent either way within half a minute are followed."""
    for seed in range(3):
        tune = read(file_of(played(notes, quaver, seed=seed, drift=drift), ppq=ppq))
        assert str(tune.metre) == metre
        wrong = sum(a != b for a, b in zip(flat(tune), notes, strict=False))
        assert (len(flat(tune)), wrong) == (len(notes), 0)


@pytest.mark.slow
def test_a_pickup_is_heard():
    """A quaver before the first bar is a pickup."""
    tune = read(file_of(played([(62, 1), *JIG[:-1], (67, 2)], 0.17)))
    assert tune.bars[0].pickup
    assert tune.bars[0].length == H
    assert str(tune.metre) == "6/8"


@pytest.mark.slow
def test_ornaments_and_a_second_voice_do_not_disturb():
    """Grace notes 45 milliseconds before their note and basses on the beats leave the beat as it
    is; the graces stay graces."""
    melody = played(JIG, 0.17)
    graces = [(on - 0.045, on - 0.01, key + 2) for on, _, key in melody[8::16]]
    bass = [(1.3 + 0.51 * n + 0.01 * (n % 3), 1.6 + 0.51 * n, 43) for n in range(64)]
    tune = read(file_of(sorted([*melody, *graces]), bass))
    assert str(tune.metre) == "6/8"
    assert len(tune.bars) == 32
    same = sum(a == b for a, b in zip(flat(tune), JIG, strict=False))
    assert same >= 0.97 * len(JIG)
    assert any(note.graces for note in tune.notes())


@pytest.mark.slow
def test_metre_and_beat_can_be_told():
    """What the player says of metre and beat is taken."""
    data = file_of(played(JIG, 0.17))
    assert str(read(data, metre="3/4").metre) == "3/4"
    assert str(read(data, metre="12/8").metre) == "12/8"
    slow = read(data, metre="6/8", beat="118")
    assert str(slow.metre) == "6/8"
    doubled = read(file_of(played(REEL, 0.14)), metre="2/4", beat="1/4=107")
    assert str(doubled.metre) == "2/4"
    assert {length for _, length in flat(doubled)} == {Fraction(1, 2)}


@pytest.mark.slow
def test_a_beat_that_is_not_there():
    """A tempo that fits no beat of the playing is said, and the file read by its own beats."""
    tune = read(file_of(played(JIG, 0.17)), metre="6/8", beat="100")
    (notice,) = [n for n in tune.notices if "no steady beat" in n.message]
    assert "--beat" in notice.hint


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5))
def test_free_playing_is_read_and_said(seed):
    """Notes by chance are read; a notice says that there is no beat, and what to do."""
    chance = Random(seed)
    onsets = sorted(chance.uniform(0, 60) for _ in range(150))
    tune = read(file_of([(t, t + 0.1, chance.randint(60, 80)) for t in onsets]))
    (notice,) = [n for n in tune.notices if "no steady beat" in n.message]
    assert "--beat" in notice.hint
    assert "--metre" in notice.hint


def test_what_follows_the_file_is_not_heard_anew():
    """Notes that go with the file's own beats, 120 a minute by default, stay on them."""
    tune = read(file_of(played(REEL[:64], 0.25, start=1)))
    assert not [n for n in tune.notices if n.message.startswith("heard as")]
    assert flat(tune) == REEL[:64]


@pytest.mark.slow
def test_a_told_signature_is_believed():
    """A time signature of 3/4 in the file is the metre, whatever the beats of the file."""
    signature = mido.MetaMessage("time_signature", numerator=3, denominator=4)
    assert str(read(file_of(played(JIG, 0.17), head=[signature])).metre) == "3/4"


def test_only_midi_is_listened_to(tmp_path):
    """Metre and beat of an ABC file are its own."""
    path = tmp_path / "a.abc"
    path.write_text("X:1\nT:Wet Slate\nM:6/8\nK:G\nGAB|\n", encoding="utf-8")
    with pytest.raises(TuneError, match="only a MIDI file"):
        read_tune(path, told=PlayedAs(beat=FeltBeats(Fraction(112))))


# -- open collections -------------------------------------------------------------


def bench(name):
    """A module of the benchmarks, which are scripts and no package."""
    folder = Path(__file__).parents[1] / "bench"
    spec = importlib.util.spec_from_file_location(f"bench_{name}", folder / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.path.insert(0, str(folder))
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(folder))
    return module


@pytest.mark.skipif(importlib.util.find_spec("music21") is None, reason="music21 is not installed")
def test_a_few_tunes_of_an_open_collection_are_heard():
    """Tunes of Ryan's collection (1883, in the music21 package), played by seed, come back in
    the metre and the values that were printed."""
    played_midi = bench("played_midi")
    for stem in ("LordGordonsReel", "ShinsAroundTheFiresideJig", "DustyBobsJig"):
        printed = played_midi.named(stem)
        assert played_midi.right(played_midi.outcome(printed, played_midi.perform(printed, 7)))


@pytest.mark.slow
@pytest.mark.skipif(importlib.util.find_spec("music21") is None, reason="music21 is not installed")
def test_tunes_of_open_collections_are_heard():
    """Of 200 tunes of open collections that the reader was not made with, forty of each metre,
    at least GOAL come back in the metre and the values that were printed."""
    played_midi = bench("played_midi")
    tunes = played_midi.drawn("report", played_midi.GOAL_SEED, 40)
    assert len(tunes) == 200
    results = [
        played_midi.outcome(one, played_midi.perform(one, played_midi.GOAL_SEED)) for one in tunes
    ]
    assert sum(result.metre for result in results) >= GOAL_METRE * len(results)
    assert sum(map(played_midi.right, results)) >= GOAL_NOTES * len(results)
