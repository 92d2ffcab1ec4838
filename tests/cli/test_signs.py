"""Large signs."""

import unicodedata

import pytest

from backing.cli.flow import columns_wide
from backing.cli.signs import HEIGHT, dots_wide, drawable, drawn, lines_high

#: All that ABC 2.1 (4.18) lets a chord symbol be made of, capitals for parts and pickups.
CHORDS = "ABCDEFG#bmajindsug+/0123456789° ()"
LETTERS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,:/#♯♭+-–()°øΔ='?"


def dots(text, scale):
    """The dots of a drawn text, half a line each, by what the signs are called in Unicode."""
    upper, lower = [], []
    for row in drawn(text, scale):
        names = [unicodedata.name(sign) for sign in row]
        upper.append([name in ("FULL BLOCK", "UPPER HALF BLOCK") for name in names])
        lower.append([name in ("FULL BLOCK", "LOWER HALF BLOCK") for name in names])
    return [row for pair in zip(upper, lower, strict=True) for row in pair]


def test_there_is_a_sign_for_what_chord_symbols_hold():
    """Whatever a chord symbol, a number or the name of a part is made of can be drawn."""
    assert drawable(CHORDS)
    assert drawable(LETTERS)
    assert drawable("F♯m7")
    assert not drawable("日")
    assert not drawable("")


def test_no_two_signs_look_alike():
    """Every sign is another picture; but for a flat, which is a small b, and a sharp."""
    pictures = {}
    for sign in LETTERS:
        pictures.setdefault(drawn(sign, 2), []).append(sign)
    alike = [same for same in pictures.values() if len(same) > 1]
    assert alike == [["b", "♭"], ["#", "♯"], ["-", "–"]]


@pytest.mark.parametrize("text", ["G", "F#m7", "12", "Bb/D", "stopped"])
@pytest.mark.parametrize("scale", [1, 2, 3, 5])
def test_a_scale_makes_each_dot_so_many_times_as_large(text, scale):
    """Every line is as wide as the dots, and each dot is a square of so many half lines."""
    rows = drawn(text, scale)
    assert len(rows) == lines_high(scale) == -(-HEIGHT * scale // 2)
    assert {len(row) for row in rows} == {columns_wide(row) for row in rows}
    assert len(rows[0]) == dots_wide(text) * scale
    plain = dots(text, 1)
    large = dots(text, scale)
    for y, row in enumerate(large[: HEIGHT * scale]):
        assert row == [plain[y // scale][x // scale] for x in range(len(row))]
    assert not any(map(any, large[HEIGHT * scale :]))
