"""The left hand's buttons under the chords of a tune: what is written, and where."""

from fractions import Fraction
from pathlib import Path

import pytest

from backing.box.at_hand import at_hand
from backing.box.fingering import finger
from backing.box.layout import Direction
from backing.box.left_side import LeftSide
from backing.box.left_signs import NOTHING_AT_HAND, left_sign, left_signs
from backing.box.line import line_of
from backing.files import load_box, read_tune
from backing.music.chord import parse_chord
from backing.parse.abc import parse_abc

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.abc"))


def sign(chord: str, direction: Direction, box: str = "D/G") -> str:
    """What is written under a chord on a box."""
    found = parse_chord(chord)
    assert found is not None
    return left_sign(load_box(box), found, direction)


def signs_of(body: str, box: str = "D/G", metre: str = "4/4", key: str = "D"):
    """Bar by bar where something is written under a tune with this body, and what."""
    tune = parse_abc(f"X:1\nT:Left\nM:{metre}\nL:1/8\nK:{key}\n{body}\n")
    fingering = finger(line_of(tune), load_box(box))
    return [[(float(s.onset), s.text) for s in bar] for bar in left_signs(tune, fingering)]


@pytest.mark.parametrize("box", ["D/G", "G/C", "A/D", "C"])
@pytest.mark.parametrize("direction", [*Direction])
def test_a_sign_without_brackets_is_a_chord_that_the_layout_has(box, direction):
    """For every chord button and direction the chord that it sounds is written as bass and
    chord button where both are there, a capital and a small letter (common practice; so also
    in accordeon-en-bretagne.bzh), and never in brackets."""
    layout = load_box(box)
    basses = {b.sounding(direction).root for b in layout.left if b.hand == "bass"}
    for button in layout.left:
        if button.hand != "chord":
            continue
        chord = button.sounding(direction)
        text = left_sign(layout, chord, direction)
        if chord.root in basses:
            bass, triad = text.split()
            assert bass[0].isupper()
            assert triad[0].islower()
            assert bass[0].lower() == triad[0]


@pytest.mark.parametrize("box", ["D/G", "G/C"])
def test_brackets_stand_where_the_layout_lacks_the_chord(box):
    """Brackets stand exactly where no chord button of that direction has the chord's root."""
    layout = load_box(box)
    for name in ("C", "D", "E", "Em", "F", "G", "A", "Am", "B", "Bm", "F#", "Bb"):
        chord = parse_chord(name)
        assert chord is not None
        for direction in Direction:
            have = at_hand(layout, chord, direction)
            there = have.chord is not None and have.chord.root == chord.root
            if not there:
                assert left_sign(layout, chord, direction).startswith("(")


def test_a_g_chord_on_the_pull_of_a_d_g_box():
    """G lies on the push of a D/G box (its bass side as in shipped layouts); on the pull the E
    minor pair takes its place, in brackets."""
    assert sign("G", Direction.PUSH) == "G g"
    assert sign("G", Direction.PULL) == "(E em)"
    assert sign("Em", Direction.PULL) == "E em"


def test_nothing_at_hand():
    """Where no button of that direction goes with the chord, a dash in brackets says it."""
    assert sign("F#", Direction.PUSH) == NOTHING_AT_HAND


def test_a_sign_at_every_symbol():
    """There is a sign at every chord symbol, at its place."""
    assert signs_of('"D"d2f2 "A"e2c2|"D"d8|')[0] == [(0.0, "D d"), (0.5, "A a")]


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_signs_stand_at_symbols_and_where_the_bellows_turn(path):
    """In the examples every symbol has a sign, and every other sign stands on a felt beat where
    the bellows have turned since the place before."""
    tune = read_tune(path).tune
    fingering = finger(line_of(tune), load_box("D/G"))
    side = LeftSide(fingering, [])
    first = {}
    for bar in fingering.line.bars:
        first.setdefault(bar.index, bar)
    for index, row in enumerate(left_signs(tune, fingering)):
        symbols = {symbol.onset for symbol in tune.bars[index].chords}
        places = {s.onset for s in row}
        assert symbols <= places
        if index not in first:
            continue
        bar = first[index]
        beats = {onset - bar.begins for onset in bar.metre.beat_onsets()}
        assert places - symbols <= beats
        for onset in places - symbols:
            before = max(b for b in {Fraction(0), *beats, *symbols} if b < onset)
            assert side.way_at(bar.onset + onset) != side.way_at(bar.onset + before)


def test_a_chord_that_goes_on_is_written_again_where_the_bellows_turn():
    """Under a G that goes on while the tune turns to the pull the new buttons are written; a bar
    that keeps its direction has one sign."""
    bars = signs_of('"G"G4 A4|"G"G8|', key="G")
    assert bars[0] == [(0.0, "G g"), (0.5, "(E em)")]
    assert bars[1] == [(0.0, "G g")]


def test_a_chord_from_the_bar_before():
    """A chord that goes on over a bar line is not written again while its buttons stay."""
    assert signs_of('"D"d8|d8|')[1] == []


def test_silence_has_no_sign():
    """N.C. silences the left hand: nothing is written under it, nor after it."""
    assert signs_of('"D"d8|"N.C."d4 e4|f8|"D"d8|')[1:3] == [[], []]


def test_thirds_out():
    """On a box whose chords have no third a chord button goes for the major and the minor chord:
    it is written as the chord that is asked for, without brackets."""
    layout = load_box("D/G:thirds-out")
    chord = parse_chord("Em")
    assert chord is not None
    assert left_sign(layout, chord, Direction.PULL) == "E em"


@pytest.mark.parametrize("box", ["D", "C"])
def test_one_row_boxes(box):
    """A one-row box has the chord of its key on the push and its fifth's on the pull (common
    practice, no source)."""
    other = {"D": "A", "C": "G"}[box]
    assert sign(box, Direction.PUSH, box) == f"{box} {box.lower()}"
    assert sign(other, Direction.PULL, box) == f"{other} {other.lower()}"


def test_pickups_and_repeats():
    """A bar that is played twice has its signs once; a pickup has those of its own symbols."""
    bars = signs_of('"A"A2|:"D"d8|"A"e8:|')
    assert len(bars) == 3
    assert bars[0] == [(0.0, bars[0][0][1])]
    assert bars[1] == [(0.0, "D d")]


def test_a_tune_without_chords_has_no_signs():
    """Where a tune has no chords nothing is written."""
    assert signs_of("d8|e8|") == [[], []]
