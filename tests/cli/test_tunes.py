"""`backing tunes`, standard input, and choosing a voice."""

import io
import sys
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
BOOK = EXAMPLES / "canal-book.abc"
TWO_VOICES = 'X:1\nT:Two\nM:4/4\nL:1/4\nV:low\nV:high name="Fiddle"\nK:C\nV:low\nC4|\nV:high\nc4|\n'


class Stdin:
    """Standard input that holds this text."""

    def __init__(self, text):
        self.buffer = io.BytesIO(text.encode())


def test_a_book_as_a_table(cli):
    """`backing tunes` shows number, title, dance, key, metre and bars of every tune."""
    result = cli("tunes", BOOK)
    assert result.code == 0
    assert [line.split() for line in result.out.splitlines()] == [
        ["number", "title", "dance", "key", "metre", "bars"],
        ["1", "The", "Launch", "of", "the", "Patient", "Heron", "march", "G", "major", "6/8", "16"],
        ["2", "Candle", "in", "the", "Cabin", "waltz", "D", "major", "3/4", "16"],
        ["3", "Kingfisher", "off", "the", "Weir", "polka", "D", "major", "2/4", "16"],
    ]
    assert result.err == "3 of 3 tunes\n"


@pytest.mark.parametrize(
    ("options", "numbers"),
    [
        (["--dance", "waltz"], ["2"]), (["--dance", "valse"], ["2"]), (["--key", "G"], ["1"]),
        (["--key", "D", "--dance", "polka"], ["3"]), (["--text", "CABIN"], ["2"]),
        (["--text", "nothing"], []),
    ],
)  # fmt: skip
def test_a_book_filtered(cli, options, numbers):
    """The table may be narrowed down by title, key and dance."""
    result = cli("tunes", BOOK, *options)
    assert [line.split()[0] for line in result.out.splitlines()[1:]] == numbers
    assert result.err == f"{len(numbers)} of 3 tunes\n"


def test_a_key_that_is_none(cli):
    """A key that is none is a usage error."""
    result = cli("tunes", BOOK, "--key", "H")
    assert result.code == 2
    assert "'H' is not a key" in result.err


@pytest.mark.slow
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_tune_from_standard_input(cli, tmp_path, monkeypatch, end):
    """The path "-" reads pasted text."""
    text = (EXAMPLES / "the-eel-trap.abc").read_text(encoding="utf-8").replace("\n", end)
    monkeypatch.setattr(sys, "stdin", Stdin(text))
    result = cli("make", "-", "-o", tmp_path / "a.mid")
    assert result.code == 0, result.err
    assert (tmp_path / "a.mid").read_bytes()[:4] == b"MThd"


def test_nonsense_from_standard_input(cli, tmp_path, monkeypatch):
    """Text that is no tune is refused by name."""
    monkeypatch.setattr(sys, "stdin", Stdin("hello"))
    result = cli("make", "-", "-o", tmp_path / "a.mid")
    assert result.code == 1
    assert "standard input is not a kind of file that is read here" in result.err


@pytest.mark.slow
def test_the_melody_is_chosen_by_voice(cli, tmp_path):
    """`--voice` takes a voice by its id or its name, and says which there are."""
    tune = tmp_path / "two.abc"
    tune.write_text(TWO_VOICES)
    assert "range C4 to C4" in cli("look", tune).out
    assert "the melody is voice low" in cli("look", tune).err
    assert "range C5 to C5" in cli("look", tune, "--voice", "high").out
    assert "range C5 to C5" in cli("look", tune, "--voice", "fiddle").out
    refused = cli("look", tune, "--voice", "hihg")
    assert "there is no voice 'hihg'\nhint: did you mean high?" in refused.err


DOUBLE = (
    "Y:who knows\n\nX:0004\nT:Slow Lock\nR:jig\nL:1/8\nK:G\nGAB|\n\n"
    "X:89\nT:Quick Step 4th\nT:Die schöne Schleuse\nL:1/8\nK:D\nDFA|\n\n"
    "X:89\nT:Rope\nL:1/8\nK:C\nC|\n"
)


def test_numbers_are_listed_as_they_are_asked_for(cli, tmp_path):
    """What the table has in its first column is what --tune takes, where a number stands twice
    too; what is odd about the book is said below it."""
    book = tmp_path / "book.abc"
    book.write_text(DOUBLE, encoding="utf-8")
    result = cli("tunes", book)
    numbers = [line.split()[0] for line in result.out.splitlines()[1:]]
    assert numbers == ["4", "89.1", "89.2"]
    assert "the field Y: is not known" in result.err
    assert "tune numbers that stand twice in the book: 89\nhint: ask for" in result.err
    for number, title in zip(numbers, ("Slow Lock", "Quick Step 4th", "Rope"), strict=True):
        looked = cli("look", book, "--tune", number)
        assert title in looked.out.splitlines()[0]
        assert looked.err == ""


@pytest.mark.parametrize(
    "command", [["look"], ["make", "-o", "a.mid"], ["fit", "--box", "D/G"], ["chords"],
                ["move", "--to-key", "A"]]
)  # fmt: skip
def test_nothing_is_made_from_a_guess(cli, tmp_path, monkeypatch, command):
    """Every command takes just the tune that was asked for, or says which there are."""
    monkeypatch.chdir(tmp_path)
    book = tmp_path / "book.abc"
    book.write_text(DOUBLE, encoding="utf-8")
    name, *options = command
    refused = cli(name, book, *options, "--tune", "89")
    assert (refused.code, refused.out) == (1, "")
    assert refused.err == (
        "error: book.abc: 2 tunes have the number 89\n"
        "  89.1  Quick Step 4th, D major, line 10\n"
        "  89.2  Rope, C major, line 17\n"
        "hint: say which by its number: --tune 89.2\n"
    )
    missing = cli(name, book, *options, "--tune", "5")
    assert missing.code == 1
    assert "no tune '5' in the book\nhint: the nearest are 4 Slow Lock, 89.1" in missing.err
    assert [path.name for path in tmp_path.iterdir()] == ["book.abc"]
    assert cli(name, book, *options, "--tune", "SCHONE").code == 0


def test_a_book_is_searched_as_a_tune_is_asked_for(cli, tmp_path):
    """--text looks in all titles, in any case, with accents or without."""
    book = tmp_path / "book.abc"
    book.write_text(DOUBLE, encoding="utf-8")
    result = cli("tunes", book, "--text", "schone")
    assert [line.split()[0] for line in result.out.splitlines()[1:]] == ["89.1"]


def test_a_tune_from_a_mail(cli, tmp_path, monkeypatch):
    """A tune that was quoted in a mail is read from standard input, and that is said."""
    monkeypatch.setattr(sys, "stdin", Stdin("> X:1\n> T:Old Rope\n> L:1/8\n> K:D\n> DFA|\n"))
    result = cli("look", "-")
    assert result.out.startswith("1. Old Rope\n")
    assert "standard input, line 1, column 1: the tune is quoted, as in a mail" in result.err
    monkeypatch.setattr(sys, "stdin", Stdin("> X:1\n> K:D\n> DFA|\n"))
    assert cli("look", "-", "--strict").code == 1
