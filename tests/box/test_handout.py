"""A tune for pupils whose boxes differ."""

from itertools import product
from pathlib import Path

import pytest

from backing.box.handout import ForBox, handout
from backing.box.layout import Layout
from backing.box.under_notes import under_notes
from backing.errors import TuneError
from backing.files import load_box, read_tune
from backing.music.saying import said_in
from backing.music.tune import Note, Tune
from backing.parse.abc import parse_abc

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.abc"))
FOURTHS = ("D/G", "G/C", "A/D", "C/F")


def tune_of_body(body: str, key: str = "D") -> Tune:
    """A tune in four-four with this body."""
    return parse_abc(f"X:1\nT:Two\nM:4/4\nL:1/8\nK:{key}\n{body}\n")


def pages(tune: Tune, *boxes: str, same_key: bool = False) -> tuple[ForBox, ...]:
    """The tune for these boxes."""
    return handout(tune, [load_box(box) for box in boxes], same_key=same_key)


def sounded(page: ForBox) -> list[tuple[int, ...]]:
    """The MIDI keys that the buttons of a page sound, note by note as played."""
    return [
        tuple(sorted(press.button.sounding(note.direction) for press in note.presses))
        for note in page.fit.fingering.notes
    ]


def words(page: ForBox) -> list[str]:
    """What is said of a page, in English."""
    return list(map(said_in, page.said))


def written(page: ForBox) -> list[list[tuple[str, str]]]:
    """What stands under the notes of a page."""
    return [[tuple(under) for under in bar] for bar in under_notes(page.tune, page.fit.fingering)]


def struck(tune: Tune) -> list[Note]:
    """The notes of the melody, as they are written."""
    return [note for bar in tune.melody.bars for note in bar if note.pitches]


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_same_buttons_sound_the_tune_moved(path):
    """On a G/C box the buttons of a D/G box sound every note seven semitones lower (the rows
    lie a fifth apart), and the same signs stand under the notes."""
    first, second = pages(read_tune(path).tune, "D/G", "G/C")
    if "same buttons" in words(second)[0]:
        assert [[key - 7 for key in keys] for keys in sounded(first)] == list(
            map(list, sounded(second))
        )
        assert written(first) == written(second)


@pytest.mark.slow
@pytest.mark.parametrize(("one", "other"), [p for p in product(FOURTHS, FOURTHS) if p[0] != p[1]])
def test_what_is_written_is_what_sounds(one, other):
    """From each box with rows a fourth apart to each other: what stands on the page is, in some
    octave, what the answering buttons sound there, note by note."""
    key = one.split("/")[0]
    tune = pages(tune_of_body("D2F2 A2d2|f2e2 d2A2|B2d2 c2A2|d8|"), "D/G", one)[1].tune
    first, second = pages(tune, one, other)
    keys = [sorted(pitch.midi for pitch in note.pitches) for note in struck(second.tune)]
    differences = {a - b for row, keys_ in zip(keys, sounded(second), strict=True)
                   for a, b in zip(row, keys_, strict=True)}  # fmt: skip
    assert len(differences) == 1, key
    assert differences.pop() % 12 == 0
    assert written(first) == written(second)


def test_the_octave_is_said():
    """Where it reads better an octave from where it sounds, the page says so, and only then."""
    for box in FOURTHS[1:]:
        first, page = pages(tune_of_body("D2F2 A2d2|f2e2 d2A2|"), "D/G", box)
        keys = [note.pitches[0].midi for note in struck(page.tune)]
        moved = keys[0] - sounded(page)[0][0]
        assert any("octave" in line and "Written" in line for line in words(page)) == (moved != 0)
        assert first.said == ()


def test_the_first_box_has_the_tune_as_it_is():
    """The first page is the tune itself, unchanged, and nothing is said of it."""
    tune = tune_of_body("D2F2 A2d2|")
    assert pages(tune, "D/G", "G/C")[0].tune == tune
    assert pages(tune, "D/G")[0].said == ()


def test_the_new_key_is_said():
    """The page of another box says how far it sounds from the first, and in which key."""
    page = pages(tune_of_body("D2F2 A2d2|"), "D/G", "G/C")[1]
    assert words(page)[0] == (
        "The same buttons as on the D/G: it sounds a fifth down, now in G major."
    )
    assert page.tune.key.tonic == 7


@pytest.mark.parametrize("other", ["B/C", "C#/D"])
def test_fingered_anew_where_buttons_do_not_answer(other):
    """Rows a semitone apart do not answer rows a fourth apart: the tune stays in its key, with
    buttons of its own that sound it, and the page says so."""
    tune = tune_of_body("D2F2 A2d2|f2e2 d2A2|")
    first, second = pages(tune, "D/G", other)
    assert second.tune == tune
    assert sounded(second) == sounded(first)
    assert words(second)[0] == (
        "The buttons of the D/G do not go here: fingered anew, in the tune's key."
    )


def test_the_same_key_for_all():
    """With the same key every page is the tune itself and sounds the same notes."""
    tune = tune_of_body("G2B2 d2g2|", key="G")
    first, second = pages(tune, "D/G", "G/C", same_key=True)
    assert second.tune == first.tune == tune
    assert sounded(first) == sounded(second)
    assert words(second)[0] == "In the same key as for the D/G, with buttons of its own."


def test_missing_notes_are_said():
    """A note that a box lacks is named with its bar, and marked with a question mark."""
    page = pages(tune_of_body("D2F2 A2=f2|C,8|"), "D/G")[0]
    assert "C#3 (bar 2)" in words(page)[0]
    assert words(page)[0].startswith("Not on a D/G:")
    assert words(page)[0].endswith("marked ?.")
    assert ("?", "") in written(page)[1] or ("", "?") in written(page)[1]


def test_chords_move_with_the_tune():
    """The chord letters of a moved page are moved as far as its notes."""
    page = pages(tune_of_body('"D"D2F2 "A7"A2e2|'), "D/G", "G/C")[1]
    assert [symbol.text for symbol in page.tune.bars[0].chords] == ["G", "D7"]


def test_a_tune_without_notes():
    """A tune of nothing but rests is refused in words."""
    with pytest.raises(TuneError):
        pages(tune_of_body("z8|"), "D/G")


def test_other_layouts_answer_by_their_buttons():
    """A one-row box answers with the row of its key: the page in D has the very notes."""
    layout: Layout = load_box("D")
    tune = tune_of_body("D2F2 A2d2|f2a2 d4|")
    first, second = handout(tune, [load_box("D/G"), layout])
    if "same buttons" in words(second)[0]:
        assert sounded(first) == sounded(second)
    else:
        assert second.tune == tune
