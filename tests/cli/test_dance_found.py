"""What the commands say of the dance of a tune that tells none, and `--dance`."""

import pytest

MUSIC = (
    "EBEB EBEB|EBEF AFDF|EBEB GABd|BABc dAFD|EBEB EBEB|EBEF AFDF|d2fd cdec|BABc dAFD:|\n"
    "d2fd c2ec|defg afge|d2fd c2ec|BABc dAFA|d2fd c2ec|defg afge|afge fdec|BABc dAFD:|\n"
)
SAID = "no dance is given: taken as a reel, for its rhythm: 4/4, running quavers"


@pytest.fixture
def kettle(tmp_path):
    """A reel of our own without `R:`."""
    path = tmp_path / "kettle.abc"
    path.write_text(f"X:1\nT:The Tin Kettle\nM:4/4\nL:1/8\nK:Edor\n{MUSIC}", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("command", "written"), [("look", None), ("make", "kettle.mid"), ("fit", None)]
)
def test_what_it_is_taken_for_is_said_once(cli, tmp_path, kettle, command, written):
    """look, make and fit say in one line which dance it is taken for, and why; a dance that is
    named is taken without a word."""
    more = ["-o", tmp_path / written] if written else []
    assert cli(command, kettle, *more).err.count(SAID) == 1
    assert "taken as" not in cli(command, kettle, "--dance", "hornpipe", *more).err


def test_look_shows_the_dance_and_its_tempo(cli, kettle):
    """The feel in two and the usual tempo of a reel; of an unknown word both."""
    lines = cli("look", kettle).out.splitlines()
    assert lines[1:3] == [
        "  reel, 4/4, E dorian", "  tempo 1/2 = 108, usual for a reel, 54 bars a minute",
    ]  # fmt: skip
    kettle.write_text(kettle.read_text().replace("M:4", "R:kettle dance\nM:4"))
    assert cli("look", kettle).out.splitlines()[1] == "  kettle dance (as a reel), 4/4, E dorian"


def test_a_lament_is_slow(cli, kettle):
    """The word of a title goes before the rhythm."""
    kettle.write_text(kettle.read_text().replace("The Tin Kettle", "Lament for a Kettle"))
    result = cli("look", kettle)
    assert "tempo 1/4 = 72, usual for an air" in result.out
    assert "taken as an air, for its title" in result.err


def test_chords_write_no_dance(cli, kettle):
    """The tune is written with its chords, and no `R:` that nobody asked for."""
    assert "R:" not in cli("chords", kettle).out


def test_a_book_is_searched_by_its_titles_too(cli, tmp_path):
    """Where `R:` is missing, `tunes --dance` goes by the title."""
    book = tmp_path / "book.abc"
    tune = "X:{}\nT:{}\n{}M:3/4\nL:1/4\nK:G\nGBd|g3|]\n\n"
    book.write_text(
        tune.format(1, "Valse du pont", "")
        + tune.format(2, "The Lock Mazurka", "")
        + tune.format(3, "A Waltz of Sorts", "R:mazurka\n")
    )
    found = cli("tunes", book, "--dance", "waltz").out.splitlines()
    assert [line.split()[0] for line in found[1:]] == ["1"]


@pytest.mark.slow
def test_a_sheet_may_be_told_the_dance(cli, tmp_path, kettle):
    """`sheet` says what it takes a tune for; `--dance` is printed, and in a score; a dance that
    is not known is refused."""
    score = tmp_path / "kettle.musicxml"
    assert SAID in cli("sheet", kettle, "-o", score).err
    assert "reel" not in score.read_text(encoding="utf-8")
    told = cli("sheet", kettle, "--dance", "hornpipe", "-o", score)
    assert "taken as" not in told.err
    assert "hornpipe" in score.read_text(encoding="utf-8")
    refused = cli("sheet", kettle, "--dance", "gavotte", "-o", score)
    assert (refused.code, "'gavotte' is not a dance" in refused.err) == (1, True)
