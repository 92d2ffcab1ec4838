"""Laws of the files that we write, tried on invented performances."""

from fractions import Fraction
from io import BytesIO

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backing.arranging.arrangement import Role
from backing.render.midi import render_midi

pytestmark = pytest.mark.slow

TRIES = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
ROLES = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)
BARS = 4


@st.composite
def lines(draw):
    """Events of one track, in order, overlapping and doubled as they please."""
    found = []
    for _ in range(draw(st.integers(0, 12))):
        onset = draw(st.fractions(0, BARS - 1, max_denominator=48))
        length = draw(st.fractions(0, 1, max_denominator=96)) or Fraction(1, 100_000)
        pitches = draw(st.lists(st.integers(58, 63), min_size=1, max_size=3, unique=True))
        found.append((onset, length, pitches, draw(st.integers(1, 127))))
    return sorted(found, key=lambda event: event[0])


ALL_LINES = st.fixed_dictionaries({role: lines() for role in ROLES})


def messages(data):
    """(tick, message) of each track."""
    found = []
    for track in mido.MidiFile(file=BytesIO(data), charset="utf-8").tracks:
        at, line = 0, []
        for message in track:
            assert message.time >= 0
            at += message.time
            line.append((at, message))
        found.append(line)
    return found


def sounding(data):
    """(channel, key, tick on, tick off) of every note; each on must find its off."""
    found = []
    for line in messages(data):
        open_keys = {}
        for tick, message in line:
            if message.type == "note_on":
                assert message.velocity > 0
                assert (message.channel, message.note) not in open_keys
                open_keys[message.channel, message.note] = tick
            elif message.type == "note_off":
                onset = open_keys.pop((message.channel, message.note))
                assert tick > onset
                found.append((message.channel, message.note, onset, tick))
        assert not open_keys
    return sorted(found)


@TRIES
@given(ALL_LINES)
def test_every_note_on_has_its_note_off(build, tracks):
    """Every note-on is ended once, later, and never struck while it sounds; no delta time
    is negative; every track ends last."""
    data = render_midi(build(tracks, bars=BARS))
    assert len(sounding(data)) <= sum(len(e[2]) for line in tracks.values() for e in line)
    for line in messages(data):
        assert line[-1][1].type == "end_of_track"


@TRIES
@given(ALL_LINES)
def test_one_track_holds_the_same_notes(build, tracks):
    """Format 0 holds exactly the notes and the tempo and signatures of format 1."""
    performance = build(tracks, bars=BARS)
    one, zero = render_midi(performance), render_midi(performance, single_track=True)
    assert sounding(zero) == sounding(one)
    (single,) = messages(zero)
    metas = [(tick, message.hex()) for tick, message in single if message.is_meta]
    first = [(tick, message.hex()) for tick, message in messages(one)[0] if message.is_meta]
    assert metas == first


@TRIES
@given(ALL_LINES)
def test_every_onset_is_struck(build, tracks):
    """Each key of each event is struck at the tick nearest to its onset, once."""
    data = render_midi(build(tracks, bars=BARS))
    channels = {Role.MELODY: 0, Role.BASS: 1, Role.CHORDS: 2, Role.CLICK: 9}
    expected = {
        (channels[role], pitch, (onset * 7680 + 1) // 2)
        for role, line in tracks.items()
        for onset, _, pitches, _ in line
        for pitch in pitches
    }
    assert {(channel, key, onset) for channel, key, onset, _ in sounding(data)} == expected


@TRIES
@given(ALL_LINES, st.sampled_from(ROLES))
def test_muting_takes_one_track_out_of_the_file(build, tracks, role):
    """A muted track is missing from the file and every other track is the same."""
    performance = build(tracks, bars=BARS)
    muted = performance._replace(
        tracks=tuple(t._replace(muted=t.role is role) for t in performance.tracks),
    )
    before, after = messages(render_midi(performance)), messages(render_midi(muted))
    place = 1 + list(tracks).index(role)
    assert after == before[:place] + before[place + 1 :]


@TRIES
@given(ALL_LINES)
def test_the_same_performance_is_the_same_file(build, tracks):
    """Rendering twice gives the same bytes; rendering changes nothing."""
    performance = build(tracks, bars=BARS)
    first = render_midi(performance)
    assert render_midi(performance, single_track=True) != first
    assert render_midi(performance) == first
