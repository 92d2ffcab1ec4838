"""Wrong input ends in a message that says what, where and what to do; nothing is lost."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG = EXAMPLES / "the-lock-keepers-kettle.abc"
WALTZ = EXAMPLES / "the-lamplighters-round.abc"


@pytest.mark.parametrize(
    ("options", "code", "said"),
    [
        (["--bars", "15-17"], 1, "there are no bars 15-17 here\nhint: the tune has bars 0 to 16"),
        (["--bars", "99"], 1, "there is no bar 99 here"),
        (["--bars", "6-5"], 1, "bars 6-5 run backwards\nhint: give 5-6"),
        (["--bars", "five"], 2, "give bars like 5-6, or 5"),
        (["--section", "C"], 1, "there is no section 'C'\nhint: it has A, B"),
        (["--section", "A", "--ending", "3"], 1, "section A has no ending 3\nhint: it has none"),
        (["--ending", "2"], 2, "--ending goes with --part"),
        (["--bars", "1-2", "--section", "A"], 2, "not both"),
        (["--style", "alternatng"], 1, "hint: did you mean alternating?"),
        (
            ["--style", "polonaise"],
            1,
            "the styles are alternating, bass-runs, bourree, breathing, ",
        ),
        (["--style", "alternating:thirds"], 1, "has no variant 'thirds'"),
        (["--tempo", "0"], 2, "0 beats a minute lies outside 10 to 400"),
        (["--tempo", "5000"], 2, "lies outside 10 to 400"),
        (["--tempo", "1/0=60"], 2, "1/0 is not a note length"),
        (["--tempo", "fast"], 2, "is not a tempo like 60 or 3/8=60"),
        (["--tempo", "60", "--percent", "50"], 2, "not both"),
        (["--percent", "0"], 2, "give 1 to 1000 per cent"),
        (["--percent", "0.6"], 2, "that is 0.6 per cent\nhint: did you mean --percent 60?"),
        (["--percent", "slow"], 2, "--percent 'slow' is not a number of per cent\nhint: try"),
        (["--percent", "2"], 1, "the tempo would be 3/8 = 2.2"),
        (["--percent", "nan"], 2, "'nan' is not a number of per cent"),
        (["--times", "four"], 2, "--times 'four' is not a whole number\nhint: give a number: 4"),
        (["--count-in", "two"], 2, "--count-in 'two' is not a whole number\nhint: give"),
        (["--times", "0"], 1, "0 times\nhint: give 1 to 1000"),
        (["--count-in", "-1"], 1, "a count-in of -1 bars"),
        (["--mute", "fiddle"], 2, "--mute 'fiddle' is not a track\nhint: give melody, bass, "),
        (["--mute", "melodie"], 2, "hint: did you mean melody?"),
        (["--swing", "9:1"], 2, "a ratio from 1:1 to 3:1"),
        (["--dance", "gavotte"], 1, "'gavotte' is not a dance that is known"),
        (["--tune", "7"], 1, "no tune '7' in the book"),
        (["--colour", "red"], 2, "error: there is no option --colour\nhint: backing make --help"),
        (["--time", "4"], 2, "error: there is no option --time\nhint: did you mean --time"),
        (["--profile", "cross-row"], 2, "--profile says how a box is fingered\nhint: name it too"),
        (["--part"], 2, "option '--part' requires an argument"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_cannot_be_played(cli, tmp_path, options, code, said):
    """Each wrong option has its message and exit code, and no file is written."""
    out = tmp_path / "a.mid"
    result = cli("make", JIG, "-o", out, *options)
    assert result.code == code, result.err
    assert said in result.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"", "the file is empty"),
        (b"   \n\n", "the file is empty"),
        (b"Dear friend, no tune today.\n", "there is no tune in this file"),
        (b"X:1\nT:Nothing\nK:D\n", "the tune 'Nothing' has no notes"),
        (b"%abc-2.1\nX:1\nM:4/5\nK:D\nA4|\n", "t.abc, line 3, column 3: 4/5 is not a metre"),
        (b"%abc-2.1\nX:1\nK:H\nA4|\n", "t.abc, line 3, column 3: 'H' is not a key"),
        (b"%abc-2.1\n\n> X:1\n> K:D\n> A4|\n", "t.abc, line 3: the tune is quoted, as in a mail"),
        (b"X:1\nM:4/4\nL:1/8\nK:D\nA4 B/0 c|\n", "t.abc, line 5, column 4: "),
        (b"\x00\x01\x02\xff\xfe", "there is no tune in this file"),
    ],
)  # fmt: skip
def test_tunes_that_cannot_be_read(cli, tmp_path, text, said):
    """A broken tune is refused with file, line and column."""
    tune = tmp_path / "t.abc"
    tune.write_bytes(text)
    result = cli("make", tune, "-o", tmp_path / "a.mid")
    assert result.code == 1
    assert said in result.err
    assert not (tmp_path / "a.mid").exists()


def test_a_missing_tune_names_its_neighbour(cli, tmp_path):
    """A file that is not there is answered with the one that nearly is."""
    result = cli("make", EXAMPLES / "the-lock-keeper-kettle.abc", "-o", tmp_path / "a.mid")
    assert result.code == 1
    assert "there is no file" in result.err
    assert "did you mean the-lock-keepers-kettle.abc?" in result.err


def test_a_missing_ending_lists_those_there_are(cli, tmp_path):
    """An ending that the section lacks is answered with those that it has."""
    result = cli("make", WALTZ, "--section", "A", "--ending", 3, "-o", tmp_path / "a.mid")
    assert "section A has no ending 3\nhint: it has 1, 2" in result.err


@pytest.mark.parametrize(
    ("out", "said"),
    [
        ("nowhere/a.mid", "there is no folder"),
        ("a.txt", "does not end in .mid, .midi, .wav, .flac, .ogg, .opus or .mp3"),
        ("folder.mid", "is a folder"),
    ],
)
def test_outputs_that_cannot_be_written(cli, tmp_path, out, said):
    """An output that cannot be is refused before any work is done."""
    (tmp_path / "folder.mid").mkdir()
    result = cli("make", JIG, "-o", tmp_path / out)
    assert result.code == 1
    assert said in result.err
    assert [path.name for path in tmp_path.iterdir()] == ["folder.mid"]


def test_a_style_with_faults_lists_them_all(cli, tmp_path):
    """Every fault of a style file is named with its line and its place in words."""
    style = tmp_path / "odd.toml"
    style.write_text(
        'title = "Odd"\nuse = "Never."\nharmoni = "tonic"\n'
        '[[figure]]\nmetres = "any"\nstrokes = [\n'
        '  { when = "each beet", play = "bass", degree = 9 },\n'
        '  { when = "beat 1", play = "drum", strength = 900 },\n]\n'
    )
    result = cli("make", JIG, "--style", style, "-o", tmp_path / "a.mid")
    assert result.code == 1
    for said in (
        "odd.toml: 5 faults in the style",
        "line 3, harmoni: unknown key; did you mean harmony?",
        "line 7, first figure, first stroke, when: unknown: 'each beet'; did you mean each beat?",
        "line 7, first figure, first stroke, degree: expected 1 to 8, tonic, run or leading note, "
        "got 9",
        "line 8, first figure, second stroke, play: unknown: 'drum'; expected bass or chord",
        "line 8, first figure, second stroke, strength: expected 1 to 120 per cent, got 900",
    ):
        assert said in result.err


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="file size limits are POSIX's")
def test_a_full_disk_leaves_the_old_file(tmp_path):
    """Where writing stops half-way, the old output stays and no piece is left behind."""
    out = tmp_path / "a.mid"
    out.write_bytes(b"old")
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (500, 500)); "
        f"sys.argv = ['backing', 'make', {str(JIG)!r}, '--replace', '-o', {str(out)!r}]; "
        "from backing.cli.main import run; run()"
    )
    run = subprocess.run(
        [sys.executable, "-B", "-c", code], capture_output=True, text=True, check=False
    )
    assert run.returncode == 1
    assert "cannot be written: file too large" in run.stderr
    assert "Traceback" not in run.stderr
    assert out.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.mid"]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX's")
def test_ctrl_c_ends_quietly(tmp_path):
    """Ctrl-C ends with exit code 130 and no traceback."""
    pipe = tmp_path / "t.abc"
    os.mkfifo(pipe)
    process = subprocess.Popen(
        [sys.executable, "-m", "backing", "make", pipe, "-o", tmp_path / "a.mid"],
        stderr=subprocess.PIPE,
        text=True,
    )
    with open(pipe, "w"):  # opens once the program reads
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=30)
    assert process.returncode == 130
    assert "Traceback" not in err


@pytest.mark.parametrize(
    "words",
    [
        *((command, "w.abc") for command in
          ("make", "play", "page", "plan", "look", "tunes", "sheet", "chords", "fit")),
        ("move", "w.abc", "--to-key", "D"), ("page", "w.abc", "-o", "site/"),
        ("make", "w.toml"), ("play", "w.toml"), ("page", "w.toml"),
        ("make", "sole.abc", "--then", "w.abc"), ("make", "sole.abc", "--style", "w.toml"),
        ("play", "sole.abc", "--box", "w.toml"), ("sheet", "sole.abc", "--box", "w.toml"),
        ("fit", "sole.abc", "--profile", "w.toml"), ("styles", "w.toml"), ("boxes", "w.toml"),
        ("play", "sole.abc", "--controls", "w.toml"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_every_command_tells_what_is_there_instead(cli, tmp_path, monkeypatch, words):
    """Of a tune, a practice file, a book, a style, a box, a profile, controls."""
    monkeypatch.chdir(tmp_path)
    tmp_path.joinpath("sole.abc").write_bytes(JIG.read_bytes())
    tmp_path.joinpath("mine.toml").write_text("")
    result = cli(*words)
    assert result.code == 1
    missing = next(word for word in words if word.startswith("w."))
    there = "sole.abc" if missing == "w.abc" else "mine.toml"
    assert result.err.endswith(
        f"error: there is no file {missing}\nhint: is it one of those here: {there}?\n"
    )
    assert {path.name for path in tmp_path.iterdir()} == {"sole.abc", "mine.toml"}
