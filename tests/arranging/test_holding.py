"""What the left hand holds: fermatas, phrases, slow bars with fast notes, cadences of hornpipes."""

import itertools
from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.places import Place, stands
from backing.arranging.style_file import parse_style
from backing.files import load_style
from backing.music.played import as_played
from backing.parse.abc import parse_abc

WALTZ = "X:1\nT:Holds\nR:waltz\nM:3/4\nL:1/4\nK:G\n"


def left(text, style="waltz", **manner):
    """(onset, stop) of the basses and of the chords."""
    tracks = arrange(parse_abc(text), load_style(style), Manner(**manner)).tracks[1:]
    return [[(event.onset, event.stop) for event in track.events] for track in tracks]


@pytest.mark.parametrize("style", ["waltz", "alternating", "sustained", "offbeats", "sparing"])
def test_a_fermata_holds_the_left_hand(style):
    """What is struck at or before a note under a fermata is held to its end, and nothing is
    struck inside it (common practice, no source)."""
    hands = left(WALTZ + '"G"GAB|"C"!fermata!c3|"G"d2B|"D"!fermata!A3|"G"G3|', style)
    for hand in hands if style != "offbeats" else hands[1:]:
        for start, stop in ((Fraction(3, 4), Fraction(3, 2)), (Fraction(9, 4), Fraction(3))):
            assert not any(start < onset < stop for onset, _ in hand)
    held = hands[0] or hands[1]
    assert {(Fraction(3, 4), Fraction(3, 2)), (Fraction(9, 4), Fraction(3))} <= set(held)


def test_a_fermata_late_in_the_bar_holds_what_sounds():
    """A fermata on the second beat holds the bass of the first and the chord of the second."""
    basses, chords = left(WALTZ + '"G"GAB|"C"c!fermata!e2|"G"d2B|"G"G3|')
    assert (Fraction(3, 4), Fraction(3, 2)) in basses
    assert [chord for chord in chords if 3 <= chord[0] * 4 < 6] == [(1, Fraction(3, 2))]


def test_a_fermata_ends_with_its_note():
    """A harmony that enters after the held note is struck; the one before holds up to it."""
    basses, _ = left(WALTZ + '"G"GAB|"C"!fermata!c2"G"B|"G"G3|')
    assert [bass for bass in basses if 3 <= bass[0] * 4 < 6] == [
        (Fraction(3, 4), Fraction(5, 4)),
        (Fraction(5, 4), Fraction(5, 4) + Fraction(1, 6)),
    ]


def test_without_ornaments_a_fermata_holds_nothing():
    """Where fermatas are left out of the melody the left hand goes on as well."""
    text = WALTZ + '"G"GAB|"C"!fermata!c3|"G"d2B|"G"G3|'
    assert left(text, ornaments=False) == left(text.replace("!fermata!", ""))


@pytest.mark.parametrize(
    ("metre", "style", "bar"),
    [
        ("3/2", "alternating", "d/c/d/c/ " * 6),
        ("3/4", "waltz", "d/c/d/c/ " * 3),
        ("4/4", "hornpipe", "d/c/d/c/ " * 4),
        ("2/2", "sparing", "d/c/d/c/ " * 4),
    ],
)
def test_fast_notes_never_empty_a_bar(metre, style, bar):
    """No silence of more than a felt beat stands in a bar because its notes are fast, but the
    style's own ones."""
    length = Fraction(metre)
    slow = f'"D"D{int(length * 8)}|'
    text = f"X:1\nT:F\nM:{metre}\nL:1/8\nK:D\n" + slow + f'"G"{bar}|' + slow * 6
    beat = Fraction(1, int(metre[-1]))
    hands = left(text, style)
    sounding = sorted(span for hand in hands for span in hand if length <= span[0] < 2 * length)
    stops = itertools.accumulate((stop for _, stop in sounding), max, initial=length)
    onsets = [*(onset for onset, _ in sounding), 2 * length]
    assert all(onset - stop <= beat for onset, stop in zip(onsets, stops, strict=True))


def test_fast_notes_still_thin_a_quick_bar():
    """In a reel the chords still leave fast notes alone: the basses go on alone."""
    bar = "D2D2D2D2|"
    text = f'X:1\nT:F\nR:reel\nM:4/4\nL:1/8\nK:D\n"D"{bar}"G"d/c/d/c/ d/c/d/c/ d/c/d/c/ d/c/d/c/|'
    basses, chords = left(text + bar * 6, "alternating")
    assert len([onset for onset, _ in basses if 1 <= onset < 2]) == 2
    assert not [onset for onset, _ in chords if 1 <= onset < 2]


@pytest.mark.parametrize("dance", ["hornpipe", "clog"])
@pytest.mark.parametrize(("metre", "unit"), [("4/4", 8), ("2/2", 8), ("2/4", 16)])
def test_the_cadence_of_a_hornpipe_in_every_metre(dance, metre, unit):
    """A hornpipe's phrase ends on three strong strokes, a quarter of the bar each, whether it is
    written in 4/4, in cut time or in 2/4 (common practice, no source)."""
    moving, rest = '"D"DEFG ABcd|', '"D"d2 f2 d4|'
    text = f"X:1\nT:H\nR:{dance}\nM:{metre}\nL:1/{unit}\nK:D\n" + (moving * 3 + rest) * 2
    tune = parse_abc(text)
    played = as_played(tune)
    at_rest = [Place.CADENCE in s.places for s in stands(played, (), frozenset({Place.CADENCE}))]
    assert at_rest == [False, False, False, True] * 2
    quarter = Fraction(2, unit)
    bar = arrange(tune, load_style("hornpipe"))
    strong = sorted(
        event.onset for track in bar.tracks[1:] for event in track.events
        if event.onset >= 7 * 4 * quarter
    )  # fmt: skip
    assert strong == [(28 + at) * quarter for at in range(3)]


def test_a_polka_has_no_hornpipe_cadence():
    """In other dances a note off the beat is no rest."""
    text = "X:1\nT:P\nR:polka\nM:2/4\nL:1/16\nK:D\n" + '"D"DEFG ABcd|' * 3 + '"D"d2 f2 d4|'
    found = stands(as_played(parse_abc(text)), (), frozenset({Place.CADENCE}))
    assert not any(Place.CADENCE in stand.places for stand in found)


def test_strokes_that_are_held_to_the_change_breathe_too():
    """A bass that is struck in each bar and held until the harmony changes ends before a
    phrase's start, and is struck there once."""
    style = parse_style(
        'title = "t"\nuse = "u"\n[[figure]]\nstrokes = [\n'
        '{ when = "beat 1", play = "bass", hold = "until change" } ]\n',
        "mine",
    )
    bass = arrange(parse_abc(WALTZ + '"G"' + "G3|" * 9), style).tracks[1].events
    assert [event.onset for event in bass] == [Fraction(3, 4) * bar for bar in range(9)]
    breath = [after.onset - event.stop for event, after in itertools.pairwise(bass)]
    assert breath == [0, 0, 0, Fraction(1, 16), 0, 0, 0, 0]
