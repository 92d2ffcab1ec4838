"""The bass side of the boxes."""

from itertools import product

import pytest

from backing.box.layout import Direction, Layout
from backing.files import box_names, load_box
from backing.music.chord import parse_chord
from backing.music.key import parse_key
from backing.music.pitch import parse_pitch

PUSH, PULL = Direction.PUSH, Direction.PULL


def chords(box: Layout, direction: Direction) -> str:
    """What the chord buttons sound, pair by pair."""
    return " ".join(map(str, box.chords(direction)))


@pytest.mark.parametrize(
    ("name", "push", "pull"),
    [
        ("D/G", "D G B C", "A D Em C"),
        ("G/C", "G C E F", "D G Am F"),
        ("A/D", "A D F# G", "E A Bm G"),
        ("C/F", "C F A Bb", "G C Dm Bb"),
    ],
)
def test_eight_buttons(name, push, pull):
    """Outer row I and V, inner row I and V, the third pair, the inner row's IV both ways, each
    chord with its bass (G/C: organetto.it tasti8b, accordeon-en-bretagne.bzh; D/G by use:
    bellowsandstrings.blogspot.com/2011; the others are the same moved)."""
    box = load_box(name)
    assert (chords(box, PUSH), chords(box, PULL)) == (push, pull)
    assert [button.pair for button in box.left if button.hand == "bass"] == [
        "outer upper", "outer lower", "inner upper", "inner lower",
    ]  # fmt: skip


@pytest.mark.parametrize("name", box_names())
def test_a_chord_and_below_it_its_bass(name):
    """In each pair the chord lies nearer the chin and the bass below it (irishbox/basses.html,
    lediato.free.fr/rudiments.htm); the bass is the chord's root."""
    box = load_box(name)
    for chord, bass in zip(box.left[::2], box.left[1::2], strict=True):
        assert (chord.hand, bass.hand, chord.pair) == ("chord", "bass", bass.pair)
        assert (chord.push.root, chord.pull.root) == (bass.push.root, bass.pull.root)


def test_left_hands_are_transposes():
    """The left hands of the four boxes are one layout moved by the interval of the right hands
    (computed)."""
    for name, other in product(("D/G", "G/C", "A/D", "C/F"), repeat=2):
        here, there = load_box(name), load_box(other)
        apart = there.rows[0][2].push - here.rows[0][2].push
        for one, two in zip(here.left, there.left, strict=True):
            for direction in Direction:
                chord, moved = one.sounding(direction), two.sounding(direction)
                assert (chord.root + apart) % 12 == moved.root
                assert chord.kind == moved.kind


def test_six_chords_on_a_g_c():
    """A G/C has six chords, five major and A minor, G and F in both directions (organetto.it
    tasti8b, accordeon-en-bretagne.bzh/tag/tableau-des-notes)."""
    box = load_box("G/C")
    push, pull = (set(map(str, box.chords(direction))) for direction in Direction)
    assert push | pull == {"G", "C", "D", "E", "F", "Am"}
    assert push & pull == {"G", "F"}


@pytest.mark.parametrize(
    ("name", "direction", "bass", "chord", "heard"),
    [
        ("D/G", "push", "B", "D", "Bm7"), ("D/G", "pull", "A", "C", "Am7"),
        ("D/G", "pull", "C", "Em", "Cmaj7"),
        ("G/C", "push", "E", "G", "Em7"), ("G/C", "pull", "D", "F", "Dm7"),
        ("G/C", "pull", "F", "Am", "Fmaj7"),
        ("A/D", "push", "F#", "A", "F#m7"), ("A/D", "pull", "E", "G", "Em7"),
        ("A/D", "pull", "G", "Bm", "Gmaj7"),
        ("C/F", "push", "A", "C", "Am7"), ("C/F", "pull", "G", "Bb", "Gm7"),
        ("C/F", "pull", "Bb", "Dm", "Bbmaj7"),
    ],
)  # fmt: skip
def test_cross_chords(name, direction, bass, chord, heard):
    """The bass of one pair and the chord of another, both in one direction, make a seventh
    chord (B with D, A with C on a D/G: bellowsandstrings.blogspot.com/2011; the others are
    computed)."""
    box, way = load_box(name), Direction(direction)
    root = parse_chord(bass).root
    assert root in box.basses(way)
    assert parse_chord(chord) in box.chords(way)
    assert {root, *parse_chord(chord).pitch_classes} == set(parse_chord(heard).pitch_classes)


@pytest.mark.parametrize(
    ("name", "both"), [("D/G", "C D"), ("G/C", "F G"), ("A/D", "A G"), ("C/F", "Bb C")]
)
def test_basses_that_go_both_ways(name, both):
    """Only two basses of a box can be held through a change of the bellows (computed)."""
    box = load_box(name)
    found = set(box.basses(PUSH)) & set(box.basses(PULL))
    assert found == {parse_chord(chord).root for chord in both.split()}


# -- variants -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "push", "pull"),
    [
        ("D/G:b-minor", "D G Bm C", "A D Em C"),  # bellowsandstrings.blogspot.com/2011
        ("G/C:e-minor", "G C Em F", "D G Am F"),
        ("A/D:f-sharp-minor", "A D F#m G", "E A Bm G"),
        ("C/F:a-minor", "C F Am Bb", "G C Dm Bb"),
        ("D/G:b-third-out", "D G B5 C", "A D Em C"),  # from memory
        ("D/G:e-major", "D G B C", "A D E C"),
        ("G/C:a-major", "G C E F", "D G A F"),  # accordeon-en-bretagne.bzh, accompaniment
        ("D/G:a-minor-on-the-pull", "D G B C", "A D Em Am"),  # from memory
    ],
)
def test_other_left_hands(name, push, pull):
    """The usual left hand with one pair changed, as players ask makers for it (sources beside
    each)."""
    box = load_box(name)
    assert (chords(box, PUSH), chords(box, PULL)) == (push, pull)


@pytest.mark.parametrize("name", box_names())
def test_thirds_out(name):
    """With the thirds out every chord is root and fifth, the buttons the same
    (lediato.free.fr/schemasoldo.htm, organetto.it trefile)."""
    plain, box = load_box(name), load_box(f"{name}:thirds-out")
    assert (plain.thirds, box.thirds) == (True, False)
    assert box.left == plain.left


@pytest.mark.parametrize(
    ("name", "one", "five", "four"),
    [("D", "D", "A", "G"), ("C", "C", "G", "F"), ("G", "G", "D", "C"), ("A", "A", "E", "D")],
)
def test_one_rows(name, one, five, four):
    """Two buttons of a one-row: I on the push, V on the pull, no IV (bignick.net boxlesson_5,
    organetto.it tasti2b); the second pair of four is IV both ways (from memory)."""
    box, more = load_box(name), load_box(f"{name}:four-basses")
    assert (chords(box, PUSH), chords(box, PULL)) == (one, five)
    assert len(box.left) == 2
    assert (chords(more, PUSH), chords(more, PULL)) == (f"{one} {four}", f"{five} {four}")


@pytest.mark.parametrize(
    ("name", "push", "pull"),
    [
        ("B/C", "G C E5 C", "D G A5 F"),
        ("B/C:d-on-the-push", "G C E5 D", "D G A5 F"),
        ("B/C:basses-in-d-and-g", "D G E5 C", "D G A5 F"),
        ("C#/D", "A D F# D", "E A Bm G"),
    ],
)
def test_semitone_boxes(name, push, pull):
    """The usual left hands of semitone boxes, and two changed ones of a B/C
    (hspeek.home.xs4all.nl irishbox/basses.html; which C is changed, and that E and A have no
    third, is from memory)."""
    box = load_box(name)
    assert (chords(box, PUSH), chords(box, PULL)) == (push, pull)


@pytest.mark.parametrize("name", ["B/C", "C#/D"])
def test_left_hands_of_23_button_boxes(name):
    """The 23-button form has the left hand of the 21-button one (irishbox/basses.html)."""
    assert load_box(f"{name}:23").left == load_box(name).left


@pytest.mark.parametrize("name", box_names())
def test_registers(name):
    """Bass fundamentals lie from E2 to D#3, chords are folded to G3 to F#4 (from memory; no
    table of the reeds is published)."""
    box = load_box(name)
    assert box.lowest_bass == parse_pitch("E2").midi == 40
    assert box.lowest_chord == parse_pitch("G3").midi == 55


# -- chords for a key ---------------------------------------------------------------


def in_scale(box: Layout, direction: Direction, key: str, steps: tuple[int, ...]) -> set[str]:
    """The chords in a direction of which these tones (0 root, 1 third, 2 fifth) are in a key."""
    scale = set(parse_key(key).scale)
    return {
        str(chord)
        for chord in box.chords(direction)
        if all(chord.pitch_classes[step] in scale for step in steps)
    }


@pytest.mark.parametrize(
    ("keys", "push", "pull", "push_fifths", "pull_fifths"),
    [
        ("D Amix Edor Bm", "D G", "A D Em", "B", ""),
        ("G Dmix Ador Em", "D G C", "D C Em", "B", "A"),
    ],
)
def test_chords_of_the_keys_of_a_d_g(keys, push, pull, push_fifths, pull_fifths):
    """Which chords of a key are at hand on a D/G in each direction, and which only without
    their third (computed)."""
    box = load_box("D/G")
    for key in keys.split():
        for direction, whole, fifths in ((PUSH, push, push_fifths), (PULL, pull, pull_fifths)):
            triads = in_scale(box, direction, key, (0, 1, 2))
            assert triads == set(whole.split())
            assert in_scale(box, direction, key, (0, 2)) - triads == set(fifths.split())
