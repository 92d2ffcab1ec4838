"""Chords that a player sets in single bars."""

import pytest

from backing.cli.typed import bar_chords
from backing.errors import PracticeError, UsageError
from backing.harmony.setting import set_chords
from backing.music.chord import Chord
from backing.music.played import chords_before
from backing.music.tune import Tune
from backing.parse.abc import parse_abc


def tune_of_body(body: str, metre: str = "4/4", dance: str = "") -> Tune:
    """A tune in G with this body."""
    named = f"R:{dance}\n" if dance else ""
    return parse_abc(f"X:1\nT:Set\n{named}M:{metre}\nL:1/8\nK:G\n{body}\n")


def after(tune: Tune, *changes: str) -> list[list[str]]:
    """The chord symbols of each bar after changes, with their places where they are not at the
    start."""
    found = set_chords(tune, [bar_chords(text) for text in changes])
    return [
        [f"{symbol.onset}:{symbol.chord}" if symbol.onset else str(symbol.chord)
         for symbol in bar.chords]
        for bar in found.bars
    ]  # fmt: skip


def sounding(tune: Tune) -> list[list[Chord | None]]:
    """The chords that are heard in each bar, the one that goes on into it first."""
    return [
        ([] if bar.chords and not bar.chords[0].onset else [before])
        + [symbol.chord for symbol in bar.chords]
        for bar, before in zip(tune.bars, chords_before(tune), strict=True)
    ]


@pytest.mark.parametrize(
    ("metre", "dance", "bar", "chords", "found"),
    [
        ("4/4", "", "G8", "C", ["C"]),
        ("4/4", "", "G8", "C D7", ["C", "1/2:D7"]),
        ("4/4", "", "G8", "C . D7", ["C", "3/4:D7"]),
        ("4/4", "", "G8", ". . . D7", ["3/4:D7"]),
        ("4/4", "", "G8", "C D G", ["C", "1/2:D", "3/4:G"]),
        ("4/4", "", "G8", "C, D, G, D", ["C", "1/4:D", "1/2:G", "3/4:D"]),
        ("4/4", "reel", "G8", "C D", ["C", "1/2:D"]),
        ("4/4", "reel", "G8", "C D G", ["C", "1/2:D", "3/4:G"]),
        ("6/8", "", "G6", "C D", ["C", "3/8:D"]),
        ("3/4", "", "G6", "C D", ["C", "1/2:D"]),
        ("3/8", "", "G3", "C D", ["C", "1/4:D"]),
        ("9/8", "", "G9", "C D G", ["C", "3/8:D", "3/4:G"]),
        ("7/8", "", "G7", "C D G", ["C", "3/8:D", "5/8:G"]),
        ("4/4", "", "G8", "N.C.", ["N.C."]),
        ("4/4", "", "G8", "-", []),
        ("none", "", "G4", "C D", ["C", "1/4:D"]),
    ],
)
def test_spread_over_the_beats(metre, dance, bar, chords, found):
    """Chords are spread over the felt beats of the bar, over those of its metre or the notes of
    a bar of one beat where they need them; the earlier last longer, and a dot lets one go on."""
    assert after(tune_of_body(f"{bar}|", metre, dance), f"1: {chords}") == [found]


def test_other_bars_sound_as_before():
    """A bar without a symbol keeps the chord that went on into it: it is named there."""
    tune = tune_of_body('"G"G8|A8|"D"B8|c8|d8|')
    assert after(tune, "1: C", "4: Em Am") == [
        ["C"], ["G"], ["D"], ["Em", "1/2:Am"], ["D"]
    ]  # fmt: skip
    assert after(tune, "3: -") == [["G"], [], [], ["D"], []]


def test_before_the_first_chord():
    """A bar that had no chord yet has none still, which is said to players as N.C."""
    assert after(tune_of_body("G8|A8|B8|"), "2: D") == [[], ["D"], ["N.C."]]


def test_into_both_endings():
    """Also into a second-time bar, and back to the repeat's start, chords go on as before."""
    tune = tune_of_body('|:G8|"C"A8|1 B8:|2 c8|]')
    found = set_chords(tune, [bar_chords("2: Am")])
    assert [[str(one) for one in bar if one] for bar in sounding(found)] == [
        [], ["Am"], ["C"], ["C"]
    ]  # fmt: skip


@pytest.mark.parametrize("change", ["1: C", "2: C D", "4: -", "6: N.C.", "8: . Em"])
def test_nothing_else_changes(change):
    """Whatever is set in one bar, all others sound as before, and no note is touched."""
    tune = tune_of_body('"G"G8|"C"A4"D"A4|B8|"Em"c8|1 "Am"d8:|2 e8|f8|"G"g8|]')
    found = set_chords(tune, [bar_chords(change)])
    assert found.voices == tune.voices
    number = int(change.split(":")[0])
    before, now = sounding(tune), sounding(found)
    for bar, old, new in zip(tune.bars, before, now, strict=True):
        assert old == new or bar.number == number


def test_a_bar_that_a_repeat_splits():
    """Of a bar that a repeat sign splits it is the half before the sign; a pickup is bar 0."""
    tune = tune_of_body('d2|"G"G8|A6:|d2|"D"B8|c6|]')
    assert after(tune, "2: C", "0: D7") == [["D7"], ["G"], ["C"], ["G"], ["D"], []]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (["9: G"], "there is no bar 9 here"),
        (["0: G"], "there is no bar 0 here"),
        (["1: G C D Em Am"], "bar 1 has 4 beats, and 5 chords are given"),
        (["1: G", "2: C", "1: D"], "bar 1 is set twice"),
    ],
)
def test_what_cannot_be_set(changes, message):
    """A bar that is not there or is set twice, and more chords than beats, are refused."""
    with pytest.raises(PracticeError) as caught:
        after(tune_of_body("G8|A8|"), *changes)
    assert caught.value.message == message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("12 G", "is not a bar and its chords"),
        ("12:", "is not a bar and its chords"),
        ("G: 12", "is not a bar and its chords"),
        ("-1: G", "is not a bar and its chords"),
        ("1.5: G", "is not a bar and its chords"),
        ("1: H", "'H' is not a chord"),
        ("1: G - D", "'-' is not a chord"),
    ],
)
def test_what_cannot_be_read(text, message):
    """Words that are no bar and its chords are refused, with an example."""
    with pytest.raises(UsageError) as caught:
        bar_chords(text)
    assert message in caught.value.message
    assert caught.value.hint.startswith("give ")
