"""The left hand of a box: nothing sounds that the box cannot sound at that moment."""

import random
from fractions import Fraction
from itertools import groupby, pairwise

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import CUT, Role
from backing.box.layout import Direction
from backing.files import load_box, load_style
from backing.music.chord import KINDS
from backing.parse.abc import parse_abc
from backing.practice.on_box import on_box

D_TUNE = """X:1
T:Two Buckets
R:reel
M:4/4
L:1/8
K:D
|:"D"d2fd A2FA|"G"B2gB "A"c2ec|"D"d2fd A2FA|"A"c2ac "D"d4:|
"""


def track(arrangement, role):
    return next(track for track in arrangement.tracks if track.role is role)


def faults_of(arrangement, found, box) -> list[str]:
    """Left-hand events for which no one button sounds in the direction of the melody through
    the whole of their span."""
    faults = []
    spans = found.fit.fingering.spans
    chord_sets = {
        way: [{(c.root + step) % 12 for step in KINDS[c.kind]} for c in box.chords(way)]
        for way in Direction
    }
    fifths = {way: [{c.root, (c.root + 7) % 12} for c in box.chords(way)] for way in Direction}
    timed = []
    for role in (Role.BASS, Role.CHORDS):
        for event in track(arrangement, role).events:
            start, stop = event.onset, event.onset + event.length
            ways = {s.direction for s in spans if s.start < stop and start < s.stop}
            tones = {pitch % 12 for pitch in event.pitches}
            possible = {
                way
                for way in Direction
                if (len(tones) == 1 and tones <= set(box.basses(way)))
                or (role is Role.CHORDS and (tones in chord_sets[way] or tones in fifths[way]))
            }
            if not (ways <= possible and possible and len(ways) < 2):
                faults.append(f"{role} at {start}: {tones} while {ways}")
            timed.append((start, stop, ways or possible))
    return faults


@pytest.mark.parametrize("style", ["alternating", "sustained", "drone", "bass-runs", "pedal"])
@pytest.mark.parametrize("name", ["D/G", "D/G:thirds-out", "G/C", "A/D", "D", "B/C"])
def test_a_tune_on_boxes(name, style):
    """Whatever the box and the style, each bass and chord is one button of the direction in
    which the melody goes."""
    tune = parse_abc(D_TUNE)
    box = load_box(name)
    found = on_box(tune, load_style(style), Manner(), box)
    arrangement = arrange(tune, load_style(style), Manner(), side=found.side)
    assert faults_of(arrangement, found, box) == []


@pytest.mark.slow
def test_a_sample_of_a_collection(bench):
    """On a seeded sample of Ryan's Mammoth Collection (in the music21 package), with I, IV and
    V invented for the bare tunes, no left-hand event needs another direction than the melody
    has, through its whole span; and most of the left hand is still there."""
    common = bench("common")
    paths = common.sample_of(common.collection_paths(), 40)
    sounded = free = 0
    for path in paths:
        tune = common.with_chords(parse_abc(path.read_text(encoding="utf-8", errors="replace")))
        box = load_box(random.Random(path.name).choice(["D/G", "G/C", "A/D", "C/F"]))
        style = load_style(random.Random(path.name).choice(["alternating", "sustained", "polka"]))
        found = on_box(tune, style, Manner(), box)
        arrangement = arrange(tune, style, Manner(), side=found.side)
        assert faults_of(arrangement, found, box) == []
        for role in (Role.BASS, Role.CHORDS):
            sounded += len(track(arrangement, role).events)
            free += len(track(arrange(tune, style, Manner()), role).events)
    assert sounded > free // 2


def test_the_melody_is_untouched():
    """A box changes the left hand alone."""
    tune, style = parse_abc(D_TUNE), load_style("alternating")
    found = on_box(tune, style, Manner(), load_box("D/G"))
    free, boxed = arrange(tune, style), arrange(tune, style, side=found.side)
    assert track(boxed, Role.MELODY) == track(free, Role.MELODY)


def test_a_held_chord_ends_at_a_reversal_and_comes_back_on_the_beat():
    """Under a reversal off the beat a held chord ends there; it is struck again on the next
    felt beat (common practice, no source)."""
    tune = parse_abc('X:1\nT:t\nM:4/4\nL:1/8\nK:D\n"D"d3 e f2 a2|d8|\n')
    style = load_style("sustained")
    found = on_box(tune, style, Manner(), load_box("D"))
    arrangement = arrange(tune, style, side=found.side)
    reversal = Fraction(3, 8)
    assert found.fit.fingering.direction_at(Fraction(0)) is Direction.PUSH
    assert found.fit.fingering.direction_at(reversal) is Direction.PULL
    events = track(arrangement, Role.CHORDS).events
    assert events[0].onset == 0
    assert events[0].onset + events[0].length == reversal
    beats = {Fraction(n, 4) for n in range(8)}
    assert all(event.onset in beats for event in events)


def test_what_is_not_there_is_replaced_or_rests():
    """On a one-row in D the chord of the fourth is missing: what sounds is of the box's own
    two chords (bignick.net BoxLessons: no fourth on a two-bass one-row)."""
    tune = parse_abc('X:1\nT:t\nM:4/4\nL:1/8\nK:D\n"G"d2B2 G2B2|"D"A2d2 f4|\n')
    style, box = load_style("alternating"), load_box("D")
    found = on_box(tune, style, Manner(), box)
    arrangement = arrange(tune, style, side=found.side)
    tones = {p % 12 for e in track(arrangement, Role.CHORDS).events for p in e.pitches}
    assert tones <= {2, 6, 9, 1, 4}
    assert [str(gap.chord) for gap in found.fit.gaps] == ["G", "G"][: len(found.fit.gaps)]


def test_in_rests_the_bellows_turn_for_the_chord():
    """Where the melody rests the left hand is free: a G chord on a D/G is had on the push."""
    tune = parse_abc('X:1\nT:t\nM:4/4\nL:1/4\nK:G\n"Em"e4|"G"z4|"Em"e4|\n')
    style, box = load_style("alternating"), load_box("D/G")
    found = on_box(tune, style, Manner(), box)
    events = track(arrange(tune, style, side=found.side), Role.CHORDS).events
    inside = [event for event in events if 1 <= event.onset < 2]
    assert inside
    assert all({pitch % 12 for pitch in event.pitches} == {7, 11, 2} for event in inside)


CUTS = """X:1
T:Three Buckets
M:4/4
L:1/8
K:D
|:"D"{e}d4 {g}f4|{eg}d4 ~d4|"A"{d}c4 {c}e4|"D"{e=c}d2 {fga}f2 ~f4:|
"""


def melody_on(name, text, **manner):
    """The melody's events on a box, and the side that they are played over."""
    tune, style = parse_abc(text), load_style("sustained")
    found = on_box(tune, style, Manner(**manner), load_box(name))
    return track(arrange(tune, style, Manner(**manner), side=found.side), Role.MELODY).events, found


@pytest.mark.parametrize("name", ["D/G", "G/C", "A/D", "D", "B/C"])
def test_cuts_come_from_buttons_in_the_direction_of_their_note(name):
    """Whatever the box, no cut and no tap turns the bellows, and the notes that are written
    stay, each in its whole time."""
    events, found = melody_on(name, CUTS)
    for event in events:
        if event.limit is CUT:
            way = found.side.way_at(event.onset)
            assert way in load_box(name).directions(event.pitches[0])
    assert all(one.stop == other.onset for one, other in pairwise(events))
    written = [event.pitches for event in melody_on(name, CUTS, ornaments=False)[0]]
    sounding = [list(group)[-1].pitches for _, group in groupby(events, key=lambda e: e.origin)]
    assert sounding == written


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ('"D"{g}f4 {f}d4|', [79, 78, 78, 74]),
        ('"D"{e}d4 f4|', [74, 74, 78]),
        ('"D"{eg}d4 f4|', [74, 79, 74, 78]),
        ('"D"{ec}d4 f4|', [74, 74, 78]),
        ('"D"~f6 d2|', [78, 79, 78, 78, 74]),
    ],
)
def test_a_cut_that_is_not_there_repeats_the_note(music, expected):
    """On a push of a D/G box there is no e: the note d is struck twice instead; of two that
    are missing one is left out, as a tap is where the note comes again anyway."""
    text = f"X:1\nT:Cuts\nM:4/4\nL:1/8\nK:D\n{music}"
    events, found = melody_on("D/G", text)
    assert {note.direction for note in found.fit.fingering.notes} == {Direction.PUSH}
    assert [event.pitches[0] for event in events] == expected


def test_a_note_that_the_box_lacks_has_no_cuts():
    """Where note and cut are both missing the cut is left out, and the note stays as written."""
    events, _ = melody_on("D/G", 'X:1\nT:Gap\nM:4/4\nL:1/8\nK:D\n"D"d4 {e}^g4|')
    assert [(event.pitches, event.length) for event in events] == [
        ((74,), Fraction(1, 2)),
        ((80,), Fraction(1, 2)),
    ]
