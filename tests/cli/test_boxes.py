"""`backing boxes` and `backing move`."""

from pathlib import Path

import pytest

from backing.files import box_names, read_tune
from backing.parse.abc import parse_abc

EXAMPLES = Path(__file__).parents[2] / "examples"
TRAP = EXAMPLES / "the-eel-trap.abc"


def test_the_list(cli):
    """`backing boxes` names every box, one a line."""
    lines = cli("boxes").out.splitlines()
    assert [line.split()[0] for line in lines] == box_names()


@pytest.mark.parametrize("name", box_names())
def test_every_box_is_drawn(cli, name):
    """A drawing shows both directions of every row and all pairs, on a screen of 80."""
    out = cli("boxes", name).out
    rows = 1 if "/" not in name else 2
    lines = out.splitlines()
    assert sum(line.startswith("  push ") for line in lines) == rows
    assert sum(line.startswith("  pull ") for line in lines) == rows
    picture = out.split("Without accidental buttons")[0]
    assert max(map(len, picture.splitlines())) <= 85


def test_a_drawing_shows_what_sounds(cli):
    """On a D/G the third outer button pushes D4 and pulls E4, the third inner G4 and A4
    (bellowsandstrings.blogspot.com)."""
    lines = [line.split() for line in cli("boxes", "D/G").out.splitlines()]
    pushes = [line for line in lines if line[:1] == ["push"] and len(line) > 3]
    pulls = [line for line in lines if line[:1] == ["pull"]]
    assert (pushes[0][3], pulls[0][3]) == ("D4", "E4")
    assert (pushes[1][3], pulls[1][3]) == ("G4", "A4")


def test_a_drawn_file_is_a_box(cli, tmp_path):
    """What `--file` prints is a box file that reads as the same box."""
    path = tmp_path / "mine.toml"
    path.write_text(cli("boxes", "D/G", "--file").out, encoding="utf-8")
    assert cli("boxes", path).out.splitlines()[2:] == cli("boxes", "D/G").out.splitlines()[2:]


def test_an_unknown_box(cli):
    """An unknown box is an error with the nearest name."""
    result = cli("boxes", "D/H")
    assert result.code == 1
    assert "did you mean D/G?" in result.err


def test_there_and_back(cli, tmp_path):
    """Moved from G/C to D/G and back, every example has the same notes, chords and key."""
    for example in sorted(EXAMPLES.glob("*.abc")):
        there, back = tmp_path / "there.abc", tmp_path / "back.abc"
        assert cli("move", example, "--from", "G/C", "--to", "D/G", "-o", there).code == 0
        assert cli("move", there, "--from", "D/G", "--to", "G/C", "-o", back).code == 0
        first, last = read_tune(example).tune, read_tune(back).tune
        assert last.voices == first.voices
        assert [bar.chords for bar in last.bars] == [bar.chords for bar in first.bars]
        assert last.key == first.key


def test_what_is_said(cli):
    """The key in which the tune now stands and the interval are said."""
    result = cli("move", TRAP, "--from", "G/C", "--to", "D/G")
    assert "the buttons of G/C on D/G: up a fifth, now in E dorian" in result.err
    assert str(parse_abc(result.out).key) == "E dorian"


@pytest.mark.parametrize(("key", "said"), [("Em", "down a fourth"), ("Bdor", "up a tone")])
def test_to_another_key(cli, key, said):
    """`--to-key` transposes the nearest way, whatever of the mode is written."""
    result = cli("move", TRAP, "--to-key", key)
    assert said in result.err
    assert str(parse_abc(result.out).key) == str(parse_abc(result.out).key).replace(
        "minor", "dorian"
    )


def test_musicxml_out(cli, tmp_path):
    """A moved tune is written as MusicXML by its suffix."""
    out = tmp_path / "moved.musicxml"
    assert cli("move", TRAP, "--to-key", "Edor", "-o", out).code == 0
    assert str(read_tune(out).tune.key) == "E dorian"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--from", "G/C"], "give --from and --to, or --to-key"),
        ([], "give --from and --to, or --to-key"),
        (["--from", "G/C", "--to", "B/C"], "does not go on B/C"),
        (["--to-key", "G"], "one is major, the other minor"),
        (["--to-key", "H"], "give a key like D"),
        (["--to-key", "Edor", "-o", "x.mid"], "does not end in .abc"),
        (["--to-key", "Edor", "--octave", "5"], "give -2 to 2"),
    ],
)
def test_faults(cli, arguments, message):
    """What cannot be moved is said, with what to do."""
    result = cli("move", TRAP, *arguments)
    assert result.code in (1, 2)
    assert message in result.err
