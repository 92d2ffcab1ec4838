"""The right hand of the boxes: the tables of the trade, and the rules that they follow."""

import pytest

from backing.box.layout import Direction, Layout
from backing.errors import BoxError
from backing.files import box_names, load_box
from backing.music.pitch import parse_pitch

QUINT = ("D/G", "G/C", "A/D", "C/F")
SEMITONE = ("B/C", "B/C:23", "C#/D", "C#/D:23")
ONE_ROW = ("A", "C", "D", "G")
CLASSES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]
PUSH, PULL = (0, 4, 7), (2, 5, 9, 11)


def key(name: str) -> int:
    """A note's MIDI key."""
    return parse_pitch(name).midi


def keys(text: str) -> list[int]:
    return [key(name) for name in text.split()]


def classes(midis) -> set[str]:
    """Pitch classes by name."""
    return {CLASSES[midi % 12] for midi in midis}


def rule(tonic: str, buttons: int, at: int = 3) -> list[tuple[int, int]]:
    """A row as it should be, push and pull from the chin, its key note on button `at`."""
    places = [number - at for number in range(1, buttons + 1)]
    return [
        (key(tonic) + PUSH[k % 3] + 12 * (k // 3), key(tonic) + PULL[k % 4] + 12 * (k // 4))
        for k in places
    ]


def row(box: Layout, at: int) -> list[tuple[int, int]]:
    """What a row's buttons sound, push and pull."""
    return [(button.push, button.pull) for button in box.rows[at]]


def first(box: Layout) -> list[int]:
    """What the first buttons sound: outer push and pull, inner push and pull."""
    return [midi for each in box.rows for midi in (each[0].push, each[0].pull)]


def own_buttons(box: Layout):
    """The buttons that belong to the rows' scales."""
    return [button for button in box.buttons if button.number > 1]


def test_the_boxes_that_are_known():
    """One-rows in four keys, four boxes with rows a fourth apart, semitone boxes with 21 and 23."""
    assert set(box_names()) == {*QUINT, *SEMITONE, *ONE_ROW}


# -- rows -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "tonic"),
    [("D", "D4"), ("C", "C4"), ("G", "G3"), ("A", "A3")],
)
def test_one_rows(name, tonic):
    """From the key note on button 3 a one-row pushes 1 3 5 and pulls 2 4 6 7 up and down, but
    the lowest button pulls 5 (bravenet forum, one-row tables for D; the octaves of G and A are
    from memory)."""
    wanted = rule(tonic, 10)
    wanted[0] = (wanted[0][0], key(tonic) - 5)
    assert row(load_box(name), 0) == wanted


def test_the_d_one_row_by_name():
    """The ten buttons of a D one-row, note by note (bravenet forum msgid 608393, first table)."""
    box = load_box("D")
    names = [box.named(midi)[:-1] for button in box.rows[0] for midi in button[2:4]]
    assert " ".join(names) == "F# A A C# D E F# G A B D C# F# E A G D B F# C#"


@pytest.mark.parametrize(
    ("one", "other", "direction", "pair"),
    [
        (5, 6, "push", "G C"), (5, 8, "pull", "A F"), (6, 7, "pull", "B D"),
        (5, 7, "pull", "A D"), (7, 8, "pull", "D F"), (5, 8, "push", "G G"),
    ],
)  # fmt: skip
def test_two_note_chords_of_a_c_one_row(one, other, direction, pair):
    """What two buttons of a C one-row sound together (bravenet forum msgid 1128059)."""
    buttons = [load_box("C").rows[0][number - 1] for number in (one, other)]
    found = [CLASSES[button.sounding(Direction(direction)) % 12] for button in buttons]
    assert found == pair.split()


@pytest.mark.parametrize(
    ("name", "outer", "inner"),
    [("D/G", "D4", "G4"), ("G/C", "G3", "C4"), ("A/D", "A3", "D4"), ("C/F", "C4", "F4")],
)
def test_quint_boxes(name, outer, inner):
    """From button 2 up both rows follow the rule, eleven buttons and ten, the inner row a
    fourth above (hspeek.home.xs4all.nl irishbox/diffs.html, mudcat.org 334985; top buttons:
    common practice, no source)."""
    box = load_box(name)
    assert row(box, 0)[1:] == rule(outer, 11)[1:]
    assert row(box, 1)[1:] == rule(inner, 10)[1:]
    assert key(inner) - key(outer) == 5


@pytest.mark.parametrize(
    ("name", "outer", "inner", "buttons", "at"),
    [
        ("B/C", "B3", "C4", 11, 3), ("B/C:23", "B3", "C4", 12, 4),
        ("C#/D", "C#4", "D4", 11, 3), ("C#/D:23", "C#4", "D4", 12, 4),
    ],
)  # fmt: skip
def test_semitone_boxes(name, outer, inner, buttons, at):
    """Rows a semitone apart, key note on button 3 of 21 and 4 of 23, the rule down to the
    lowest button (thesession.org/discussions/21675)."""
    box = load_box(name)
    assert row(box, 0) == rule(outer, buttons, at)
    assert row(box, 1) == rule(inner, buttons - 1, at)


@pytest.mark.parametrize("name", QUINT + ONE_ROW)
def test_the_turn_round(name):
    """In the low octave the pull lies above the push of the same button, from the second key
    note up below it (liquisearch.com, diatonic button accordion; computed)."""
    for each in load_box(name).rows:
        assert all(button.pull > button.push for button in each[1:5])
        assert all(button.pull < button.push for button in each[5:])


def test_the_g_scale_on_the_inner_row_of_a_d_g():
    """Third button push, pull, fourth push, pull, fifth push, pull, sixth pull, push: the scale
    of G on the inner row of a D/G (bellowsandstrings.blogspot.com/2010/01)."""
    inner = row(load_box("D/G"), 1)
    found = [inner[2][0], inner[2][1], inner[3][0], inner[3][1]]
    found += [inner[4][0], inner[4][1], inner[5][1], inner[5][0]]
    assert found == keys("G4 A4 B4 C5 D5 E5 F#5 G5")


def test_octaves_of_a_g_c():
    """On a G/C the sixth outer button pushes G4, the third inner one C4, and the G row covers
    two octaves and a fifth (organetto.it tasti8b)."""
    box = load_box("G/C")
    assert (box.rows[0][5].push, box.rows[1][2].push) == (key("G4"), key("C4"))
    assert box.rows[0][10].push - box.rows[0][2].push == 24 + 7


@pytest.mark.parametrize(
    ("one", "here", "other", "there", "apart"),
    [("G/C", 0, "D/G", 1, 12), ("D/G", 0, "A/D", 1, 0), ("C/F", 0, "G/C", 1, 0)],
)
def test_octaves_between_boxes(one, here, other, there, apart):
    """The G row of a G/C sounds an octave below the G row of a D/G (mustrad.org.uk/basic.htm);
    the D rows of D/G and A/D, the C rows of C/F and G/C sound alike (computed)."""
    pairs = zip(row(load_box(one), here)[1:], row(load_box(other), there)[1:], strict=False)
    assert all((up[0] - low[0], up[1] - low[1]) == (apart, apart) for low, up in pairs)


# -- directions -------------------------------------------------------------------


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
    """Which notes a box has on the push, on the pull, both ways, and lacks, accidentals left
    out (the D/G line: rickmohr.net/Music/Melodeon; the others are computed)."""
    box = load_box(name)
    pushed = classes(button.push for button in own_buttons(box))
    pulled = classes(button.pull for button in own_buttons(box))
    assert pushed - pulled == set(push.split())
    assert pulled - pushed == set(pull.split())
    assert pushed & pulled == set(both.split())
    assert set(CLASSES) - pushed - pulled == set(missing.split())
    midis = [midi for button in own_buttons(box) for midi in (button.push, button.pull)]
    assert (min(midis), max(midis)) == (key(low), key(high))


def test_pitches_of_a_d_g_that_go_both_ways():
    """The very pitches that a D/G sounds on the push and on the pull (computed)."""
    box = load_box("D/G")
    midis = range(box.lowest, box.highest + 1)
    found = [midi for midi in midis if len(box.directions(midi)) == 2]
    assert found == keys("F#4 G4 A4 B4 F#5 G5 A5 B5 F#6")


@pytest.mark.parametrize(("name", "direction"), [("G", "push"), ("A", "pull")])
def test_doubled_notes_of_a_g_c(name, direction):
    """On a G/C the middle G is on both rows, a push on both, and A is on both, a pull on both
    (hspeek.home.xs4all.nl irishbox/diffs.html)."""
    presses = load_box("G/C").presses(key(f"{name}4"))
    assert {press.button.row for press in presses} == {0, 1}
    assert {press.direction for press in presses} == {Direction(direction)}


@pytest.mark.parametrize(("name", "both"), [("B/C", "B E"), ("C#/D", "C# F#")])
@pytest.mark.parametrize("form", ["", ":23"])
def test_notes_of_semitone_boxes_that_go_both_ways(name, both, form):
    """A semitone box has all twelve notes, all but two in one direction only
    (hspeek.home.xs4all.nl irishbox/finger.html; thesession.org discussion 20680)."""
    box = load_box(name + form)
    push = classes(button.push for button in box.buttons)
    pull = classes(button.pull for button in box.buttons)
    assert push & pull == set(both.split())
    assert push | pull == set(CLASSES)


def test_low_notes_of_the_23_button_form():
    """A C#/D with the key note on button 4 gains low D and low G, the fiddle's, at the chin
    (forums.chiffandfipple.com t=42722)."""
    button = load_box("C#/D:23").rows[1][0]
    assert (button.push, button.pull) == (key("D3"), key("G3"))


def test_a_minor_on_a_g_c_lies_on_the_pull():
    """On a G/C every A is a pull, and so are F and F sharp: much of an A minor tune lies on
    the pull (common practice, no source)."""
    box = load_box("G/C")
    for midi in keys("A3 A4 A5 F4 F5 F#3 F#4 F#5"):
        assert box.directions(midi) == {Direction.PULL}


# -- buttons at the chin end, and other variants ------------------------------------

FIRST_SET = {
    "D/G": "G#4 A#4 F5 D#5",
    "G/C": "C#4 D#4 A#4 G#4",
    "A/D": "D#4 F4 C5 A#4",
    "C/F": "F#4 G#4 D#5 C#5",
}


@pytest.mark.parametrize("name", QUINT)
def test_the_first_set_of_accidentals(name):
    """The plain name has the set of two pages for C/F: outer push F sharp, pull G sharp, inner
    push E flat, pull C sharp (trekharmonicavragen.blogspot.com, trekzakpagina.nl), moved to the
    other boxes; the octave is from memory."""
    assert first(load_box(name)) == keys(FIRST_SET[name])


@pytest.mark.parametrize("name", QUINT)
def test_the_other_set_of_accidentals(name):
    """`accidentals-swapped` has every note in the other direction; on a G/C outer push E flat,
    pull C sharp, inner push G sharp, pull B flat (forum.tradzone.net topic 14469)."""
    a, b, c, d = keys(FIRST_SET[name])
    assert first(load_box(f"{name}:accidentals-swapped")) == [b, a, d, c]


@pytest.mark.parametrize("name", QUINT)
@pytest.mark.parametrize("form", ["", ":accidentals-swapped"])
def test_accidentals_are_what_the_rows_lack(name, form):
    """The accidental buttons hold exactly the four notes that the rows lack (all three sources
    of the two sets), in the octave above the inner key note (from memory), and are marked."""
    box = load_box(name + form)
    marked = [button for button in box.buttons if button.accidental]
    assert [(button.row, button.number) for button in marked] == [(0, 1), (1, 1)]
    own = classes(midi for button in own_buttons(box) for midi in button[2:4])
    assert classes(first(box)) == set(CLASSES) - own
    tonic = box.rows[1][2].push
    assert all(tonic < midi < tonic + 12 for midi in first(box))


@pytest.mark.parametrize(
    ("name", "fifth", "sixth"),
    [
        ("D/G", "F#3 A3 B3 D4", "F#3 B3 B3 E4"), ("G/C", "B2 D3 E3 G3", "B2 E3 E3 A3"),
        ("A/D", "C#3 E3 F#3 A3", "C#3 F#3 F#3 B3"), ("C/F", "E3 G3 A3 C4", "E3 A3 A3 D4"),
    ],
)  # fmt: skip
def test_low_notes(name, fifth, sixth):
    """Low notes go on with the row downwards (irishbox/diffs.html, mudcat.org 334985); what
    the pull sounds is from memory: the fifth as on a one-row, or the sixth."""
    for variant, wanted in (("low-notes", fifth), ("low-notes-sixth", sixth)):
        box = load_box(f"{name}:{variant}")
        assert first(box) == keys(wanted)
        assert not any(button.accidental for button in box.buttons)


@pytest.mark.parametrize(
    ("name", "alone"), [("D/G", "C C#"), ("G/C", "F F#"), ("A/D", "G G#"), ("C/F", "A# B")]
)
def test_the_reversed_fifth_button(name, alone):
    """With inner button 5 turned round every note of the rows in the middle octave goes both
    ways but for one pair, which is a pull (irishbox/diffs.html; the pair is computed)."""
    plain, turned = load_box(name), load_box(f"{name}:fifth-reversed")
    here, there = plain.rows[1][4], turned.rows[1][4]
    assert (here.push, here.pull) == (there.pull, there.push)
    assert sum(one != other for one, other in zip(plain.buttons, turned.buttons, strict=True)) == 1
    tonic = turned.rows[1][2].push
    one_way = {
        midi
        for midi in range(tonic, tonic + 12)
        if midi not in first(turned) and len(turned.directions(midi)) == 1
    }
    assert classes(one_way) == set(alone.split())
    assert all(turned.directions(midi) == {Direction.PULL} for midi in one_way)


@pytest.mark.parametrize("name", QUINT)
def test_the_19_button_form(name):
    """The 19-button form lacks the top button of each row (organetto.it tasti8b)."""
    plain, small = load_box(name), load_box(f"{name}:19-buttons")
    assert [row(small, at) for at in (0, 1)] == [row(plain, at)[:-1] for at in (0, 1)]


@pytest.mark.parametrize("name", ["G", "A"])
def test_one_rows_an_octave_up(name):
    """One-rows in G and A are made in two octaves (organetto.it tasti2b for G; from memory)."""
    pairs = zip(row(load_box(name), 0), row(load_box(f"{name}:octave-up"), 0), strict=True)
    assert all((low[0] + 12, low[1] + 12) == up for low, up in pairs)


# -- names ------------------------------------------------------------------------


def test_variants_add_up():
    """Several variants may be named one after the other, in any order; case does not matter."""
    box = load_box("d/g:low-notes:thirds-out")
    assert box.name == "D/G:low-notes:thirds-out"
    assert not box.thirds
    assert first(box) == first(load_box("D/G:low-notes"))
    assert load_box("D/G:thirds-out:low-notes").rows == box.rows


@pytest.mark.parametrize(
    ("name", "message", "hint"),
    [
        ("D/H", "there is no box 'D/H'", "did you mean D/G?"),
        ("zither", "there is no box 'zither'", "the boxes are A, A/D"),
        ("", "there is no box ''", "the boxes are A, A/D"),
        ("D/G:low-note", "the box D/G has no variant 'low-note'", "did you mean low-notes?"),
        ("C:x", "the box C has no variant 'x'", "it has four-basses"),
        ("D/G:", "the box D/G has no variant ''", "it has accidentals-swapped"),
        ("D/G:low-notes:accidentals-swapped",
         "D/G cannot have both low-notes and accidentals-swapped: each changes inner 1 and outer 1",
         "leave one of them out"),
        ("D/G:thirds-out:thirds-out",
         "D/G cannot have both thirds-out and thirds-out: each changes the thirds",
         "leave one of them out"),
    ],
)  # fmt: skip
def test_unknown_boxes(name, message, hint):
    """A box or variant that is not there is said, with the nearest; so are two that quarrel."""
    with pytest.raises(BoxError) as caught:
        load_box(name)
    assert caught.value.message == message
    assert hint in caught.value.hint
