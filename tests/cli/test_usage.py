"""Words that are not understood: what was typed, what to type, exit code 2."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from backing.cli.main import COMMANDS

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG = EXAMPLES / "the-lock-keepers-kettle.abc"


@pytest.fixture
def tune_here(tmp_path, monkeypatch):
    """A tune in the current folder whose name has a space in it."""
    monkeypatch.chdir(tmp_path)
    path = Path("the kettle.abc")
    path.write_bytes(JIG.read_bytes())
    return path


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["mak"], "error: there is no command 'mak'\nhint: did you mean make?\n"),
        (["quux"], f"hint: the commands are {', '.join(COMMANDS)}\n"),
        (["make"], "error: missing argument 'tune'\nhint: backing make --help shows"),
        (["fit", JIG, "--percent", "half"], "error: --percent 'half' is not a number of per cent"),
        (["fit", JIG, "--tempo", "fast"], "error: --tempo: 'fast' is not a tempo"),
        (["tunes", JIG, "--key", "xx"], "error: --key 'xx' is not a key\nhint: give a key like D"),
        (["move", JIG, "--to-key", "xx"], "error: --to-key 'xx' is not a key\nhint: give a key"),
        (["play", JIG, "--clock"], "error: --clock goes with --port or --virtual\nhint: "),
        (["boxes", "--file"], "error: --file prints a box's file\nhint: name the box"),
    ],
    ids=lambda value: " ".join(map(str, value))[:20] if isinstance(value, list) else "",
)
def test_what_is_not_understood_has_one_form(cli, words, said):
    """Every command ends in the same way where words are not understood: error and hint on
    stderr, exit code 2, nothing on stdout."""
    result = cli(*words)
    assert (result.code, result.out) == (2, "")
    assert said in result.err


def test_a_tune_without_a_command(cli):
    """A tune's name alone is answered with what there is to do with it."""
    result = cli(JIG)
    assert result.code == 2
    assert f"what is to be done with {JIG}?" in result.err
    for command in ("look", "make", "play", "fit", "chords", "move"):
        assert f"\n  backing {command} {JIG}\n" in result.err + "\n"


def test_a_file_name_with_a_space_needs_quotes(cli, tune_here):
    """A name that fell apart at its space is put together again in the hint."""
    result = cli("make", "the", "kettle.abc", "-o", "a.mid")
    assert result.code == 2
    assert result.err == (
        "error: the file name the kettle.abc has a space in it\n"
        'hint: put it into quotes: "the kettle.abc"\n'
    )


def test_a_word_too_many(cli):
    """A word that belongs to nothing is named."""
    result = cli("make", JIG, "faster", "-o", "a.mid")
    assert result.code == 2
    assert result.err.startswith("error: there is a word too many: faster\nhint: a name with")


def test_typographic_quotes_hold_nothing_together(cli):
    """Quotes that a word processor turned are named, for a shell does not know them."""
    result = cli("make", JIG, "--tune", "“the", "kettle”", "-o", "a.mid")
    assert result.code == 2
    assert result.err.startswith("error: '“the' has a typographic quote\nhint: ")


@pytest.mark.slow
@pytest.mark.parametrize("dash", ["–", "—", "−"])
def test_long_dashes_are_hyphens(cli, tmp_path, dash):
    """An option whose two hyphens a word processor made one dash of is read all the same."""
    plain, pasted = tmp_path / "a.mid", tmp_path / "b.mid"
    cli("make", JIG, "--percent", 60, "-o", plain)
    result = cli("make", JIG, f"{dash}percent", 60, f"{dash}o", pasted)
    assert result.code == 0, result.err
    assert pasted.read_bytes() == plain.read_bytes()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("one", "other"),
    [
        (["--percent", "60%"], ["--percent", "60"]),
        (["--percent", "62,5"], ["--percent", "62.5"]),
        (["--tempo", "62,5"], ["--tempo", "62.5"]),
        (["--mute", "melody,click"], ["--mute", "melody", "--mute", "click"]),
        (["--mute", "Melody, click"], ["--mute", "melody", "--mute", "click"]),
        (["--part", "B"], ["--section", "b"]),
        (["--bars", "5–6"], ["--bars", "5-6"]),
    ],
    ids=" ".join,
)
def test_several_ways_to_say_it(cli, tmp_path, one, other):
    """Comma and point, list and repetition, part and section mean the same."""
    first, second = tmp_path / "a.mid", tmp_path / "b.mid"
    assert cli("make", JIG, *one, "-o", first).code == 0
    assert cli("make", JIG, *other, "-o", second).code == 0
    assert first.read_bytes() == second.read_bytes()


def test_summaries_are_whole(cli):
    """The list of commands cuts no summary off in 80 columns."""
    result = cli("--help")
    assert result.code == 0
    for name, summary in COMMANDS.items():
        assert f"  {name:<6}  {summary}\n" in result.out
    assert cli().out == result.out


@pytest.mark.parametrize("command", ["make", "play"])
def test_help_is_grouped_as_a_player_thinks(cli, command):
    """The options of commands that play stand under headings: what, how fast, left hand,
    box, sound."""
    out = cli(command, "--help").out
    headings = ("What is played:", "How fast and how often:", "Left hand:", "Your box:")
    places = [out.index(f"\n{heading}\n") for heading in (*headings, "How it sounds:")]
    assert places == sorted(places)
    words = ("\n  --mute", "\n  --percent", "\n  --style", "\n  --box")
    assert [out.index(word) for word in words] == sorted(out.index(word) for word in words)


@pytest.mark.parametrize("command", list(COMMANDS))
def test_examples_in_the_help_are_there(cli, command):
    """Every tune that a command's help names as an example is among the examples."""
    for word in cli(command, "--help").out.split():
        if word.startswith("examples/"):
            assert (EXAMPLES.parent / word).exists()


@pytest.mark.slow
def test_listing_ports_loads_no_arranging():
    """`backing ports` waits for nothing that it does not need."""
    code = (
        "import sys; from backing.cli import main; main.app('ports'); "
        "print([n for n in sys.modules if n.startswith('backing.') and "
        "n.split('.')[1] in ('arranging', 'box', 'harmony', 'practice', 'parse')])"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert found.stdout == "[]\n"


def test_examples_in_the_readme_are_there():
    """Every tune that the README's commands name is among the examples."""
    readme = (EXAMPLES.parent / "README.md").read_text(encoding="utf-8")
    written = set(re.findall(r"-o (\S+\.abc)", readme))
    named = {name.removeprefix("examples/") for name in re.findall(r"[^\s\"]+\.abc", readme)}
    tunes = {name for name in named - written if name != "tune.abc"}
    assert len(tunes) > 4
    assert {name for name in tunes if not (EXAMPLES / name).exists()} == set()
