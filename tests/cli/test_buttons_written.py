"""`fit --buttons -o` and `move --buttons`: buttons written under the notes."""

from pathlib import Path

import pytest

from backing.box.under_notes import has_buttons, without_buttons
from backing.files import read_tune

EXAMPLES = Path(__file__).parents[2] / "examples"
MARE = EXAMPLES / "the-towpath-mare.abc"
KETTLE = EXAMPLES / "the-lock-keepers-kettle.abc"


def signs(path: Path) -> list[str]:
    """The buttons under the notes of a file, in order: +5 on the push, -5 on the pull."""
    found = []
    for note in read_tune(path).tune.notes():
        push, pull = (*note.lyrics, "")[:2]
        found.append(f"+{push}" if push else f"-{pull}")
    return found


def printed(text: str) -> list[str]:
    """The buttons that `fit --buttons` prints, in order, in the same way."""
    found, lines = [], text.splitlines()
    for index, line in enumerate(lines):
        if line.startswith("push   ") and lines[index + 1].startswith("pull   "):
            push, pull = line.ljust(80), lines[index + 1].ljust(80)
            for column in range(7, 80):
                for sign, row in (("+", push), ("-", pull)):
                    if row[column] not in " |" and row[column - 1] in " |":
                        found.append(sign + row[column:].split()[0])
    return found


@pytest.mark.parametrize("tune", [MARE, KETTLE, EXAMPLES / "the-eel-trap.abc"])
def test_they_are_those_that_are_printed(cli, tmp_path, tune):
    """The buttons written under the notes are those that `fit --buttons` prints, note by note."""
    out = tmp_path / "buttons.abc"
    result = cli("fit", tune, "--buttons", "-o", out)
    assert result.code == 0
    assert "under its notes\nbuttons counted from the chin, 6' on the inner row" in result.err
    assert signs(out) == printed(cli("fit", tune, "--buttons").out)


def test_the_text_is_kept(cli, tmp_path):
    """But for the lines of buttons and our mark the file is the one that was read."""
    out = tmp_path / "buttons.abc"
    cli("fit", MARE, "--buttons", "-o", out)
    lines = out.read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if not line.startswith(("w:", "% made by"))] == (
        MARE.read_text(encoding="utf-8").splitlines()
    )
    assert without_buttons(read_tune(out).tune) == read_tune(MARE).tune


def test_with_buttons_the_table_is_not_printed(cli, tmp_path):
    """With `-o` the buttons are in the file, and only the fit in words is on the screen."""
    result = cli("fit", MARE, "--buttons", "-o", tmp_path / "buttons.abc")
    assert "Sits on your D/G" in result.out
    assert "\npush " not in result.out


def test_a_tune_with_lyrics(cli, tmp_path):
    """The words of a song stay the first verses."""
    path, out = tmp_path / "song.abc", tmp_path / "buttons.abc"
    path.write_text("X:1\nT:Song\nM:4/4\nL:1/4\nK:D\nDFAe|D4|\nw:low-er the gate now\n")
    cli("fit", path, "--buttons", "-o", out)
    assert out.read_text(encoding="utf-8").splitlines()[5:9] == [
        "DFAe|D4|",
        "w:low-er the gate now",
        "w:2' * * * 2'",
        "w:* 2' 3' 5' *",
    ]


def test_words_below_two_lines_of_music(cli, tmp_path):
    """Where words stand below two lines of music together, the tune is written anew so that they
    stay at their notes."""
    path, out = tmp_path / "song.abc", tmp_path / "buttons.abc"
    path.write_text("X:1\nT:Song\nM:4/4\nL:1/4\nK:D\nDFAd|\nD4|\nw:low-er the gate now\n")
    cli("fit", path, "--buttons", "-o", out)
    notes = list(read_tune(out).tune.notes())
    assert [note.lyrics for note in notes] == [
        ("low-", "3"), ("er", "4"), ("the", "5"), ("gate", "6"), ("now", "3")
    ]  # fmt: skip


def test_a_tune_of_a_book(cli, tmp_path):
    """Of a book the tune alone is written, with the book's header."""
    out = tmp_path / "buttons.abc"
    cli("fit", EXAMPLES / "canal-book.abc", "--tune", "2", "--buttons", "-o", out)
    text = out.read_text(encoding="utf-8")
    assert text.startswith("%abc-2.1\nO:The Reedmace canal\n")
    assert text.count("X:") == 1
    assert has_buttons(read_tune(out).tune)


@pytest.mark.slow
def test_another_box(cli, tmp_path):
    """Buttons of another box replace those that stand there, which is said; a note that the box
    lacks has a question mark, which is said too."""
    first, second = tmp_path / "first.abc", tmp_path / "second.abc"
    cli("fit", MARE, "--buttons", "-o", first)
    result = cli("fit", first, "--box", "G/C", "--buttons", "-o", second)
    assert "the buttons that stood under the notes are replaced" in result.err
    assert "the buttons of G/C under its notes, ? for notes that it lacks" in result.err
    assert "-?" in signs(second)
    assert without_buttons(read_tune(second).tune) == read_tune(MARE).tune


@pytest.mark.slow
def test_musicxml(cli, tmp_path):
    """As MusicXML the buttons are verses too, as music21 reads them."""
    from music21 import converter

    abc, xml = tmp_path / "buttons.abc", tmp_path / "buttons.musicxml"
    cli("fit", KETTLE, "--buttons", "-o", abc)
    assert cli("fit", KETTLE, "--buttons", "-o", xml).code == 0
    notes = converter.parse(xml).flatten().notes
    theirs = [
        ("+" if lyric.number == 1 else "-") + lyric.text for note in notes for lyric in note.lyrics
    ]
    assert theirs == signs(abc)


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["-o", "x.abc"], 2, "-o writes the buttons of one box"),
        (["--buttons", "--all-boxes", "-o", "x.abc"], 2, "say --buttons, and one --box"),
        (["--buttons", "--best-key", "-o", "x.abc"], 2, "say --buttons, and one --box"),
        (["--buttons", "-o", "x.mid"], 1, "does not end in .abc, .musicxml or .xml"),
        (["--buttons", "-o", MARE], 1, "is the tune itself"),
    ],
)
def test_faults(cli, arguments, code, message):
    """What cannot be written is said, with what to do."""
    result = cli("fit", MARE, *arguments)
    assert (result.code, message in result.err) == (code, True)


def test_a_file_that_is_not_ours(cli, tmp_path):
    """A file that backing did not make is not replaced unasked."""
    out = tmp_path / "mine.abc"
    out.write_text("X:1\nT:Mine\nK:D\nD8|\n", encoding="utf-8")
    assert cli("fit", MARE, "--buttons", "-o", out).code == 1
    assert out.read_text(encoding="utf-8") == "X:1\nT:Mine\nK:D\nD8|\n"
    assert cli("fit", MARE, "--buttons", "-o", out, "--replace").code == 0


# -- moved ------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("target", ["G/C", "A/D", "C/F"])
def test_moved_with_the_same_buttons(cli, tmp_path, target):
    """On another box of the family the moved tune has the buttons that it had, in whichever
    octave it is written."""
    before, after = tmp_path / "before.abc", tmp_path / "after.abc"
    cli("fit", KETTLE, "--buttons", "-o", before)
    result = cli("move", KETTLE, "--from", "D/G", "--to", target, "--buttons", "-o", after)
    assert "its buttons under the notes\nbuttons counted from the chin" in result.err
    assert signs(after) == signs(before)


def test_numbers_that_are_one_higher(cli, tmp_path):
    """On a box that counts one more the numbers are those of its buttons (thesession.org 21675)."""
    before, after = tmp_path / "before.abc", tmp_path / "after.abc"
    cli("fit", KETTLE, "--box", "B/C", "--buttons", "-o", before)
    cli("move", KETTLE, "--from", "B/C", "--to", "B/C:23", "--buttons", "-o", after)
    assert "?" not in "".join(signs(before))
    for old, new in zip(signs(before), signs(after), strict=True):
        assert (new[0], new.count("'")) == (old[0], old.count("'"))
        assert int(new[1:].rstrip("'")) == int(old[1:].rstrip("'")) + 1


@pytest.mark.slow
def test_buttons_that_do_not_come_along(cli, tmp_path):
    """Where a note has not the same button on the other box the buttons are found anew, for the
    notes as they sound there, and that is said."""
    after, fitted = tmp_path / "after.abc", tmp_path / "fitted.abc"
    boxes = ("--from", "D/G", "--to", "D/G:fifth-reversed")
    result = cli("move", MARE, *boxes, "--buttons", "-o", after)
    assert "not every note has the same button on D/G:fifth-reversed" in result.err
    cli("fit", MARE, "--box", "D/G:fifth-reversed", "--buttons", "-o", fitted)
    assert signs(after) == signs(fitted)


@pytest.mark.parametrize("way", [("--to-key", "G"), ("--from", "D/G", "--to", "G/C")])
def test_old_buttons_are_left_out(cli, tmp_path, way):
    """A tune that is moved without `--buttons` loses those that stand under its notes, which
    would no longer hold, and that is said."""
    path = tmp_path / "buttons.abc"
    cli("fit", KETTLE, "--buttons", "-o", path)
    result = cli("move", path, *way)
    assert "the buttons under the notes are left out" in result.err
    assert "w:" not in result.out


def test_no_box_is_named(cli):
    """With `--to-key` no box is named, so there are no buttons to write."""
    result = cli("move", KETTLE, "--to-key", "G", "--buttons")
    assert (result.code, "it is not said on which box" in result.err) == (2, True)
