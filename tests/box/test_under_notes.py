"""The buttons under the written notes: which, on which line, and as the last two verses."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from backing.box.fingering import Fingering, finger
from backing.box.layout import Direction
from backing.box.line import line_of
from backing.box.under_notes import (
    UnderNote,
    button_sign,
    fingered_bars,
    has_buttons,
    under_notes,
    with_buttons,
    without_buttons,
)
from backing.files import load_box, read_tune
from backing.music.tune import Note, Tune
from backing.parse.abc import parse_abc
from backing.render.abc import render_abc

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.abc"))
DG = load_box("D/G")


def tune_of_body(body: str, key: str = "D") -> Tune:
    """A tune in four-four with this body."""
    return parse_abc(f"X:1\nT:Under\nM:4/4\nL:1/8\nK:{key}\n{body}\n")


def fingered(tune: Tune, box: str = "D/G") -> Fingering:
    """The usual fingering of a tune."""
    return finger(line_of(tune), load_box(box))


def signs_of(body: str, key: str = "D") -> list[UnderNote]:
    """What stands under each note of a body, in order."""
    tune = tune_of_body(body, key)
    return [under for bar in under_notes(tune, fingered(tune)) for under in bar]


def sounded(under: UnderNote) -> Iterator[int]:
    """The MIDI keys that the buttons under a note sound."""
    direction = Direction.PUSH if under.push else Direction.PULL
    for sign in (under.push or under.pull).split("+"):
        row, number = sign.count("'"), int(sign.rstrip("'"))
        yield next(button.sounding(direction) for button in DG.rows[row] if button.number == number)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_buttons_sound_the_notes(path):
    """The buttons under each note of the examples sound that note on the box, and stand on
    the line of one direction."""
    tune = read_tune(path).tune
    found = under_notes(tune, fingered(tune))
    for notes, bar in zip(tune.melody.bars, found, strict=True):
        for note, under in zip(notes, bar, strict=True):
            assert bool(under.push) != bool(under.pull) or note.rest
            if "?" not in (under.push, under.pull) and not note.rest:
                assert sorted(sounded(under)) == sorted(pitch.midi for pitch in note.pitches)


def test_rests_ties_and_grace_notes_have_none():
    """Nothing stands under a rest or under a note that a tie holds on, over a bar line too;
    grace notes take none from the note that they precede."""
    found = signs_of("{e}D2 z2 F2-F2|A4-A4-|A8|")
    assert [bool(under.push or under.pull) for under in found] == [
        True, False, True, False, True, False, False
    ]  # fmt: skip
    assert found[0] == signs_of("D8|")[0]


def test_a_double_stop():
    """Buttons struck together are joined with +, which no lyric line takes for a sign (ABC 2.1
    clause 5.1), the lowest note's first."""
    (under,) = signs_of("[DF]8|")
    assert under == UnderNote("3+4", "")


def test_a_note_struck_into_one_that_is_held():
    """Of a double stop in which one note is held over, only the button struck is written."""
    first, second = signs_of("[D-F]4 [DA]4|")
    assert (first.push, second.push) == ("3+4", "5")


def test_a_note_that_the_box_lacks():
    """A note that the box lacks has a question mark, on the line of the note before it."""
    assert signs_of("D4 _E,4|")[1] == UnderNote("?", "")


def test_a_bar_that_is_played_twice():
    """A note that is tied into from the first-time bar alone has the button of the other time."""
    tune = tune_of_body("|:D4 A4|1 E4 F4-:|2 F4 D4|]")
    tied_back = tune_of_body("|:F4 A4|1 E4 F4-:|2 F4 D4|]")
    for each in (tune, tied_back):
        assert all(
            under.push or under.pull for bar in under_notes(each, fingered(each)) for under in bar
        )


def test_a_bar_that_is_never_played():
    """Bars that no jump leads to have nothing under them."""
    tune = tune_of_body("D8|!fine!E8!D.C.!|F8|]")
    found = under_notes(tune, fingered(tune))
    played = [bool(note) for bar in fingered_bars(tune, fingered(tune)) for note in bar]
    assert [bool(any(bar[0])) for bar in found] == played


# -- as verses --------------------------------------------------------------------------


def lyrics(tune: Tune) -> list[tuple[str, ...]]:
    """The lyrics of the melody's notes."""
    return [note.lyrics for bar in tune.melody.bars for note in bar]


def test_buttons_are_the_last_two_verses():
    """The tune's own lyrics stay the first verses; push and pull lines come after them."""
    tune = tune_of_body("D2 E2 z2 F2|A8|\nw:one two three four\nw:* zwei")
    found = lyrics(with_buttons(tune, fingered(tune)))
    assert found == [
        ("one", "", "3"),
        ("two", "zwei", "", "3"),
        (),
        ("three", "", "4"),
        ("four", "", "5"),
    ]


def test_buttons_are_replaced():
    """Buttons that stand under the notes already are replaced, whichever box they were of; what
    is sung stays."""
    tune = tune_of_body("D2 E2 F2 G2|A8|\nw:one two three four five")
    once = with_buttons(tune, fingered(tune))
    again = with_buttons(with_buttons(tune, fingered(tune, "G/C")), fingered(tune))
    assert again == once
    assert without_buttons(once) == tune
    assert (has_buttons(once), has_buttons(tune)) == (True, False)


@pytest.mark.parametrize("words", ["1 2 3 four", "5 6", "one"])
def test_what_is_sung_is_no_button(words):
    """Verses with any word that is no button are lyrics; where the last verse has figures alone
    it is taken for buttons."""
    tune = tune_of_body(f"D2 E2 F2 G2|\nw:{words}")
    assert has_buttons(tune) == (words == "5 6")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_written_and_read_again(path):
    """Every example with its buttons, written as ABC, reads as the same tune."""
    tune = read_tune(path).tune
    buttoned = with_buttons(tune, fingered(tune))
    assert has_buttons(buttoned)
    again = parse_abc(render_abc(buttoned))
    assert again.voices == buttoned.voices


def test_all_in_one_direction():
    """A tune that is all on the push has one line more, and it is known again."""
    tune = tune_of_body("D2 F2 A2 d2|D8|")
    buttoned = with_buttons(tune, fingered(tune))
    again = parse_abc(render_abc(buttoned))
    assert again.voices == buttoned.voices
    assert without_buttons(again).voices == tune.voices


def test_the_sign_of_the_inner_row():
    """A button of the inner row has a prime, as `fit` prints it."""
    tune = tune_of_body("G2 B2 d2 g2|G8|", "G")
    found = fingered(tune)
    inner = [note for note in found.notes if note.presses[0].button.row == 1]
    assert inner
    assert [button_sign(note.presses) for note in inner] == [
        f"{note.presses[0].button.number}'" for note in inner
    ]


def test_other_things_stay():
    """Nothing of a note but its lyrics is touched."""
    tune = tune_of_body('"^slow"(.D2 !trill!E2) {g}F2 z2|"D"[DA]8|')

    def bare(each: Tune) -> list[Note]:
        return [note._replace(lyrics=()) for bar in each.melody.bars for note in bar]

    assert bare(with_buttons(tune, fingered(tune))) == bare(tune)
