"""The keys and modes that lie on a box."""

import pytest

from backing.box.keys import keys_on, lies_on
from backing.box.layout import Layout
from backing.files import box_names, load_box
from backing.music.key import MODES, Key, parse_key
from backing.music.pitch import parse_pitch

CLASSES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]
TONICS = [("C", 0), ("D", -1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("F", 1), ("G", 0),
          ("A", -1), ("A", 0), ("B", -1), ("B", 0)]  # fmt: skip


def at_hand(box: Layout) -> set[int]:
    """The pitch classes that a box has, accidental buttons too."""
    return {midi % 12 for button in box.buttons for midi in (button.push, button.pull)}


def missing(scale: set[int], box: Layout) -> set[str]:
    """What the rows lack of a scale."""
    own = {midi % 12 for b in box.buttons if not b.accidental for midi in (b.push, b.pull)}
    return {CLASSES[tone] for tone in scale - own}


@pytest.mark.parametrize(
    ("name", "major", "mixolydian", "dorian", "minor", "lydian", "phrygian"),
    [
        ("D/G", "D G", "A D", "A E", "E B", "C G", "F# B"),
        ("G/C", "G C", "D G", "D A", "A E", "F C", "B E"),
        ("A/D", "A D", "E A", "E B", "B F#", "G D", "C# F#"),
        ("C/F", "C F", "G C", "G D", "D A", "Bb F", "E A"),
    ],
)
def test_keys_without_accidentals(name, major, mixolydian, dorian, minor, lydian, phrygian):
    """The keys of which a box has every note without accidental buttons (the D/G line agrees
    with mally.com/irishondg.asp; the others are computed)."""
    box = load_box(name)
    wanted = (major, mixolydian, dorian, minor, lydian, phrygian)
    modes = ("major", "mixolydian", "dorian", "minor", "lydian", "phrygian")
    for mode, tonics in zip(modes, wanted, strict=True):
        classes = {parse_key(tonic).tonic for tonic in tonics.split()}
        found = [Key(*tonic, mode) for tonic in TONICS]
        assert {key.tonic for key in found if lies_on(key, box)} == classes
        if mode not in ("lydian", "phrygian"):
            assert {key.tonic for key in keys_on(box) if key.mode == mode} == classes


@pytest.mark.parametrize("name", [name for name in box_names() if "B/C" in name or "C#/D" in name])
def test_every_key_lies_on_a_semitone_box(name):
    """A semitone box has all twelve notes, so every key (thesession.org/discussions/21675)."""
    assert all(lies_on(Key(*tonic, mode), load_box(name)) for tonic in TONICS for mode in MODES)


@pytest.mark.parametrize(
    ("name", "keys", "accidental"),
    [
        ("D/G", "A", "G#"), ("D/G", "C", "F"), ("G/C", "D", "C#"), ("G/C", "F Dm", "A#"),
        ("A/D", "E", "D#"), ("A/D", "G", "C"), ("C/F", "G", "F#"), ("C/F", "Bb", "D#"),
    ],
)  # fmt: skip
def test_one_accidental_unlocks_a_key(name, keys, accidental):
    """One accidental button makes up a further key, which a box with low notes in its place
    cannot play (computed from the tables)."""
    box, low = load_box(name), load_box(f"{name}:low-notes")
    for key in keys.split():
        scale = set(parse_key(key).scale)
        assert missing(scale, box) == {accidental}
        assert scale <= at_hand(box)
        assert not scale <= at_hand(low)


@pytest.mark.parametrize(
    ("name", "key", "leading"),
    [
        ("D/G", "Em", "D#"), ("D/G", "Bm", "A#"), ("G/C", "Am", "G#"), ("A/D", "Bm", "A#"),
        ("C/F", "Dm", "C#"),
    ],
)  # fmt: skip
def test_one_accidental_makes_a_harmonic_minor(name, key, leading):
    """The raised seventh of a harmonic minor is the one note that wants an accidental button
    (computed from the tables)."""
    minor = parse_key(key)
    scale = {*minor.scale[:6], (minor.tonic - 1) % 12}
    assert missing(scale, load_box(name)) == {leading}
    assert scale <= at_hand(load_box(name))


def test_melodic_minor_on_a_g_c():
    """A minor with F sharp and G sharp is the melodic minor; on a G/C the G sharp needs an
    accidental button, so a box with low notes in its place cannot play it (common practice, no
    source)."""
    plain, low = load_box("G/C"), load_box("G/C:low-notes")
    minor = parse_key("Am")
    melodic = {*minor.scale[:5], (minor.scale[5] + 1) % 12, (minor.scale[6] + 1) % 12}
    assert {CLASSES[tone] for tone in melodic - set(minor.scale)} == {"F#", "G#"}
    assert missing(melodic, plain) == {"G#"}
    presses = plain.presses(parse_pitch("G#4").midi)
    assert presses
    assert all(press.button.accidental for press in presses)
    assert melodic - at_hand(low) == {parse_pitch("G#4").midi % 12}
