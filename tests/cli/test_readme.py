"""The README's section on practising says what is true."""

import re
import shlex
from pathlib import Path

import pytest

from backing.cli.wish import Wish

ROOT = Path(__file__).parent.parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SECTION = README.partition("## Ways to practise\n")[2].partition("\n## ")[0]
LESSON = ROOT / "examples" / "a-lesson-on-the-kettle.toml"
COMMANDS = re.findall(r"^backing (make .*?)(?:\s+#.*)?$", SECTION, re.MULTILINE)
#: Options of practising, as the help groups them, and others that the section names.
WAYS = (
    "step", "every", "beyond", "down", "echo", "gap", "edges", "grow", "join", "less_help",
    "left_hand_stages", "ears", "then", "changes",
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS, ids=lambda line: line.split()[-1])
def test_each_command_runs(cli, monkeypatch, tmp_path, command):
    """Each command of the section makes its file, here as MIDI, and says nothing odd but what the
    box lacks."""
    monkeypatch.chdir(ROOT / "examples")
    words = shlex.split(command)
    out = tmp_path / Path(words.pop()).with_suffix(".mid").name
    result = cli(*words, out)
    assert result.code == 0, result.err
    assert out.read_bytes()[:4] == b"MThd"
    warnings = [line for line in result.err.splitlines() if line.startswith("warning")]
    assert all("left hand: " in line or "pickup" in line for line in warnings), warnings


def test_each_way_has_an_example():
    """Every way to practise has a command, and a row of the table."""
    assert set(WAYS) <= set(Wish._fields)
    for way in WAYS:
        option = f"--{way.replace('_', '-')}"
        assert any(option in command for command in COMMANDS), option
        assert f"`{option}" in SECTION, option


def test_the_practice_file_shown_is_a_piece_of_the_example():
    """The piece of the practice file is the beginning of the example and steps of it, unchanged."""
    (shown,) = re.findall(r"```toml\n(.*?)```", SECTION, re.DOTALL)
    pieces = [piece.strip() for piece in shown.split("[[step]]")]
    example = [piece.strip() for piece in LESSON.read_text(encoding="utf-8").split("[[step]]")]
    assert pieces[0] == example[0]
    assert len(pieces) > 4
    assert set(pieces) <= set(example)
