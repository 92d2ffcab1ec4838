"""`backing look` and `backing styles`: what they print."""

from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "examples"


def test_a_tune_at_a_glance(cli):
    """Title, dance, key, tempo, range, chords, form, and the music of each part: a phrase a row,
    bar numbers above the bar lines, chords above the notes, endings under each other."""
    result = cli("look", EXAMPLES / "the-lamplighters-round.abc")
    assert result.code == 0
    assert result.out.splitlines() == [
        "1. The Lamplighter's Round",
        "  by The Lock Cottage Band",
        "  waltz, 3/4, G major",
        "  tempo 1/4 = 132, the tune's own, 44 bars a minute",
        "  range D4 to B5",
        "  chords G Em C D D7",
        "  form A A B B, 32 bars, with a pickup",
        "",
        "A part, bars 1-10, pickup",
        "0    1 G           2 Em      3 C             4 D",
        "|: D | B  . c  B A | G  .  E | c  . d  c B   | A  .  D |",
        "",
        "     5 G           6 C       7   D7          8 D",
        "     | B  d  g     | e  .  c |1) d  . c  B A | F#  .   :|",
        "",
        "                             9   D7          10 G",
        "                             |2) d  c A  F#  |  G  .   ||",
        "",
        "B part, bars 11-20, pickup",
        "       11 Em         12 G       13 C           14 G",
        "|: B d |  g  . f#  e |  d  .  B |  c  e  g     |  d  .  B d |",
        "",
        "       15 G          16 C       17  D          18 D7",
        "       |  b  . a  g  |  e  .  g |1) a  . g  f# |  d  .      :|",
        "",
        "                                19  D7         20 G",
        "                                |2) d  c A  F# |  G  .      ||",
        "",
        "C to B from middle C up, c to b an octave higher; names between two gaps share a",
        "beat evenly; . the note goes on",
    ]
    assert result.err == ""


def test_warnings_point_at_their_place(cli, tmp_path):
    """A bar of the wrong length is shown with its line and a caret."""
    tune = tmp_path / "reel.abc"
    tune.write_text("X:1\nT:Odd\nM:4/4\nL:1/8\nK:D\nd2fd edBc|d2 fd gfe|d8|]\n")
    result = cli("look", tune)
    assert result.code == 0
    assert result.err == (
        "warning: reel.abc, line 6, column 20: bar 2 lasts 7/8, the metre is 4/4\n"
        "       d2fd edBc|d2 fd gfe|d8|]\n"
        "                          ^\n"
        "hint: a note or a bar line may be missing or misplaced; played as written\n"
    )


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.abc")), ids=lambda path: path.stem)
def test_the_examples_have_nothing_odd(cli, example):
    """No example gives a warning of its own."""
    result = cli("look", example)
    assert result.code == 0
    assert [line for line in result.err.splitlines() if "a book of" not in line] == (
        ['hint: choose one with --tune NUMBER or --tune "part of its title"']
        if example.stem == "canal-book"
        else []
    )


@pytest.mark.parametrize(
    "command", [["--help"], ["make", "--help"], ["look", "-h"], ["styles", "-h"]]
)
def test_help_is_there(cli, command):
    """Every command explains itself."""
    result = cli(*command)
    assert result.code == 0
    assert "Usage" in result.out


@pytest.mark.slow
def test_strict_and_loose_reading(cli, tmp_path):
    """`--strict` refuses what ABC 2.1 disallows, `--loose` reads it even in a file that says
    it is 2.1 (clauses 12.2, 12.3); without either the file's first line decides."""
    old = "X:1\nT:Old Rope\nM:4/4\nL:1/8\nK:D\n+DFA+4 d4|\n"
    plain, new = tmp_path / "plain.abc", tmp_path / "new.abc"
    plain.write_text(old, encoding="utf-8")
    new.write_text("%abc-2.1\n" + old, encoding="utf-8")
    assert cli("look", plain).code == 0
    assert cli("look", new).code == 1
    assert cli("look", new, "--loose").code == 0
    result = cli("look", plain, "--strict")
    assert result.code == 1
    assert "is not allowed in ABC 2.1" in result.err
