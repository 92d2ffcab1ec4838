"""Whole files, byte by byte, written out by hand from the standard.

Standard MIDI Files 1.0 (RP-001): header chunk, track chunks, delta times as
variable-length quantities, running status, meta events.
"""

from io import BytesIO

import mido
import pytest

from backing.arranging.arrangement import PlacedText, Role
from backing.practice.performance import Performance
from backing.render.midi import render_midi

JIG = """
4D 54 68 64  00 00 00 06     MThd, six bytes follow
00 01  00 03  03 C0          format 1, three tracks, 960 ticks a quarter

4D 54 72 6B  00 00 00 54     MTrk, 84 bytes: the conductor
00 FF 03 03 4A 69 67         track name "Jig"
00 FF 01 03 4A 69 67         text "Jig"
00 FF 51 03 07 A1 20         500,000 microseconds a quarter: 3/8 = 80
00 FF 01 0A 6D 65 74 72 65 3A 20 36 2F 38   text "metre: 6/8"
00 FF 58 04 06 03 24 08      6/8 (8 is 2 to the 3), a click each 36 clocks
00 FF 01 0C 6B 65 79 3A 20 47 20 6D 61 6A 6F 72   text "key: G major"
00 FF 59 02 01 00            one sharp, major
00 FF 06 05 62 61 72 20 31   marker "bar 1"
00 FF 01 01 47               text "G"
96 40 FF 2F 00               2880 ticks (22 x 128 + 64) later: end of track

4D 54 72 6B  00 00 00 1F     MTrk, 31 bytes: the melody
00 FF 03 06 6D 65 6C 6F 64 79   track name "melody"
00 C0 15                     channel 1: program 22, accordion
00 B0 07 6E                  channel 1: volume 110
00 90 43 5A                  channel 1: G4 on, velocity 90
8B 20 80 43 00               1440 ticks (11 x 128 + 32) later: G4 off
8B 20 FF 2F 00               1440 later: end of track

4D 54 72 6B  00 00 00 23     MTrk, 35 bytes: the click
00 FF 03 05 63 6C 69 63 6B   track name "click"
00 B9 07 5A                  channel 10: volume 90; percussion has no program
00 99 4C 6E                  key 76, high wood block, velocity 110
78 89 4C 00                  120 ticks later: off
8A 28 99 4D 58               1320 (10 x 128 + 40) later: key 77, low wood block, 88
78 89 4D 00                  120 later: off
8A 28 FF 2F 00               1320 later: end of track
"""

POLKA = """
4D 54 68 64  00 00 00 06     MThd, six bytes follow
00 00  00 01  03 C0          format 0, one track, 960 ticks a quarter

4D 54 72 6B  00 00 00 82     MTrk, 130 bytes: all in one
00 FF 03 05 C3 89 E2 99 AD   track name "É♭" in UTF-8
00 FF 01 05 C3 89 E2 99 AD   text "É♭"
00 C0 15                     channel 1: program 22, accordion
00 B0 07 6E                  channel 1: volume 110
00 C1 17                     channel 2: program 24, tango accordion
00 B1 07 58                  channel 2: volume 88
00 FF 51 03 0F 42 40         1,000,000 microseconds a quarter
00 FF 01 0A 6D 65 74 72 65 3A 20 32 2F 34   text "metre: 2/4"
00 FF 58 04 01 03 0C 08      1/8, the pickup; its click would be 12 clocks
00 FF 01 0D 6B 65 79 3A 20 45 20 64 6F 72 69 61 6E   text "key: E dorian"
00 FF 59 02 02 01            E Dorian: two sharps, minor by its third
00 90 47 5A                  channel 1: B4 on
83 60 80 47 00               480 ticks (3 x 128 + 96) later: B4 off, before what follows
00 FF 58 04 02 02 18 08      2/4 from here, 24 clocks
00 90 40 5A                  channel 1: E4 on; the melody before the bass
00 91 28 64                  channel 2: E2 on, velocity 100
00 34 64                     running status: E3 on
83 60 81 28 00               480 later, channel 2: E2 off
00 34 00                     running status: E3 off
83 60 80 40 00               480 later, channel 1: E4 off
87 40 FF 2F 00               960 (7 x 128 + 64) later: end of track
"""


def bytes_of(listing: str) -> bytes:
    """The bytes of a listing: on each line what stands before its comment."""
    found = bytearray()
    for line in listing.splitlines():
        for word in line.split():
            if len(word) != 2 or not set(word) <= set("0123456789ABCDEF"):
                break
            found.append(int(word, 16))
    return bytes(found)


@pytest.fixture
def jig(build) -> Performance:
    """One bar of a jig: a note and two clicks."""
    performance = build(
        {
            Role.MELODY: [("0", "3/8", (67,), 90)],
            Role.CLICK: [("0", "1/32", (76,), 110), ("3/8", "1/32", (77,), 88)],
        },
        metre="6/8",
        tempo=("3/8", 80),
        title="Jig",
    )
    return performance._replace(markers=(PlacedText(0, "bar 1"),), chords=(PlacedText(0, "G"),))


@pytest.fixture
def polka(build) -> Performance:
    """A pickup and one bar of a polka: melody and bass."""
    return build(
        {
            Role.MELODY: [("-1/8", "1/8", (71,), 90), ("0", "1/4", (64,), 90)],
            Role.BASS: [("0", "1/8", (40, 52), 100)],
        },
        metre="2/4",
        key="EDor",
        tempo=("1/4", 60),
        pickup="1/8",
        title="É♭",
    )


def test_format_1(jig):
    """A bar of a jig with its click is this file of format 1."""
    assert render_midi(jig).hex(" ") == bytes_of(JIG).hex(" ")


def test_format_0(polka):
    """A pickup and a bar of a polka are this file of format 0."""
    assert render_midi(polka, single_track=True).hex(" ") == bytes_of(POLKA).hex(" ")


def test_the_chunk_lengths_add_up():
    """The chunk lengths written out by hand are those of the chunks."""
    for listing, chunks in ((JIG, 3), (POLKA, 1)):
        data, at = bytes_of(listing), 14
        for _ in range(chunks):
            assert data[at : at + 4] == b"MTrk"
            at += 8 + int.from_bytes(data[at + 4 : at + 8])
        assert at == len(data)


TINY = {
    # a header, 6/8, 120 quarters a minute, G major, one quarter of C4 at 480 ticks
    "one note": (
        "4D 54 68 64 00 00 00 06 00 00 00 01 01 E0 4D 54 72 6B 00 00 00 22 00 FF 51 03 07 A1 20 "
        "00 FF 58 04 06 03 24 08 00 FF 59 02 01 00 00 90 3C 50 83 60 80 3C 40 00 FF 2F 00",
        0.5,
    ),
    # running status: C4 and D4, ended by note-ons of velocity 0, at the tempo that holds
    # where a file gives none (120 quarters a minute)
    "running status": (
        "4D 54 68 64 00 00 00 06 00 00 00 01 01 E0 4D 54 72 6B 00 00 00 13 00 90 3C 50 83 60 3C 00 "
        "00 3E 50 83 60 3E 00 00 FF 2F 00",
        1.0,
    ),
}


@pytest.mark.parametrize(("text", "seconds"), TINY.values(), ids=TINY.keys())
def test_the_library_keeps_to_the_standard(text, seconds):
    """mido, which we rest on, reads a file written by hand from SMF 1.0, knows how long it
    lasts, and writes the same bytes back."""
    data = bytes.fromhex(text)
    file = mido.MidiFile(file=BytesIO(data))
    assert file.length == pytest.approx(seconds)
    out = BytesIO()
    file.save(file=out)
    assert out.getvalue() == data
