"""Grace notes on a box: on which buttons, and what becomes of those that are not there."""

from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import CUT, Role
from backing.box.fingering import finger
from backing.box.grace_notes import grace_changes, grace_strokes
from backing.box.layout import Direction
from backing.box.line import line_of
from backing.box.under_notes import button_sign
from backing.box.words import grace_said
from backing.files import load_box, load_style
from backing.music.saying import said_in
from backing.parse.abc import parse_abc
from backing.practice.on_box import on_box

HEAD = "X:1\nT:Flicks\nM:4/4\nL:1/8\nK:D\n"


def fingered(body, box="D/G"):
    return finger(line_of(parse_abc(HEAD + body)), load_box(box))


def signs(body, box="D/G"):
    """The buttons of each grace note, "-" for one that is left out, note by note."""
    found = fingered(body, box)
    return [
        [button_sign(stroke.presses) if stroke.struck else "-" for stroke in strokes]
        for note in found.notes
        if (strokes := grace_strokes(note, found.layout))
    ]


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ('"D"{f}d4 {a}f4|', [["7"], ["8"]]),  # the D row on the push: 6 D, 7 F#, 8 A
        ('"D"{g}f4 {f}d4|', [["6'"], ["7"]]),  # G on the push is on the other row alone
        ('"D"{e}d4 f4|', [["6"]]),  # no E on the push: D itself, twice
        ('"D"{eg}d4 f4|', [["6", "6'"]]),
        ('"D"{ec}d4 f4|', [["6", "-"]]),  # of two that are missing one is left out
        ('"D"{[fa]}d4 f4|', [["7+8"]]),
    ],
)
def test_the_buttons_of_grace_notes(music, expected):
    """A grace note is on the button nearest to its note's that sounds it in the same direction
    (the D/G of these layouts); where there is none the note's own button stands in its place."""
    assert signs(music) == expected


def test_every_button_is_in_the_direction_of_its_note():
    """Whatever the box, no grace note turns the bellows, and its buttons sound what is struck."""
    body = '"D"{e}d4 {g}f4|{eg}d4 d4|"A"{d}c4 {c}e4|"D"{ec}d2 {fga}f2 f4|'
    for box in ("D/G", "G/C", "A/D", "D", "B/C", "C#/D"):
        found = fingered(body, box)
        for note in found.notes:
            for stroke in grace_strokes(note, found.layout):
                assert {press.direction for press in stroke.presses} <= {note.direction}
                assert tuple(press.midi for press in stroke.presses) == stroke.struck


def test_what_is_not_there_is_said():
    """Grace notes that are not there are said with their bars and with what to do instead."""
    found = fingered('"D"{e}d4 f4|"D"{ec}d4 f4|')
    said = [said_in(grace_said(change, found.line.key)) for change in grace_changes(found)]
    assert said == [
        "E before D in bars 1 and 2: no E on the push, strike D in its place",
        "C# before D in bar 2: no C# on the push, leave it out",
    ]


def test_a_moved_tune_takes_its_grace_notes_along():
    """A tune that is a fourth higher has its grace notes a fourth higher."""
    line = line_of(parse_abc(HEAD + "{e}d4 {[fa]g}d4|"))
    graces = [moment.graces for moment in line.moved(5).moments]
    assert graces == [((81,),), ((83, 86), (84,))]


NOTES = st.sampled_from(["c", "d", "e", "f", "g", "a", "^g", "B", "[df]", "[Ad]"])
BARS = st.lists(st.tuples(st.lists(NOTES, max_size=3), NOTES), min_size=2, max_size=8)


@settings(max_examples=60)
@given(bars=BARS, box=st.sampled_from(["D/G", "G/C", "D", "B/C"]))
def test_fit_and_sound_agree(bars, box):
    """What `fit` says of a grace note is what the backing on that box strikes for it."""
    body = "".join(
        f"{{{''.join(graces)}}}{note}4" if graces else f"{note}4" for graces, note in bars
    )
    tune, style = parse_abc(HEAD + f'"D"{body}|'), load_style("sustained")
    found = on_box(tune, style, Manner(), load_box(box))
    melody = arrange(tune, style, side=found.side).tracks[0]
    assert melody.role is Role.MELODY
    sounding = [
        [tuple(sorted(event.pitches)) for event in group if event.limit is CUT]
        for _, group in groupby(melody.events, key=lambda event: event.origin)
    ]
    said = [
        [tuple(sorted(stroke.struck)) for stroke in grace_strokes(note, load_box(box))]
        for note in found.fit.fingering.notes
    ]
    assert sounding == [[struck for struck in strokes if struck] for strokes in said]


def test_directions_are_those_of_the_notes():
    """On a D/G both ways are met with: what the tests above rest on."""
    ways = {note.direction for note in fingered('"D"{e}d4 f4|"A"{c}e8|').notes}
    assert ways == set(Direction)
