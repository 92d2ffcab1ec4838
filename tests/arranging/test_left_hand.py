"""The left hand's notes: degrees, slashes, silence, thirds, held chords, drones, pickups."""

import itertools
from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role
from backing.arranging.basses import run_step
from backing.arranging.style_file import parse_style
from backing.arranging.voicing import chord_pitches
from backing.files import load_style
from backing.music.chord import parse_chord
from backing.music.key import parse_key
from backing.music.pitch import pitch_class
from backing.parse.abc import parse_abc

HEAD = "X:1\nT:Left hand\nM:4/4\nL:1/4\nK:G\n"
PICKUPS = HEAD + '|:"D"D|"G"GABc|"G"dcB:|\n|:"C"e|"D"dcBA|"G"G3:|'


def left(text, style, **manner):
    """Bass and chord events of a tune in a style."""
    arrangement = arrange(parse_abc(text), load_style(style), Manner(**manner))
    tracks = {track.role: track.events for track in arrangement.tracks}
    return tracks[Role.BASS], tracks[Role.CHORDS]


def spans(events):
    """(onset, stop) of each event."""
    return [(event.onset, event.stop) for event in events]


def lows(events):
    """The lower note of each bass."""
    return [event.pitches[0] for event in events]


def test_the_root_is_played_every_time():
    """Over chords of a bar or less the alternating style plays the root on every bass (working
    choice, no source)."""
    bass, _ = left(HEAD + '"G"G4|"D7"A4|"Em"B4|"Am"A4|', "alternating")
    assert lows(bass) == [43, 43, 50, 50, 40, 40, 40, 45, 45]


def test_long_chords_alternate_root_and_fifth():
    """Over chords of more than a bar root and fifth take turns, the root first in each bar of
    several basses and last of all; chords without a fifth, and those over another bass, keep
    their bass (common practice, no source)."""
    bass, _ = left(HEAD + '"G"G4|G4|"Bdim"B4|B4|"D/F#"A4|A4|"Em"B4|B4|', "alternating")
    assert lows(bass)[:4] == [43, 50, 43, 50]
    assert lows(bass)[4:13] == [47] * 4 + [42] * 4 + [40]
    assert lows(bass)[13:] == [47, 40, 40, 40]


def test_a_bass_a_bar_alternates_from_bar_to_bar():
    """Where a bar has one bass, root and fifth take turns from bar to bar, the root where a
    phrase begins and where it ends (common practice, no source)."""
    head = HEAD.replace("4/4", "3/4")
    bass, _ = left(head + '"G"G3|G3|G3|G3|G3|G3|G3|G3|', "waltz")
    assert lows(bass) == [43, 50, 43, 43, 43, 50, 43, 50, 43, 43]


def test_the_same_bass_is_never_struck_five_times_in_a_row():
    """Where a bar has more than four basses on one root, fifths stand between them (common
    practice, no source)."""
    bass, _ = left(HEAD.replace("4/4", "15/8") + '"G"G15/2|"C"c15/2|"G"G15/2|', "alternating")
    runs = [len(list(group)) for _, group in itertools.groupby(lows(bass))]
    assert len(bass) == 15
    assert max(runs) <= 4


def test_a_fifth_never_joins_the_same_bass_of_the_next_chord():
    """A fifth that is put into a long row would begin a row of five with the basses of a chord on
    its note: the last of the row stays the root (common practice, no source)."""
    music = '"D"D4|"Dm"D4|"A"A,4|"D"D4|'
    bass, _ = left(HEAD + music, "three-on-two")
    runs = [len(list(group)) for _, group in itertools.groupby(lows(bass))]
    assert max(runs) <= 4


def test_no_run_at_the_end_of_a_section():
    """A section ends on the bass of its last chord, also where another follows."""
    bass, _ = left(HEAD + '"G"G4|G4|"C"G4|"D"D4|]"G"G4|G4|"C"G4|"G"G4|]', "bass-runs")
    assert [event.pitches[0] for event in bass if 3 <= event.onset < 4][-1] == 50


def test_a_style_may_keep_the_root():
    """With fifths = false a style plays the root over long chords too."""
    style = load_style("alternating")._replace(fifths=False)
    arrangement = arrange(parse_abc(HEAD + '"G"G4|G4|G4|'), style)
    assert {event.pitches[0] for event in arrangement.tracks[1].events} == {43}


def test_fifths_take_turns_while_the_harmony_stays():
    """With :fifths root and fifth take turns and begin again where the harmony changes (common
    practice, no source)."""
    bass, _ = left(HEAD + '"G"G4|G4|"C"c2"D"d2|"Bdim"B4|"G"G4|G4|', "alternating:fifths")
    assert lows(bass)[:8] == [43, 50, 43, 50, 48, 50, 47, 41]


@pytest.mark.parametrize(
    ("symbol", "bass", "chord"),
    [
        ("D/F#", 42, "D"),
        ("G/B", 47, "G"),
        ("C/G", 43, "C"),
        ("Am/C", 48, "Am"),
        ("C/D", 50, "C"),
        ("Bb/F", 41, "Bb"),
    ],
)
def test_a_slash_gives_the_bass(symbol, bass, chord):
    """In "D/F#" the bass plays the note after the slash, the chord is D (ABC 2.1 clause 4.18)."""
    basses, chords = left(HEAD + f'"{symbol}"G4|', "alternating")
    assert lows(basses) == [bass, bass]
    assert {event.pitches for event in chords} == {chord_pitches(parse_chord(chord))}


@pytest.mark.parametrize("style", ["alternating", "sustained"])
@pytest.mark.parametrize("word", ["N.C.", "NC", "n.c.", "N"])
def test_no_chord_silences_the_left_hand(style, word):
    """From "N.C." to the next chord neither bass nor chord sounds (common practice, no source)."""
    bass, chords = left(HEAD + f'"G"G4|"{word}"G4|G4|"D"A4|', style)
    for events in (bass, chords):
        assert any(event.onset < 1 for event in events)
        assert not any(event.onset < 3 and event.stop > 1 for event in events)
        assert any(event.onset >= 3 for event in events)


@pytest.mark.parametrize("style", ["alternating", "sustained", "drone"])
def test_thirds_out(style):
    """With the thirds left out no chord holds a note three or four semitones over its root
    (what a stop for the thirds does: lediato.free.fr/schemasoldo.htm)."""
    _, chords = left(HEAD + '"G"G4|"Em"B4|"D7"A4|"Am/C"c4|', style, thirds=False)
    assert chords
    for event in chords:
        symbol = {0: "G", 1: "Em", 2: "D7", 3: "Am"}[int(event.onset)] if style != "drone" else "G"
        root = parse_chord(symbol).root
        assert not {(pitch - root) % 12 for pitch in event.pitches} & {3, 4}
        assert root in {pitch % 12 for pitch in event.pitches}


def test_the_tango_box_of_the_left_hand_is_quieter_than_the_tune():
    """Left-hand tracks have General MIDI program 24 and a lower level than the melody.

    General MIDI 1 sound set (RP-003): 22 accordion, 24 tango accordion; the levels are working
    values, no source."""
    arrangement = arrange(parse_abc(HEAD + '"G"G4|'), load_style("alternating"))
    melody, bass, chords = arrangement.tracks
    assert (melody.program, bass.program, chords.program) == (22, 24, 24)
    assert (melody.channel, bass.channel, chords.channel) == (1, 2, 3)
    assert melody.level > bass.level >= chords.level


# -- held chords ---------------------------------------------------------------


def test_a_sustained_chord_holds_until_the_harmony_changes():
    """A sustained chord lasts to the next different symbol, over bar lines ("as long as you
    can": bignick.net boxlesson_5)."""
    bass, chords = left(HEAD + '"G"G4|G4|"G"G2"C"c2|"D"d4|', "sustained")
    expected = [(0, Fraction(5, 2)), (Fraction(5, 2), 3), (3, 4)]
    assert spans(bass) == spans(chords) == expected


def test_a_sustained_chord_is_struck_again_at_each_time_through():
    """The same chord over a repeat sign is struck again where the part begins again (common
    practice, no source)."""
    bass, chords = left(HEAD + '|:"G"G4|G4:|', "sustained")
    assert spans(bass) == spans(chords) == [(0, 2 - Fraction(1, 16)), (2, 4)]


def test_a_long_chord_is_struck_again_where_a_phrase_begins():
    """A chord over many bars ends a sixteenth note before each phrase, a quarter of a beat at
    most, and is struck again (common practice, no source)."""
    bass, chords = left(HEAD + '"G"' + "G4|" * 8, "sustained")
    assert spans(bass) == spans(chords) == [(0, 4 - Fraction(1, 16)), (4, 8)]
    quick, _ = left(HEAD.replace("4/4", "7/8") + '"G"' + "G7/2|" * 8, "sustained")
    assert quick[0].stop == Fraction(7, 2) - Fraction(1, 16)


@pytest.mark.parametrize("style", ["drone", "pedal"])
def test_a_drone_does_not_breathe(style):
    """Drones and pedals go on where a phrase begins (common practice, no source)."""
    bass, _ = left(HEAD + '"G"' + "G4|" * 8, style)
    assert spans(bass) == [(0, 8)]


def test_a_drone_holds_tonic_and_fifth_through_each_part():
    """A drone is the key note in the bass, tonic and fifth in the chord, struck again at
    the start of each part and each time through, whatever the chord symbols say
    (common practice, no source)."""
    bass, chords = left(HEAD + '|:"G"G4|"C"c4:|\n|:"D"d4|"G"G4:|', "drone")
    assert spans(bass) == spans(chords) == [(0, 2), (2, 4), (4, 6), (6, 8)]
    assert {event.pitches for event in bass} == {(43, 55)}
    assert {event.pitches for event in chords} == {(55, 62)}


@pytest.mark.parametrize(
    ("key", "tonic"), [("D", 2), ("Ador", 9), ("EDor", 4), ("DMix", 2), ("Bb", 10), ("F#m", 6)]
)
def test_a_drone_is_on_the_tonic_of_the_mode(key, tonic):
    """A modal tune's drone stands on the mode's own tonic, not on that of its signature (common
    practice, no source)."""
    bass, chords = left(HEAD.replace("K:G", f"K:{key}") + "G4|A4|", "drone")
    assert {pitch % 12 for event in bass for pitch in event.pitches} == {tonic}
    assert {pitch % 12 for event in chords for pitch in event.pitches} == {tonic, (tonic + 7) % 12}


def test_without_a_key_the_drone_takes_the_last_note():
    """A tune without a key has its drone on its last note, as most tunes end on the tonic
    (common practice, no source)."""
    bass, _ = left(HEAD.replace("K:G", "K:none") + "G4|A4|", "drone")
    assert {event.pitches[0] for event in bass} == {45}


@pytest.mark.parametrize(
    ("key", "chord"), [("G", "G"), ("Em", "Em"), ("Ador", "Am"), ("DMix", "D")]
)
def test_a_bare_tune_gets_its_tonic_chord(key, chord):
    """Alternating over a tune without chord symbols plays the chord on the key note, its root
    and fifth by turns."""
    text = HEAD.replace("K:G", f"K:{key}") + "G4|A4|"
    bass, chords = left(text, "alternating")
    root = parse_chord(chord).root
    assert {event.pitches for event in chords} == {chord_pitches(parse_chord(chord))}
    assert {event.pitches[0] % 12 for event in bass} == {root, (root + 7) % 12}
    assert {bass[0].pitches[0] % 12, bass[-1].pitches[0] % 12} == {root}


# -- pickups -------------------------------------------------------------------


@pytest.mark.parametrize("style", ["alternating", "sustained", "drone"])
def test_the_left_hand_is_silent_under_a_pickup(style):
    """Under every pickup, that of the tune and those of its parts, nothing sounds (common
    practice, no source)."""
    arrangement = arrange(parse_abc(PICKUPS), load_style(style))
    pickups = [bar for bar in arrangement.bars if bar.begins]
    assert len(pickups) == 4
    for track in arrangement.tracks[1:]:
        for bar in pickups:
            sounding = [e for e in track.events if e.onset < bar.stop and e.stop > bar.onset]
            assert sounding == []


def test_a_chord_over_a_pickup_is_in_force_after_it():
    """A symbol over a pickup counts from the first full bar on (working choice, no source)."""
    bass, _ = left(HEAD + '"D"D|GABc|"G"G3|]', "sustained")
    assert [(event.onset, event.pitches[0]) for event in bass] == [(0, 50), (1, 43)]


def test_what_the_left_hand_plays_is_not_from_the_tune():
    """Left-hand events name the bar they belong to, but no voice and no note."""
    bass, chords = left(HEAD + '"G"G4|"C"c4|', "alternating")
    assert {(e.origin.voice, e.origin.note) for e in bass + chords} == {(-1, -1)}
    assert {e.origin.bar for e in bass} == {e.origin.bar for e in chords} == {0, 1}


@pytest.mark.parametrize(
    ("chord", "goal", "key", "run"),
    [
        ("G", "C", "G", "G A B"),
        ("E", "Am", "Am", "E F G#"),  # the third of the chord, which the key has not
        ("A7", "D", "C", "A B C#"),
        ("Gm", "C", "G", "G A Bb"),
        ("Bm", "Em", "C", "B C D"),
        ("Bdim", "C", "G", "B B B"),  # a step away: the root again
        ("Caug", "F", "C", "C D E"),
        ("C7", "F", "C", "C D E"),
        ("Em", "Bm", "D", "E D C#"),
        ("D", "D", "D", "D D D"),  # where the bass stays, it is played again
    ],
)
def test_a_run_walks_through_the_chord_in_force(chord, goal, key, run):
    """The last three basses before a new chord go by step to its bass, through the key with
    the notes of the chord that still sounds (common practice, no source)."""
    chords = parse_chord(chord), parse_chord(goal)
    found = [run_step(*chords, parse_key(key), steps)[0] % 12 for steps in (3, 2, 1)]
    signs = {"#": 1, "b": -1}
    assert found == [pitch_class(name[0], signs.get(name[1:], 0)) for name in run.split()]


def test_a_run_has_four_steps_at_most():
    """Where a style asks for a run on every beat, the last four go by step to the next bass."""
    text = HELD_FOR % "1"
    text = text.replace('"beat 1"', '"each beat"').replace('"bass"', '"bass", degree = "run"')
    tune = parse_abc(HEAD + '"G"GGGG|GGGG|"C"cccc|')
    bass = arrange(tune, parse_style(text, "runs")).tracks[1].events
    keys = [event.pitches[0] for event in bass if Fraction(3, 4) <= event.onset <= 2]
    assert keys == [43, 43, 43, 45, 47, 48]  # G, as often as there is room, A and B lead to C


#: One bass a bar, held for some beats.
HELD_FOR = """
title = "Held"
use = "To try."
[[figure]]
metres = "any"
strokes = [ { when = "beat 1", play = "bass", hold = "%s beats" } ]
"""


@pytest.mark.parametrize(
    ("metre", "beats", "length"),
    [
        ("none", "2", "1/2"),  # a beat without a metre is a crotchet (a working value)
        ("4/4", "3/2", "3/8"),
        ("7/8", "3/2", "1/2"),  # three quavers, and half of the two after them
        ("7/8", "2", "5/8"),
    ],
)
def test_a_stroke_held_for_beats(metre, beats, length):
    """A stroke is held for so many beats as they come, the last of them in part."""
    tune = parse_abc(f'X:1\nM:{metre}\nL:1/8\nK:G\n"G"' + "G" * (7 if "7" in metre else 8) + "|")
    bass = arrange(tune, parse_style(HELD_FOR % beats, "held")).tracks[1].events
    assert spans(bass) == [(0, Fraction(length))]


def test_a_run_begins_after_the_bass_of_its_chord():
    """In a bar where the chord is new its own bass sounds first, and the run from there leads
    into the next one."""
    bass, _ = left(HEAD + '"G"GGGG|GGGG|GGGG|"C"cccc|', "bass-runs")
    names = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"]
    third = [names[event.pitches[0] % 12] for event in bass if 2 <= event.onset < Fraction(13, 4)]
    assert third == ["G", "A", "B", "C"]
    bass, _ = left(HEAD + '"G"GGGG|GGGG|GG"D"GG|"C"cccc|', "bass-runs")
    third = [names[event.pitches[0] % 12] for event in bass if 2 <= event.onset < Fraction(13, 4)]
    assert third == ["G", "D", "D", "C"]
