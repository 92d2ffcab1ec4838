"""The melody as it sounds: ties, grace notes, staccato, accents."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style
from backing.parse.abc import parse_abc

HEAD = "X:1\nT:Melody\nM:4/4\nL:1/4\nK:C\n"
C, D, E, G, A, B, HIGH_C = 60, 62, 64, 67, 69, 71, 72


def melody(text, **manner):
    """(onset, length, pitches) of each event of the melody, as texts and numbers."""
    arrangement = arrange(parse_abc(HEAD + text), load_style("sustained"), Manner(**manner))
    return [
        (str(event.onset), str(event.length), event.pitches)
        for event in arrangement.tracks[0].events
    ]


TIES = {
    "in a bar": ("C2-C2|", [("0", "1", (C,))]),
    "over a bar line": ("C4-|C4|", [("0", "2", (C,))]),
    "over two bar lines": ("C4-|C4-|C2D2|", [("0", "5/2", (C,)), ("5/2", "1/2", (D,))]),
    "space before the note": ("C2- C2|", [("0", "1", (C,))]),
    "an accidental carried": ("^C4-|C4|", [("0", "2", (61,))]),
    "an accidental carried once": ("^C4-|C4|C4|", [("0", "2", (61,)), ("2", "1", (C,))]),
    "the bar after is struck": ("D2-D2|D4|", [("0", "1", (D,)), ("1", "1", (D,))]),
    "whole chords": ("[CE]2-[CE]2|", [("0", "1", (C,)), ("0", "1", (E,))]),
    "all notes of a chord": ("[C-E-]2[CE]2|", [("0", "1", (C,)), ("0", "1", (E,))]),
    "one note of a chord": (
        "[C-E]2[CG]2|",
        [("0", "1", (C,)), ("0", "1/2", (E,)), ("1/2", "1/2", (G,))],
    ),
    "into a chord": ("C2-[CE]2|", [("0", "1", (C,)), ("1/2", "1/2", (E,))]),
    "into another pitch": ("C2-D2|", [("0", "1/2", (C,)), ("1/2", "1/2", (D,))]),
    "into a rest": ("C2-z2|C4|", [("0", "1/2", (C,)), ("1", "1", (C,))]),
    "out of a repeat sign": ("|:C2 D2-:|", [("0", "1/2", (C,)), ("1/2", "1/2", (D,)),
                                            ("1", "1/2", (C,)), ("3/2", "1/2", (D,))]),
    "at the end": ("C2D2-|]", [("0", "1/2", (C,)), ("1/2", "1/2", (D,))]),
    "into a second ending": (
        "|:C2D2-|1 D4:|2 D2C2|]",
        [("0", "1/2", (C,)), ("1/2", "3/2", (D,)), ("2", "1/2", (C,)), ("5/2", "1", (D,)),
         ("7/2", "1/2", (C,))],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TIES.values(), ids=TIES.keys())
def test_ties(text, expected):
    """Tied notes of one pitch sound once for the sum of their lengths (ABC 2.1 clause 4.11);
    a tie without such a note after it changes nothing."""
    assert melody(text) == expected


def test_a_slur_is_no_tie():
    """Two slurred notes of one pitch are struck twice."""
    assert melody("(C2C2)|") == [("0", "1/2", (C,)), ("1/2", "1/2", (C,))]


GRACES = {
    "one": ("{D}C4|", [("0", "1/32", (D,)), ("1/32", "31/32", (C,))]),
    "two": ("{DE}C4|", [("0", "1/32", (D,)), ("1/32", "1/32", (E,)), ("1/16", "15/16", (C,))]),
    "with a stroke": ("{/D}C4|", [("0", "1/32", (D,)), ("1/32", "31/32", (C,))]),
    "before a short note": (
        "{DEG}C/4D3/4D3|",
        [("0", "1/96", (D,)), ("1/96", "1/96", (E,)), ("1/48", "1/96", (G,)),
         ("1/32", "1/32", (C,)), ("1/16", "3/16", (D,)), ("1/4", "3/4", (D,))],
    ),
    "before a chord": ("{D}[CE]4|", [("0", "1/32", (D,)), ("1/32", "31/32", (C, E))]),
    "before a tied note": ("{D}C4-|C4|", [("0", "1/32", (D,)), ("1/32", "63/32", (C,))]),
    "two at once": ("{[DG]}C4|", [("0", "1/32", (D, G)), ("1/32", "31/32", (C,))]),
    "with a length": ("{D4}C4|", [("0", "1/32", (D,)), ("1/32", "31/32", (C,))]),
}  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), GRACES.values(), ids=GRACES.keys())
def test_grace_notes_are_short_and_take_their_time_from_their_note(text, expected):
    """A grace note lasts a 32nd at most, all of them at most half of the note they precede,
    which still ends where it would (ABC 2.1 clause 4.12 leaves lengths to the player)."""
    assert melody(text) == expected


@pytest.mark.parametrize("text", [row[0] for row in GRACES.values()], ids=GRACES.keys())
def test_grace_notes_never_move_the_beat(text):
    """With or without grace notes, every other note ends where it did."""
    stops = {Fraction(onset) + Fraction(length) for onset, length, _ in melody(text)}
    plain = {
        Fraction(onset) + Fraction(length) for onset, length, _ in melody(text, ornaments=False)
    }
    assert plain <= stops
    assert len(melody(text, ornaments=False)) < len(melody(text))


def test_plain_leaves_grace_notes_out():
    """Without ornaments a note with grace notes is a plain note."""
    assert melody("{DE}C2{G}D2|", ornaments=False) == melody("C2D2|")


STACCATO = {
    "a crotchet": (".C2D2|", [("0", "1/4", (C,)), ("1/2", "1/2", (D,))]),
    "a chord": (".[CE]2D2|", [("0", "1/4", (C, E)), ("1/2", "1/2", (D,))]),
    "written out": ("!staccato!C2D2|", [("0", "1/4", (C,)), ("1/2", "1/2", (D,))]),
    "tied on": (".C2-C2|", [("0", "1", (C,))]),
}


@pytest.mark.parametrize(("text", "expected"), STACCATO.values(), ids=STACCATO.keys())
def test_staccato_is_half_as_long(text, expected):
    """A staccato note sounds half its length and the next comes in time (common practice, no
    source)."""
    assert melody(text) == expected


@pytest.mark.parametrize(
    ("text", "velocities"),
    [
        ("CDEG|", [90, 90, 90, 90]),
        ("LCDEG|", [105, 90, 90, 90]),
        ("C!accent!DE!>!G|", [90, 105, 90, 105]),
    ],
)
def test_accents_are_louder(text, velocities):
    """An accented note is one dynamic step louder than the usual mezzo forte.

    Velocities 90 and 105 are those of mf and f in ABC 2.1 clause 4.14."""
    plain = Manner(ornaments=False)
    events = arrange(parse_abc(HEAD + text), load_style("sustained"), plain).tracks[0].events
    assert [event.velocity for event in events] == velocities


def test_a_pitch_written_twice_in_a_chord():
    """A pitch that stands twice in a chord sounds for the chord's length, and no event holds
    it twice."""
    assert set(melody("[CC]4|")) == {("0", "1", (C,))}


def test_rests_are_silence():
    """Rests, printed or hidden, are gaps between events."""
    assert melody("C z D x|Z|E4|") == [
        ("0", "1/4", (C,)), ("1/2", "1/4", (D,)), ("2", "1", (E,)),
    ]  # fmt: skip


def test_every_event_says_which_note_it_is():
    """An event's origin names voice, bar and note, the same at every time through."""
    arrangement = arrange(parse_abc(HEAD + "|:C2D2|E4:|"), load_style("sustained"))
    origins = [(e.origin.voice, e.origin.bar, e.origin.note) for e in arrangement.tracks[0].events]
    assert origins == [(0, 0, 0), (0, 0, 1), (0, 1, 0)] * 2


def test_only_the_first_voice_is_the_melody():
    """Of a tune with two voices the first is the melody."""
    text = "X:1\nT:Two\nM:4/4\nL:1/4\nV:1\nV:2\nK:C\n[V:1]CDEG|\n[V:2]c4|\n"
    arrangement = arrange(parse_abc(text), load_style("sustained"))
    assert [event.pitches for event in arrangement.tracks[0].events] == [(C,), (D,), (E,), (G,)]
