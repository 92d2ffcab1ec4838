"""`backing styles`: the list, one drawn, and styles of a player's own."""

from pathlib import Path

import pytest

from backing.files import load_style, own_styles_folder, style_names

STYLES = Path(__file__).parents[2] / "styles"
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


@pytest.mark.parametrize("name", sorted(path.stem for path in STYLES.glob("*.toml")))
def test_each_style_is_drawn(cli, name):
    """`backing styles NAME` draws its figures in plain text, no line longer than a screen."""
    result = cli("styles", name)
    assert result.code == 0
    assert result.out.startswith(f"{name}: ")
    drawing = result.out.split("\n\n", 1)[1]
    assert "bass" in drawing or "chord" in drawing
    assert max(len(line) for line in drawing.splitlines()) <= 160


def test_a_drawing_is_what_is_played(cli):
    """In the drawing of the alternating style in 2/4 the bass stands on the beats and the
    chord between them."""
    drawing = cli("styles", "alternating").out
    head, *rows = drawing[drawing.index("in 2/4") :].splitlines()[1:3]
    one, half, two = head.index("1"), head.index("and"), head.index("2")
    assert rows[0][one:].startswith("bass")
    assert rows[0][half:].startswith("chord")
    assert rows[0][two:].startswith("bass")


def test_own_styles_are_found(cli, own, tmp_path):
    """A style in the player's own folder is listed, drawn and played by its name."""
    assert "firsts" in style_names()
    listed = next(line for line in cli("styles").out.splitlines() if line.startswith("firsts"))
    assert "(your own)" in listed
    assert "One bass a bar" in cli("styles", "firsts").out
    tune = STYLES.parent / "examples" / "the-towpath-mare.abc"
    assert cli("make", tune, "--style", "firsts", "-o", tmp_path / "a.mid").code == 0


def test_a_faulty_own_style_does_not_break_the_list(cli, own):
    """A style with faults is reported with its file, the others are listed all the same."""
    (own / "broken.toml").write_text("title = 3", encoding="utf-8")
    result = cli("styles")
    assert result.code == 0
    assert "broken.toml: the style has" in result.err
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
