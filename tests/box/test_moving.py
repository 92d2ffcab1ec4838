"""The same buttons on another box."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.box.moving import move_to_box, same_fingering
from backing.errors import BoxError
from backing.files import load_box
from backing.parse.abc import parse_abc

#: Semitones from box to box; D/G to G/C and back by mustrad.org.uk/basic.htm, the others
#: computed from the rows.
TABLE = {
    "D/G": {"D/G": 0, "G/C": -7, "A/D": -5, "C/F": -2},
    "G/C": {"D/G": 7, "G/C": 0, "A/D": 2, "C/F": 5},
    "A/D": {"D/G": 5, "G/C": -2, "A/D": 0, "C/F": 3},
    "C/F": {"D/G": 2, "G/C": -5, "A/D": -3, "C/F": 0},
}
LETTERS = [
    "D,",
    "E,",
    "F,",
    "G,",
    "A,",
    "B,",
    "C",
    "D",
    "E",
    "F",
    "G",
    "A",
    "B",
    "c",
    "d",
    "e",
    "f",
    "g",
    "a",
    "b",
    "c'",
    "d'",
]


def read(body: str, key: str = "Am"):
    return parse_abc(f"X:1\nT:Two Buckets\nM:4/4\nL:1/8\nK:{key}\n{body}\n")


def held(tune):
    """What is compared: notes, chords and keys."""
    notes = [[(n.onset, n.length, n.pitches) for n in bar] for bar in tune.melody.bars]
    chords = [[(s.onset, s.chord) for s in bar.chords] for bar in tune.bars]
    return notes, chords, [(bar.key.step, bar.key.alter, bar.key.mode) for bar in tune.bars]


@pytest.mark.parametrize(("one", "other"), list(product(TABLE, TABLE)))
def test_the_interval_table(one, other):
    """The same buttons sound so many semitones away on another box, and back the other way."""
    assert same_fingering(load_box(one), load_box(other)).semitones == TABLE[one][other]
    assert TABLE[one][other] == -TABLE[other][one]


@pytest.mark.parametrize(
    ("one", "other", "semitones", "shifts"),
    [
        ("B/C", "C#/D", 2, (0, 0)), ("B/C", "B/C:23", 0, (1, 1)), ("C#/D:23", "B/C", -2, (-1, -1)),
        ("D", "C", -2, (0,)), ("D/G", "G/C:low-notes", -7, (0, 0)),
        ("D/G:fifth-reversed", "G/C", -7, (0, 0)), ("D/G:19-buttons", "A/D", -5, (0, 0)),
    ],
)  # fmt: skip
def test_other_families_and_forms(one, other, semitones, shifts):
    """B/C to C#/D is a tone up; a 23-button form shifts the numbers by one (thesession.org
    21675); variants at the chin end, a turned button and missing top buttons do no harm."""
    found = same_fingering(load_box(one), load_box(other))
    assert (found.semitones, found.shifts) == (semitones, shifts)


@pytest.mark.parametrize(("one", "other"), [("D/G", "B/C"), ("D", "D/G"), ("C#/D", "A")])
def test_families_do_not_mix(one, other):
    """Between families there is no same fingering (common practice, no source)."""
    with pytest.raises(BoxError, match="does not go on"):
        same_fingering(load_box(one), load_box(other))


def test_a_minor_on_a_g_c_is_e_minor_on_a_d_g():
    """A tune in A minor on a G/C, on the same buttons of a D/G, stands in E minor (common
    practice, no source)."""
    moved = move_to_box(read('"Am"A2ce "G"dcBA|"Am"A8|'), load_box("G/C"), load_box("D/G"))
    assert str(moved.tune.key) == "E minor"
    assert [str(s.chord) for s in moved.tune.bars[0].chords] == ["Em", "D"]
    assert [n.pitches[0].midi for n in moved.tune.notes()][:3] == [76, 79, 83]


@pytest.mark.parametrize(("one", "other"), [("D/G", "G/C"), ("A/D", "C/F"), ("G/C", "C/F")])
@given(st.lists(st.sampled_from(LETTERS), min_size=8, max_size=8), st.sampled_from(["G", "Em"]))
def test_both_boxes_give_the_same_buttons(one, other, letters, key):
    """Every way to sound a note on one box is one to sound the moved note on the other,
    buttons at the chin end left out, and moving back gives the tune again."""
    tune = read("".join(letters), key)
    here, there = load_box(one), load_box(other)
    moved = move_to_box(tune, here, there)
    for before, after in zip(tune.notes(), moved.tune.notes(), strict=True):
        ways = [
            {(p.button.row, p.button.number, p.direction) for p in box.presses(note.pitches[0].midi)
             if p.button.number > 1}
            for box, note in ((here, before), (there, after))
        ]  # fmt: skip
        assert ways[0] == ways[1]
    back = move_to_box(moved.tune, there, here)
    assert held(back.tune) == held(tune)


def test_notes_that_the_box_lacks_are_named():
    """A note without a button moves with the others, with its bars named."""
    tune = read("^D2 E2 F2 G2|D,2 E4 ^D2|", "Em")
    moved = move_to_box(tune, load_box("G/C:low-notes"), load_box("D/G"))
    assert any("has no D#4 (bars 1, 2)" in notice.message for notice in moved.notices)
    assert next(moved.tune.notes()).pitches[0].midi == 63 + 7


def test_swapped_accidentals_are_named():
    """Between boxes with other accidentals the fingering of these notes is not the same."""
    tune = read("^G2 A2 B2 c2|A8|")
    moved = move_to_box(tune, load_box("G/C"), load_box("D/G:accidentals-swapped"))
    assert any("no such button" in notice.message for notice in moved.notices)
    plain = move_to_box(tune, load_box("G/C"), load_box("D/G"))
    assert not any("no such button" in notice.message for notice in plain.notices)


def test_the_octave_that_reads_best():
    """A tune that lies far above the staff is said to read better an octave lower."""
    tune = read("a2c'e' d'c'ba|a8|")
    moved = move_to_box(tune, load_box("G/C"), load_box("D/G"))
    assert any("an octave lower" in notice.message for notice in moved.notices)
    lower = move_to_box(tune, load_box("G/C"), load_box("D/G"), -1)
    assert lower.semitones == -5
    assert not any("octave" in notice.message for notice in lower.notices)
