"""Where lines of music end, and how bars are cut that are wider than a line."""

from fractions import Fraction
from itertools import accumulate, pairwise

from hypothesis import given
from hypothesis import strategies as st

from backing.music.tune import Tune
from backing.parse.abc import parse_abc
from backing.render.sheet.breaks import BarWidth, bar_widths, line_starts
from backing.render.sheet.cut import cut_marks, cut_tune, pieces_of_bars

BARS = st.lists(
    st.builds(BarWidth, st.floats(5, 80), st.booleans(), st.booleans(), st.booleans(),
              st.floats(0, 150)),
    min_size=1, max_size=40,
)  # fmt: skip
FREE = "D2 FA d4 c2 BA (3GFE D4 z2 DE FG A8"


def free(body: str = FREE) -> Tune:
    """A tune without metre, of two bars."""
    return parse_abc(f"X:1\nT:Free\nM:none\nL:1/8\nK:D\n{body}|{body}|\n")


@given(BARS)
def test_every_bar_once_and_in_order(bars):
    """The first line starts with the first bar, and each line after the one before it."""
    starts = line_starts(bars, 120.0)
    assert starts[0] == 0
    assert list(starts) == sorted(set(starts))
    assert starts[-1] < len(bars)


@given(BARS)
def test_no_line_is_too_full(bars):
    """A line is squeezed to five sixths of its width at most, but for a bar that is wider than a
    line, which has one of its own."""
    starts = [*line_starts(bars, 120.0), len(bars)]
    for start, stop in pairwise(starts):
        width = sum(bar.width for bar in bars[start:stop])
        assert width <= 1.2 * 120.0 + 1e-9 or stop == start + 1


@given(st.integers(1, 12), st.floats(20, 29))
def test_phrases_stay_together_where_they_fit(phrases, width):
    """Where four bars fill a line well, every line is a phrase."""
    bars = [BarWidth(width, phrase=not n % 4, pair=n % 4 == 2) for n in range(4 * phrases)]
    assert line_starts(bars, 4 * width / 0.95) == tuple(range(0, 4 * phrases, 4))


def test_lines_break_before_parts():
    """A part begins a line where it costs no line more."""
    bars = [BarWidth(30, part=n in (0, 6), phrase=n in (0, 4, 6, 10)) for n in range(12)]
    assert 6 in line_starts(bars, 130)


def test_signs_that_cannot_be_squeezed_ask_for_room():
    """Bars with wide signs above them are fewer in a line."""
    plain = [BarWidth(30, phrase=not n % 4) for n in range(8)]
    signed = [bar._replace(signs=60) for bar in plain]
    assert len(line_starts(signed, 130)) > len(line_starts(plain, 130))


def test_a_phrase_is_counted_without_its_pickup():
    """A phrase is four full bars; the pickup goes with the first."""
    tune = parse_abc("X:1\nT:P\nM:4/4\nL:1/8\nK:D\nA2|" + "d8|" * 8 + "\n")
    found = bar_widths(tune, [10.0] * 9)
    assert [index for index, bar in enumerate(found) if bar.phrase] == [0, 5]


def test_pieces_hold_all_notes():
    """A bar that is cut has the same notes, and its pieces are together as long as it was."""
    tune = free()
    pieces = pieces_of_bars(tune, {0: 3})
    cut = cut_tune(tune, pieces)
    assert len(cut.bars) == 4
    assert sum(bar.length for bar in cut.bars) == sum(bar.length for bar in tune.bars)
    assert [note.pitches for note in cut.notes()] == [note.pitches for note in tune.notes()]
    starts = list(accumulate((bar.length for bar in cut.bars), initial=Fraction(0)))
    again = [starts[n] + note.onset for n, bar in enumerate(cut.melody.bars) for note in bar]
    first = tune.bars[0].length
    assert again == [
        n * first + note.onset for n, bar in enumerate(tune.melody.bars) for note in bar
    ]


@given(st.integers(2, 12))
def test_no_tuplet_is_cut(count):
    """However many pieces are asked for, a group of three stays in one."""
    cut = cut_tune(free(), pieces_of_bars(free(), {0: count}))
    for bar in cut.melody.bars:
        assert sum(1 for note in bar if note.tuplet) in (0, 3)


@given(st.integers(1, 6))
def test_marks_move_along(count):
    """A mark stands at the same place of the tune after the cut."""
    tune = free()
    pieces = pieces_of_bars(tune, {0: count})
    marks = {0: [(note.onset, "x") for note in tune.melody.bars[0]]}
    moved = cut_marks(marks, pieces)
    again = [pieces[at].start + onset for at in sorted(moved) for onset, _ in moved[at]]
    assert again == [onset for onset, _ in marks[0]]
    for at, row in moved.items():
        assert all(0 <= onset < pieces[at].stop - pieces[at].start for onset, _ in row)


def test_what_is_not_asked_for_stays_whole():
    """Other bars are one piece, the bar itself."""
    tune = free()
    pieces = pieces_of_bars(tune, {})
    assert [piece.bar for piece in pieces] == [0, 1]
    assert cut_tune(tune, pieces) == tune
