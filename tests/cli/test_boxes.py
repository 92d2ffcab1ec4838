"""`backing boxes`."""

import pytest

from backing.files import box_names


def test_the_list(cli):
    """`backing boxes` names every box, one a line, with its range and major keys."""
    out = cli("boxes").out
    lines = out.splitlines()
    assert [line.split()[0] for line in lines] == box_names()
    assert max(map(len, lines)) < 80
    d_g = next(line for line in lines if line.startswith("D/G "))
    assert d_g.endswith("8 basses   A3 to B6    G D")


@pytest.mark.parametrize("name", [*box_names(), "D/G:low-notes", "C:thirds-out"])
def test_every_box_is_drawn(cli, name):
    """A drawing shows both directions of every row, fits a screen of 80, and says how buttons
    are counted, which the conventions do not agree on."""
    lines = cli("boxes", name).out.splitlines()
    assert lines[0].startswith(f"{name}: ")
    rows = 2 if "/" in name else 1
    assert sum(line.startswith("  push ") for line in lines) == rows
    assert sum(line.startswith("  pull ") for line in lines) == rows
    assert any("counted from the chin" in line for line in lines)
    assert any("away from the bellows" in line for line in lines) == (rows == 2)
    assert max(map(len, lines)) <= 80


def test_the_drawing(cli):
    """A D/G drawn in full."""
    assert (
        cli("boxes", "D/G").out
        == """\
D/G: Two rows in D and G, 21 buttons, 8 basses, A3 to B6

Right hand: the numbers are buttons, counted from the chin; C4 is middle C.
The outer row is the one away from the bellows.
Buttons with a * have accidentals.

  outer  1*   2    3    4    5    6    7    8    9    10   11
  push   G#4  A3   D4   F#4  A4   D5   F#5  A5   D6   F#6  A6
  pull   A#4  C#4  E4   G4   B4   C#5  E5   G5   B5   C#6  E6

  inner  1*   2    3    4    5    6    7    8    9    10
  push   F5   D4   G4   B4   D5   G5   B5   D6   G6   B6
  pull   D#5  F#4  A4   C5   E5   F#5  A5   C6   E6   F#6

Left hand: in each pair a chord and, below it, its bass.

               push  pull
  outer upper  D     A
  outer lower  G     D
  inner upper  B     Em
  inner lower  C     C

Keys of which it has every note, accidental buttons left out:
  major        G D
  minor        E B
  mixolydian   D A
  dorian       A E

Variants, named after the box, as in D/G:accidentals-swapped:
  :accidentals-swapped  The accidentals at the chin end the other way round.
  :low-notes            Low notes at the chin end in the place of accidentals.
  :low-notes-sixth      Low notes that pull the sixth of the row, not the fifth.
  :fifth-reversed       The fifth button of the inner row turned round.
  :19-buttons           Without the top button of each row.
  :thirds-out           The thirds of the chords taken out or silent.
  :b-minor              B minor on the push, not B major.
  :b-third-out          Only the third of the B chord taken out.
  :e-major              E major on the pull, not E minor, by special order.
  :a-minor-on-the-pull  C on the push, A minor on the pull (from memory).
"""
    )


def test_thirds_out_is_said(cli):
    """A drawing says when the chords have no thirds."""
    assert "Thirds out: chords sound root and fifth." in cli("boxes", "B/C:23:thirds-out").out


def test_a_printed_file_is_a_box(cli, tmp_path):
    """What `--file` prints is a box file that reads as the same box."""
    path = tmp_path / "mine.toml"
    path.write_text(cli("boxes", "D/G", "--file").out, encoding="utf-8")
    assert cli("boxes", path).out == cli("boxes", "D/G").out


def test_faults_of_an_own_box(cli, tmp_path):
    """All faults of a player's file are listed, each in its line, with where to find a pattern."""
    path = tmp_path / "mine.toml"
    path.write_text('name = "Mine"\nouter = ["A3"]\nleft = 3\n', encoding="utf-8")
    result = cli("boxes", path)
    assert result.code == 1
    assert (
        result.err
        == """\
error: mine.toml: 3 faults in the box
  line 2, first button of the outer row: expected push and pull like "A3 C#4", got 'A3'; \
a direction is missing
  line 3, left: expected pairs like { pair = "outer upper", push = "D", pull = "A" }, got 3
  title: missing
hint: backing boxes D/G --file prints a box, as a pattern
"""
    )


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["D/H"], 1, "did you mean D/G?"),
        (["DG"], 1, "did you mean D/G?"),
        (["D/G:thirds"], 1, "did you mean thirds-out?"),
        (["nowhere.toml"], 1, "nowhere.toml"),
        (["--file"], 2, "name the box"),
        (["D/H", "--file"], 1, "did you mean D/G?"),
    ],
)
def test_faults(cli, arguments, code, message):
    """A box that is not there is an error with the nearest name."""
    result = cli("boxes", *arguments)
    assert result.code == code
    assert message in result.err
