"""`--lead-in`, `--close`, `--once-to-yourself`, `--times 7x32`: what is said, what is refused."""

from pathlib import Path

import pytest

from backing.cli import typed

MARE = Path(__file__).parent.parent.parent / "examples" / "the-towpath-mare.abc"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--lead-in", "tune"), "no count-in, led in by the last bars of the first part"),
        (("--lead-in", "held"), "count-in 1 bar, led in by a held chord"),
        (("--close", "tag"), "count-in 1 bar, with a tag"),
        (("--once-to-yourself",), "the first part once to yourself, then the whole tune, 32 bars"),
        (("--times", "2x32"), "the whole tune, 32 bars, 2 times"),
    ],
)
def test_what_is_said(cli, tmp_path, words, said):
    """The line at the end says how it begins and closes."""
    result = cli("make", MARE, "-o", tmp_path / "a.mid", *words)
    assert result.code == 0
    assert said in result.err


@pytest.mark.parametrize(
    ("words", "said", "code"),
    [
        (("--times", "7x48"), "7 times 48 bars: the tune has 32 bars once through", 1),
        (("--times", "7x32", "--part", "A"), "--times 7x32 is for the whole tune", 2),
        (("--once-to-yourself", "--bars", "1-2"), "--once-to-yourself is for the whole tune", 2),
        (("--lead-in", "fanfare"), "fanfare", 2),
        (("--close", "never"), "never", 2),
    ],
)
def test_what_is_refused(cli, tmp_path, words, said, code):
    """What cannot be is said, and nothing is written."""
    output = tmp_path / "a.mid"
    result = cli("make", MARE, "-o", output, *words)
    assert (result.code, output.exists()) == (code, False)
    assert said in result.err


def test_times_and_bars():
    """An x, or the sign for it, parts times and bars; a number alone is how often."""
    assert (
        typed.how_often("7x32") == typed.how_often(" 7 X 32 ") == typed.how_often("7×32") == (7, 32)
    )
    assert typed.how_often("12") == (12, 0)
