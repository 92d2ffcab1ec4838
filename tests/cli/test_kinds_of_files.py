"""One tune, three kinds of files: what is heard is the same."""

from pathlib import Path

import mido
import pytest

from backing.parse.abc import parse_abc
from backing.render.musicxml import render_musicxml

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
WALTZ = EXAMPLES / "the-lamplighters-round.abc"


def melody_of(path):
    """(tick, key) of the melody's note-ons."""
    at, found = 0, []
    for message in next(t for t in mido.MidiFile(path).tracks if t.name == "melody"):
        at += message.time
        if message.type == "note_on":
            found.append((at, message.note))
    return found


@pytest.mark.slow
def test_musicxml_sounds_as_abc(cli, tmp_path):
    """A tune written as MusicXML 4.0 makes the same practice file as its ABC."""
    score = tmp_path / "waltz.musicxml"
    score.write_text(render_musicxml(parse_abc(WALTZ.read_text())), encoding="utf-8")
    first, second = tmp_path / "a.mid", tmp_path / "b.mid"
    assert cli("make", WALTZ, "--section", "B", "--times", 2, "-o", first).code == 0
    result = cli("make", score, "--section", "B", "--times", 2, "-o", second)
    assert result.code == 0, result.err
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.slow
def test_a_midi_file_of_ours_is_a_tune_again(cli, tmp_path):
    """A practice file of the whole tune is read as the tune that was played."""
    first, second = tmp_path / "a.mid", tmp_path / "b.mid"
    cli("make", WALTZ, "-o", first)
    result = cli("make", first, "--style", "alternating", "-o", second)
    assert result.code == 0, result.err
    assert melody_of(second) == melody_of(first)
    assert "the melody is taken from track 2 (melody)" in result.err


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("a.mid", b"MThd\x00\x00", "a.mid"),
        ("a.musicxml", b"<score-partwise><part-list/>", "a.musicxml, line 1"),
        ("a.mxl", b"PK\x03\x04nonsense", "a.mxl"),
        ("a.pdf", b"%PDF-1.7", "a.pdf is a PDF"),
    ],
)
def test_broken_files_are_refused_by_name(cli, tmp_path, name, data, said):
    """A file that is damaged, or of another kind, is refused with its name."""
    path = tmp_path / name
    path.write_bytes(data)
    result = cli("make", path, "-o", tmp_path / "out.mid")
    assert result.code == 1
    assert said in result.err
    assert not (tmp_path / "out.mid").exists()


def test_a_tune_inside_a_web_page(cli, tmp_path):
    """In an .abc file what surrounds the tunes is free text, a web page's marks too (ABC 2.1
    clause 2.2.3)."""
    page = tmp_path / "page.abc"
    page.write_text("<html>\n<p>A tune.</p>\n\nX:1\nT:Old Rope\nK:D\nDFA|\n\n</html>\n")
    result = cli("look", page)
    assert result.code == 0
    assert "Old Rope" in result.out
