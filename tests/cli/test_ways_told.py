"""What `make` says of the ways to practise, and what it calls their files."""

from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG, WALTZ = (
    EXAMPLES / name for name in ("the-lock-keepers-kettle.abc", "the-lamplighters-round.abc")
)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--bars", "5-6", "--percent", "50..100", "--step", 10],
         ["bars 5-6, 6 times", "from 50 to 100 % in 6 steps", "nothing muted"]),
        (["--part", "B", "--percent", "70..90", "--every", 2, "--beyond", 5, "--down"],
         ["22 times", "from 70 to 95 %, then back to 70 % in 11 steps, one every 2 rounds"]),
        (["--bars", 5, "--percent", "100..90"], ["3 times", "from 100 to 90 % in 3 steps"]),
        (["--part", "B", "--echo"], ["each round again without the melody, 19.3 seconds"]),
        (["--bars", 7, "--times", 3, "--gap", 1], ["1 bar between rounds"]),
        (["--bars", 7, "--edges"], ["with what leads in and the first note after"]),
        (["--bars", 7, "--grow", "phrase"],
         ["bar 7, 3 times", "growing by the phrase up to bars 1-8 in 3 steps"]),
        (["--grow", "backwards"],
         ["growing backwards from the end up to the whole tune in 4 steps"]),
        (["--join", "A-B"], ["from A into B, once"]),
        (["--bars", 5, "--less-help"], ["melody, chords, click leave one after the other, "]),
        (["--bars", 5, "--left-hand-stages"],
         ["of the left hand the bass alone, the chords alone, then both, "]),
        (["--ears", "right"], ["the tune in the right ear, the left hand in the other"]),
        (["--then", WALTZ],
         ["The Lock-Keeper's Kettle, then The Lamplighter's Round, 2 steps",
          "\n  2. The Lamplighter's Round, the whole tune, 100 %, once, 45 seconds\n"]),
        (["--then", WALTZ, "--changes", "--percent", "60..80"],
         ["The Lock-Keeper's Kettle into The Lamplighter's Round, 1 step",
          "\n  1. from The Lock-Keeper's Kettle into The Lamplighter's Round, from 60 to 80 %, "
          "5 times, 50 seconds\n"]),
    ],
    ids=lambda value: str(value[0]) if isinstance(value, list) else "",
)  # fmt: skip
def test_what_is_said(cli, tmp_path, options, said):
    """Each way to practise is told in a player's words, with how often that makes it."""
    result = cli("make", JIG, *options, "-o", tmp_path / "a.mid")
    assert result.code == 0, result.err
    for words in said:
        assert words in result.err


@pytest.mark.slow
@pytest.mark.parametrize(
    ("options", "name"),
    [
        (["--bars", 5, "--percent", 50], "bar-5-50-percent"),
        (["--bars", 5, "--percent", "50..60"], "bar-5-50-60-percent"),
        (["--bars", 5, "--echo", "--gap", 1], "bar-5-100-percent-echo-gaps"),
        (["--bars", 5, "--edges", "--less-help"], "bar-5-100-percent-edges-less-help"),
        (["--join", "A-B", "--ears", "left"], "from-a-into-b-100-percent-tune-left"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_names_tell_the_ways(cli, tmp_path, monkeypatch, options, name):
    """Files of different practices of a tune have different names, which tell them apart."""
    monkeypatch.chdir(tmp_path)
    result = cli("make", JIG, *options, "--single-track")
    assert result.code == 0, result.err
    assert [path.name for path in tmp_path.iterdir()] == [f"the-lock-keepers-kettle-{name}.mid"]


@pytest.mark.parametrize(
    ("options", "code", "said"),
    [
        (["--percent", "50..50"], 1, "a ladder goes from one tempo to another\nhint: give two"),
        (["--percent", "50..100", "--step", 0], 2, "--step '0' is no step in per cent\nhint: try"),
        (["--percent", "50..100", "--tempo", 60], 2, "--tempo and --percent both say how fast"),
        (["--step", 5], 2, "--step, --beyond and --down are for a ladder of tempi"),
        (["--edges"], 1, "are played of a few bars\nhint: say which: bars 5-6"),
        (["--grow", "bar"], 1, "the loop grows from a few bars"),
        (["--join", "A-C"], 1, "there is no section 'C'\nhint: it has A, B"),
        (["--join", "AB"], 2, "--join 'AB' is no join of two parts\nhint: give it like A-B"),
        (["--join", "A-B", "--grow", "backwards"], 1, "a join does not grow"),
        (["--less-help", "--times", 2], 1, "takes 4 rounds, not 2\nhint: give 4 times or more"),
        (["--every", 0], 1, "every 0 rounds\nhint: give 1 to 1000"),
        (["--gap", 65], 1, "a gap of 65 bars\nhint: give 0 to 64 bars"),
        (["--percent", "50..1000"], 1, "would be 3/8 = 1120"),
        (["--changes"], 2, "--changes are those of a set\nhint: say which tune follows"),
        (["--then", "nowhere.abc"], 1, "there is no file nowhere.abc"),
        (["--then", WALTZ, "--bars", 5], 2, "a set is of whole tunes"),
        (["--then", WALTZ, "--changes", "--grow", "backwards"], 1, "a change does not grow"),
        (["--percent", "50..60", "--seamless", "-o", "x.wav"], 1,
         "a loop without a seam is the same each time round"),
    ],
    ids=lambda value: " ".join(map(str, value))[:40] if isinstance(value, list) else "",
)  # fmt: skip
def test_what_cannot_be_practised(cli, tmp_path, monkeypatch, options, code, said):
    """What does not go together is told, with what to do; no file is written."""
    monkeypatch.chdir(tmp_path)
    out = () if "-o" in options else ("-o", "a.mid")
    result = cli("make", JIG, *options, *out)
    assert result.code == code, result.err
    assert said in result.err
    assert not list(tmp_path.iterdir())
