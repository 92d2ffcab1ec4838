"""Tunes as mail and web pages leave them are read, with a notice of what was put right.

None of it is ABC 2.1 (clauses 2.2, 3), and where that is asked for it is refused.
"""

import pytest

from backing.errors import TuneError
from backing.parse.abc import parse_abc, split_book, tune_of
from backing.parse.abc.pasted import is_music

LINES = [
    "X:3", "T:The Wet Rope", "C:by the canal", "M:4/4", "L:1/8", "R:reel", 'Q:"Steady" 1/2=80',
    "K:Ador", '|:"Am"A2 eA cAeA|"G"BGdG BGdG:|',
]  # fmt: skip
PLAIN = "\n".join(LINES) + "\n"
TUNE = parse_abc(PLAIN)


def only(text):
    """The one tune of a text, not yet read."""
    (tune,) = split_book(text)
    return tune


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (" ".join(LINES), "run together"), (" ".join(LINES) + "\n\n", "run together"),
        ("  ".join(LINES) + "\n\nBest wishes\n", "run together"),
        (" ".join(LINES[:4]) + "\n" + " ".join(LINES[4:]), "run together"),
        ("X:3 T:The Wet\nRope C:by the canal\n" + " ".join(LINES[3:]), "run together"),
        (" ".join(LINES[:4]) + "\n" + "\n".join(LINES[4:]), "run together"),
        ("I have it as: " + " ".join(LINES), "in the middle of a line"),
        (PLAIN.replace("K:Ador\n", "K:Ador\n\n"), "an empty line"),
        (PLAIN.replace("K:Ador\n", "\n \nK:Ador\n\n\n"), "an empty line"),
        ("\n\n".join(LINES), "an empty line"), ("\n\n\n".join(LINES) + "\n\nBye!\n", "empty line"),
        (PLAIN.replace("K:Ador\n", "K:Ador\n\n") + "\nBest wishes,\nme\n", "an empty line"),
        *(("".join(f"{quote}{line}\n" for line in LINES), "quoted")
          for quote in ("> ", ">", ">> ", "> > ", "| ", "|", " > ", ">\t")),
        ("On Monday you wrote:\n\n" + "".join(f"> {line}\n" for line in LINES) + ">\n> Bye\n",
         "quoted"),
        ("> Hello,\n>\n" + "".join(f"> {line}\n" for line in LINES), "quoted"),
        ("\n".join(f"> {line}" for line in LINES[:-1]) + "\nI play it so:\n> " + LINES[-1],
         "quoted"),
        ("".join(f"    {line}\n" for line in LINES), "set in"),
        ("".join(f"\t{line}\n" for line in LINES), "set in"),
    ],
)  # fmt: skip
def test_what_is_put_right(text, said):
    """The tune is the one that was meant, what was done is said first, and strictly it is
    refused for just that."""
    pasted = only(text)
    tune = tune_of(pasted)
    assert tune == TUNE
    assert said in tune.notices[0].message
    assert tune.notices[0].hint
    assert tune.notices[0].excerpt == text.split("\n")[tune.notices[0].line - 1]
    with pytest.raises(TuneError, match=said) as caught:
        tune_of(pasted, strict=True)
    assert caught.value.line == tune.notices[0].line


def test_two_things_at_once():
    """A quoted tune with an empty line in it, and one that runs together, are put right too."""
    quoted = "".join(f"> {line}\n" for line in LINES).replace("> K:Ador\n", "> K:Ador\n>\n")
    for text, first, second in (
        (quoted, "quoted", "empty line"), (f"> {' '.join(LINES)}\n", "quoted", "run together")
    ):  # fmt: skip
        tune = tune_of(only(text))
        assert tune == TUNE
        assert sum(first in notice.message for notice in tune.notices) == 1
        assert sum(second in notice.message for notice in tune.notices) == 1


@pytest.mark.parametrize("without", [["X:3"], ["X:3", "T:The Wet Rope"]])
@pytest.mark.parametrize("lines", [" ".join, "\n> ".join, "\n\n".join])
def test_fragments(without, lines):
    """A tune without a number is put right in the same way (clause 2.3)."""
    kept = [line for line in LINES if line not in without]
    text = ("> " if "> " in lines(["a", "b"]) else "") + lines(kept) + "\n\n"
    tune = parse_abc(text)
    assert (tune.bars, tune.voices) == (TUNE.bars, TUNE.voices)


@pytest.mark.parametrize(
    ("key", "written"),
    [("G", "G"), ("G major", "G major"), ("Ador", "A dor"), ("Bb minor", "Bb Minor"),
     ("A minor", "Am"), ("E dorian", "E Dorian"), ("none", "none"), ("D mix", "D mixolydian"),
     ("G", "G clef=treble"), ("G", "G treble")],
)  # fmt: skip
def test_where_the_music_begins(key, written):
    """On one line the music begins where the key, its mode and clef end."""
    tune = parse_abc(f"X:1 T:Rope L:1/8 K:{written} E3 dAB| a2 mad.\n")
    (other,) = [parse_abc(f"X:1\nT:Rope\nL:1/8\nK:{key}\nE3 dAB| a2 mad.\n")]
    assert (str(tune.key), tune.voices) == (str(other.key), other.voices)


def test_fields_in_music_that_runs_together():
    """Key, metre, part, lyrics and voice in the music of one line are fields there too."""
    tune = parse_abc(
        "X:1 T:Rope M:2/4 L:1/8 K:G P:A GABc|d4| w: wet rope on the lock-side "
        "P:B K:D M:3/4 f2e2d2| V:2 D4|D4|D6|"
    )
    assert [(str(bar.metre), str(bar.key), bar.label) for bar in tune.bars] == [
        ("2/4", "G major", "A"), ("2/4", "G major", ""), ("3/4", "D major", "B"),
    ]  # fmt: skip
    assert [note.lyrics for note in tune.melody.bars[0]] == [("wet",), ("rope",), ("on",), ("the",)]
    assert [str(bar[0].pitches[0]) for bar in tune.voices[1].bars] == ["D4", "D4", "D4"]


def test_a_book_on_one_line():
    """Several tunes on one line are several tunes."""
    first, second = split_book("X:1 T:Rope K:G GABc| X:2 T:Rust M:3/4 L:1/8 K:Am cdefga|\n")
    assert (tune_of(first).title, str(tune_of(first).key)) == ("Rope", "G major")
    assert (second.number, tune_of(second).title) == ("2", "Rust")


def test_places_are_those_of_the_file():
    """What is odd in a tune that was put right is said with its place in the file."""
    whole = "X:1 T:Rope M:2/4 L:1/8 K:G GABc|d?4|"
    for text, line, column in (
        (whole, 1, 34), (f"hello\n\n>> {whole}\n", 3, 37),
        ("> X:1\n> L:1/8\n> K:G\n>\n>  AB?c|\n", 5, 6),
    ):  # fmt: skip
        notice = next(n for n in parse_abc(text).notices if "'?'" in n.message)
        assert (notice.line, notice.column) == (line, column)
        assert notice.excerpt == text.split("\n")[line - 1]
        assert notice.excerpt[column - 1] == "?"
    with pytest.raises(TuneError) as caught:
        parse_abc("> X:1\n> K:G\n> GAB0|\n")
    assert (caught.value.line, caught.value.column, caught.value.excerpt) == (3, 5, "> GAB0|")


def test_repeat_signs_after_quotation_marks():
    """Only the marks of the mail are taken off, not the bar line after them."""
    tune = parse_abc("| X:1\n| L:1/8\n| K:C\n| |:CD|EF:|\n| |G|\n")
    assert [bar.plays for bar in tune.bars] == [0, 2, 0]


def test_music_below_an_empty_line():
    """A tune with music ends at an empty line (clause 2.2.1); that there is more below is
    said."""
    text = "X:1\nL:1/8\nK:C\nCDEF|\n\nGABc|\n\nX:2\nL:1/8\nK:C\nC|\n"
    first, second = (tune_of(tune) for tune in split_book(text))
    assert len(first.bars) == 1
    (notice,) = first.notices
    assert "is not read" in notice.message
    assert (notice.line, notice.excerpt) == (6, "GABc|")
    assert second.notices == ()


@pytest.mark.parametrize(
    "between", ["A letter home.", "A bad cab.", "M:3/4\nL:1/4", "%%text Gate | Lock", "one | two"]
)
def test_text_below_a_tune_without_music(between):
    """A tune without music (clause 2.2.1) does not take in the text or the fields below it."""
    first, second = split_book(f"X:1\nT:Wanted\nK:D\n\n{between}\n\nX:2\nT:Found\nK:G\nF|\n")
    assert first.lines == ("X:1", "T:Wanted", "K:D")
    with pytest.raises(TuneError, match="'Wanted' has no notes") as caught:
        tune_of(first)
    assert "no empty line between" in caught.value.hint
    assert tune_of(second).title == "Found"


@pytest.mark.parametrize(
    ("line", "music"),
    [
        ('|:"Am"e2 A>c|"D7/F#"(3def g2:|', True), ("[V:1]z4|[1!trill!c4]", True), ("c4", False),
        ("A bad cab.", False), ("Wet | dry", False), ("| - |", False), ("G|", True), ("", False),
    ],
)  # fmt: skip
def test_what_can_be_music(line, music):
    """A line can be music where bar lines and notes stand in it, and no words besides."""
    assert is_music(line) == music


def test_nothing_is_put_right_in_good_abc():
    """ABC as it should be is taken as it stands: nothing mended, nothing said."""
    tune = only(PLAIN)
    assert (tune.mended, tune.places, tune.notices) == ((), (), ())
    assert tune_of(tune, strict=True) == TUNE
