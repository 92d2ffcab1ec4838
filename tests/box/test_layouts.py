"""Boxes: the tables of the trade, and the rules that they follow."""

from itertools import pairwise

import pytest

from backing.box.keys import keys_on
from backing.box.layout import Direction, Layout
from backing.errors import BoxError
from backing.files import box_names, load_box
from backing.music.chord import parse_chord
from backing.music.key import parse_key
from backing.music.pitch import parse_pitch

QUINT = ("D/G", "G/C", "A/D", "C/F")
SEMITONE = ("B/C", "B/C:23", "C#/D", "C#/D:23")
ONE_ROW = ("A", "C", "D", "G")
NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]


def names(keys) -> set[str]:
    """Pitch classes by name."""
    return {NAMES[key % 12] for key in keys}


def own_buttons(box: Layout):
    """The buttons that belong to the rows' scales."""
    return [button for button in box.buttons if button.number > 1]


def directions(box: Layout) -> dict[str, set[str]]:
    """Pitch classes that sound on the push only, the pull only, both ways."""
    push = names(button.push for button in own_buttons(box))
    pull = names(button.pull for button in own_buttons(box))
    return {"push": push - pull, "pull": pull - push, "both": push & pull}


def test_the_boxes_that_are_known():
    """One-rows in four keys, four boxes with rows a fourth apart, semitone boxes with 21 and 23."""
    assert set(box_names()) == {*QUINT, *SEMITONE, *ONE_ROW}


@pytest.mark.parametrize("name", QUINT + SEMITONE + ONE_ROW)
def test_rows_follow_the_rule(name):
    """On the push a row sounds the tonic chord going up, on the pull the second, fourth, sixth
    and seventh degree (liquisearch.com, diatonic button accordion; common practice)."""
    box = load_box(name)
    for row, key in zip(box.rows, name.split(":")[0].split("/"), strict=True):
        tonic = parse_pitch(f"{key}4").midi
        first = 2 if name in QUINT + ONE_ROW else 1
        for button in row[first - 1 :]:
            low = button.number == 1
            assert (button.push - tonic) % 12 in (0, 4, 7)
            assert (button.pull - tonic) % 12 in (2, 5, 9, 11) or (low and name in ONE_ROW)
        pushes = [button.push for button in row[1:]]
        pulls = [button.pull for button in row[1:]]
        assert pushes == sorted(pushes)
        assert pulls == sorted(pulls)
        assert all(after - before <= 5 for before, after in pairwise(pushes))


@pytest.mark.parametrize("name", ONE_ROW)
def test_the_lowest_button_of_a_one_row_pulls_the_fifth(name):
    """On a one-row the lowest button pulls the fifth degree, that of the dominant chord
    (bravenet one-row table for D; common practice for the others)."""
    button = load_box(name).rows[0][0]
    assert (button.pull - parse_pitch(f"{name}4").midi) % 12 == 7


@pytest.mark.parametrize(
    ("name", "push", "pull", "both", "missing", "low", "high"),
    [
        ("D/G", "D", "C C# E", "F# G A B", "D# F G# A#", "A3", "B6"),
        ("G/C", "G", "F F# A", "B C D E", "C# D# G# A#", "D3", "E6"),
        ("A/D", "A", "G G# B", "C# D E F#", "C D# F A#", "E3", "F#6"),
        ("C/F", "C", "A# B D", "E F G A", "C# D# F# G#", "G3", "A6"),
    ],
)
def test_directions_of_pitch_classes(name, push, pull, both, missing, low, high):
    """Which notes a box has on the push, on the pull, both ways, and lacks (the D/G line:
    rickmohr.net/Music/Melodeon; the others are computed from the rule)."""
    box = load_box(name)
    found = directions(box)
    assert found["push"] == set(push.split())
    assert found["pull"] == set(pull.split())
    assert found["both"] == set(both.split())
    assert set(NAMES) - found["push"] - found["pull"] - found["both"] == set(missing.split())
    keys = [key for button in own_buttons(box) for key in (button.push, button.pull)]
    assert (min(keys), max(keys)) == (parse_pitch(low).midi, parse_pitch(high).midi)


@pytest.mark.parametrize("name", QUINT)
@pytest.mark.parametrize("variant", ["", ":accidentals-swapped"])
def test_accidentals_are_what_the_rows_lack(name, variant):
    """The accidental buttons hold exactly the four notes that the rows lack (trekzakpagina.nl,
    forum.tradzone.net), and are marked."""
    box = load_box(name + variant)
    marked = [button for button in box.buttons if button.accidental]
    assert [button.number for button in marked] == [1, 1]
    own = names(key for b in own_buttons(box) for key in (b.push, b.pull))
    assert names(key for b in marked for key in (b.push, b.pull)) == set(NAMES) - own


@pytest.mark.parametrize("name", QUINT)
def test_swapped_accidentals_are_the_same_the_other_way(name):
    """The two sets in print have the same notes, every one in the other direction."""
    plain, swapped = load_box(name), load_box(f"{name}:accidentals-swapped")
    for row, other in zip(plain.rows, swapped.rows, strict=True):
        assert (row[0].push, row[0].pull) == (other[0].pull, other[0].push)
        assert row[1:] == other[1:]


@pytest.mark.parametrize(("name", "both"), [("B/C", "B E"), ("C#/D", "C# F#")])
def test_magic_notes_of_semitone_boxes(name, both):
    """A semitone box has all twelve notes, two of them both ways (hspeek.home.xs4all.nl
    irishbox/finger.html; thesession.org)."""
    for form in (name, f"{name}:23"):
        box = load_box(form)
        push = names(button.push for button in box.buttons)
        pull = names(button.pull for button in box.buttons)
        assert push & pull == set(both.split())
        assert push | pull == set(NAMES)


def test_low_notes_of_the_23_button_form():
    """A C#/D with the tonic on button 4 gains low D and G at the chin
    (forums.chiffandfipple.com t=42722)."""
    button = load_box("C#/D:23").rows[1][0]
    assert (button.push, button.pull) == (parse_pitch("D3").midi, parse_pitch("G3").midi)


def test_octaves_of_a_g_c():
    """On a G/C the sixth outer button pushes G4, the third inner one C4 (organetto.it
    tasti8b)."""
    box = load_box("G/C")
    assert box.rows[0][5].push == parse_pitch("G4").midi
    assert box.rows[1][2].push == parse_pitch("C4").midi


@pytest.mark.parametrize(
    ("one", "row", "other", "other_row", "apart"),
    [("G/C", 0, "D/G", 1, 12), ("D/G", 0, "A/D", 1, 0), ("C/F", 0, "G/C", 1, 0)],
)
def test_octaves_between_boxes(one, row, other, other_row, apart):
    """The G row of a G/C sounds an octave below the G row of a D/G (mustrad.org.uk/basic.htm;
    the other two are computed): the third buttons push the same note, or an octave apart."""
    here, there = load_box(one).rows[row][2], load_box(other).rows[other_row][2]
    assert there.push - here.push == apart


@pytest.mark.parametrize(
    ("name", "major", "mixolydian", "dorian", "minor"),
    [
        ("D/G", "D G", "A D", "A E", "E B"),
        ("G/C", "G C", "D G", "D A", "A E"),
        ("A/D", "A D", "E A", "E B", "B F#"),
        ("C/F", "C F", "G C", "G D", "D A"),
    ],
)
def test_keys_without_accidentals(name, major, mixolydian, dorian, minor):
    """The keys of which a box has every note without accidental buttons (D/G agrees with
    mally.com/irishondg.asp; the others are computed)."""
    found: dict[str, set[str]] = {}
    for key in keys_on(load_box(name)):
        found.setdefault(key.mode, set()).add(str(key).split()[0])
    assert found == {
        mode: set(keys.split())
        for mode, keys in (
            ("major", major), ("mixolydian", mixolydian), ("dorian", dorian), ("minor", minor),
        )
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "key", "accidental"),
    [
        ("D/G", "A", "G#"), ("D/G", "C", "F"), ("G/C", "D", "C#"), ("G/C", "F", "A#"),
        ("A/D", "E", "D#"), ("A/D", "G", "C"), ("C/F", "G", "F#"), ("C/F", "Bb", "D#"),
    ],
)  # fmt: skip
def test_one_accidental_unlocks_a_key(name, key, accidental):
    """A, or C, major lies on a D/G with its G sharp, or F, button; low notes in their place
    do not have it (computed from the tables)."""
    scale = set(parse_key(key).scale)
    box, low = load_box(name), load_box(f"{name}:low-notes")
    own = {key % 12 for b in own_buttons(box) for key in (b.push, b.pull)}
    assert names(scale - own) == {accidental}
    assert scale <= {key % 12 for b in box.buttons for key in (b.push, b.pull)}
    assert not scale <= {key % 12 for b in low.buttons for key in (b.push, b.pull)}


def test_melodic_minor_on_a_g_c():
    """A minor with F sharp and G sharp is the melodic minor; on a G/C the G sharp needs an
    accidental button, so a box with low notes cannot play it (common practice, no source)."""
    plain, low = load_box("G/C"), load_box("G/C:low-notes")
    f_sharp, g_sharp = parse_pitch("F#4").midi, parse_pitch("G#4").midi
    assert any(not press.button.accidental for press in plain.presses(f_sharp))
    assert all(press.button.accidental for press in plain.presses(g_sharp))
    assert plain.presses(g_sharp)
    assert not low.presses(g_sharp)


def test_a_minor_on_a_g_c_lies_on_the_pull():
    """On a G/C most notes of A minor's tonic chord are to be had on the pull, A nowhere else
    (common practice, no source; follows from the table)."""
    box = load_box("G/C")
    for name in ("A3", "A4", "A5"):
        assert box.directions(parse_pitch(name).midi) == {Direction.PULL}


@pytest.mark.parametrize("name", QUINT)
def test_the_reversed_fifth_button(name):
    """With inner button 5 turned round the octave above it is complete in both directions but
    for one note (hspeek.home.xs4all.nl irishbox/diffs.html)."""
    plain, turned = load_box(name), load_box(f"{name}:fifth-reversed")
    here, there = plain.rows[1][4], turned.rows[1][4]
    assert (here.push, here.pull) == (there.pull, there.push)
    changed = sum(b != o for b, o in zip(plain.buttons, turned.buttons, strict=True))
    assert changed == 1


@pytest.mark.parametrize(
    ("name", "push", "pull"),
    [
        ("D/G", "D G C B", "A D C Em"),
        ("G/C", "G C F E", "D G F Am"),
        ("A/D", "A D G F#", "E A G Bm"),
        ("C/F", "C F Bb A", "G C Bb Dm"),
        ("C#/D", "A D F# D", "E A Bm G"),
        ("D", "D", "A"),
    ],
)
def test_chords_by_direction(name, push, pull):
    """The chords of the left hand on the push and on the pull (organetto.it tasti8b,
    accordeon-en-bretagne.bzh, bellowsandstrings.blogspot.com; irishbox/basses.html)."""
    box = load_box(name)
    for direction, chords in ((Direction.PUSH, push), (Direction.PULL, pull)):
        wanted = [parse_chord(chord) for chord in chords.split()]
        assert sorted(map(str, box.chords(direction))) == sorted(map(str, wanted))
        assert set(box.basses(direction)) == {chord.root for chord in wanted}


def test_left_hands_are_transposes():
    """The left hands of the four boxes are one layout moved by the interval of the boxes."""
    apart = {"D/G": 0, "G/C": -7, "A/D": -5, "C/F": -2}
    for name, semitones in apart.items():
        for here, there in zip(load_box("D/G").left, load_box(name).left, strict=True):
            for direction in Direction:
                one, other = here.sounding(direction), there.sounding(direction)
                assert (one.root + semitones) % 12 == other.root
                assert one.kind == other.kind


def test_variants_add_up():
    """Several variants may be named one after the other; the name's case does not matter."""
    box = load_box("d/g:low-notes:thirds-out")
    assert box.name == "D/G:low-notes:thirds-out"
    assert not box.thirds
    assert box.rows[0][0].push == parse_pitch("F#3").midi
    assert [len(row) for row in load_box("D/G:19-buttons").rows] == [10, 9]
    assert load_box("G:octave-up").lowest == load_box("G").lowest + 12
    assert "Bm" in map(str, load_box("D/G:b-minor").chords(Direction.PUSH))
    assert len(load_box("D:four-basses").left) == 4


@pytest.mark.parametrize(
    ("name", "message", "hint"),
    [
        ("D/H", "there is no box 'D/H'", "did you mean D/G?"),
        ("zither", "there is no box 'zither'", "the boxes are A, A/D"),
        ("D/G:low-note", "the box D/G has no variant 'low-note'", "did you mean low-notes?"),
        ("C:x", "the box C has no variant 'x'", "it has four-basses"),
    ],
)
def test_unknown_boxes(name, message, hint):
    """A box or variant that is not there is said, with the nearest."""
    with pytest.raises(BoxError) as caught:
        load_box(name)
    assert caught.value.message == message
    assert hint in caught.value.hint
