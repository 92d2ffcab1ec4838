"""A tune for each time that it is played: first, later, last; styles by turns."""

from fractions import Fraction
from itertools import product

import pytest

from backing.arranging.arrange import arrange, arrange_faces, grounds_of
from backing.arranging.arrangement import Role
from backing.arranging.face import Face
from backing.arranging.faces import StyleTurns, faces_of, styles_of_parts
from backing.arranging.left_hand import left_hand
from backing.files import load_style, style_names
from backing.music.played import as_played
from backing.parse.abc import parse_abc

HEAD = "X:1\nT:Times\nR:polka\nM:2/4\nL:1/8\nK:G\n"
TUNE = parse_abc(HEAD + '|:"G"G2B2|"D"A2F2|"G"G2B2|"D"d2"G"G2:|\n|:"C"e2c2|"G"d2B2|"D"A2F2|"G"G4:|')
ALTERNATING, POLKA, LIGHT = map(load_style, ("alternating", "polka", "light"))


def left(arrangement, start=None, stop=None):
    """(onset, keys) of bass and chords, from one bar as played to another."""
    first = arrangement.bars[start or 0].onset
    last = arrangement.bars[stop].onset if stop else arrangement.stop
    return [
        (event.onset - first, event.length, event.pitches)
        for track in arrangement.tracks[1:]
        for event in track.events
        if first <= event.onset < last
    ]


def test_once_is_first_and_last():
    """An arrangement by itself is the tune played once: it stops at its end."""
    faces = arrange_faces(TUNE, StyleTurns((ALTERNATING,)))
    assert (
        faces() == arrange(TUNE, ALTERNATING) == arrange(TUNE, ALTERNATING, face=Face(1, last=True))
    )


def test_only_the_last_time_stops():
    """In the last bar the everyday style plays bass, chord, bass and stops; where the tune goes
    on that bar is as at the end of any section (common practice, no source)."""
    faces = arrange_faces(TUNE, StyleTurns((ALTERNATING,)))
    last, on = faces(Face(1, last=True)), faces(Face(1, last=False))
    assert left(last, 0, 15) == left(on, 0, 15)
    assert left(last, 15) != left(on, 15)
    assert left(on, 15) == left(on, 11, 12)


def test_a_later_time_is_a_second_time():
    """What a style does the second time through a section it does when the tune comes again."""
    faces = arrange_faces(TUNE, StyleTurns((ALTERNATING,)))
    first, later = faces(Face(1, last=False)), faces(Face(2, last=False))
    assert left(later, 0, 4) == left(first, 4, 8) != left(first, 0, 4)
    assert left(later, 4, 8) == left(first, 4, 8)


def test_bars_alone_never_vary():
    """A part that goes round alone has no second time inside it; only later ones are."""
    faces = arrange_faces(TUNE, StyleTurns((ALTERNATING,)))
    alone = faces(Face(1, last=False, alone=True))
    assert left(alone, 0, 4) == left(alone, 4, 8)


def test_melody_bars_and_tempi_are_the_same_at_every_time():
    """Faces differ in the left hand alone."""
    faces = arrange_faces(TUNE, StyleTurns((ALTERNATING,)))
    one, other = faces(Face(1, last=False)), faces(Face(2, last=True))
    assert one.tracks[0] == other.tracks[0]
    assert (one.bars, one.tempos, one.chords) == (other.bars, other.tempos, other.chords)


def test_styles_by_turns():
    """The so manieth time that a part is heard has the so manieth style, the last goes on; a
    part that is named has its own."""
    turns = StyleTurns((ALTERNATING, POLKA), {"b": (LIGHT,)})
    bars = as_played(TUNE).bars
    assert styles_of_parts(bars, turns, Face(1)) == [ALTERNATING, POLKA, LIGHT, LIGHT]
    assert styles_of_parts(bars, turns, Face(2)) == [POLKA, POLKA, LIGHT, LIGHT]
    alone = styles_of_parts(bars, turns, Face(1, alone=True))
    assert alone == [ALTERNATING, ALTERNATING, LIGHT, LIGHT]


@pytest.mark.parametrize("face", [Face(), Face(1, last=False), Face(2, last=False), Face(2)])
def test_each_part_sounds_as_its_style_has_it(face):
    """A list of styles plays in each part what that style alone plays there, to the seam."""
    mixed = arrange_faces(TUNE, StyleTurns((ALTERNATING, POLKA), {"b": (LIGHT,)}))(face)
    by_part = styles_of_parts(mixed.bars, StyleTurns((ALTERNATING, POLKA), {"b": (LIGHT,)}), face)
    for part, style in enumerate(by_part):
        alone = arrange(TUNE, style, face=face)
        stop = 4 * part + 4 if part < 3 else None
        assert left(mixed, 4 * part, stop) == left(alone, 4 * part, stop)


def test_an_arrangement_alone_is_the_same_at_every_time():
    """Without faces every time through is alike."""
    arrangement = arrange(TUNE, POLKA)
    assert faces_of(arrangement)(Face(3, last=False)) is arrangement


def test_bass_and_chords_keep_their_tracks():
    """A face has melody, bass and chords, in this order; lengths are of the bars."""
    face = arrange_faces(TUNE, StyleTurns((POLKA,)))(Face(2, last=False))
    assert [track.role for track in face.tracks] == [Role.MELODY, Role.BASS, Role.CHORDS]
    assert face.stop - face.start == Fraction(1, 2) * 16


@pytest.mark.slow
def test_faces_that_a_style_plays_alike_are_made_once():
    """Every style of ours, at every face, plays what it plays at the one that stands for it."""
    tune = parse_abc(HEAD + '|:"G"G2B2|"D"A2F2|"G"G2B2|1"D"d2"G"G2:|2"G"G4|\n|:"C"e2c2|"G"G4:|')
    played = as_played(tune)
    faces = [Face(*each) for each in product((1, 2, 3), (True, False), (True, False))]
    for style in map(load_style, style_names()):
        grounds = grounds_of(played, style)
        for face in faces:
            stands_for = left_hand(played, grounds, style, face=style.heard_at(face))
            assert left_hand(played, grounds, style, face=face) == stands_for, (style.name, face)
