"""What helps a tune that does not sit on a box: octaves, and odd notes changed."""

import pytest

from backing.box.fit import fit
from backing.box.line import line_of
from backing.box.remedies import changes, octaves
from backing.box.words import change_words
from backing.files import load_box
from backing.parse.abc import parse_abc

DG = load_box("D/G")


def tune_line(body: str, head: str = "M:4/4\nL:1/8\nK:D") -> object:
    """A line from ABC."""
    return line_of(parse_abc(f"X:1\nT:Test\n{head}\n{body}\n"))


def test_another_octave_helps_a_tune_that_is_too_low():
    """A tune below a D/G fits an octave higher."""
    line = tune_line("D,2F,2 A,2F,2|D,8|")
    assert not fit(line, DG).fits
    assert octaves(line, DG)[0] == 12


def test_octaves_that_help_are_found_two_up_and_two_down():
    """Where one octave is not enough two are tried, and the nearest comes first."""
    assert octaves(tune_line("d''2f''2 a''2d''2|"), DG) == (-12, -24)
    assert octaves(tune_line("d'''2f'''2|"), DG) == (-24,)
    assert octaves(tune_line("D,,2F,,2|"), DG) == (24,)


def test_the_odd_note_is_changed_for_a_chord_tone_in_the_direction_played():
    """An F on a box without it becomes a note of the chord that the bellows have there."""
    found = fit(tune_line('"D"d2=f2 a2d2|d8|'), load_box("D/G:low-notes"))
    (change,) = changes(found)
    assert (str(change.note), str(change.instead), change.bars) == ("F5", "F#5", (1,))
    assert change_words(change) == "F#5 for F5 in bar 1"


@pytest.mark.parametrize(
    ("body", "instead"), [('"D"d2=f2 a2d2|d8|', "F#5"), ('"A"e2=f2 g2e2|e8|', "E5")]
)
def test_an_odd_note_is_changed_for_one_of_the_direction(body, instead):
    """On one row in D the F sharp is pushed and the E is pulled: an F becomes the one that the
    bellows have where it stands."""
    (change,) = changes(fit(tune_line(body), load_box("D")))
    assert (str(change.note), str(change.instead)) == ("F5", instead)


@pytest.mark.parametrize(
    ("key", "body", "changed"),
    [
        ("Em", "e2a2 g2e2|E8|", {"A5": "F#5"}),
        ("Ador", "e2a2 g2e2|A8|", {"A5": "A4"}),
        ("Em", "e2g2 b2g2|e4 a4|", {"A5": "A4"}),
        ("C", "e2c2 e2g2|c2d2 e4|", {}),
    ],
)
def test_the_key_note_and_the_last_note_stay_what_they_are(key, body, changed):
    """On one row in G an A above the staff, in passing, becomes one that is pulled too; as the
    key note or at the end it goes to the next octave; and there is no other note for a key note
    that is on no button (common practice, no source)."""
    found = fit(tune_line(body, f"M:4/4\nL:1/8\nK:{key}"), load_box("G" if changed else "D"))
    assert {str(change.note): str(change.instead) for change in changes(found)} == changed


def test_a_note_in_another_octave_is_said():
    """The octave is named, so that it is not taken for a slip."""
    (change,) = changes(fit(tune_line("e2a2 g2e2|A8|", "M:4/4\nL:1/8\nK:Ador"), load_box("G")))
    assert change_words(change) == "A4, an octave down, for A5 in bar 1"
