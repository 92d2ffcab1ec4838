"""`backing page`: its options, what it writes, and what it refuses."""

import base64
import json
import re
import zlib
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow
EXAMPLES = Path(__file__).parents[2] / "examples"
MARE, BOOK = EXAMPLES / "the-towpath-mare.abc", EXAMPLES / "canal-book.abc"


def data_of(path):
    """What a page holds."""
    text = path.read_text(encoding="utf-8")
    found = re.search(r'<script type="application/json" id="music">(.*?)</script>', text)
    return json.loads(found[1])


def test_without_an_output_it_is_named_after_the_tune(cli, tmp_path, monkeypatch):
    """A file here, named after the tune and its boxes; it says what is in it."""
    monkeypatch.chdir(tmp_path)
    result = cli("page", MARE, "--box", "D/G,G/C", "--styles", "alternating,drone")
    assert result.code == 0
    (made,) = tmp_path.glob("*.html")
    assert "towpath" in made.name
    said = result.err + result.out
    assert "D/G and G/C, alternating and drone" in said
    assert "open it in a browser" in said


def test_each_box_has_each_style_and_its_own_sheet(cli, tmp_path):
    """The first of each at first, with the thirds of its chords and without where it has any;
    another box shows the same buttons in its own key."""
    path = tmp_path / "mare.html"
    assert not cli("page", MARE, "--box", "D/G,G/C", "--styles", "drone,light", "-o", path).code
    data = data_of(path)
    chosen = [(each["box"], each["style"], each["thirds"]) for each in data["music"]["choices"]]
    styles = (("drone", True), ("light", True), ("light", False))
    assert chosen == [(box, *style) for box in ("D/G", "G/C") for style in styles]
    (other,) = json.loads(zlib.decompress(base64.b64decode(data["sheets"]["G/C"]), -15))
    assert "The same buttons as on the D/G" in other["said"][0]
    assert path.stat().st_size < 700_000


def test_a_tune_is_read_as_it_is_to_be_made(cli, tmp_path):
    """What is told of a MIDI file's beats is heeded, so it is refused of notation, as by make."""
    for command, name in (("page", "mare.html"), ("make", "mare.mid")):
        result = cli(command, MARE, "--metre", "6/8", "-o", tmp_path / name)
        assert result.code == 1
        assert "only a MIDI file is listened to" in result.err
    assert not list(tmp_path.iterdir())


def test_it_goes_round_unless_it_is_asked_how_often(cli, tmp_path):
    """As `backing play` does; the options of `make` say what is practised."""
    path = tmp_path / "mare.html"
    cli("page", MARE, "--bars", "5-6", "--percent", "60", "--mute", "melody", "-o", path)
    data = data_of(path)
    (step,) = data["music"]["steps"]
    assert data["endless"] is True
    assert step["span"] == {"kind": "bars", "first": 5, "last": 6, "ending": None}
    assert (step["tempo"], step["muted"]) == ({"factor": [3, 5]}, ["melody"])
    cli("page", MARE, "--times", "3", "-o", path)
    assert data_of(path)["endless"] is False


def test_a_set_is_a_page_with_all_its_tunes(cli, tmp_path):
    """Each tune under its title, one step after the other."""
    path = tmp_path / "set.html"
    other = EXAMPLES / "the-ice-boat-march.abc"
    assert not cli("page", MARE, "--then", other, "--box", "D/G", "-o", path).code
    data = data_of(path)
    steps = [(step["piece"], step["name"]) for step in data["music"]["steps"]]
    assert steps == [(0, "The Towpath Mare"), (1, "The Ice-Boat March")]
    assert path.read_text(encoding="utf-8").count("<h2>") == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["-o", "x.pdf"], "does not end in .html or .htm"),
        (["--style", "drone", "--styles", "light"], "both say which styles"),
        (["--styles", "no-such-style"], "there is no style 'no-such-style'"),
        (["--box", "D/G,Q/X"], "Q/X"),
        (["--styles", ",".join(f"s{n}" for n in range(9))], "too many for --styles"),
        (["--then", str(MARE), "--styles", "drone"], "has its own styles"),
    ],
)
def test_what_cannot_be_is_said(cli, tmp_path, monkeypatch, words, said):
    """In words, before anything is written."""
    monkeypatch.chdir(tmp_path)
    result = cli("page", MARE, *words)
    assert result.code
    assert said in result.err + result.out
    assert "Traceback" not in result.err
    assert not list(tmp_path.iterdir())


def test_a_page_of_ours_is_replaced_and_no_other(cli, tmp_path):
    """The mark in its last line tells; a page that somebody worked on stays."""
    path = tmp_path / "mare.html"
    assert not cli("page", MARE, "-o", path).code
    assert not cli("page", MARE, "--percent", "80", "-o", path).code
    path.write_text(path.read_text(encoding="utf-8").replace("Towpath", "Footpath"), "utf-8")
    assert cli("page", MARE, "-o", path).code
    assert "Footpath" in path.read_text(encoding="utf-8")


def test_the_same_page_is_the_same_file(cli, tmp_path):
    """Nothing of the clock or of chance is in it."""
    for name in ("a.html", "b.html"):
        cli("page", BOOK, "--tune", "1", "--box", "D/G", "-o", tmp_path / name)
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()
