"""Messages as they go over a wire, in bytes (MIDI 1.0 Detailed Specification)."""

from collections.abc import Iterable

CLOCK, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"
SUSTAIN, ALL_SOUND_OFF, RESET_CONTROLLERS, ALL_NOTES_OFF = 64, 120, 121, 123


def note_on(channel: int, key: int, velocity: int) -> bytes:
    """A key goes down; channels count from 1.

    >>> note_on(10, 76, 110).hex(" ")
    '99 4c 6e'
    """
    return bytes((0x90 | channel - 1, key, velocity))


def note_off(channel: int, key: int) -> bytes:
    """A key goes up."""
    return bytes((0x80 | channel - 1, key, 0))


def is_note_off(message: bytes) -> bool:
    """True for the end of a note."""
    return message[0] & 0xF0 == 0x80


def controller(channel: int, number: int, value: int) -> bytes:
    """A controller changes."""
    return bytes((0xB0 | channel - 1, number, value))


def program(channel: int, number: int) -> bytes:
    """An instrument is chosen; General MIDI programs count from 1."""
    return bytes((0xC0 | channel - 1, number - 1))


def song_position(sixteenths: int) -> bytes:
    """Where the next Continue begins, in sixteenths (six clocks) from the song's start.

    >>> song_position(8).hex(" "), song_position(200).hex(" ")
    ('f2 08 00', 'f2 48 01')
    """
    sixteenths = min(max(sixteenths, 0), 0x3FFF)
    return bytes((0xF2, sixteenths & 0x7F, sixteenths >> 7))


def quiet(channels: Iterable[int]) -> Iterable[bytes]:
    """Whatever still sounds ends: pedal up, all notes off, all sound off, controllers reset.

    Receivers may ignore any of these; notes known to sound are ended one by one before.
    """
    for channel in channels:
        for number in (SUSTAIN, ALL_NOTES_OFF, ALL_SOUND_OFF, RESET_CONTROLLERS):
            yield controller(channel, number, 0)
