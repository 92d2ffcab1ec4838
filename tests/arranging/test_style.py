"""Styles are data: what may stand in one, and what is said where something else does."""

import pytest

from backing.arranging.style import Hand, When, parse_style
from backing.errors import StyleError

HEAD = 'title = "Plain"\nuse = "For nothing."\n'
STROKE = '{ when = "beat 1", play = "bass" }'


def style_text(stroke=STROKE, metres='"any"', more=""):
    """A style of one figure with one stroke."""
    return f"{HEAD}{more}\n[[figure]]\nmetres = {metres}\nstrokes = [{stroke}]\n"


def stroke_text(*pairs):
    """A stroke on beat 1 with other keys besides."""
    return "{ " + ", ".join(('when = "beat 1"', *pairs)) + " }"


def faults_of(text):
    """The faults that reading a style reports."""
    with pytest.raises(StyleError) as caught:
        parse_style(text, "mine.toml")
    return caught.value.faults


def test_the_least_style_is_one_stroke():
    """A title, a use and one stroke are enough; all else has its usual value."""
    style = parse_style(style_text(), "mine")
    (figure,) = style.figures
    (stroke,) = figure.strokes
    assert (style.name, style.title, style.use) == ("mine", "Plain", "For nothing.")
    assert (style.from_key, style.thirds, style.variants) == (False, True, ())
    assert figure.metres == ()
    assert (stroke.when, stroke.play, stroke.beats) == (When.BEATS, Hand.BASS, (1,))
    assert (stroke.after, stroke.degrees, stroke.hold, stroke.strength) == (0, (1,), 1, 100)


WHENS = [
    ("beat 1", When.BEATS, (1,)),
    ("beat 64", When.BEATS, (64,)),
    ("beats 2 and 3", When.BEATS, (2, 3)),
    ("beats 2, 3 and 4", When.BEATS, (2, 3, 4)),
    ("each beat", When.EACH, ()),
    ("strong beats", When.STRONG, ()),
    ("weak beats", When.WEAK, ()),
    ("each change", When.CHANGE, ()),
    ("each section", When.SECTION, ()),
]


@pytest.mark.parametrize(("text", "when", "beats"), WHENS, ids=[row[0] for row in WHENS])
def test_when_a_stroke_falls(text, when, beats):
    """A stroke falls on named beats, on a kind of beat, or where the harmony changes."""
    style = parse_style(style_text(f'{{ when = "{text}", play = "chord" }}'), "mine")
    stroke = style.figures[0].strokes[0]
    assert (stroke.when, stroke.beats, stroke.play) == (when, beats, Hand.CHORD)


SHARES = [
    ('after = "1/3"', "after", "1/3"),
    ("after = 0.25", "after", "1/4"),
    ("after = 0", "after", "0"),
    ('after = "off"', "after", None),
    ('hold = "2/3"', "hold", "2/3"),
    ("hold = 0.1", "hold", "1/10"),
    ("hold = 1", "hold", "1"),
    ('hold = "until change"', "hold", None),
]


@pytest.mark.parametrize(("pair", "name", "expected"), SHARES, ids=[row[0] for row in SHARES])
def test_shares_are_exact(pair, name, expected):
    """A decimal or a fraction is read exactly, never through a float."""
    style = parse_style(style_text(stroke_text('play = "bass"', pair)), "mine")
    value = getattr(style.figures[0].strokes[0], name)
    assert (None if value is None else str(value)) == expected


def test_a_variant_changes_every_bass():
    """A variant takes its own bass degrees by turns; the chords stay as they are."""
    strokes = stroke_text('play = "bass"') + ", " + stroke_text('play = "chord"')
    style = parse_style(style_text(strokes) + "[variant.fifths]\nbass = [1, 5]\n", "mine")
    fifths = style.variant("fifths")
    assert fifths.name == "mine:fifths"
    assert [stroke.degrees for stroke in fifths.figures[0].strokes] == [(1, 5), (1,)]


def test_an_unknown_variant_is_named_with_the_nearest():
    """A mistyped variant gets the nearest one as a hint."""
    style = parse_style(style_text() + "[variant.fifths]\nbass = [1, 5]\n", "mine")
    with pytest.raises(StyleError, match="the style mine has no variant 'fiths'") as caught:
        style.variant("fiths")
    assert caught.value.hint == "did you mean fifths?"


def bass(*pairs):
    """A style whose one stroke is a bass with these pairs."""
    return style_text(stroke_text('play = "bass"', *pairs))


WHEN_WORDS = (
    'expected "beat 1", "beats 2 and 3", each beat, strong beats, weak beats, '
    "each change, each section; "
)
AT = "figure[0].strokes[0]"
FAULTS = [
    ("", ["figure: missing", "title: missing", "use: missing"]),
    (style_text().replace("Plain", " "), ["title: expected a text"]),
    (style_text().replace('"Plain"', "3"), ["title: expected a text"]),
    (style_text(more='titel = "x"'), ["titel: unknown key; did you mean title?"]),
    (style_text(more='qqq = "x"'), ["qqq: unknown key; left out?"]),
    (style_text(more='harmony = "tonics"'), ["harmony: expected chords or tonic, got 'tonics'"]),
    (style_text(more="thirds = 1"), ["thirds: expected true or false"]),
    (HEAD + "figure = []", ["figure: expected a list of tables"]),
    (HEAD + "figure = 3", ["figure: expected a list of tables"]),
    (HEAD + "figure = [1, 2]", ["figure: expected a list of tables"]),
    (HEAD + "[[figure]]\n", ["figure[0].strokes: missing"]),
    (HEAD + "[[figure]]\nstrokes = []", ["figure[0].strokes: expected a list of tables"]),
    (style_text(metres='["3/4"]'), ['figure: one figure must be for metres = "any"']),
    (
        style_text(metres='"3/4"'),
        ['figure[0].metres: expected "any" or a list like ["3/4", "3/2"]'],
    ),
    (style_text(metres="[]"), ['figure[0].metres: expected "any" or a list like ["3/4", "3/2"]']),
    (
        style_text(metres='["3/7"]') + "[[figure]]\nstrokes = [" + STROKE + "]",
        ["figure[0].metres: 3/7 is not a metre"],
    ),
    (
        style_text(metres='["waltz"]') + "[[figure]]\nstrokes = [" + STROKE + "]",
        ["figure[0].metres: 'waltz' is not a metre"],
    ),
    (style_text('{ play = "bass" }'), [f"{AT}.when: {WHEN_WORDS}missing"]),
    (style_text('{ when = 3, play = "bass" }'), [f"{AT}.when: {WHEN_WORDS}got 3"]),
    (
        style_text('{ when = "strong beat", play = "bass" }'),
        [f"{AT}.when: {WHEN_WORDS}did you mean strong beats?"],
    ),
    (style_text('{ when = "beat 0", play = "bass" }'), [f"{AT}.when: {WHEN_WORDS}"]),
    (style_text('{ when = "beat 65", play = "bass" }'), [f"{AT}.when: {WHEN_WORDS}"]),
    (style_text('{ when = "beat 1" }'), [f"{AT}.play: missing"]),
    (style_text(stroke_text('play = "drum"')), [f"{AT}.play: expected bass or chord, got 'drum'"]),
    (
        style_text(stroke_text('play = "chord"', "degree = 5")),
        [f"{AT}.degree: only a bass has a degree"],
    ),
    (bass("degree = 9"), [f"{AT}.degree: expected 1 to 8, got 9"]),
    (bass("degree = 0"), [f"{AT}.degree: expected 1 to 8, got 0"]),
    (bass('degree = "5"'), [f"{AT}.degree: expected 1 to 8, got '5'"]),
    (bass("degree = true"), [f"{AT}.degree: expected 1 to 8, got True"]),
    (bass("degree = []"), [f"{AT}.degree: expected a degree"]),
    (bass("after = 1"), [f'{AT}.after: expected a share like "1/2", got 1']),
    (bass('after = "-1/2"'), [f"{AT}.after: expected a share like \"1/2\", got '-1/2'"]),
    (bass('after = "1/0"'), [f"{AT}.after: expected a share like \"1/2\", got '1/0'"]),
    (bass("hold = 0"), [f'{AT}.hold: expected a share like "1/2", got 0']),
    (bass("hold = 1.5"), [f'{AT}.hold: expected a share like "1/2", got 1.5']),
    (bass("hold = true"), [f'{AT}.hold: expected a share like "1/2", got True']),
    (bass('hold = "until"'), [f"{AT}.hold: expected a share like \"1/2\", got 'until'"]),
    (bass("strength = 0"), [f"{AT}.strength: expected 1 to 120 per cent, got 0"]),
    (bass("strength = 121"), [f"{AT}.strength: expected 1 to 120 per cent, got 121"]),
    (bass('strength = "loud"'), [f"{AT}.strength: expected 1 to 120 per cent, got 'loud'"]),
    (bass("strenght = 50"), [f"{AT}.strenght: unknown key; did you mean strength?"]),
    (style_text() + "metre = 3", ["figure[0].metre: unknown key; did you mean metres?"]),
    (style_text(more="variant = 3"), ["variant: expected tables like [variant.fifths]"]),
    (style_text() + "[variant.x]\n", ["variant.x: expected bass = [degrees by turns]"]),
    (style_text() + "[variant.x]\nbass = [1, 9]", ["variant.x.bass: expected 1 to 8, got 9"]),
    (
        style_text() + "[variant.x]\nbass = 5\nbas = 1",
        ["variant.x.bas: unknown key; did you mean bass?"],
    ),
]


@pytest.mark.parametrize(("text", "faults"), FAULTS, ids=[row[1][0][:60] for row in FAULTS])
def test_each_fault_is_said_with_its_place(text, faults):
    """A fault is reported with the path of its key, what was expected and what stands there."""
    found = faults_of(text)
    assert len(found) == len(faults)
    for said, expected in zip(found, faults, strict=True):
        assert said.startswith(expected)


def test_all_faults_come_at_once():
    """A style with five faults names all five, in the order of the file's parts."""
    text = style_text(
        stroke_text('play = "bas"', "degree = 12", "strength = -1"), more='harmony = "x"\nfoo = 1'
    )
    assert [fault.partition(":")[0] for fault in faults_of(text)] == [
        "foo", "harmony", f"{AT}.play", f"{AT}.degree", f"{AT}.strength",
    ]  # fmt: skip


def test_the_message_names_the_file_and_lists_the_faults():
    """What is shown names the file, counts the faults and lists them one a line."""
    with pytest.raises(StyleError) as caught:
        parse_style(bass("degree = 9", "strength = 0"), "mine.toml")
    assert caught.value.text() == (
        "error: mine.toml: the style has 2 faults\n"
        f"  {AT}.degree: expected 1 to 8, got 9\n"
        f"  {AT}.strength: expected 1 to 120 per cent, got 0\n"
        "hint: DEVELOPERS.md says how a style is written"
    )


NO_TOML = {
    "a sentence": "this is no style",
    "an open string": 'title = "x',
    "a key twice": 'title = "x"\ntitle = "y"',
    "not a number": "hold = nan",
    "endless": "hold = inf",
    "an exponent": "hold = 1e400",
    "very many digits": "hold = 0." + "3" * 5000,
    "a huge whole number": "hold = " + "9" * 5000,
    "very deep lists": "a = " + "[" * 100_000,
    "a null character": "a = \0",
}


@pytest.mark.parametrize("text", NO_TOML.values(), ids=NO_TOML.keys())
def test_what_is_no_toml_is_refused(text):
    """Text that is not TOML, or holds numbers out of range, is refused as such."""
    with pytest.raises(StyleError, match="not a TOML file"):
        parse_style(text, "mine.toml")


def test_a_beat_number_of_any_size_is_a_fault():
    """A beat of five thousand digits is a fault like beat 65."""
    (fault,) = faults_of(style_text('{ when = "beat ' + "1" * 5000 + '", play = "bass" }'))
    assert fault.startswith(f"{AT}.when: ")
