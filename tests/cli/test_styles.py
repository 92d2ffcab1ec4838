"""`backing styles`: the list, one drawn, and styles of a player's own."""

import os
import re
import shutil
import subprocess
import sys
import zipapp
from pathlib import Path

import mido
import pytest
import typer

import backing
from backing.files import load_style, own_styles_folder, style_names

STYLES = Path(__file__).parents[2] / "styles"
TUNE = STYLES.parent / "examples" / "the-towpath-mare.abc"
DRAWN = [
    name
    for path in sorted(STYLES.glob("*.toml"))
    for name in (path.stem, *(f"{path.stem}:{v.name}" for v in load_style(path.stem).variants))
]
OWN = """\
title = "One bass a bar"
use = "To find the first beat."
[[figure]]
metres = "any"
strokes = [ { when = "beat 1", play = "bass", hold = "1/2", strength = 100 } ]
"""


@pytest.fixture
def own(tmp_path, monkeypatch) -> Path:
    """A folder of styles of a player's own, with one in it."""
    folder = tmp_path / "styles"
    folder.mkdir()
    (folder / "firsts.toml").write_text(OWN, encoding="utf-8")
    monkeypatch.setenv("BACKING_STYLES", str(folder))
    return folder


@pytest.mark.slow
def test_the_list_has_a_line_for_each_style(cli):
    """`backing styles` names every style, with its title and when to use it, and its variants."""
    lines = cli("styles").out.splitlines()
    assert [line.split()[0] for line in lines] == sorted(p.stem for p in STYLES.glob("*.toml"))
    assert len(lines) >= 12
    for line in lines:
        style = load_style(line.split()[0])
        assert style.title in line
        assert style.use in line
    assert "alternating:fifths" in lines[0]


@pytest.mark.slow
@pytest.mark.parametrize("name", DRAWN)
def test_each_style_is_drawn(cli, name):
    """`backing styles NAME` draws its figures in plain text, no line longer than a screen."""
    result = cli("styles", name)
    assert result.code == 0
    assert result.out.startswith(f"{name}: ")
    drawing = result.out.split("\n\n", 1)[1]
    assert "bass" in drawing or "chord" in drawing
    assert max(len(line) for line in drawing.splitlines()) <= 160


@pytest.mark.slow
def test_a_drawing_is_what_is_played(cli):
    """In the drawing of the alternating style in 2/4 the bass stands on the beats and the
    chord between them."""
    drawing = cli("styles", "alternating").out
    head, *rows = drawing[drawing.index("in 2/4") :].splitlines()[1:3]
    one, half, two = head.index("1"), head.index("and"), head.index("2")
    assert rows[0][one:].startswith("bass")
    assert rows[0][half:].startswith("chord")
    assert rows[0][two:].startswith("bass")


#: What may stand in a cell of a drawing: a word, two struck together, dashes while it is held.
WORD = r"(bass|chord|fifth|root|tonic|run|root/5th|root\+5th)"
CELL = re.compile(rf"{WORD}(\+{WORD})?-*")


@pytest.mark.slow
@pytest.mark.parametrize("name", DRAWN)
def test_no_word_of_a_drawing_runs_into_the_next(cli, name):
    """Every word of a drawing stands alone, under a beat or a part of one."""
    drawing = cli("styles", name).out.split("\n\n", 1)[1]
    for group in drawing.rstrip().split("\n\n"):
        head, *rows = [row for row in group.split("\n") if not row.startswith("  at ")]
        assert head.startswith("in ")
        if not rows:  # strokes at changes of chord alone
            continue
        columns = [match.start() for match in re.finditer(r"[\d.]+|and", rows[0])]
        for row in rows[1:]:
            cells = [match for match in re.finditer("[^ |]+", row) if match.start() >= columns[0]]
            assert {match.start() for match in cells} <= set(columns), row
            assert all(CELL.fullmatch(match[0]) for match in cells), row


@pytest.mark.slow
def test_two_degrees_by_turns_have_room(cli):
    """A bass that goes by turns is drawn in wider cells."""
    drawing = cli("styles", "alternating:fifths").out
    assert (
        "\n                            1        and      2        and\n"
        "  as a rule                 root/5th chord    root/5th chord\n"
        "  before the section end    root/5th chord    root/5th root/5th\n"
    ) in drawing


@pytest.mark.slow
def test_each_metre_is_drawn_as_it_is_played(cli):
    """Metres whose beats divide in other ways stand apart: two quavers and three."""
    drawing = cli("styles", "march").out
    assert "in 2/4 and 2/2\n" in drawing
    assert re.search(r"in 6/8\n +1 +\. +\. +2 +\. +\.\n", drawing)
    assert re.search(r"as in 9/8\n +1 +\. +\. +2 +\. +\. +3", drawing)


def test_what_another_style_plays_is_said(cli, own):
    """A drawing says which bars are left to another style."""
    (own / "waltzes.toml").write_text(
        OWN.replace('"any"', '["3/4"]').replace("[[figure]]", '[[figure]]\nonly = "cadence"')
    )
    assert cli("styles", "waltzes").out.endswith(
        "\nin 3/4\n           1       2       3\n  cadence  bass--------\n"
        "  in other bars as in alternating\n\nin other metres\n  as in alternating\n"
    )


@pytest.mark.slow
def test_making_says_what_another_style_plays(cli, own, tmp_path):
    """Where a style has nothing for the tune's metre, alternating plays, and that is said."""
    (own / "waltzes.toml").write_text(OWN.replace('"any"', '["3/4"]'))
    made = [tmp_path / "a.mid", tmp_path / "b.mid"]
    result = cli("make", TUNE, "--style", "waltzes", "-o", made[0])
    assert result.code == 0
    assert (
        "warning: the style waltzes has no figure for bars felt in 4/4: "
        "alternating is played there\n"
    ) in result.err
    assert "warning" not in cli("make", TUNE, "--style", "alternating", "-o", made[1]).err
    assert notes(made[0]) == notes(made[1])


def notes(path):
    """All messages of a MIDI file that are notes."""
    return [m.dict() for track in mido.MidiFile(path).tracks for m in track if "note" in m.type]


@pytest.mark.slow
def test_the_old_name_of_the_sparing_style_is_read_and_said(cli, own, tmp_path):
    """`session` is `sparing` now: it is drawn and played, and that is said; a player's own
    style of the old name is the player's."""
    said = "warning: the style session is called sparing now\nhint: write sparing\n"
    drawn = cli("styles", "session")
    assert (drawn.out, drawn.err) == (cli("styles", "sparing").out, said)
    result = cli("make", TUNE, "--style", "session", "-o", tmp_path / "a.mid")
    assert result.err.startswith(said)
    assert ", sparing, " in result.out + result.err
    (own / "session.toml").write_text(OWN)
    drawn = cli("styles", "session")
    assert (drawn.out.splitlines()[0], drawn.err) == ("session: One bass a bar", "")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("dance", "styles"),
    [
        ("reel", "alternating, sparing, light, three-three-two"),
        ("slip jig", "jig, sparing"),
        ("Strathspey", "alternating"),
        ("air", "sustained, breathing, drone, pedal"),
    ],
)
def test_a_dance_is_no_style(cli, tmp_path, dance, styles):
    """Asked for a dance, the program names the styles for it, the usual one first."""
    result = cli("make", TUNE, "--style", dance, "-o", tmp_path / "a.mid")
    assert result.code == 1
    assert result.err == (
        f"error: there is no style {dance!r}, which is a dance\n"
        f"hint: styles for it: {styles}; without --style the first is taken\n"
    )


@pytest.mark.slow
def test_an_own_style_with_figures_for_a_dance_suits_it(cli, own):
    """A player's style whose figures name a dance is named for it, a faulty one is not."""
    (own / "rolling.toml").write_text(OWN.replace("[[figure]]", '[[figure]]\ndances = "reel"'))
    (own / "broken.toml").write_text("title = 3")
    result = cli("styles", "reel")
    assert "styles for it: alternating, sparing, light, three-three-two, rolling; " in result.err


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("mine.toml.txt", "mine.toml.txt"),
        ("mine.toml.txt", "mine"),
        ("mine.txt", "mine.txt"),
        ("mine.txt", "mine"),
        ("mine.TXT", "mine.TXT"),
    ],
)
@pytest.mark.parametrize("option", ["--style", "--box", "--profile"])
def test_a_file_that_an_editor_named_txt_is_to_be_renamed(
    cli, tmp_path, monkeypatch, file, name, option
):
    """Where an editor put .txt behind the name, the way out is to rename the file."""
    (tmp_path / file).write_text(OWN)
    monkeypatch.chdir(tmp_path)
    box = ["--box", "D/G"] if option == "--profile" else []
    result = cli("make", TUNE, *box, option, name, "-o", "a.mid")
    assert result.code == 1
    assert result.err.endswith(
        f"error: {file} does not end in .toml\nhint: rename it to mine.toml\n"
    )


@pytest.mark.slow
def test_a_txt_file_among_the_own_styles_is_told(cli, own):
    """A style of a player's own that ends in .txt is named in the list, and when asked for."""
    (own / "seconds.toml.txt").write_text(OWN)
    said = (
        f"error: {own / 'seconds.toml.txt'} does not end in .toml\nhint: rename it to seconds.toml"
    )
    assert cli("styles").err == f"{said}\n"
    result = cli("styles", "seconds")
    assert (result.code, result.err) == (1, f"{said}\n")


def test_a_file_beside_is_not_meant_by_its_name_alone(cli, tmp_path, monkeypatch):
    """A style file in the folder is asked for with its ending, and that is said."""
    (tmp_path / "mine.toml").write_text(OWN)
    monkeypatch.chdir(tmp_path)
    assert cli("styles", "mine.toml").code == 0
    assert cli("styles", "mine").err == (
        "error: there is no style 'mine'\nhint: write mine.toml for the file of that name\n"
    )


@pytest.mark.slow
def test_a_folder_named_as_a_style_is_no_style(cli, own, tmp_path):
    """A folder named x.toml among a player's styles is left out; asked for by its path it is
    called a folder."""
    (own / "x.toml").mkdir()
    assert "x" not in style_names()
    assert cli("styles").code == 0
    assert "there is no style 'x'" in cli("styles", "x").err
    assert "x.toml is a folder" in cli("styles", own / "x.toml").err


@pytest.mark.slow
def test_a_style_in_another_encoding_is_told(cli, own):
    """A style that an editor saved as UTF-16 is named with the way to save it."""
    (own / "wide.toml").write_text(OWN, encoding="utf-16")
    result = cli("styles")
    assert "error: wide.toml: the text is UTF-16, not UTF-8\nhint: save it again" in result.err
    assert "firsts" in result.out


@pytest.mark.slow
@pytest.mark.parametrize("styles", ["backing/styles", "styles"])
def test_the_styles_are_read_out_of_an_archive(tmp_path, styles):
    """Packed into one file (zipapp), the program lists, draws and plays its styles, whether
    they lie in the package, as installed, or beside it, as in a checkout."""
    tree, app = tmp_path / "tree", tmp_path / "backing.pyz"
    ignored = shutil.ignore_patterns("__pycache__", "styles")
    shutil.copytree(Path(backing.__file__).parent, tree / "backing", ignore=ignored)
    shutil.copytree(STYLES, tree / styles)
    zipapp.create_archive(tree, app, main="backing.cli.main:run")
    places = {str(Path(module.__file__).parents[1]) for module in (typer, mido)}
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(places), "BACKING_STYLES": str(tmp_path)}

    def run(*arguments):
        done = subprocess.run(
            [sys.executable, "-B", app, *map(str, arguments)],
            capture_output=True, text=True, check=False, env=env, cwd=tmp_path,
        )  # fmt: skip
        assert (done.returncode, "Traceback" in done.stderr) == (0, False), done.stderr
        return done.stdout

    assert len(run("styles").splitlines()) == len(list(STYLES.glob("*.toml")))
    assert f"Its file is {app}{os.sep}{styles}/waltz.toml" in run("styles", "waltz")
    run("make", TUNE, "--style", "sparing", "-o", tmp_path / "a.mid")


@pytest.mark.slow
def test_own_styles_are_found(cli, own, tmp_path):
    """A style in the player's own folder is listed, drawn and played by its name."""
    assert "firsts" in style_names()
    listed = next(line for line in cli("styles").out.splitlines() if line.startswith("firsts"))
    assert "(your own)" in listed
    assert "One bass a bar" in cli("styles", "firsts").out
    assert cli("make", TUNE, "--style", "firsts", "-o", tmp_path / "a.mid").code == 0


@pytest.mark.slow
def test_a_faulty_own_style_does_not_break_the_list(cli, own):
    """A style with faults is reported with its file, the others are listed all the same."""
    (own / "broken.toml").write_text("title = 3", encoding="utf-8")
    result = cli("styles")
    assert result.code == 0
    assert "broken.toml: 3 faults in the style" in result.err
    assert "alternating" in result.out
    assert "firsts" in result.out


def test_an_own_style_takes_the_place_of_ours(own):
    """An own style that has the name of one of ours is taken instead."""
    (own / "drone.toml").write_text(OWN, encoding="utf-8")
    assert load_style("drone").title == "One bass a bar"


def test_where_own_styles_are_kept(monkeypatch, tmp_path):
    """Without BACKING_STYLES they lie where programs keep settings (XDG base directories)."""
    monkeypatch.delenv("BACKING_STYLES", raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert own_styles_folder() == tmp_path / "backing" / "styles"
