"""Pages of buttons alone, chord grids, the legend, and signs that no font has."""

from itertools import pairwise

import pytest

from backing.box.under_notes import under_notes
from backing.music.tune import Tune
from backing.parse.abc import parse_abc
from backing.render.sheet.boxes import grid_parts, printed_chord
from backing.render.sheet.legend import board_of, legend_of
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.printable import unprintable
from backing.render.sheet.sheets import render_sheet
from backing.render.sheet.strip import strip_rows

STRIP = SheetLook(kind="strip")


def tune_of_body(body: str, metre: str = "4/4") -> Tune:
    """A tune in D with this body."""
    return parse_abc(f"X:1\nT:Strip\nM:{metre}\nL:1/8\nK:D\n{body}\n")


@pytest.mark.slow
@pytest.mark.parametrize("large", [False, True])
def test_a_strip_has_every_button_once_and_in_order(fitted, large):
    """Line by line a page of buttons has the buttons of the tune, each on its row."""
    look = STRIP._replace(large=large)
    for title, one in fitted.items():
        bars = [bar for row in strip_rows(one.tune, one.fit, look) for bar in row]
        under = [u for bar in under_notes(one.tune, one.fit.fingering) for u in bar if any(u)]
        shown = [
            (n["sign"], n["push"])
            for bar in bars for n in sorted(bar["notes"], key=lambda n: n["x"]) if n["sign"]
        ]  # fmt: skip
        assert shown == [(u.push or u.pull, bool(u.push)) for u in under], title


@pytest.mark.slow
def test_lines_are_never_wider_than_the_page(fitted):
    """The bars of a line are together at most as wide as it is, and none is empty of width."""
    for one in fitted.values():
        for row in strip_rows(one.tune, one.fit, STRIP):
            assert sum(bar["width"] for bar in row) <= 1.2 + 1e-9
            assert all(bar["width"] > 0 for bar in row)


def test_places_are_shares_of_the_bar(page):
    """A note stands where it begins in its bar, and its line is as long as it is held."""
    one = page(tune_of_body('"D"d4 f2a2|'))
    notes = strip_rows(one.tune, one.fit, STRIP)[0][0]["notes"]
    assert [(note["x"], note["length"]) for note in notes] == [(0, 0.5), (0.5, 0.25), (0.75, 0.25)]


def test_a_tie_holds_on_across_the_bar_line(page):
    """A note that is tied on has no number again, but its line goes on in the next bar."""
    one = page(tune_of_body('"D"d8-|d4 f4|'))
    bars = [bar for row in strip_rows(one.tune, one.fit, STRIP) for bar in row]
    held = bars[1]["notes"][0]
    assert (held["sign"], held["x"], held["length"]) == ("", 0, 0.5)
    assert held["push"] == bars[0]["notes"][0]["push"]


@pytest.mark.parametrize(
    ("metre", "beats"), [("4/4", 4), ("6/8", 2), ("9/8", 3), ("3/4", 3), ("2/4", 2)]
)
def test_a_tick_for_each_felt_beat(page, metre, beats):
    """A bar has a tick for each beat that is felt, from its start at equal distances."""
    body = {"4/4": "d8|", "6/8": "d6|", "9/8": "d9|", "3/4": "d6|", "2/4": "d4|"}[metre]
    one = page(tune_of_body(body, metre))
    ticks = strip_rows(one.tune, one.fit, STRIP)[0][0]["beats"]
    assert len(ticks) == beats
    assert ticks[0] == 0
    assert len({round(b - a, 6) for a, b in pairwise(ticks)}) <= 1


def test_repeats_and_endings_of_a_strip(page):
    """Repeat signs, endings and the end are where the tune has them."""
    one = page(tune_of_body("|:d8|1e8:|2f8|]"))
    bars = [bar for row in strip_rows(one.tune, one.fit, STRIP) for bar in row]
    assert [bar["opens"] for bar in bars] == [True, False, False]
    assert [bar["close"] for bar in bars] == ["", "repeat", "end"]
    assert [bar["ending"] for bar in bars] == ["", "1.", "2."]


def test_a_grid_has_the_chords_bar_by_bar():
    """Each box of a grid has its bar's number and its chords with printed accidentals."""
    tune = tune_of_body('|:"D"d4"Bb"d4|1"F#m"e8:|2"D"f8|]')
    columns, parts = grid_parts(tune)
    cells = [cell for row in parts[0]["rows"] for cell in row["cells"]]
    assert columns == 4
    assert [cell["number"] for cell in cells] == ["1", "2", "3"]
    assert cells[0]["words"] == ["D", "B♭"]
    assert cells[1]["words"] == ["F♯m"]
    assert [cell["ending"] for cell in cells] == ["", "1.", "2."]
    assert [cell["closes"] for cell in cells] == [False, True, False]
    assert cells[0]["opens"]


def test_printed_chords():
    """Accidentals of root and bass are printed; the letter B is none."""
    assert printed_chord("Bb/Ab") == "B♭/A♭"
    assert printed_chord("B7") == "B7"
    assert printed_chord("C#m7b5") == "C♯m7♭5"


def test_the_legend_has_only_what_stands_there(page):
    """The key explains the signs of its page and no others."""
    plain = dict(legend_of(*page(tune_of_body('"D"d8|'))[:2], SheetLook()))
    assert "?" not in plain
    assert "3+5" not in plain
    assert "(-)" not in plain
    rich = dict(legend_of(*page(tune_of_body('"D"[df]4 C,4|"F#"d8|'))[:2], SheetLook()))
    assert rich["?"] == "the D/G has no button for this note"
    assert "3+5" in rich
    assert "(-)" in rich


def test_the_legend_of_marks(page):
    """Fingers, air and hard bars are explained where they are asked for."""
    one = page(tune_of_body('"D"' + "d2d2 d2d2|" * 12))
    look = SheetLook(fingers=True, hard=True, air=True)
    signs = dict(legend_of(one.tune, one.fit, look))
    assert {"1 2 3 4", "[12]"} <= set(signs)
    assert ("air" in signs) != one.fit.bellows.steady
    assert "[12]" not in dict(legend_of(one.tune, one.fit, SheetLook()))


def test_the_legend_of_a_one_row_box(page):
    """A one-row box has no outer and inner row: buttons are counted from the chin."""
    one = page(tune_of_body('"D"d8|'), "D")
    signs = dict(legend_of(one.tune, one.fit, SheetLook()))
    assert signs["6"] == "button 6, counted from the chin"
    assert "6  6'" not in signs


def test_the_board_is_the_layout(page):
    """The left hand's board has each button once, with what it sounds on push and pull."""
    layout = page(tune_of_body('"D"d8|')).fit.layout
    board = [button for column in board_of(layout) for button in column["buttons"]]
    assert len(board) == len(layout.left)
    assert ["d", "a"] in board
    assert ["D", "A"] in board


@pytest.mark.slow
def test_signs_that_no_font_has():
    """Latin, Greek, Cyrillic, Hebrew and music's accidentals are there; Chinese and pictures are
    not, and the page has a question mark for each of them and says so."""
    assert unprintable(["é Ω Жук שיר ♭♯ — “”"]) == frozenset()
    assert unprintable(["音🎵", "plain"]) == {"音", "🎵"}
    tune = parse_abc("X:1\nT:Sound 音\nM:4/4\nL:1/8\nK:D\nd8|\n")
    made = render_sheet([SheetPage(tune)], SheetLook())
    assert [notice.message for notice in made.notices] == ["the sheet's fonts have no 音"]


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["pdf", "svg", "png"])
def test_the_same_sheet_is_the_same_bytes(fitted, kind):
    """Two renders of a sheet are the same to the byte, in each kind of file."""
    pages = [fitted["The Towpath Mare"], fitted["Many Chords in a Bar"]]
    one, two = (render_sheet(pages, SheetLook(), kind).files for _ in range(2))
    assert one == two
    assert len(one) == (1 if kind == "pdf" else 2)
