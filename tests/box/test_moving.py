"""The same buttons on another box."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.box.layout import Layout
from backing.box.moving import move_to_box, reading_octave
from backing.box.same import same_fingering
from backing.errors import BoxError, PracticeError
from backing.files import load_box, read_tune
from backing.music.key import parse_key
from backing.music.tune import Tune
from backing.parse.abc import parse_abc
from backing.render.abc import render_abc

#: Semitones from box to box.
TABLE = {
    "D/G": {"D/G": 0, "G/C": -7, "A/D": -5, "C/F": -2},
    "G/C": {"D/G": 7, "G/C": 0, "A/D": 2, "C/F": 5},
    "A/D": {"D/G": 5, "G/C": -2, "A/D": 0, "C/F": 3},
    "C/F": {"D/G": 2, "G/C": -5, "A/D": -3, "C/F": 0},
}
PAIRS = [(one, other) for one, other in product(TABLE, TABLE) if one != other]
#: Keys of at most three signs, which never change from sharps to flats on the way.
NEAR = ["C", "G", "D", "A", "F", "Bb", "Eb", "Am", "Em", "Bm", "F#m", "Dm", "Gm", "Cm", "Ador",
        "Edor", "Dmix", "Amix", "none"]  # fmt: skip
#: Keys that may; beyond five signs a key comes back as the one that sounds alike.
FAR = ["E", "B", "Ab", "Db", "C#m", "G#m", "Fm", "Bbm"]
SIGNS = st.sampled_from(("", "^", "_", "="))
LETTERS = st.sampled_from("CDEFGABcdefgab")
SCALE = st.lists(LETTERS, min_size=8, max_size=8).map("".join)
CHROMATIC = st.lists(st.tuples(SIGNS, LETTERS).map("".join), min_size=8, max_size=8).map("".join)


def read(body: str, key: str = "Am") -> Tune:
    return parse_abc(f"X:1\nT:Two Buckets\nM:4/4\nL:1/8\nK:{key}\n{body}\n")


def move(tune: Tune, source: str, target: str, octaves: int = 0):
    return move_to_box(tune, load_box(source), load_box(target), octaves)


def said(tune: Tune, source: str, target: str) -> str:
    """All that is said of a move."""
    return "\n".join(notice.message for notice in move(tune, source, target).notices)


def comparable(tune: Tune) -> Tune:
    """A tune without what its chords were written as."""
    bars = tuple(
        replace(bar, chords=tuple(replace(symbol, text="") for symbol in bar.chords))
        for bar in tune.bars
    )
    return replace(tune, bars=bars, notices=())


# -- boxes ----------------------------------------------------------------------------


@pytest.mark.parametrize(("one", "other"), list(product(TABLE, TABLE)))
def test_the_interval_table(one, other):
    """The same buttons sound so many semitones away on another box, and back the other way
    (D/G and G/C: mustrad.org.uk/basic.htm, organetto.it tasti8b; the others computed)."""
    assert same_fingering(load_box(one), load_box(other)).semitones == TABLE[one][other]
    assert TABLE[one][other] == -TABLE[other][one]


@pytest.mark.parametrize(
    ("one", "other", "semitones", "rows"),
    [
        ("B/C", "C#/D", 2, ((0, 0), (1, 0))),
        ("B/C", "B/C:23", 0, ((0, 1), (1, 1))),
        ("C#/D:23", "B/C", -2, ((0, -1), (1, -1))),
        ("D/G", "G/C:low-notes", -7, ((0, 0), (1, 0))),
        ("D/G:fifth-reversed", "G/C", -7, ((0, 0), (1, 0))),
        ("D/G:19-buttons", "A/D:accidentals-swapped", -5, ((0, 0), (1, 0))),
        ("D", "C", -2, ((0, 0),)),
    ],
)
def test_other_forms(one, other, semitones, rows):
    """B/C to C#/D is a tone up and a 23-button form counts one higher (thesession.org 21675);
    other chin-end buttons, a turned button, missing top buttons do no harm (computed)."""
    assert same_fingering(load_box(one), load_box(other)) == (semitones, rows)


@pytest.mark.parametrize(
    ("one", "other", "semitones", "rows"),
    [
        ("D", "D/G", 0, ((0, 0),)),
        ("G", "D/G", 12, ((1, 0),)),
        ("C", "D/G", 2, ((0, 0),)),
        ("D", "C#/D", 0, ((1, 0),)),
        ("A/D", "D", 0, (None, (0, 0))),
    ],
)
def test_one_rows_on_two_rows(one, other, semitones, rows):
    """A one-row is the row of a two-row box from button 2 up: that in its key, else the nearer
    (computed)."""
    assert same_fingering(load_box(one), load_box(other)) == (semitones, rows)


@pytest.mark.parametrize(("one", "other"), [("D/G", "B/C"), ("C#/D", "A/D"), ("B/C:23", "G/C")])
def test_families_do_not_mix(one, other):
    """Rows a fourth apart and rows a semitone apart have no fingering in common (computed)."""
    with pytest.raises(BoxError, match=r"does not go on .*: there the outer row sounds"):
        same_fingering(load_box(one), load_box(other))


def test_a_box_with_another_pattern():
    """Rows that sound the same on push and pull answer no row of ours (computed)."""
    box = load_box("D/G")
    piano = tuple(tuple(b._replace(push=60 + b.number, pull=60 + b.number) for b in row)
                  for row in box.rows)  # fmt: skip
    with pytest.raises(BoxError, match="do not follow the same pattern"):
        same_fingering(box, replace(box, name="Piano", rows=piano))


# -- tunes ----------------------------------------------------------------------------


def test_a_minor_on_a_g_c_is_e_minor_on_a_d_g():
    """A tune in A minor on a G/C, on the same buttons of a D/G, stands in E minor (common
    practice, no source); its chords move along."""
    moved = move(read('"Am"A2ce "G"dcBA|"Am"A8|'), "G/C", "D/G")
    assert str(moved.tune.key) == "E minor"
    assert [symbol.text for symbol in moved.tune.bars[0].chords] == ["Em", "D"]
    assert [str(note.pitches[0]) for note in moved.tune.notes()][:3] == ["E5", "G5", "B5"]


@pytest.mark.parametrize(("box", "key"), [("G/C", "G"), ("A/D", "A"), ("C/F", "C")])
def test_d_major_on_a_d_g(box, key):
    """D major on a D/G becomes G on a G/C, A on an A/D, C on a C/F (computed)."""
    assert move(read("D2FA d4|", "D"), "D/G", box).tune.key.tonic == parse_key(key).tonic


def buttons_of(box: Layout, midi: int) -> set[tuple[int, int, str]]:
    """The ways to sound a note, chin-end buttons left out."""
    return {
        (press.button.row, press.button.number, press.direction)
        for press in box.presses(midi)
        if press.button.number > 1
    }


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_both_boxes_give_the_same_buttons(one, other):
    """Every way to sound a note on one box is one to sound the moved note on the other, for all
    notes of the box (computed)."""
    here, there = load_box(one), load_box(other)
    for midi in range(here.lowest - 12, here.highest + 12):
        assert buttons_of(here, midi) == buttons_of(there, midi + TABLE[one][other])


@pytest.mark.slow
@given(
    st.tuples(CHROMATIC, st.sampled_from(NEAR)) | st.tuples(SCALE, st.sampled_from(FAR + NEAR)),
    st.sampled_from(PAIRS),
    st.sampled_from((-1, 0, 1)),
)
def test_there_and_back_is_the_identity(tune, pair, octaves):
    """A tune moved to another box and back is the tune: notes, spelling, chords and key."""
    body, key = tune
    first = read(f'"C"{body}|"F#m"{{{body[-1]}}}A4"G7/B"z4|', key)
    there = move(first, *pair, octaves).tune
    back = move(there, pair[1], pair[0], -octaves).tune
    assert comparable(back) == comparable(first)


@pytest.mark.slow
@given(CHROMATIC, st.sampled_from(NEAR + FAR), st.sampled_from(PAIRS))
def test_every_note_moves_by_the_interval(body, key, pair):
    """What sounds is the tune, so many semitones away."""
    tune = read(body, key)
    before, after = (
        [pitch.midi for note in each.notes() for pitch in note.pitches]
        for each in (tune, move(tune, *pair).tune)
    )
    assert after == [midi + TABLE[pair[0]][pair[1]] for midi in before]


# -- what is said -----------------------------------------------------------------------


def test_notes_that_the_box_lacks():
    """A note without a button moves with the others, and its bars are said."""
    tune = read("^D2 E2 F2 G2|D,2 E4 ^D2|C,8|", "Em")
    words = said(tune, "G/C:low-notes", "D/G")
    assert "G/C:low-notes has no D#4 (bars 1 and 2) and C3 (bar 3)" in words
    assert next(move(tune, "G/C:low-notes", "D/G").tune.notes()).pitches[0].midi == 63 + 7


def test_grace_notes_count():
    """A grace note that the box lacks is said too."""
    assert "has no D#4 (bar 1)" in said(read("{^D}E8|", "Em"), "G/C:low-notes", "D/G")


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("D/G", ""),
        ("D/G:accidentals-swapped",
         "other buttons of D/G:accidentals-swapped than of G/C sound D#5 (bar 1)"),
        ("D/G:low-notes", "D/G:low-notes has no D#5 (bar 1)"),
    ],
)  # fmt: skip
def test_accidentals_of_another_set(target, words):
    """Accidental buttons keep only where both boxes have the same set (computed)."""
    assert said(read("^G2 A2 B2 c2|A8|"), "G/C", target) == words


def test_a_turned_button():
    """A note that another button sounds, since one is turned round, is said (computed): on an
    A/D the low B is the pull of the third outer button alone."""
    box = load_box("A/D")
    turned = replace(box, name="Turned", rows=(
        tuple(b._replace(push=b.pull, pull=b.push) if b.number == 3 else b for b in box.rows[0]),
        box.rows[1],
    ))  # fmt: skip
    tune = read("E8|", "D")
    found = move_to_box(tune, load_box("D/G"), turned).notices
    assert [notice.message for notice in found][:1] == [
        "other buttons of Turned than of D/G sound B3 (bar 1)"
    ]


def test_23_buttons_count_one_higher():
    """Between 21 and 23 buttons the numbers are said to change, and where to."""
    tune = read("A8|")
    assert "one higher on C#/D:23: 4 becomes 5" in said(tune, "B/C", "C#/D:23")
    assert "one lower on B/C: 4 becomes 3" in said(tune, "B/C:23", "B/C")


def test_which_row_it_is():
    """Between boxes with one row and two it is said which row is meant."""
    tune = read("G8|", "G")
    assert said(tune, "C", "G/C") == "the row of C is the inner row of G/C"
    assert said(tune, "G/C", "C") == "only the inner row of G/C is there on C"


@pytest.mark.parametrize(
    ("source", "target", "words"),
    [
        ("B/C", "C#/D", "the left hand of C#/D differs: inner upper F# and Bm"),
        ("D/G", "G/C:e-minor", "the left hand of G/C:e-minor differs: inner upper Em and Am"),
        ("D:four-basses", "D", "the left hand of D differs: no second pair"),
        ("D/G", "A/D", ""),
        ("D/G", "A/D:thirds-out", ""),
    ],
)
def test_other_left_hands(source, target, words):
    """Where the tune has chords, pairs of the left hand that differ are said (B/C and C#/D:
    hspeek.home.xs4all.nl irishbox/basses.html)."""
    assert said(read('"D"A4 d4|', "D"), source, target) == words
    assert said(read("A4 d4|", "D"), source, target) == ""


def test_the_octave_that_reads_best():
    """A tune that lies far above the staff on the other box reads best an octave lower, one far
    below it an octave higher; the move itself does not choose."""
    high, low = read("a2c'd' c'bag|e8|"), read("A,2CE DCB,A,|A,8|")
    assert reading_octave(move(high, "G/C", "D/G").tune) == -1
    assert reading_octave(move(low, "D/G", "G/C").tune) == 1
    lower = move(high, "G/C", "D/G", -1)
    assert (lower.semitones, lower.notices) == (7, ())
    assert next(lower.tune.notes()).pitches[0].midi == next(high.notes()).pitches[0].midi + 7 - 12


def test_the_octave_stays_within_the_box():
    """With a box an octave is left out in which more notes are missing: a D/G has an F above
    the staff's top line at the chin end, and none an octave lower (its layout table)."""
    high = read("c'2c'2 f4|")
    assert reading_octave(high) == -1
    assert reading_octave(high, load_box("D/G")) == 0
    assert reading_octave(high, load_box("B/C")) == -1


def test_beyond_what_can_be_written():
    """A note that would leave the range of MIDI keys is refused, with its bar."""
    with pytest.raises(PracticeError) as caught:
        move(read("A8|g''''8|"), "G/C", "D/G", 2)
    assert caught.value.message == "bar 2: G9 would be moved beyond what can be written"


@pytest.mark.parametrize(
    ("one", "other", "name"),
    [
        ("D/G", "G/C", "P-5"), ("D/G", "A/D", "P-4"), ("D/G", "C/F", "M-2"), ("G/C", "D/G", "P5"),
        ("G/C", "A/D", "M2"), ("G/C", "C/F", "P4"), ("A/D", "C/F", "m3"), ("C/F", "A/D", "m-3"),
    ],
)  # fmt: skip
def test_spelling_beside_music21(one, other, name):
    """Moved notes are spelled as music21 spells them for the interval of that name."""
    from music21 import interval, pitch

    tune = read("^FG^Ad ^c_Be=f|_edBA ^GFED|", "G")
    moved = move(tune, one, other).tune
    theirs = interval.Interval(name)
    for before, after in zip(tune.notes(), moved.notes(), strict=True):
        there = theirs.transposePitch(pitch.Pitch(str(before.pitches[0]).replace("b", "-")))
        assert str(after.pitches[0]) == there.nameWithOctave.replace("-", "b")


@pytest.mark.slow
def test_a_collection_there_and_back(bench):
    """Tunes of Ryan's Mammoth Collection, moved, written as ABC, read and moved back, are what
    they were (the music21 package carries them)."""
    common = bench("common")
    paths = common.collection_paths()
    if not paths:
        pytest.skip("the music21 package is not installed")
    for path in common.sample_of(paths, 40):
        tune = read_tune(path).tune
        there = parse_abc(render_abc(move(tune, "G/C", "D/G").tune))
        back = move(there, "D/G", "G/C").tune
        assert back.melody.bars == tune.melody.bars
        assert back.key == tune.key
