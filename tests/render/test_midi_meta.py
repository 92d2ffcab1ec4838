"""Delta times, tempo, time and key signatures, as bytes and as mido reads them.

Standard MIDI Files 1.0 (RP-001).
"""

from fractions import Fraction

import pytest

from backing.music.key import parse_key
from backing.music.metre import parse_metre
from backing.render.midi import key_name, render_midi
from backing.render.presses import ticks

# SMF 1.0, variable-length quantities: the table of the specification
QUANTITIES = [
    (0x00, "00"), (0x40, "40"), (0x7F, "7F"), (0x80, "81 00"), (0x2000, "C0 00"),
    (0x3FFF, "FF 7F"), (0x4000, "81 80 00"), (0x100000, "C0 80 00"), (0x1FFFFF, "FF FF 7F"),
    (0x200000, "81 80 80 00"), (0x8000000, "C0 80 80 00"), (0xFFFFFFF, "FF FF FF 7F"),
    # computed
    (240, "81 70"), (480, "83 60"), (960, "87 40"), (1440, "8B 20"), (1920, "8F 00"),
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("tick", "text"), QUANTITIES, ids=[row[1] for row in QUANTITIES])
def test_delta_times(melody_only, tick, text):
    """The time before a note is written as the specification's table says."""
    onset = Fraction(tick, 3840)
    performance = melody_only((onset, "1/4", 67), bars=int(onset) + 2)
    volume, note = bytes.fromhex("B0 07 6E"), bytes.fromhex("90 43 5A")
    assert volume + bytes.fromhex(text) + note in render_midi(performance)


SIGNATURES = [
    ("2/4", "02 02 18 08"),
    ("3/4", "03 02 18 08"),
    ("4/4", "04 02 18 08"),
    ("2/2", "02 01 30 08"),
    ("3/2", "03 01 30 08"),
    ("6/8", "06 03 24 08"),
    ("9/8", "09 03 24 08"),
    ("12/8", "0C 03 24 08"),
    ("3/8", "03 03 24 08"),
    ("5/4", "05 02 18 08"),
    ("6/4", "06 02 48 08"),
    ("7/8", "07 03 0C 08"),
    ("5/8", "05 03 0C 08"),
    ("11/8", "0B 03 0C 08"),
]


@pytest.mark.parametrize(("metre", "text"), SIGNATURES, ids=[row[0] for row in SIGNATURES])
def test_time_signatures(melody_only, metre, text):
    """Numerator, the denominator's power of two, MIDI clocks a click, 32nds a quarter.

    SMF 1.0: 24 clocks a quarter, so a dotted crotchet's click is 36 (hex 24); where beats
    are uneven it is what divides them all, a choice of ours."""
    data = render_midi(melody_only(("0", "1/8", 67), metre=metre))
    assert data.count(bytes.fromhex("FF 58 04")) == 1
    assert bytes.fromhex("FF 58 04 " + text) in data


def test_a_pickup_has_a_signature_of_its_own(melody_only):
    """A pickup of a quaver stands under 1/8, then 6/8 begins."""
    data = render_midi(melody_only(("-1/8", "1/8", 67), metre="6/8", pickup="1/8"))
    first = data.index(bytes.fromhex("FF 58 04 01 03"))
    assert first < data.index(bytes.fromhex("83 60 FF 58 04 06 03 24 08"))
    assert data.count(bytes.fromhex("FF 58 04")) == 2


TEMPI = [
    ("1/4", 40, "16 E3 60"),
    ("1/4", 60, "0F 42 40"),
    ("1/4", 80, "0B 71 B0"),
    ("1/4", 90, "0A 2C 2B"),
    ("1/4", 100, "09 27 C0"),
    ("1/4", 120, "07 A1 20"),
    ("1/4", 144, "06 5B 9B"),
    ("3/8", 80, "07 A1 20"),
    ("3/8", 60, "0A 2C 2B"),
    ("3/8", 120, "05 16 15"),
    ("3/8", 90, "06 C8 1C"),
    ("1/2", 80, "05 B8 D8"),
    ("1/2", 100, "04 93 E0"),
    ("1/8", 210, "08 B8 25"),
    ("1/8", 10, "B7 1B 00"),
    ("1/2", 400, "01 24 F8"),
]


@pytest.mark.parametrize(
    ("unit", "beats", "text"), TEMPI, ids=[f"{row[0]}={row[1]}" for row in TEMPI]
)
def test_tempi(melody_only, unit, beats, text):
    """A tempo is microseconds a quarter in three bytes, rounded once (60,000,000 / quarters)."""
    data = render_midi(melody_only(("0", "1/8", 67), tempo=(unit, beats)))
    assert bytes.fromhex("FF 51 03 " + text) in data


KEYS = [
    ("C", "00 00"), ("G", "01 00"), ("D", "02 00"), ("A", "03 00"), ("E", "04 00"),
    ("B", "05 00"), ("F#", "06 00"), ("C#", "07 00"), ("F", "FF 00"), ("Bb", "FE 00"),
    ("Eb", "FD 00"), ("Ab", "FC 00"), ("Db", "FB 00"), ("Gb", "FA 00"), ("Cb", "F9 00"),
    ("Am", "00 01"), ("Em", "01 01"), ("Bm", "02 01"), ("F#m", "03 01"), ("Dm", "FF 01"),
    ("Gm", "FE 01"), ("Abm", "F9 01"), ("A#m", "07 01"),
    # modes: the mode's signature, minor by its third (a choice of ours: MIDI has no modes)
    ("Ador", "01 01"), ("Edor", "02 01"), ("Ddor", "00 01"), ("Amix", "02 00"),
    ("Dmix", "01 00"), ("Gmix", "00 00"), ("Flyd", "00 00"), ("Ephr", "00 01"),
    ("Bloc", "00 01"), ("Aaeo", "00 01"), ("HP", "02 00"), ("none", "00 00"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "text"), KEYS, ids=[row[0] for row in KEYS])
def test_key_signatures(melody_only, key, text):
    """Sharps or flats as a signed byte, then 0 for major and 1 for minor (SMF 1.0)."""
    data = render_midi(melody_only(("0", "1/8", 67), key=key))
    assert data.count(bytes.fromhex("FF 59 02")) == 1
    assert bytes.fromhex("FF 59 02 " + text) in data


@pytest.mark.parametrize("step", "CDEFGAB")
@pytest.mark.parametrize("sign", ["b", "", "#"])
@pytest.mark.parametrize("mode", ["", "m", "dor", "mix", "phr", "lyd", "loc"])
def test_every_key_has_a_name_in_midi(step, sign, mode):
    """However remote a key, it gets the name of a signature of at most seven signs."""
    name = key_name(parse_key(step + sign + mode))
    assert abs(parse_key(name).fifths) <= 7
    assert parse_key(name).minor == parse_key(step + sign + mode).minor


TICKS = [
    ("0", 0), ("1", 3840), ("1/4", 960), ("1/8", 480), ("3/8", 1440), ("1/12", 320),
    ("1/32", 120), ("-1/8", -480), ("1/7", 549), ("3/7", 1646), ("1/9", 427), ("1/7680", 1),
    ("1/7681", 0), ("-1/7680", 0), ("-1/7679", -1), ("1/11", 349), ("1000000/7", 548571429),
]  # fmt: skip


@pytest.mark.parametrize(("position", "tick"), TICKS, ids=[row[0] for row in TICKS])
def test_positions_become_ticks_once(position, tick):
    """A tick is floor(position x 3840 + 1/2): the nearest, halves later."""
    assert ticks(Fraction(position)) == tick


@pytest.mark.slow
def test_septuplets_do_not_drift(melody_only, tracks_of):
    """A hundred septuplet quavers end exactly where their sum does: each tick is rounded
    from its absolute position, never summed."""
    notes = [(Fraction(n, 28), "1/28", 60 + n % 7) for n in range(700)]
    found = tracks_of(render_midi(melody_only(*notes, bars=25)))["melody"]
    ons = [tick for tick, message in found if message.type == "note_on"]
    assert ons == [(2 * 3840 * n + 28) // 56 for n in range(700)]
    assert max(tick for tick, message in found if message.type == "note_off") == 96000


def test_no_metre_is_a_signature_of_the_bars_length(melody_only):
    """A bar without metre that lasts four crotchets stands under 4/4."""
    assert parse_metre("none").free
    data = render_midi(melody_only(("0", "1", 67), metre="none"))
    assert bytes.fromhex("FF 58 04 04 02 18 08") in data
