"""`--style` with several styles: for the times through, for parts of the tune."""

from pathlib import Path

import pytest

from backing.arranging.arrangement import Role
from backing.cli import typed
from backing.errors import StyleError, UsageError
from backing.files import load_style, read_tune
from backing.practice.asked import Asked
from backing.practice.backing import make_backing, performance_of
from backing.practice.plan import Plan, Step

EXAMPLES = Path(__file__).parent.parent.parent / "examples"


def names(turns):
    """The names of styles, for all parts and for those named."""
    named = {part: [style.name for style in found] for part, found in turns.parts.items()}
    return [style.name for style in turns.styles], named


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("waltz", (["waltz"], {})),
        ("alternating:fifths", (["alternating:fifths"], {})),
        ("waltz, waltz:fifths, bass-runs", (["waltz", "waltz:fifths", "bass-runs"], {})),
        ("waltz,polka", (["waltz", "polka"], {})),
        ("A: light, B: polka", ([], {"a": ["light"], "b": ["polka"]})),
        ("A: light, waltz, B: polka", ([], {"a": ["light", "waltz"], "b": ["polka"]})),
        ("drone, B: polka, drone", (["drone"], {"b": ["polka", "drone"]})),
    ],
)
def test_what_is_typed(text, expected):
    """A comma parts the times through; a part's name, a colon and a space begin those for it."""
    assert names(typed.styles(text, load_style)) == expected


@pytest.mark.parametrize("text", ["waltz,", ", waltz", "A: ", "A: light, , waltz"])
def test_a_name_is_missing(text):
    """Nothing between commas, or after a part's name, is refused with an example."""
    with pytest.raises(UsageError, match="a name is missing") as error:
        typed.styles(text, load_style)
    assert "A: light, B: polka" in error.value.hint


def test_an_unknown_style_is_named():
    """Of several the one that is not known is said."""
    with pytest.raises(StyleError, match="waltzz"):
        typed.styles("polka, waltzz", load_style)


@pytest.mark.slow
def test_a_part_alone_has_another_style(cli, tmp_path):
    """The parts that are not named have the usual style; what plays is said."""
    tune, output = EXAMPLES / "the-lamplighters-round.abc", tmp_path / "a.mid"
    result = cli("make", tune, "--style", "B: drone", "-o", output)
    assert result.code == 0
    assert "waltz and drone, band backing" in result.err
    read = read_tune(tune).tune
    asked = Asked(Plan((Step(count_in=0),)), styles={"waltz": load_style("waltz")})
    usual = performance_of(make_backing(read, asked)).track(Role.CHORDS).events
    turns = typed.styles("B: drone", load_style)
    mixed = performance_of(make_backing(read, asked._replace(style=turns))).track(Role.CHORDS)
    assert mixed.events[:8] == usual[:8]
    assert len(mixed.events) < len(usual)


def test_no_such_part(cli):
    """A part that the tune has not is refused, with those it has."""
    result = cli("make", EXAMPLES / "the-lamplighters-round.abc", "--style", "C: drone")
    assert result.code == 1
    assert "there is no section" in result.err
    assert "it has A, B" in result.err
