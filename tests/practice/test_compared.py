"""A tune tried on every box and in every key."""

import pytest

from backing.box.fit import fit
from backing.box.line import line_of
from backing.errors import TuneError
from backing.files import box_names, load_box
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.transpose import interval_of, move_tune
from backing.music.tune import Tune
from backing.parse.abc import parse_abc
from backing.practice.compared import (
    Trial,
    best_keys,
    comparable,
    fitting_boxes,
    fitting_keys,
    on_boxes,
)

DG = load_box("D/G")
IN_F = '"F"F2A2 c2A2|"Bb"B2d2 "C"c2G2|"F"FGAB c2E2|F8|'
BARE = "F2A2 c2A2|B2d2 c2G2|FGAB c2E2|F8|"


def made(body: str, head: str = "M:4/4\nL:1/8\nK:F") -> Tune:
    """A tune from ABC."""
    return parse_abc(f"X:1\nT:Test\n{head}\n{body}\n")


@pytest.mark.slow
@pytest.mark.parametrize("body", ["d''2f''2 a''2d''2|", "D,,2F,,2 A,,2D,,2|"])
def test_each_of_the_twelve_keys_is_tried_once(body):
    """A tune that is too high or too low is tried in every key, by octaves of it."""
    found = best_keys(Trial(made(body, "M:4/4\nL:1/8\nK:D")), DG)
    assert sorted(one.semitones % 12 for one in found) == list(range(12))
    assert all((one.key.tonic - one.semitones) % 12 == 2 for one in found)


@pytest.mark.slow
def test_no_key_has_more_signs_than_it_must():
    """Half an octave from F lies B with five sharps, not C flat with seven flats (the circle of
    fifths)."""
    found = best_keys(Trial(made(IN_F)), DG)
    assert max(abs(one.key.fifths) for one in found) == 6
    assert "B major" in {str(one.key) for one in found}


@pytest.mark.slow
def test_a_tune_in_f_is_best_in_g_or_d_on_a_d_g():
    """F major does not sit on a D/G, G and D do (mally.com/irishondg.asp for G and D; F computed
    from the rows)."""
    keys = best_keys(Trial(made(IN_F)), load_box("D/G:low-notes"))
    assert {str(one.key) for one in keys if one.fit.fits} == {"D major", "G major"}
    assert all(one.fit.fits for one in keys[:2])


@pytest.mark.slow
def test_the_best_of_the_boxes_for_a_tune_in_f_is_a_c_f():
    """F major is at home on a C/F."""
    boxes = on_boxes(Trial(made(IN_F)), [load_box(name) for name in box_names()])
    assert boxes[0].layout.name == "C/F"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["D/G", "G/C", "C/F"])
def test_a_box_is_judged_by_the_chords_that_are_found_for_it(name):
    """The chords of a bare tune are those that are found with the box in hand, whichever boxes
    it is compared with; its own chords are the same everywhere."""
    layout = load_box(name)
    chorded, _ = with_chords_from(made(BARE), None, layout.all_chords)
    found = {one.layout.name: one.fit for one in on_boxes(Trial(made(BARE)), [DG, layout])}
    assert found[name].share == fit(line_of(chorded), layout).share
    own = on_boxes(Trial(made(IN_F)), [layout])[0].fit
    assert own.share == fit(line_of(made(IN_F)), layout).share


@pytest.mark.slow
@pytest.mark.parametrize("semitones", [2, 7, 9])
def test_a_key_is_judged_by_the_chords_that_are_found_in_it(semitones):
    """The chords of a bare tune in another key are those that are found for it when it is moved
    there first."""
    moved = move_tune(made(BARE), interval_of(semitones))
    chorded, _ = with_chords_from(moved, None, DG.all_chords)
    (there,) = [one for one in best_keys(Trial(made(BARE)), DG) if one.semitones == semitones]
    assert there.fit.share == fit(line_of(chorded), DG).share


@pytest.mark.slow
@pytest.mark.parametrize("body", [IN_F, BARE])
def test_keys_and_boxes_that_fit_are_those_of_the_tables(body):
    """What helps are the rows of the tables that lack nothing, the tune's own key and box left
    out, in the same order."""
    trial, boxes = Trial(made(body)), [load_box(name) for name in box_names()]
    keys = [one for one in best_keys(trial, DG) if one.fit.fits and one.semitones % 12]
    assert [one.semitones for one in fitting_keys(trial, DG)] == [one.semitones for one in keys]
    there = [one.layout.name for one in on_boxes(trial, boxes) if one.fit.fits]
    assert [one.layout.name for one in fitting_boxes(trial, boxes)] == there


def test_a_tune_without_chords_is_compared_without():
    """Where the left hand rests no chord is found."""
    (found,) = on_boxes(Trial(made(BARE), ChordSource.NONE), [DG])
    assert found.fit.share is None
    assert not Trial(made(IN_F)).finds_chords
    assert Trial(made(IN_F), ChordSource.SUGGEST).finds_chords


@pytest.mark.parametrize("body", [f"|{':' * 99}{'ABde' * 6}{':' * 99}|", "F8|" + "z8|" * 1_000])
def test_a_tune_with_too_many_notes_or_bars_to_compare(body):
    """More than 2,000 notes or 1,000 bars as they are played are not tried in every key, nor on
    every box."""
    trial = Trial(made(body, "M:4/4\nL:1/8\nK:D"))
    assert not comparable(line_of(trial.tune))
    for compare in (lambda: best_keys(trial, DG), lambda: on_boxes(trial, [DG])):
        with pytest.raises(TuneError, match="more than 2,000 notes or 1,000 bars") as caught:
            compare()
        assert "part of the tune" in caught.value.hint
