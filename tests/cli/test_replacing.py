"""What the commands that write do with a file that is there already."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from backing.files import read_tune

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
JIG = EXAMPLES / "the-lock-keepers-kettle.abc"
BARE = "X:1\nT:The Leaking Bucket\nM:2/4\nL:1/8\nK:D\n|:d>d fa|(3ABA F2|gg fe|f2 d2:|\n"
BOOK = "".join(f"X:{n}\nT:Tune {n}\nM:2/4\nL:1/8\nK:D\n{'dA FA|' * 8}\n\n" for n in range(1, 201))

#: Each command that writes, with what it can write.
WRITES = [
    ("make", ".mid"), ("make", ".wav"), ("make", ".flac"), ("make", ".ogg"), ("make", ".opus"),
    ("make", ".mp3"), ("chords", ".abc"), ("move", ".abc"), ("move", ".musicxml"),
    ("move", ".xml"),
]  # fmt: skip
posix = pytest.mark.skipif(sys.platform == "win32", reason="links and modes are POSIX's")


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """A tune without chords."""
    folder = tmp_path / "tunes"
    folder.mkdir()
    path = folder / "bare.abc"
    path.write_text(BARE)
    return path


def options(command: str) -> list[str]:
    """What a command needs besides tune and output."""
    return {"make": ["--bars", "1"], "chords": ["--again"], "move": ["--to-key", "G"]}[command]


@pytest.mark.parametrize(("command", "suffix"), WRITES)
def test_the_rule(cli, bare, tmp_path, command, suffix):
    """Its own file a command replaces unasked; one of another it refuses, by name, with why and
    the way; one that was changed too; with `--replace` both go."""
    out = tmp_path / f"out{suffix}"
    ask = (command, bare, *options(command), "-o", out)
    assert cli(*ask).code == 0
    whole = out.read_bytes()
    assert cli(*ask).code == 0
    assert out.read_bytes() == whole, "the same again"
    for old, why in (
        (b"a recording", "it was not made by backing"),
        (b"", "it was not made by backing"),
        (whole[:-1] + b"?", "it has been changed since backing made it"),
        (whole + b"?", "it has been changed since backing made it"),
    ):
        out.write_bytes(old)
        result = cli(*ask)
        assert (result.code, out.read_bytes()) == (1, old)
        assert result.err.endswith(
            f"error: {out} is there already, and {why}\nhint: choose another name, or say "
            "--replace\n"
        )
        assert cli(*ask, "--replace").code == 0
        assert out.read_bytes() == whole
    assert sorted(os.listdir(tmp_path)) == [out.name, "tunes"]


@pytest.mark.parametrize("command", ["chords", "move"])
def test_a_book_is_not_turned_into_one_tune(cli, bare, tmp_path, command):
    """A player's book of 200 tunes stays, whichever tune is written over it."""
    book = tmp_path / "book.abc"
    book.write_text(BOOK)
    result = cli(command, bare, *options(command), "-o", book)
    assert result.code == 1
    assert "it was not made by backing" in result.err
    assert book.read_text() == BOOK


@posix
@pytest.mark.parametrize("command", ["chords", "move"])
@pytest.mark.parametrize("replace", [[], ["--replace"]])
def test_the_book_that_is_read_from_standard_input(tmp_path, command, replace):
    """`chords - -o book.abc < book.abc` is refused, by whatever name, and with `--replace`."""
    book = tmp_path / "book.abc"
    book.write_text(BOOK)
    os.link(book, tmp_path / "hard.abc")
    (tmp_path / "soft.abc").symlink_to(book)
    for source, out in (("-", "book"), ("-", "hard"), ("-", "soft"), ("/dev/stdin", "book")):
        with open(book) as given:
            run = subprocess.run(
                [sys.executable, "-m", "backing", command, source, *options(command), *replace,
                 "-o", tmp_path / f"{out}.abc"],
                stdin=given, capture_output=True, text=True, check=False,
            )  # fmt: skip
        assert run.returncode == 1
        assert run.stderr.startswith(f"error: {tmp_path / out}.abc is the tune itself")
        assert book.read_text() == BOOK


@posix
@pytest.mark.parametrize(("command", "suffix"), [("make", ".mid"), *WRITES[6:]])
def test_write_protected_files(cli, bare, tmp_path, command, suffix):
    """A file of mode 444 stays, ours or not, also with `--replace`."""
    out = tmp_path / f"out{suffix}"
    ask = (command, bare, *options(command), "-o", out)
    assert cli(*ask).code == 0
    out.chmod(0o444)
    whole = out.read_bytes()
    for replace in ([], ["--replace"]):
        result = cli(*ask, *replace)
        assert result.code == 1
        assert f"{out} is write-protected" in result.err
    assert out.read_bytes() == whole


@posix
def test_closed_standard_input(bare, tmp_path):
    """Without any standard input a file is read and written all the same."""
    run = subprocess.run(
        ["sh", "-c", '"$0" -m backing chords "$1" -o "$2" <&-',
         sys.executable, bare, tmp_path / "out.abc"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr


def test_what_is_written_can_be_worked_on(cli, bare, tmp_path):
    """What a command wrote is read by the next, and its mark is not carried along twice."""
    first, second = tmp_path / "a.abc", tmp_path / "b.abc"
    cli("chords", bare, "-o", first)
    assert cli("chords", first, "--again", "-o", second).code == 0
    assert second.read_text().count("made by backing") == 1
    assert read_tune(second).tune == read_tune(first).tune
    assert cli("make", first, "-o", tmp_path / "a.mid").code == 0
    shown = cli("look", tmp_path / "a.mid")
    assert shown.code == 0
    assert "made by backing" not in shown.out + shown.err


def test_what_is_printed_carries_no_mark(cli, bare):
    """On the screen, where nobody can replace anything, a tune has no mark."""
    assert "made by" not in cli("chords", bare).out
    assert "made by" not in cli("move", bare, "--to-key", "G").out
