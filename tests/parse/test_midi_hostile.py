"""Broken, huge and absurd MIDI files end in an error that says what and where, and soon."""

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backing.arranging.arrange import arrange
from backing.errors import BackingError, TuneError
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.parse.midi import parse_midi, safe
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

END = bytes.fromhex("00FF2F00")
NOTE = bytes.fromhex("00903C50 8360803C40")
ABC = 'X:1\nT:Gate\nM:6/8\nL:1/8\nQ:3/8=100\nK:G\nd|"G"BAB dBG|"D"A3 A2:|\n'


def chunk(name, body):
    """A chunk with its length."""
    return name + len(body).to_bytes(4, "big") + body


def midi(*bodies, kind=1, division=480, promised=None):
    """A file of these tracks."""
    count = len(bodies) if promised is None else promised
    fields = (kind, count, division)
    header = b"".join(field.to_bytes(2, "big") for field in fields)
    return chunk(b"MThd", header) + b"".join(chunk(b"MTrk", body) for body in bodies)


def number(value):
    """A number of variable length (SMF 1.0)."""
    found = [value & 0x7F]
    while value := value >> 7:
        found.insert(0, value & 0x7F | 0x80)
    return bytes(found)


def meta(kind, body, delta=0):
    """A meta event."""
    return number(delta) + bytes([0xFF, kind]) + number(len(body)) + body


GOOD = midi(NOTE + END)
OWN = render_midi(
    perform(
        arrange(parse_abc(ABC), load_style("alternating")),
        Plan((Step(count_in=1),)),
        parse_abc(ABC),
    )
)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "this is no MIDI file"),
        (b"RIFF" + GOOD, "this is no MIDI file"),
        (GOOD[:12], "the header of the MIDI file is cut off"),
        (GOOD[:8], "the header of the MIDI file is cut off"),
        (midi(NOTE + END, kind=2), "format 2"),
        (midi(NOTE + END, kind=7), "format 7, which does not exist"),
        (midi(NOTE + END, division=0), "0 ticks a quarter note"),
        (midi(NOTE + END, division=0xE728), "film frames (SMPTE)"),
        (midi(NOTE + END, promised=3), "promises 3 tracks, the file has 1"),
        (midi(promised=0), "there is no track"),
        (GOOD[:-3], "track 1 is cut off: 10 of 13 bytes"),
        (GOOD + b"\0\1\2\3\4\5\6\7\10", "a broken chunk begins at byte 35"),
        (midi(END), "there are no notes"),
        (midi(bytes.fromhex("00994C50 8360894C40") + END), "there are only percussion"),
        (midi(NOTE + bytes.fromhex("00903C")), "track 1, tick 480: the track ends inside"),
        (midi(END, NOTE + bytes.fromhex("10903CFF")), "track 2, tick 496: an event is broken"),
        (midi(bytes.fromhex("003C50")), "track 1, tick 0: there are data where an event"),
        (midi(NOTE + bytes.fromhex("00F8")), "track 1, tick 480: the byte F8 begins no event"),
        (midi(bytes.fromhex("8180808000 903C50")), "a number is longer than four bytes"),
        (midi(meta(0x51, b"\0\0\0") + NOTE + END), "tick 0: the tempo is 0 microseconds"),
        (midi(meta(0x51, b"\0\0\1") + NOTE + END), "tick 0: the tempo is 1/4 = 40000000"),
        (midi(meta(0x51, b"\xff\xff\xff") + NOTE + END), "tick 0: the tempo is 1/4 = 3.6"),
    ],
)
def test_what_is_wrong_is_said(data, message):
    """Each fault has a message that names it, with track and tick where it lies in a track."""
    with pytest.raises(TuneError) as caught:
        parse_midi(data)
    assert message in caught.value.message


def test_a_later_tempo_that_is_absurd():
    """An absurd tempo inside the tune is told with its tick."""
    long = bytes.fromhex("00903C50") + meta(0x51, b"\0\0\1", 960) + bytes.fromhex("8700803C40")
    with pytest.raises(TuneError, match="tick 960: the tempo"):
        parse_midi(midi(long + END))


def test_a_signature_that_cannot_be_read_is_left_out():
    """A time or key signature of impossible content is left out, with a notice."""
    body = meta(0x58, b"\0\2\x18\x08") + meta(0x59, b"\x09\0") + meta(0x59, b"\1") + NOTE + END
    tune = parse_midi(midi(body))
    assert sum("signature cannot be read" in notice.message for notice in tune.notices) == 3


def test_too_many_bytes(monkeypatch):
    """A file over the limit of bytes is refused before it is looked at."""
    monkeypatch.setattr(safe, "MOST_BYTES", 20)
    with pytest.raises(TuneError, match="larger than"):
        parse_midi(GOOD)


@pytest.mark.slow
def test_too_many_messages():
    """More than 250,000 messages are refused."""
    body = bytes.fromhex("00903C50") + bytes.fromhex("003C00") * 250_000 + END
    with pytest.raises(TuneError, match="more than 250,000 messages"):
        parse_midi(midi(body))


@pytest.mark.parametrize(
    "above",
    [b"", meta(0x58, b"\4\2\x18\x08"), meta(0x58, b"\1\7\x18\x08"), meta(0x58, b"\xff\0\x18\x08")],
)
def test_a_note_at_the_end_of_time(above):
    """Two notes so far from each other that 20,000 bars lie between them are refused."""
    gap = b"".join(meta(1, b"", 0x0FFFFFFF) for _ in range(40))
    with pytest.raises(TuneError, match="more than 20,000 bars"):
        parse_midi(midi(above + NOTE + gap + NOTE + END))


@pytest.mark.slow
def test_the_longest_tune():
    """A tune of almost 20,000 bars is read."""
    gap = b"".join(meta(1, b"", 1_900_000) for _ in range(20))
    tune = parse_midi(midi(meta(0x58, b"\4\2\x18\x08") + NOTE + gap + NOTE + END))
    assert len(tune.bars) > 19_000


@pytest.mark.slow
def test_many_tracks():
    """A thousand tracks of one note each are read."""
    assert parse_midi(midi(*[NOTE + END] * 1000)).bars


@pytest.mark.slow
@pytest.mark.parametrize(
    "events",
    [
        b"".join(meta(0x58, bytes([1 + n % 9, n % 5, 24, 8]), 100) for n in range(4000)),
        b"".join(meta(0x59, bytes([n % 8, n % 2]), 100) for n in range(4000)),
        b"".join(meta(0x51, bytes([7, n % 256, 0]), 100) for n in range(4000)),
        b"".join(meta(6, b"bar %d" % n, 100) for n in range(4000)),
        b"".join(meta(6, b"A part", 0) + meta(6, b"bar 7", 1) for _ in range(4000)),
        b"".join(meta(1, b"metre: %d/8" % (n % 9 + 1), 100) for n in range(4000)),
        b"".join(meta(1, b"key: %c minor" % (65 + n % 7), 100) for n in range(4000)),
    ],
    ids=["metres", "keys", "tempi", "bars", "parts", "metres in words", "keys in words"],
)
def test_many_events(events):
    """Thousands of signatures, tempi or markers are read, or refused with a message."""
    said = "read"
    try:
        assert parse_midi(midi(events + END, NOTE * 1000 + END)).bars
    except TuneError as error:
        said = error.message
    assert said


def test_an_end_that_is_far_away():
    """An end marker behind more than 20,000 bars of its metre is refused at once."""
    above = meta(1, b"metre: 2/128") + meta(6, b"A part") + meta(6, b"bar 1")
    with pytest.raises(TuneError, match="more than 20,000 bars"):
        parse_midi(midi(above + meta(6, b"end", 0xFFFFFFF) + END, NOTE + END))


def test_notes_that_are_never_ended():
    """A note without its end is held to the end of its track, with a notice."""
    body = bytes.fromhex("00903C50 8700FF2F00")
    tune = parse_midi(midi(body))
    assert tune.melody.bars[0][0].length == Fraction(1, 2)
    assert any("never ended" in notice.message for notice in tune.notices)


def only_backing_errors(data):
    """Read; anything but a BackingError fails the test."""
    try:
        tune = parse_midi(data)
    except BackingError:
        return
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        assert sum(note.length for note in notes) == bar.length
        assert all(note.length > 0 for note in notes)


LIMITS = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.slow
@LIMITS
@given(st.binary(max_size=200))
def test_any_bytes(data):
    """Random bytes raise nothing but a BackingError."""
    only_backing_errors(data)


@pytest.mark.slow
@LIMITS
@given(st.lists(st.binary(max_size=60), max_size=3), st.integers(0, 0xFFFF), st.integers(0, 2))
def test_any_track(bodies, division, kind):
    """Random bytes as the content of tracks raise nothing but a BackingError."""
    only_backing_errors(midi(*[body + END for body in bodies], kind=kind, division=division))


EVENT = st.one_of(
    st.tuples(st.just("key"), st.integers(0, 15), st.integers(0, 127), st.integers(0, 127)),
    st.tuples(st.just("meta"), st.sampled_from([1, 3, 6, 0x51, 0x58, 0x59]),
              st.binary(max_size=6)),
    st.tuples(st.just("marker"), st.sampled_from([b"bar 1", b"A part", b"count-in", b"G", b"end"])),
    st.tuples(st.just("text"), st.sampled_from([
        b"key: D dorian", b"key: none", b"key: C", b"key: H", b"metre: 4/4", b"metre: none",
        b"metre: (2+2+3)/8", b"metre: (0+4)/4", b"metre: 4/4 felt in 2/2",
        b"metre: 4/4 felt in 0/0", b"metre: 99999999999/1", b"dance: jig",
    ])),
)  # fmt: skip


def event_bytes(event, delta):
    """An event after so many ticks."""
    if event[0] == "key":
        return number(delta) + bytes([0x90 | event[1], event[2], event[3]])
    if event[0] == "meta":
        return meta(event[1], event[2], delta)
    return meta(6 if event[0] == "marker" else 1, event[1], delta)


@pytest.mark.slow
@LIMITS
@given(
    st.lists(st.tuples(EVENT, st.integers(0, 2000)),
             max_size=30),
    st.sampled_from([24, 96, 480, 960, 32767]),
)  # fmt: skip
def test_any_events(events, division):
    """Files of any events at any time raise nothing but a BackingError, and the notes of
    each bar of what is read add up to its length."""
    body = b"".join(event_bytes(event, delta) for event, delta in events)
    only_backing_errors(midi(body + END, division=division))


@pytest.mark.slow
@LIMITS
@given(
    st.lists(st.tuples(EVENT, st.integers(0, 2000)), min_size=1, max_size=12),
    st.sampled_from([b"metre: 4/4", b"metre: none", b"metre: (2+2)/4", b"metre: 1/128"]),
    st.integers(1, 40_000),
)
def test_files_that_claim_to_be_ours(events, metre, end):
    """Whatever stands between the words and markers of our own files, nothing but a
    BackingError is raised, and the notes of each bar add up to its length."""
    above = meta(1, metre) + meta(6, b"A part") + meta(6, b"bar 1") + meta(6, b"end", end)
    body = b"".join(event_bytes(event, delta) for event, delta in events)
    only_backing_errors(midi(above + END, NOTE + body + END))


@pytest.mark.slow
@LIMITS
@given(st.lists(st.tuples(st.integers(0, len(OWN) - 1), st.integers(0, 255)), max_size=8))
def test_mutated_files(changes):
    """A good file with some bytes changed raises nothing but a BackingError."""
    data = bytearray(OWN)
    for place, value in changes:
        data[place] = value
    only_backing_errors(bytes(data))


@pytest.mark.slow
@LIMITS
@given(st.integers(0, len(OWN)))
def test_truncated_files(length):
    """A good file cut off anywhere raises nothing but a BackingError."""
    only_backing_errors(OWN[:length])
