"""Which chord buttons stand for a symbol, the best first."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.style import Tones
from backing.arranging.voicing import chord_pitches
from backing.box.at_hand import Found, at_hand
from backing.box.layout import Button, Direction, Layout, pair_of
from backing.files import load_box
from backing.music.buttons import stand_ins
from backing.music.chord import KINDS, Chord, parse_chord

SPELT = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"]
ROOTS = [parse_chord(name) for name in SPELT]
SUFFIX = {"major": "", "minor": "m", "power": "5"}
PUSH, PULL = Direction.PUSH, Direction.PULL


def ranked(symbol, *, bass=True, thirds=True):
    """The buttons for a symbol in order, over its own bass or none; substitutes in brackets."""
    wanted = parse_chord(symbol)
    over = wanted.bass_class if bass else None
    names = [
        (SPELT[one.root] + SUFFIX[one.kind], one.whole)
        for one in stand_ins(wanted, over, thirds=thirds)
    ]
    return " ".join(name if whole else f"({name})" for name, whole in names)


@pytest.mark.parametrize(
    ("symbol", "bass", "buttons"),
    [
        ("G", True, "G G5 (Bm) (Em)"),
        ("G", False, "G G5 (Em) (Bm)"),
        ("Am", True, "Am A5 (C) (F)"),
        ("Am7", True, "C Am A5 (F)"),
        ("Am7", False, "Am A5 (C) (F)"),
        ("Cmaj7", True, "Em C C5 (Am)"),
        ("Cmaj7", False, "C C5 (Em) (Am)"),
        ("A7", True, "A A5 (C#m) (F#m)"),
        ("F#dim", True, "(D) (Am) (F)"),
        ("Gaug", True, "(G) (B) (G#m) (Em) (Eb) (Cm)"),
        ("Dsus4", True, "D5 (D) (Dm) (G) (Gm)"),
        ("D5", True, "D5 (D) (Dm)"),
        ("Bm7b5", True, "Dm (Bb) (G)"),
        ("D/F#", True, "D D5 (Bm) (F#m)"),
    ],
)
def test_the_buttons_for_a_symbol(symbol, bass, buttons):
    """The symbol's own button, its plain triad, root and fifth; then what shares two notes,
    more of them with the bass first (common practice, no source; cross-chords C over A and Em
    over C: players' pages)."""
    assert ranked(symbol, bass=bass) == buttons


@pytest.mark.parametrize(
    ("symbol", "buttons"),
    [("G", "G5"), ("Am", "A5 (C)"), ("Dsus4", "D5"), ("Cmaj7", "C5"), ("F#dim", "(D5)")],
)
def test_with_the_thirds_out_root_and_fifth_are_whole(symbol, buttons):
    """With the thirds out a chord is its root and fifth, whatever its third would be."""
    assert ranked(symbol, thirds=False).startswith(buttons)


@pytest.mark.slow
@given(st.sampled_from(ROOTS), st.sampled_from(sorted(KINDS)), st.integers(0, 11), st.booleans())
def test_the_order_is_the_same_in_every_key(root, kind, up, thirds):
    """Transposed, a chord has the same buttons transposed."""
    one = Chord(root.step, root.alter, kind)
    moved = ROOTS[(one.root + up) % 12]
    other = Chord(moved.step, moved.alter, kind)
    here = stand_ins(one, one.root, thirds=thirds)
    there = stand_ins(other, other.root, thirds=thirds)
    assert [((s.root + up) % 12, s.kind, s.whole) for s in here] == [tuple(s) for s in there]


def full_box(*, thirds):
    """A box that no one could carry: every major, minor and bare chord with its bass."""
    kinds = ("major", "minor", "power")
    pairs = [
        pair_of(f"{root} {kind}", *[Chord(root.step, root.alter, kind)] * 2)
        for root in ROOTS
        for kind in kinds
    ]
    left = tuple(button for pair in pairs for button in pair)
    return Layout("full", "everything", ((Button(0, 1, 60, 62),),), left, thirds=thirds)


@pytest.mark.parametrize("thirds", [True, False])
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_box_with_every_button_plays_what_the_free_left_hand_does(kind, thirds):
    """Both ask the same list: with all buttons there they press the same."""
    box, tones = full_box(thirds=thirds), Tones.ALL if thirds else Tones.NO_THIRD
    for root in ROOTS:
        wanted = Chord(root.step, root.alter, kind)
        found = at_hand(box, wanted, PUSH)
        assert found.bass == wanted.root
        assert chord_pitches(found.chord, tones) == chord_pitches(wanted, tones)


@pytest.mark.parametrize(
    ("box", "symbol", "way", "found", "words"),
    [
        ("D/G", "Cmaj7", PULL, Found.WHOLE, "Em over C bass"),
        ("D/G", "Cmaj7", PUSH, Found.WHOLE, "C"),
        ("D/G", "Am7", PULL, Found.WHOLE, "C over A bass"),
        ("D/G", "Am7", PUSH, Found.SUBSTITUTE, "C"),
        ("D/G", "Em7", PULL, Found.WHOLE, "Em"),
        ("D/G", "Dsus4", PUSH, Found.SUBSTITUTE, "D"),
        ("D/G", "A5", PULL, Found.SUBSTITUTE, "A"),
        ("D/G:thirds-out", "Dsus4", PUSH, Found.WHOLE, "D"),
        ("D/G:thirds-out", "A5", PULL, Found.WHOLE, "A"),
        ("D/G", "Gaug", PUSH, Found.SUBSTITUTE, "G"),
        ("D/G", "C#dim", PULL, Found.SUBSTITUTE, "A"),
        ("B/C", "E5", PUSH, Found.WHOLE, "E5"),
    ],
)
def test_what_a_box_has_for_a_symbol(box, symbol, way, found, words):
    """A cross-chord is whole where its bass is there; a third that the symbol leaves out, or a
    fifth that it alters, makes a triad a substitute (common practice, no source)."""
    layout = load_box(box)
    have = at_hand(layout, parse_chord(symbol), way)
    assert (have.found, have.words(layout)) == (found, words)


def test_a_button_of_the_symbols_own_kind_comes_first():
    """A player's box may have a seventh: it is pressed for that symbol."""
    seventh = parse_chord("D7")
    pairs = (*pair_of("one", parse_chord("D"), parse_chord("D")), *pair_of("two", seventh, seventh))
    box = Layout("own", "a player's", ((Button(0, 1, 60, 62),),), pairs)
    assert at_hand(box, seventh, PUSH).chord == seventh
    assert at_hand(box, parse_chord("D"), PUSH).chord == parse_chord("D")
