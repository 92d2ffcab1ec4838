"""`backing sheet`: its options, what it writes, and what it refuses."""

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from backing.files import load_box
from backing.parse.musicxml import parse_musicxml

pytestmark = pytest.mark.slow
EXAMPLES = Path(__file__).parents[2] / "examples"
MARE, BOOK = EXAMPLES / "the-towpath-mare.abc", EXAMPLES / "canal-book.abc"
SMALL = 'X:1\nT:Small\nR:reel\nM:4/4\nL:1/8\nK:D\n"D"d2f2 "A"a4|"D"d8|]\n'


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A tune of two bars."""
    path = tmp_path / "small.abc"
    path.write_text(SMALL, encoding="utf-8")
    return path


@pytest.fixture
def write(tmp_path: Path):
    """Write a tune with this title and body, or a whole text."""

    def call(text: str, name: str = "tune.abc") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return call


def test_without_an_output_it_is_a_pdf_named_after_the_tune(cli, small, tmp_path, monkeypatch):
    """Without -o a PDF here is named after the tune and its boxes."""
    monkeypatch.chdir(tmp_path)
    result = cli("sheet", small, "--box", "D/G")
    assert result.code == 0
    (made,) = tmp_path.glob("*.pdf")
    assert made.read_bytes().startswith(b"%PDF")
    assert made.name in result.err + result.out
    assert "small" in made.name


@pytest.mark.parametrize(
    "options",
    [
        [], ["--box", "D/G"], ["--box", "D/G,G/C"], ["--box", "D/G,G/C", "--same-key"],
        ["--only", "notes"], ["--only", "grid"], ["--box", "D/G", "--only", "buttons"],
        ["--box", "D/G", "--air", "--fingers", "--hard"], ["--large"], ["--paper", "letter"],
        ["--box", "D/G", "--profile", "cross-row"], ["--chords", "none"], ["--chords", "suggest"],
        ["--box", "D/G", "--language", "fr"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_every_option_makes_a_sheet(cli, small, tmp_path, options):
    """Each option makes a PDF."""
    result = cli("sheet", small, "-o", tmp_path / "s.pdf", *options)
    assert result.code == 0, result.err
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("suffix", ["svg", "png", "musicxml"])
def test_several_pages_are_several_files(cli, small, tmp_path, suffix):
    """One page is one file; two boxes make two files, numbered."""
    assert cli("sheet", small, "--box", "D/G", "-o", tmp_path / f"one.{suffix}").code == 0
    assert cli("sheet", small, "--box", "D/G,G/C", "-o", tmp_path / f"two.{suffix}").code == 0
    names = sorted(path.name for path in tmp_path.glob(f"*.{suffix}"))
    assert names == [f"one.{suffix}", f"two-1.{suffix}", f"two-2.{suffix}"]


def test_the_score_has_the_buttons_as_verses(cli, small, tmp_path):
    """The score for a notation program has the buttons of the page as its last verses."""
    assert cli("sheet", small, "--box", "D/G", "-o", tmp_path / "s.musicxml").code == 0
    tune = parse_musicxml((tmp_path / "s.musicxml").read_bytes())
    words = [word for note in tune.notes() for word in note.lyrics if word]
    numbers = {str(b.number) + "'" * r for r, row in enumerate(load_box("D/G").rows) for b in row}
    assert len(words) == 4
    assert set(words) <= numbers


@pytest.mark.parametrize("suffix", ["pdf", "svg", "png", "musicxml"])
def test_what_is_replaced(cli, small, tmp_path, suffix):
    """Our own sheet is replaced unasked; one that was changed, or another's file, is kept unless
    --replace is given."""
    path = tmp_path / f"s.{suffix}"
    call = ("sheet", small, "-o", path)
    assert cli(*call).code == 0
    first = path.read_bytes()
    assert cli(*call).code == 0
    assert path.read_bytes() == first
    path.write_bytes(first + b"x")
    assert cli(*call).code == 1
    assert path.read_bytes() == first + b"x"
    assert cli(*call, "--replace").code == 0
    assert path.read_bytes() == first


def test_numbered_files_are_looked_at_before_any_is_written(cli, small, tmp_path):
    """Where the second of two files is another's, neither is written."""
    (tmp_path / "s-2.svg").write_text("mine")
    assert cli("sheet", small, "--box", "D/G,G/C", "-o", tmp_path / "s.svg").code == 1
    assert not (tmp_path / "s-1.svg").exists()
    assert (tmp_path / "s-2.svg").read_text() == "mine"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--only", "buttons"], "--only buttons is for a box"),
        (["--air"], "are for a box"),
        (["--hard"], "are for a box"),
        (["--same-key"], "are for a box"),
        (["--box", "X/Y"], "there is no box"),
        (["--box", "D/G,"], "box"),
        (["--profile", "cross-row"], "are for a box"),
        (["--tune", "7"], ""),
        (["--language", "nl"], "--language nl: it is not spoken here"),
    ],
)
def test_what_is_refused(cli, small, tmp_path, options, says):
    """Options that go together with a box, and boxes that are none, are refused in words, and
    nothing is written."""
    result = cli("sheet", small, "-o", tmp_path / "s.pdf", *options)
    assert result.code in {1, 2}
    assert says in " ".join(result.err.split())
    assert not (tmp_path / "s.pdf").exists()


@pytest.mark.parametrize("name", ["s.doc", "s", "s.mid"])
def test_other_kinds_of_files(cli, small, tmp_path, name):
    """Other endings are refused with those that there are."""
    result = cli("sheet", small, "-o", tmp_path / name)
    assert result.code in {1, 2}
    assert ".pdf" in result.err


def test_midi_and_musicxml_are_printed(cli, small, tmp_path):
    """A MIDI file and a score are printed as a tune in ABC is."""
    assert cli("make", small, "-o", tmp_path / "small.mid").code == 0
    assert cli("sheet", small, "-o", tmp_path / "small.musicxml").code == 0
    for name in ("small.mid", "small.musicxml"):
        result = cli("sheet", tmp_path / name, "--box", "D/G", "-o", tmp_path / f"{name}.pdf")
        assert result.code == 0, result.err


def test_standard_input(small, tmp_path):
    """The path - is standard input."""
    done = subprocess.run(
        [sys.executable, "-m", "backing", "sheet", "-", "-o", "in.pdf"],
        input=SMALL.encode(), cwd=tmp_path, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "in.pdf").exists()


def test_a_missing_note_is_said(cli, write, tmp_path):
    """A note that the box lacks is said, with its bar."""
    path = write("X:1\nT:Low\nM:4/4\nL:1/8\nK:D\nC,8|d8|\n")
    result = cli("sheet", path, "--box", "D/G", "-o", tmp_path / "s.pdf")
    assert result.code == 0
    assert "Not on a D/G: C#3 (bar 1)" in " ".join((result.out + result.err).split())


def test_signs_that_the_fonts_lack_are_said(cli, write, tmp_path):
    """A sign that no font has is said, and the sheet is made."""
    path = write("X:1\nT:Song 音\nM:4/4\nL:1/8\nK:D\nd8|\n")
    result = cli("sheet", path, "-o", tmp_path / "s.pdf")
    assert result.code == 0
    assert "the sheet's fonts have no 音" in result.err


@pytest.mark.parametrize(
    "title",
    [
        "a" * 10_000,
        "word " * 2_000,
        '#let x = 1; #panic("x") $a$ </svg> ]]> & "',
        "= a\\",
        "\x01\x1b[31m",
    ],
    ids=["one word", "many words", "markup", "backslash", "control"],
)
def test_absurd_titles(cli, write, tmp_path, title):
    """Whatever a title holds, it is set as text, and takes no page of its own."""
    path = write(f'X:1\nT:{title}\nC:{title}\nM:4/4\nL:1/8\nK:D\n"D"d8|\nw: </text>&\n')
    result = cli("sheet", path, "--box", "D/G", "-o", tmp_path / "s.pdf")
    assert result.code == 0, result.err[:500]
    assert len(re.findall(rb"/Type ?/Page\b", (tmp_path / "s.pdf").read_bytes())) <= 1


@pytest.mark.parametrize("name", ["/dev/null", "pipe.pdf"])
def test_what_is_no_file(cli, small, tmp_path, name):
    """A device, or a named pipe, is not written to."""
    path = tmp_path / name
    if name == "pipe.pdf":
        os.mkfifo(path)
    assert cli("sheet", small, "-o", path, "--replace").code != 0


# -- books -----------------------------------------------------------------------------------


def test_a_book(cli, tmp_path):
    """A book is one PDF with all its tunes; no progress is shown where nobody looks."""
    result = cli("sheet", BOOK, "--box", "D/G", "-o", tmp_path / "b.pdf")
    assert result.code == 0
    assert "3 tunes" in result.out + result.err
    assert "%" not in result.err
    assert (tmp_path / "b.pdf").read_bytes().startswith(b"%PDF")


def test_a_broken_tune_is_left_out_and_said(cli, write, tmp_path):
    """A tune of a book that cannot be read is left out, named, and the rest is printed."""
    path = write(f"{SMALL}\nX:2\nT:Broken\nM:4/4\nK:D\n\n{SMALL.replace('X:1', 'X:3')}")
    result = cli("sheet", path, "-o", tmp_path / "b.pdf")
    assert result.code == 0
    assert "Broken is left out" in " ".join(result.err.split())
    assert "2 tunes" in result.out + result.err


def test_a_book_of_broken_tunes(cli, write, tmp_path):
    """A book without one good tune is refused, and nothing is written."""
    path = write("X:1\nT:A\nM:4/4\nK:D\n\nX:2\nT:B\nM:4/4\nK:D\n")
    assert cli("sheet", path, "-o", tmp_path / "b.pdf").code == 1
    assert not (tmp_path / "b.pdf").exists()


def test_too_many_tunes(cli, write, tmp_path):
    """More than 500 tunes are refused in words."""
    path = write("\n".join(SMALL.replace("X:1", f"X:{n}") for n in range(1, 502)))
    result = cli("sheet", path, "-o", tmp_path / "b.pdf")
    assert result.code == 1
    assert "501 tunes" in result.err
    assert not (tmp_path / "b.pdf").exists()


def test_one_tune_of_a_book(cli, tmp_path):
    """With --tune one tune of a book is printed, also as a score, which a book cannot be."""
    out = tmp_path / "t.musicxml"
    assert cli("sheet", BOOK, "-o", out).code == 2
    assert cli("sheet", BOOK, "--tune", "2", "-o", out).code == 0
    assert out.exists()


def test_ctrl_c_leaves_nothing(write, tmp_path):
    """Ctrl-C in the middle of a book ends with code 130, without a file or a traceback."""
    path = write("\n".join(MARE.read_text().replace("X:1", f"X:{n}") for n in range(1, 120)))
    run = subprocess.Popen(
        [sys.executable, "-m", "backing", "sheet", str(path), "--box", "D/G", "-o", "b.pdf"],
        cwd=tmp_path, stderr=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    time.sleep(2.5)
    run.send_signal(signal.SIGINT)
    _, said = run.communicate(timeout=120)
    assert run.returncode == 130
    assert b"Traceback" not in said
    assert [p.name for p in tmp_path.iterdir()] == ["tune.abc"]
