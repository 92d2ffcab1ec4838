"""Reading a style gives a style or a StyleError, whatever the text."""

import json
import string

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from backing.arranging.style import Goal, Style
from backing.arranging.style_file import parse_style
from backing.errors import StyleError

WORDS = [
    "beat 1",
    "beats 2 and 3",
    "each beat",
    "strong beats",
    "each change",
    "off",
    "until change",
    "until bar line",
    "bar 2 beat 1",
    "other beats",
    "last beat",
    "all but the last beat",
    "2 beats",
    "phrase end",
    "section end",
    "second time",
    "cadence",
    "run",
    "tonic",
    "root",
]
KEYS = ["title", "use", "harmony", "thirds", "figure", "variant", "metres", "strokes"]
KEYS += ["when", "after", "play", "degree", "hold", "strength", "bass", "chord"]
KEYS += ["only", "never", "bars", "dances", "tones"]
LETTERS = string.ascii_letters + "=[]{}\"'#. 0123456789/-♭é\U0001f3b5"
SCALARS = st.one_of(
    st.booleans(),
    st.integers(-3, 130),
    st.integers(),
    st.sampled_from([*WORDS, "bass", "chord", "any", "3/4", "1/2", "1/0", "tonic", ""]),
    st.text(LETTERS, max_size=12),
    st.floats(-2, 200, allow_nan=False).map(lambda number: round(number, 3)),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(KEYS) | st.text(LETTERS, min_size=1, max_size=5), inner, max_size=4
        )
    ),
    max_leaves=12,
)


def toml_of(value):
    """A value as inline TOML."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{quoted(k)} = {toml_of(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml_of, value)) + "]"
    if isinstance(value, str):
        return quoted(value)
    return json.dumps(value)


def quoted(text):
    """A TOML string; its escapes are those of JSON where characters are plain."""
    return '"' + "".join(f"\\U{ord(c):08X}" for c in text if not 0xD800 <= ord(c) < 0xE000) + '"'


def style_or_none(text):
    """The style, or None where it is refused."""
    try:
        return parse_style(text, "random")
    except StyleError:
        return None


STROKES = st.fixed_dictionaries(
    {"when": st.sampled_from(WORDS[:5]) | SCALARS, "play": st.sampled_from(["bass", "chord"])},
    optional=dict.fromkeys(("after", "degree", "hold", "strength", "only", "never"), SCALARS),
)


@pytest.mark.slow
@given(st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=6))
def test_any_data_gives_a_style_or_its_faults(data):
    """Any TOML data is read as a style or refused with a StyleError, nothing else."""
    style = style_or_none("\n".join(f"{key} = {toml_of(value)}" for key, value in data.items()))
    assert style is None or isinstance(style, Style)


@pytest.mark.slow
@given(st.text(LETTERS + "\n\t\0", max_size=80))
@example("\ud800")
@example("figure = 1979-05-27")
def test_any_text_gives_a_style_or_its_faults(text):
    """Any text is read as a style or refused with a StyleError, nothing else."""
    style = style_or_none(text)
    assert style is None or isinstance(style, Style)


@pytest.mark.slow
@given(st.lists(STROKES, min_size=1, max_size=4))
def test_what_is_accepted_lies_in_range(strokes):
    """In every style that is accepted, beats, shares, degrees and strengths are in range."""
    text = 'title = "t"\nuse = "u"\nfigure = ' + toml_of([{"strokes": strokes}])
    style = style_or_none(text)
    for stroke in style.figures[0].strokes if style else ():
        assert all(1 <= beat <= 64 for beat in stroke.beats)
        assert stroke.after is None or 0 <= stroke.after < 1
        assert 0 < stroke.hold.amount <= 64
        assert all(degree in (*range(1, 9), *Goal) for degree in stroke.degrees)
        assert 1 <= stroke.strength <= 120


@pytest.mark.parametrize("key", ["figure", "variant", "title", "harmony"])
@pytest.mark.parametrize("value", ["1979-05-27", "07:32:00", "1979-05-27T07:32:00Z"])
def test_dates_are_faults_like_any_other(key, value):
    """A date, which TOML knows and no style has, is a fault."""
    with pytest.raises(StyleError) as caught:
        parse_style(f"{key} = {value}", "dated")
    assert any(fault.startswith(f"line 1, {key}: ") for fault in caught.value.faults)
