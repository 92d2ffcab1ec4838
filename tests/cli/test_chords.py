"""`backing chords`, and where `backing make` takes chords from."""

from pathlib import Path

import pytest

from backing.files import read_tune
from backing.parse.abc import parse_abc

EXAMPLES = Path(__file__).parents[2] / "examples"
BARE = """\
X:7
T:The Leaking Bucket
% a remark of the player's
R:polka
M:2/4
L:1/8
K:D
|: d>d fa | (3ABA F2  | {g}gg fe | f2 d2 :|  % first part
W:words that stay
"""


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """A tune without chords, written in a player's own way."""
    path = tmp_path / "bare.abc"
    path.write_text(BARE, encoding="utf-8")
    return path


@pytest.mark.slow
def test_the_text_keeps_its_spelling(cli, bare):
    """Chords are put into the text as it stands: spacing, broken rhythm, words and remarks of
    the tune stay."""
    result = cli("chords", bare)
    assert result.code == 0
    lines = result.out.splitlines()
    without = [line.replace('"D"', "").replace('"A"', "").replace('"G"', "") for line in lines]
    assert without == BARE.splitlines()
    assert parse_abc(result.out).has_chords


@pytest.mark.slow
def test_what_is_written_is_the_tune_with_chords(cli, bare, tmp_path):
    """The file that is written holds the tune with its chords, and the first is the tonic."""
    out = tmp_path / "chords.abc"
    result = cli("chords", bare, "-o", out)
    assert result.out == ""
    assert "wrote" in result.err
    tune = read_tune(out).tune
    assert tune.has_chords
    assert str(tune.bars[0].chords[0].chord) == "D"
    assert [len(bar) for bar in tune.melody.bars] == [4, 4, 4, 2]


@pytest.mark.slow
def test_chords_that_are_there_stay_without_again(cli, tmp_path):
    """A tune with chords is left alone; `--again` replaces them."""
    tune = EXAMPLES / "the-lock-keepers-kettle.abc"
    refused = cli("chords", tune)
    assert refused.code == 1
    assert "has chords already" in refused.err
    assert "--again" in refused.err
    out = tmp_path / "again.abc"
    assert cli("chords", tune, "--again", "-o", out).code == 0
    old, new = read_tune(tune).tune, read_tune(out).tune
    assert new.voices == old.voices
    assert new.has_chords
    assert cli("chords", out, "--again").out == out.read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(path.name for path in EXAMPLES.glob("*.abc")))
def test_every_example_can_be_harmonised_again(cli, name):
    """What `--again` prints for an example reads as the same notes with chords."""
    result = cli("chords", EXAMPLES / name, "--again")
    assert result.code == 0
    tune = parse_abc(result.out)
    assert tune.voices == read_tune(EXAMPLES / name).tune.voices
    assert tune.has_chords


def test_a_tune_of_a_book_takes_the_header_along(cli, tmp_path):
    """One tune of a book is written with the fields of the file header (ABC 2.1 clause 2.2.2)."""
    book = tmp_path / "book.abc"
    book.write_text(
        "%abc-2.1\nM:3/4\nL:1/4\n\nX:1\nT:One\nK:G\nGBd|\n\nX:2\nT:Two\nK:D\nDFA|dAF|D3|\n"
    )
    result = cli("chords", book, "--tune", "2")
    assert result.out.startswith("%abc-2.1\nM:3/4\nL:1/4\n\nX:2\nT:Two\n")
    assert str(parse_abc(result.out).metre) == "3/4"


@pytest.mark.parametrize(
    "music",
    [
        "m:~n2=n/o/n/m/\nK:D\n~d2 f2 a2 f2|~A2 F2 D4|",
        "K:D\nZ2|D2F2 A4|",
        "K:D\n(3DFA d2 D4|d8-|d8|",
    ],
)
def test_other_ways_of_writing(cli, tmp_path, music):
    """Macros, rests of several bars and ties over bar lines come through: the tune is written
    anew where chords can't be put into its text."""
    path = tmp_path / "odd.abc"
    path.write_text(f"X:1\nT:Odd Ends\nM:4/4\nL:1/8\n{music}\n")
    result = cli("chords", path)
    assert result.code == 0
    written = parse_abc(result.out)
    assert written.has_chords
    sounding = [(n.onset, n.length, n.pitches) for n in written.notes()]
    assert sounding == [(n.onset, n.length, n.pitches) for n in read_tune(path).tune.notes()]


def test_why_names_notes_chords_and_reasons(cli, bare):
    """`--why --points` prints each bar's notes, three chords with points, and what decided."""
    result = cli("chords", bare, "--why", "--points")
    assert "bar 1: D D F# A" in result.out
    after = result.out.split("bar 1: D D F# A\n")[1].splitlines()[:3]
    assert after[0].split()[:2] == [">", "D"]
    assert all(float(line.replace(">", "").split()[1]) > -20 for line in after)
    assert "notes +" in after[0]
    assert after[0].split(")")[1].strip()


def test_why_says_it_in_words(cli, bare):
    """`--why` prints a line for each bar: its number, its chords, and what asks for them, without
    any points."""
    lines = cli("chords", bare, "--why").out.splitlines()
    assert lines[0] == "A part, D major"
    assert [line.split()[:2] for line in lines[1:]] == [
        ["1", "D"], ["2", "D"], ["3", "G"], ["4", "D"],
    ]  # fmt: skip
    assert "its notes make D" in lines[1]
    assert "the part ends on D" in lines[4]
    assert not any(char in line for line in lines for char in "+>(")


def test_points_go_with_why(cli, bare):
    """`--points` alone is refused, with what to say instead."""
    result = cli("chords", bare, "--points")
    assert result.code == 2
    assert "say --why --points" in result.err


def test_a_box_is_told_what_it_lacks(cli, tmp_path):
    """A tune in F keeps its chords on a D/G, which has none of F and B flat, and that is said."""
    path = tmp_path / "flat.abc"
    path.write_text(
        "X:1\nT:Fog on the Basin\nM:4/4\nL:1/8\nK:F\n|:f2af c2fc|d2fd B2dB|c2eg c2eg|f2a2 f4:|\n"
    )
    result = cli("chords", path, "--box", "D/G")
    assert "the D/G has no F or Bb chord" in result.err
    assert [str(s.chord) for bar in parse_abc(result.out).bars for s in bar.chords] == [
        "F", "Bb", "C", "F",
    ]  # fmt: skip


@pytest.mark.slow
def test_a_wrong_key_is_reported(cli, tmp_path):
    """A tune marked G that lives in E minor is reported, by `look` too."""
    path = tmp_path / "wrong.abc"
    body = "|:E2GE B2GE|e2ge B2GE|F2AF D2FA|E2GE E4:|"
    path.write_text(f"X:1\nT:Fog on the Basin\nM:4/4\nL:1/8\nK:G\n{body}\n")
    for command in ("chords", "look"):
        result = cli(command, path)
        assert "is marked G major, but its notes live in E minor" in result.err
        assert "hint:" in result.err


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["-o", "bare.abc"], "is the tune itself"),
        (["-o", "out.mid"], "does not end in .abc"),
        (["--palette", "rich"], "plain"),
    ],
)
def test_faults(cli, bare, monkeypatch, arguments, message):
    """The tune is never overwritten, and faults say what to do."""
    monkeypatch.chdir(bare.parent)
    result = cli("chords", bare, *arguments)
    assert result.code in (1, 2)
    assert message in result.err
    assert bare.read_text(encoding="utf-8") == BARE


# -- make ---------------------------------------------------------------------------


@pytest.mark.slow
def test_make_finds_chords_for_a_bare_tune(cli, bare, tmp_path):
    """A bare tune gets found chords, and the program says which."""
    result = cli("make", bare, "-o", tmp_path / "a.mid")
    assert "gives no chords: chords were found for it: D" in result.err
    assert "drone" not in result.err


@pytest.mark.slow
def test_make_without_chords(cli, bare, tmp_path):
    """`--chords none` plays the drone on the key note; `--chords tune` on a bare tune does so
    too, and says so."""
    none = cli("make", bare, "--chords", "none", "-o", tmp_path / "a.mid")
    assert ", drone, " in none.err
    assert "warning" not in none.err
    tune = cli("make", bare, "--chords", "tune", "-o", tmp_path / "a.mid")
    assert "a drone on the key note is played" in tune.err


@pytest.mark.slow
def test_make_finds_other_chords_on_request(cli, tmp_path):
    """`--chords suggest` takes found chords instead of the tune's, `none` takes none."""
    tune = EXAMPLES / "the-frozen-basin.abc"
    said = {}
    for source in ("tune", "suggest", "none"):
        out = tmp_path / f"{source}.mid"
        said[source] = cli("make", tune, "--chords", source, "-o", out).err
    assert "chords were found" in said["suggest"]
    assert "chords were found" not in said["tune"]
    data = [(tmp_path / f"{source}.mid").read_bytes() for source in said]
    assert len(set(data)) == 3


@pytest.mark.parametrize("gap", ["", "\n"])
def test_the_first_line_of_the_file_stays(cli, tmp_path, gap):
    """What a file says of its ABC in its first line stays, whether or not an empty line follows,
    and so do remarks and directives."""
    text = f"%abc-2.1\n{gap}X:1\nT:Gates\n% a remark\nM:4/4\nL:1/8\nK:G\n%%staffsep 1cm\nG8|\n"
    path = tmp_path / "gates.abc"
    path.write_text(text, encoding="utf-8")
    result = cli("chords", path)
    assert result.out == text.replace("\n\n", "\n").replace("\nX:1", "\n\nX:1").replace(
        "G8|", '"G"G8|'
    )


def test_a_tune_written_anew_keeps_its_remarks(cli, tmp_path):
    """Where a symbol cannot be put into the text (a macro made the notes), the tune is written
    anew and keeps remarks and directives."""
    path = tmp_path / "gates.abc"
    path.write_text(
        "%abc-2.1\n\nX:1\nT:Gates\nm:~A8=d2f2 e2c2\nM:4/4\nL:1/8\nK:D\n% a remark\n~A8|D8|\n",
        encoding="utf-8",
    )
    result = cli("chords", path)
    assert result.out.startswith("%abc-2.1\n\nX:1\nT:Gates\nM:4/4\nL:1/8\nK:D\n% a remark\n")
    assert parse_abc(result.out).has_chords
