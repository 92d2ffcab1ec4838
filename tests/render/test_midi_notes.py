"""Notes in a file: their order, their ends, their channels, their names.

Standard MIDI Files 1.0 (RP-001) and General MIDI 1 (RP-003).
"""

from fractions import Fraction
from io import BytesIO

import mido
import pytest

from backing.arranging.arrangement import PlacedText, Role
from backing.render.midi import render_midi


def notes(messages):
    """(tick, "on" or "off", key) of each note message."""
    return [
        (tick, message.type.removeprefix("note_"), message.note)
        for tick, message in messages
        if message.type in ("note_on", "note_off")
    ]


OVERLAPS = {
    "one after the other": (
        [("0", "1/4", 67), ("1/4", "1/4", 67)],
        [(0, "on", 67), (960, "off", 67), (960, "on", 67), (1920, "off", 67)],
    ),
    "two keys meet": (
        [("0", "1/4", 67), ("1/4", "1/4", 69)],
        [(0, "on", 67), (960, "off", 67), (960, "on", 69), (1920, "off", 69)],
    ),
    "struck again while it sounds": (
        [("0", "1/2", 67), ("1/4", "1/2", 67)],
        [(0, "on", 67), (960, "off", 67), (960, "on", 67), (2880, "off", 67)],
    ),
    "struck twice at once, the longer stays": (
        [("0", "1/4", 67), ("0", "1/2", 67)],
        [(0, "on", 67), (1920, "off", 67)],
    ),
    "another key over it": (
        [("0", "1/2", 67), ("1/4", "1/2", 69)],
        [(0, "on", 67), (960, "on", 69), (1920, "off", 67), (2880, "off", 69)],
    ),
    "shorter than a tick": (
        [("0", "1/100000", 67)],
        [(0, "on", 67), (1, "off", 67)],
    ),
    "shorter than a tick, off the grid": (
        [("1/7", "1/100000", 67)],
        [(549, "on", 67), (550, "off", 67)],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("events", "expected"), OVERLAPS.values(), ids=OVERLAPS.keys())
def test_ons_and_offs(melody_only, tracks_of, events, expected):
    """Every note lasts a tick at least and has its own off; at one tick offs come first."""
    assert notes(tracks_of(render_midi(melody_only(*events)))["melody"]) == expected


def test_melody_and_click_come_before_the_left_hand(build, tracks_of):
    """In a single track, at one tick, offs come first, then click, melody, bass, chords, so
    that a slow wire delays the tune least."""
    line = [("0", "1/4", (60,), 90), ("1/4", "1/4", (60,), 90)]
    roles = (Role.CHORDS, Role.BASS, Role.MELODY, Role.CLICK)
    data = render_midi(build(dict.fromkeys(roles, line)), single_track=True)
    (messages,) = tracks_of(data).values()
    at_960 = [
        (message.type, message.channel)
        for tick, message in messages
        if tick == 960 and message.type.startswith("note")
    ]
    assert {kind for kind, _ in at_960[:4]} == {"note_off"}
    assert at_960[4:] == [("note_on", channel) for channel in (9, 0, 1, 2)]


def test_a_muted_track_is_left_out(build, tracks_of):
    """A muted track is not in the file; the others are as they were."""
    line = [("0", "1/4", (60,), 90)]
    performance = build({Role.MELODY: line, Role.BASS: line})
    whole = tracks_of(render_midi(performance))
    melody, bass = performance.tracks
    muted = tracks_of(render_midi(performance._replace(tracks=(melody._replace(muted=True), bass))))
    assert list(muted) == ["Hand-made", "bass"]
    assert muted["bass"] == whole["bass"]


def test_all_muted_leaves_the_conductor(build, tracks_of):
    """With every track muted the file still holds the tempo and lasts as long."""
    performance = build({Role.MELODY: [("0", "1/4", (60,), 90)]})
    muted = performance._replace(tracks=(performance.tracks[0]._replace(muted=True),))
    data = render_midi(muted)
    assert list(tracks_of(data)) == ["Hand-made"]
    assert mido.MidiFile(file=BytesIO(data)).length == pytest.approx(2.0)


NAMES = [
    "Bobeldijk",
    "An Dro à Ýann",
    "Polka in B♭",
    "Über den Fluß; Ça ira — “Dañs”",
    "Полька",
    "𝄞 clef",
    "",
]


@pytest.mark.parametrize("title", NAMES)
@pytest.mark.parametrize("single_track", [False, True])
def test_titles_are_utf_8(build, tracks_of, title, single_track):
    """A title with any letters stands in the file in UTF-8.

    SMF 1.0 names no character set for text; UTF-8 is a choice of ours."""
    performance = build({Role.MELODY: [("0", "1/4", (60,), 90)]}, title=title)
    data = render_midi(performance, single_track=single_track)
    encoded = title.encode("utf-8")
    name = b"\xff\x03" + bytes([len(encoded)]) + encoded
    assert data[22:].startswith(b"\0" + name)
    assert next(iter(tracks_of(data))) == title


def test_a_long_title_is_whole(build, tracks_of):
    """A title of 300 letters, whose length needs two bytes, comes back whole."""
    performance = build({Role.MELODY: [("0", "1/4", (60,), 90)]}, title="é" * 300)
    assert next(iter(tracks_of(render_midi(performance)))) == "é" * 300


def test_markers_and_chord_symbols(build, tracks_of):
    """Markers are marker events; chord symbols, and metre and key in words, are text events,
    each at its tick."""
    performance = build({Role.MELODY: [("0", "1/4", (60,), 90)]})._replace(
        markers=(PlacedText(Fraction(0), "A part"), PlacedText(Fraction(1, 2), "bar 2")),
        chords=(PlacedText(Fraction(1, 4), "B♭7"),),
    )
    found = [
        (tick, message.type, message.text)
        for tick, message in tracks_of(render_midi(performance))["Hand-made"]
        if message.type in ("text", "marker")
    ]
    assert found == [
        (0, "text", "Hand-made"), (0, "text", "metre: 4/4"), (0, "text", "key: G major"),
        (0, "marker", "A part"),
        (960, "text", "B♭7"), (1920, "marker", "bar 2"),
    ]  # fmt: skip


def test_channels_and_programs(build, tracks_of):
    """Melody, bass, chords and click have channels 1, 2, 3 and 10; the melody is an
    accordion, the left hand a tango accordion, percussion has no program.

    General MIDI 1 sound set: 22 accordion, 24 tango accordion (numbers from 1)."""
    line = [("0", "1/4", (60,), 90)]
    performance = build(dict.fromkeys((Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK), line))
    found = {
        name: [
            (message.type, message.channel + 1, getattr(message, "program", -2) + 1)
            for _, message in messages
            if message.type in ("program_change", "note_on")
        ]
        for name, messages in tracks_of(render_midi(performance)).items()
    }
    assert found == {
        "Hand-made": [],
        "melody": [("program_change", 1, 22), ("note_on", 1, -1)],
        "bass": [("program_change", 2, 24), ("note_on", 2, -1)],
        "chords": [("program_change", 3, 24), ("note_on", 3, -1)],
        "click": [("note_on", 10, -1)],
    }


def test_formats_and_resolution(build):
    """Format 1 has a conductor and a track a role, format 0 one track; 960 ticks a quarter."""
    line = [("0", "1/4", (60,), 90)]
    performance = build({Role.MELODY: line, Role.CLICK: line})
    one = mido.MidiFile(file=BytesIO(render_midi(performance)))
    zero = mido.MidiFile(file=BytesIO(render_midi(performance, single_track=True)))
    assert (one.type, len(one.tracks), one.ticks_per_beat) == (1, 3, 960)
    assert (zero.type, len(zero.tracks), zero.ticks_per_beat) == (0, 1, 960)


def test_tempo_and_signatures_stand_in_the_first_track(build, tracks_of):
    """In format 1 tempo, time and key signature are in the first track only (SMF 1.0)."""
    line = [("0", "1/4", (60,), 90)]
    found = tracks_of(render_midi(build({Role.MELODY: line, Role.CLICK: line})))
    kinds = {"set_tempo", "time_signature", "key_signature"}
    holding = {
        name: kinds & {message.type for _, message in messages} for name, messages in found.items()
    }
    assert holding == {"Hand-made": kinds, "melody": set(), "click": set()}


def test_every_track_ends_with_the_performance(build, tracks_of):
    """Every track's end stands at the end of the last bar, also after its last note."""
    found = tracks_of(render_midi(build({Role.MELODY: [("0", "1/4", (60,), 90)]}, bars=3)))
    for messages in found.values():
        tick, message = messages[-1]
        assert (tick, message.type) == (3 * 3840, "end_of_track")
