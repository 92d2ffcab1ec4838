"""`backing chords --set`."""

from pathlib import Path

import pytest

from backing.files import read_tune
from backing.parse.abc import parse_abc

EXAMPLES = Path(__file__).parents[2] / "examples"
KETTLE = EXAMPLES / "the-lock-keepers-kettle.abc"


def test_one_bar_of_the_text(cli):
    """The chords of one bar are changed in the text as it stands; nothing else is."""
    result = cli("chords", KETTLE, "--set", "3: Em A7")
    text = KETTLE.read_text(encoding="utf-8")
    assert (result.code, result.err) == (0, "")
    assert result.out == text.replace('"G"GAB "D"d2A', '"Em"GAB "A7"d2A')


def test_several_bars(cli, tmp_path):
    """Several bars are changed at once, and the file that is written is said."""
    out = tmp_path / "mine.abc"
    result = cli("chords", KETTLE, "--set", "1: G", "--set", "2: D . ", "-o", out)
    assert f"wrote {out}: The Lock-Keeper's Kettle, 5 chords: G D Em A A7" in result.err
    bars = read_tune(out).tune.bars
    assert [[str(s.chord) for s in bar.chords] for bar in bars[1:3]] == [["G"], ["D"]]


def test_annotations_stay(cli, tmp_path):
    """Texts that are no chords stay where they stand, beside the new chord."""
    path = tmp_path / "texts.abc"
    path.write_text('X:1\nT:Texts\nM:4/4\nL:1/8\nK:G\n"^slow""G"G4 "C""_low"A4|"D"B8|\n')
    result = cli("chords", path, "--set", "1: Em Am")
    assert '"^slow""Em"G4 "_low""Am"A4|"D"B8|' in result.out
    assert [note.texts for note in parse_abc(result.out).notes()] == [("^slow",), ("_low",), ()]


def test_inside_a_held_note(cli, tmp_path):
    """A chord inside a held note cuts it into tied ones, for a symbol stands at a note in ABC;
    remarks and directives stay."""
    path = tmp_path / "held.abc"
    path.write_text('X:1\nT:Held\nM:4/4\nL:1/8\nK:G\n% a remark\n"G"G8|"D"A8|\n')
    result = cli("chords", path, "--set", "1: G C")
    assert result.err == ""
    assert '% a remark\n"G"G4-"C"G4 | "D"A8 |' in result.out


def test_a_bare_tune(cli):
    """In a tune without chords the others are found."""
    bare = EXAMPLES / "the-ice-boat-march.abc"
    plain, changed = cli("chords", bare).out, cli("chords", bare, "--set", "2: Am").out
    before, after = parse_abc(plain).bars, parse_abc(changed).bars
    assert [str(symbol.chord) for symbol in after[1].chords] == ["Am"]
    assert before[0].chords == after[0].chords
    assert [bar.chords for bar in before[3:]] == [bar.chords for bar in after[3:]]


def test_beside_found_ones(cli):
    """`--again` finds the others anew."""
    result = cli("chords", KETTLE, "--again", "--set", "1: Bm")
    assert [str(s.chord) for s in parse_abc(result.out).bars[1].chords] == ["Bm"]


def test_in_the_grid(cli):
    """With `--grid` the changed chords are printed as a grid."""
    result = cli("chords", KETTLE, "--set", "4: Em . A7 .", "--grid")
    assert result.code == 1  # four in a bar of two beats
    result = cli("chords", KETTLE, "--set", "4: Bm A7", "--grid")
    assert "| Bm A7 " in " ".join(result.out.split())


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["--set", "40: G"], 1, "there is no bar 40 here\nhint: the tune has bars 0 to 16"),
        (["--set", "1: H7"], 2, "'H7' is not a chord"),
        (["--set", "1 G"], 2, 'hint: give them like --set "12: G D"'),
        (["--set", "1: G D A"], 1, "bar 1 has 2 beats, and 3 chords are given"),
        (["--set", "1: G", "--why"], 2, "--why tells how chords were found"),
        (["--set", "1: G", "-o", KETTLE], 1, "is the tune itself"),
    ],
)
def test_faults(cli, arguments, code, message):
    """What cannot be set is said, with what to do."""
    result = cli("chords", KETTLE, *arguments)
    assert (result.code, result.out) == (code, "")
    assert message in result.err
