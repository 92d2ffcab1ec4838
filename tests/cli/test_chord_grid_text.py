"""`backing chords --grid`."""

from pathlib import Path

import pytest

from backing.cli.grid_text import grid_lines
from backing.files import read_tune
from backing.parse.abc import parse_abc

EXAMPLES = Path(__file__).parents[2] / "examples"
LAMPLIGHTER = """\
The Lamplighter's Round
  waltz, 3/4, G major

A part
    1 |: G   |  Em  |  C   |  D   |
    5 |  G   |  C   |1 D7  |  D  :|
    9               |2 D7  |  G   |

B part
   11 |: Em  |  G   |  C   |  G   |
   15 |  G   |  C   |1 D   |  D7 :|
   19               |2 D7  |  G   |
"""


def test_a_grid(cli):
    """A tune with chords is printed bar by bar, four a row, with repeats, and the second-time
    bars under the first-time ones; nothing is said, nothing is written."""
    result = cli("chords", EXAMPLES / "the-lamplighters-round.abc", "--grid")
    assert (result.code, result.out, result.err) == (0, LAMPLIGHTER, "")


def test_signs_are_explained():
    """Signs that are printed are explained at the foot."""
    body = 'M:3/4\nL:1/4\nK:G\n"G"G3|G3|"G"G2"D"d|!segno!"N.C."z3!D.C.!|[M:4/4]"G"G4|\n'
    tune = parse_abc(f"X:1\nT:Signs\nR:waltz\n{body}")
    assert list(grid_lines(tune, 62))[4:] == [
        "    1 | G               | %               | G . D           |",
        "    4 | segno N.C. D.C. | (4/4) G         |",
        "",
        "% as the bar before; . the chord goes on for another part of",
        "the bar; N.C. no chord",
    ]


@pytest.mark.parametrize(
    ("width", "rows"),
    [(80, [1, 5, 9]), (35, [1, 5, 9]), (34, [1, 3, 5, 7, 9]), (21, [1, 3, 5, 7, 9]), (20, None)],
)
def test_narrow_windows(width, rows):
    """In a narrow window a row is cut in halves, endings still under each other, down to one
    bar a row."""
    lines = list(grid_lines(read_tune(EXAMPLES / "the-lamplighters-round.abc").tune, width))
    start = lines.index("A part") + 1
    stop = lines.index("", start)
    found = [int(line.split("|")[0]) for line in lines[start:stop]]
    assert found == (rows or list(range(1, 11)))
    assert all(len(line) <= max(width, 14) for line in lines)


def test_more_than_one_bar_left_over():
    """A part of five bars is one row in a wide window; in a narrow one it is cut, and no bar is
    lost."""
    tune = parse_abc('X:1\nT:Five\nM:4/4\nL:1/4\nK:G\n"G"G4|"C"c4|"D"d4|"Em"e4|"G"G4|\n')
    for width in range(10, 60):
        text = "\n".join(grid_lines(tune, width))
        assert [word for word in text.split() if word in ("C", "D", "Em")] == ["C", "D", "Em"]
        assert text.count("G") == 3  # with the key


def test_a_pickup_with_a_chord():
    """A chord that is named in a pickup has a box, which says that it is one."""
    tune = parse_abc('X:1\nT:Up\nM:4/4\nL:1/4\nK:G\n"D7"d|"G"G4|"C"c4|\n')
    assert list(grid_lines(tune, 80))[4] == "    1 | pickup D7 | G         | C         |"


def test_a_bare_tune(cli):
    """A tune without chords is printed with found ones, which is said."""
    result = cli("chords", EXAMPLES / "the-ice-boat-march.abc", "--grid")
    assert result.code == 0
    assert "    1 |: D" in result.out
    assert result.err == "chords were found for it: 3 chords: D C G\n"


def test_a_grid_beside_the_file(cli, tmp_path):
    """With `-o` the chords are written as ABC, and the grid is printed."""
    out = tmp_path / "chorded.abc"
    result = cli("chords", EXAMPLES / "the-ice-boat-march.abc", "--grid", "-o", out)
    assert "A part\n" in result.out
    assert read_tune(out).tune.has_chords
    again = cli("chords", out, "--grid")
    assert again.out == result.out
    refused = cli("chords", out, "--grid", "-o", tmp_path / "other.abc")
    assert (refused.code, "has chords already" in refused.err) == (1, True)
