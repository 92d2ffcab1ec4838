"""`backing plan`: what it prints, and the practice file that it writes."""

import json
import shutil
import tomllib
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
TUNE = "the-lock-keepers-kettle.abc"


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    """A folder with a tune and a book."""
    for name in (TUNE, "canal-book.abc"):
        shutil.copy(EXAMPLES / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_it_prints_the_plan_and_writes_it(cli, here):
    """One step after the other with the time at which it begins; the file has the same steps, its
    first key says what it is, and its tune and box stand above."""
    result = cli("plan", TUNE, "--box", "D/G", "-o", "practice.toml")
    assert result.code == 0
    lines = result.out.splitlines()
    assert lines[0] == "The Lock-Keeper's Kettle: 20 minutes of practice on a D/G"
    assert lines[2] == "   0:00   whole tune, 80 %"
    assert lines[-1].endswith("the end")
    assert max(map(len, lines)) <= 80
    data = tomllib.loads((here / "practice.toml").read_text())
    assert list(data)[:3] == ["practice", "tune", "box"]
    assert (data["tune"], data["box"]) == (TUNE, "D/G")
    steps = [line for line in lines if line[:7].strip() and line[4] == ":"]
    assert len(data["step"]) == len(steps) - 1
    assert result.err.endswith("made practice.toml: backing play practice.toml plays it\n")


def test_make_takes_the_file(cli, here):
    """`backing make` renders the whole of it, in the minutes that the plan says, and no step is
    lost."""
    cli("plan", TUNE, "--box", "D/G", "--minutes", "5", "-o", "practice.toml")
    steps = tomllib.loads((here / "practice.toml").read_text())["step"]
    result = cli("make", "practice.toml", "-o", "practice.mid")
    assert result.code == 0, result.err
    assert f"{len(steps)} steps" in result.err
    assert "5 minutes" in result.err


def test_the_same_plan_is_the_same_file(cli, here):
    """Made again it replaces itself, to the byte; a changed one is kept."""
    cli("plan", TUNE)
    path = here / "the-lock-keepers-kettle-20-minutes.toml"
    before = path.read_bytes()
    assert cli("plan", TUNE).code == 0
    assert path.read_bytes() == before
    path.write_bytes(before.replace(b"20 minutes", b"my minutes"))
    result = cli("plan", TUNE)
    assert result.code == 1
    assert "has been changed" in result.err


def test_options_stand_in_the_file(cli, here):
    """What was asked for stands above the steps, under the names of the options."""
    cli("plan", "canal-book.abc", "--tune", "2", "--style", "drone", "-o", "p.toml")
    data = tomllib.loads((here / "p.toml").read_text())
    assert (data["number"], data["style"]) == ("2", "drone")


def test_a_tune_that_lies_elsewhere(cli, here):
    """A practice file names a tune beside it or below; without -o it is written beside the tune."""
    (here / "tunes").mkdir()
    (here / "plans").mkdir()
    shutil.move(TUNE, here / "tunes" / TUNE)
    assert cli("plan", f"tunes/{TUNE}", "-o", "p.toml").code == 0
    assert tomllib.loads((here / "p.toml").read_text())["tune"] == f"tunes/{TUNE}"
    result = cli("plan", f"tunes/{TUNE}", "-o", "plans/p.toml")
    assert result.code == 1
    assert "cannot name its tune" in result.err
    assert "hint: write it beside the tune, or in a folder above: tunes/p.toml" in result.err
    (here / "else").mkdir()


def test_titles_are_quoted(cli, here):
    """A title with quotes and backslashes comes back as it was."""
    (here / "odd.abc").write_text('X:1\nT:The "Odd" One\nM:4/4\nL:1/8\nK:D\nDEFG ABcd|d8|\n')
    cli("plan", "odd.abc", "-o", "odd.toml")
    data = tomllib.loads((here / "odd.toml").read_text())
    assert data["practice"] == 'The "Odd" One, 20 minutes'


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--minutes", "2"], "error: a plan of 2 minutes\nhint: give 3 to 180\n"),
        (["--minutes", "half"], "error: --minutes 'half' is not a whole number\n"),
        (["-o", "plan.txt"], "error: plan.txt does not end in .toml\n"),
        (["--box", "X/Y"], "error: "),
    ],
)
def test_what_is_refused(cli, here, words, said):
    """Each fault in words, and nothing is written."""
    before = sorted(here.iterdir())
    result = cli("plan", TUNE, *words)
    assert result.code != 0
    assert result.err.startswith(said)
    assert sorted(here.iterdir()) == before


def test_a_short_tune_cannot_fill_hours(cli):
    """Where there is no more to do it says so, and does not go round for hours."""
    result = cli("plan", TUNE, "--minutes", "180", "-o", "p.toml")
    assert result.code == 0
    assert "warning: there is no more to do in this tune than for " in result.err


def test_a_plan_knows_its_tune_again(cli, tmp_path):
    """A plan that is made of a tune says so when the tune has changed since, and only then; a new
    title changes nothing."""
    tune = tmp_path / "rope.abc"
    text = "X:1\nT:Rope\nM:4/4\nL:1/4\nK:D\n|:DFAd|gfec|DFAd|A2D2:|\n"
    tune.write_text(text, encoding="utf-8")
    plan = tmp_path / "rope.toml"
    assert cli("plan", tune, "-o", plan).code == 0
    made = tmp_path / "rope.mid"
    tune.write_text(text.replace("T:Rope", "T:The Rope"), encoding="utf-8")
    assert "has changed since" not in cli("make", plan, "-o", made).err
    tune.write_text(text.replace("gfec", "gfed"), encoding="utf-8")
    assert (
        "the tune has changed since this practice file was written"
        in cli("make", plan, "-o", made).err
    )


@pytest.mark.parametrize(
    ("language", "first", "last"),
    [
        ("de", "Einmal zuhören, dabei in die Noten schauen und Takt ", "mit allem; dann Schluss"),
        ("fr", "Écouter une fois en suivant la partition, et y marquer\N{NO-BREAK SPACE}: mesures ",
         "avec tout\N{NO-BREAK SPACE}; puis on s'arrête"),
    ],
)  # fmt: skip
def test_the_steps_speak_a_language(cli, here, language, first, last):
    """The file says in that language what it is called and what each step is for; spaces that
    may not break are kept."""
    made = cli("plan", TUNE, "--box", "D/G", "--language", language, "-o", "practice.toml")
    assert made.code == 0
    data = tomllib.loads((here / "practice.toml").read_text(encoding="utf-8"))
    assert data["practice"] in (
        "The Lock-Keeper's Kettle, 20 Minuten",
        "The Lock-Keeper's Kettle, 20 minutes",
    )
    named = [step["for"] for step in data["step"]]
    assert named[0].startswith(first)
    assert named[-1].endswith(last)
    assert not any(" the " in name or " bar" in name for name in named)
    page = cli("page", "practice.toml", "--language", language, "-o", "page.html")
    assert page.code == 0
    html = (here / "page.html").read_text(encoding="utf-8")
    assert json.dumps(named[-1]).strip('"') in html


def test_a_language_that_is_not_spoken(cli, here):
    """It is refused with those that are."""
    result = cli("plan", TUNE, "--language", "nl")
    assert result.code == 2
    assert "give en, de or fr" in result.err
