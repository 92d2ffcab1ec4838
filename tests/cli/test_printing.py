"""Nothing from a file reaches the terminal as a command."""

import re

import pytest

#: What a terminal takes for commands: C0 and C1 controls (ECMA-48) but tab and line feed.
COMMANDS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
#: An escape as ABC writes it, one in the bytes, and two C1 controls.
TITLES = ["Ebb \\u001b]0;and flow\\u0007", "Ebb \x1b[2J and flow", "Ebb \x9b2J\x9d and flow"]
TUNE = 'X:1\nT:{title}\nC:{title}\nR:jig\nM:6/8\nL:1/8\nK:G\nP:A\n"^{title}""G"GAB c2d|"G"G3 G3|]\n'


@pytest.mark.parametrize("title", TITLES, ids=["escaped", "C0", "C1"])
@pytest.mark.parametrize(
    "command",
    [
        ["look"], ["tunes"], ["chords", "--again"],
        ["fit", "--buttons"], ["move", "--from", "G/C", "--to", "D/G"], ["make", "-o", "a.mid"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_titles_are_cleaned(cli, tmp_path, monkeypatch, title, command):
    """Whatever a command says of a tune, control characters of its title are left out."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "t.abc").write_text(TUNE.format(title=title), encoding="utf-8")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    name, *options = command
    result = cli(name, "t.abc", *options)
    assert "Ebb" in result.out + result.err
    assert not COMMANDS.search(result.out + result.err)


def test_file_names_are_cleaned(cli, tmp_path):
    """The name of a file that is not there is said without its control characters."""
    result = cli("look", tmp_path / "no\x1b[2Jtune.abc")
    assert "no[2Jtune.abc" in result.err
    assert not COMMANDS.search(result.err)


def test_a_file_goes_into_a_pipe_to_the_letter(cli, tmp_path):
    """Where stdout is no terminal, ABC comes out as it is, tabs and all."""
    text = 'X:1\nT:A\tB\nM:2/4\nL:1/8\nK:G\n"G"GABc|"D"d4|]\n'
    (tmp_path / "t.abc").write_text(text)
    assert "T:A\tB" in cli("chords", tmp_path / "t.abc", "--again").out
