"""What a synthesiser is told before the first note."""

import pytest

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import CHANNELS, LEVELS, Role
from backing.live.opening import opening

ROLES = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)


def told(a4=440.0):
    """The messages by role."""
    found = {role: [] for role in ROLES}
    by_channel = {CHANNELS[role] - 1: role for role in ROLES}
    for message in opening([make_track(role, ()) for role in ROLES], a4):
        found[by_channel[message[0] & 0xF]].append(message.hex(" "))
    return found


def test_each_channel_gets_its_instrument_and_volume():
    """The melody is told to be an accordion, bass and chords a tango accordion (22 and 24 in the
    General MIDI level 1 sound set, RP-003), and all their volume, controller 7."""
    found = told()
    assert [found[role][0][0] for role in ROLES] == ["c", "c", "c", "b"]
    programs = [int(found[role][0].split()[1], 16) + 1 for role in ROLES[:3]]
    assert programs == [22, 24, 24]
    for role in ROLES:
        status = f"b{CHANNELS[role] - 1:x}"
        assert f"{status} 07 {LEVELS[role]:02x}" in found[role]


def test_the_click_is_told_its_volume_only():
    """Channel 10 is percussion (General MIDI level 1): the click needs no instrument, and no
    tuning."""
    assert told(442.0)[Role.CLICK] == [f"b9 07 {LEVELS[Role.CLICK]:02x}"]


@pytest.mark.parametrize(("a4", "msb", "lsb"), [(442.0, 69, 3), (438.0, 58, 122)])
def test_another_pitch_is_told_as_fine_tuning(a4, msb, lsb):
    """A at 442 or 438 Hz is registered parameter 1 in hundredths of 8192nds (MIDI 1.0: 14 bits,
    8192 is none, 100 cents either way), closed by the null parameter; before it the channel is
    tuned back, for resetting all controllers does not (RP-015)."""
    for role in (Role.MELODY, Role.BASS, Role.CHORDS):
        controls = [message.split()[1:] for message in told(a4)[role][1:]]
        numbers = [(int(number, 16), int(value, 16)) for number, value in controls]
        numbers.remove((7, LEVELS[role]))
        back, to = numbers[:10], numbers[10:]
        assert back[:4] == [(101, 0), (100, 2), (6, 64), (38, 0)]
        assert back[4:] == [(101, 0), (100, 1), (6, 64), (38, 0), (101, 127), (100, 127)]
        assert to == [(101, 0), (100, 1), (6, msb), (38, lsb), (101, 127), (100, 127)]
