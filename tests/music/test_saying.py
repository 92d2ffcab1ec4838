"""What there is to say, in words: as players and teachers of each language say it (common practice,
no source)."""

import pytest

from backing.language.tables import LANGUAGES
from backing.music.key import parse_key
from backing.music.pitch import parse_pitch
from backing.music.saying import (
    Fact,
    HowMany,
    HowOften,
    InBars,
    LeapOf,
    MovedBy,
    NoteName,
    Parts,
    WhichOne,
    in_bars,
    key_said,
    moved_by,
    pitch_said,
    said_in,
    title_said,
)


def in_each(say, *values):
    """What is said in each of the languages."""
    return tuple(say(*values, language) for language in LANGUAGES)


@pytest.mark.parametrize(
    ("what", "said"),
    [
        (InBars((2, 6)), ("bars 2 and 6", "Takt 2 und 6", "mesures 2 et 6")),
        (InBars((0,)), ("the pickup", "Auftakt", "levée")),
        (MovedBy(-7), ("a fifth down", "eine Quinte tiefer", "une quinte plus bas")),
        (MovedBy(1), ("a semitone up", "einen Halbton höher", "un demi-ton plus haut")),
        (LeapOf(30), ("more than two octaves", "mehr als zwei Oktaven",
                      "de plus de deux octaves")),
        (HowMany(13), ("13", "13", "13")),
        (HowOften(1), ("once", "einmal", "une fois")),
        (HowOften(3), ("three times", "dreimal", "trois fois")),
        (WhichOne(1), ("first", "1.", "1re")),
        (WhichOne(3), ("third", "3.", "3e")),
        (NoteName("Bb"), ("Bb", "B", "si bémol")),
        ([NoteName("B"), NoteName("F#")], ("B and F#", "H und Fis", "si et fa dièse")),
        (Fact("push"), ("push", "Druck", "poussé")),
        (Fact("fast-notes", number=1), ("one quick note", "eine schnelle Note",
                                        "une note rapide")),
        (Fact("fast-notes", number=3), ("three quick notes", "drei schnelle Noten",
                                        "trois notes rapides")),
        (Parts((Fact("push"), Fact("pull")), "sentences"),
         ("Push. Pull", "Druck. Zug", "Poussé. Tiré")),
        ("D/G", ("D/G", "D/G", "D/G")),
        (7, ("7", "7", "7")),
    ],
)  # fmt: skip
def test_each_kind_of_value(what, said):
    """Bars, moves, leaps, numbers, notes, facts one after the other; names as they are."""
    assert in_each(said_in, what) == said


@pytest.mark.parametrize(
    ("pitch", "said"),
    [
        ("C4", ("C4", "c¹", "do 3")),
        ("A4", ("A4", "a¹", "la 3")),
        ("B3", ("B3", "h", "si 2")),
        ("Bb2", ("Bb2", "B", "si bémol 1")),
        ("F#5", ("F#5", "fis²", "fa dièse 4")),
    ],
)
def test_pitches(pitch, said):
    """Octaves as Helmholtz named them in German; in French the tuning fork is la 3."""
    assert in_each(pitch_said, parse_pitch(pitch)) == said
    assert in_each(said_in, parse_pitch(pitch)) == said


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("G", ("G major", "G-Dur", "sol majeur")),
        ("Em", ("E minor", "e-Moll", "mi mineur")),
        ("Bb", ("Bb major", "B-Dur", "si bémol majeur")),
        ("Bm", ("B minor", "h-Moll", "si mineur")),
        ("ADor", ("A dorian", "A-Dorisch", "la dorien")),
        ("DMix", ("D mixolydian", "D-Mixolydisch", "ré mixolydien")),
    ],
)
def test_keys(key, said):
    """Minor keys are written small in German (Duden)."""
    assert in_each(said_in, parse_key(key)) == said
    assert in_each(key_said, said[0]) == said


def test_a_tune_on_another_box():
    """Sentences with a box, a move and a key in them."""
    values = {"box": "D/G", "moved": MovedBy(5), "key": parse_key("G")}
    assert in_each(said_in, Fact("same-buttons-in-key", values)) == (
        "The same buttons as on the D/G: it sounds a fourth up, now in G major.",
        "Dieselben Knöpfe wie auf D/G: es klingt eine Quarte höher, jetzt in G-Dur.",
        "Mêmes boutons que sur D/G\N{NO-BREAK SPACE}: "
        "l'air sonne une quarte plus haut, en sol majeur.",
    )


def test_bars_without_end():
    """Of many the first are named, and how many more there are."""
    many = range(1, 21, 2)
    assert in_each(in_bars, many) == (
        "bars 1, 3, 5, 7, 9, 11, 13 and 3 more",
        "Takt 1, 3, 5, 7, 9, 11, 13 und 3 weitere",
        "mesures 1, 3, 5, 7, 9, 11, 13 et 3 autres",
    )


def test_moves_of_more_than_an_octave():
    """They are an octave and what is left."""
    assert in_each(moved_by, 14) == (
        "an octave and a tone up",
        "eine Oktave und einen Ganzton höher",
        "une octave et un ton plus haut",
    )


def test_a_title_is_left_alone():
    """Only what we call a tune without one has a word in each language."""
    assert in_each(title_said, "Walzer") == ("Walzer",) * 3
    assert in_each(title_said, "untitled") == ("untitled", "ohne Titel", "sans titre")
