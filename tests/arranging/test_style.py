"""Styles are data: what may stand in one, and what is said where something else does."""

import pytest

from backing.arranging.places import Place
from backing.arranging.style import FULL, Goal, Hand, Hold, Tones, Until, When
from backing.arranging.style_file import parse_style
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
    assert (stroke.after, stroke.degrees, stroke.hold, stroke.strength) == (0, (1,), FULL, 100)
    assert (stroke.bar, stroke.tones, stroke.only, stroke.never) == (0, Tones.ALL, set(), set())


WHENS = [
    ("beat 1", When.BEATS, (1,)),
    ("beat 64", When.BEATS, (64,)),
    ("beats 2 and 3", When.BEATS, (2, 3)),
    ("beats 2, 3 and 4", When.BEATS, (2, 3, 4)),
    ("each beat", When.EACH, ()),
    ("other beats", When.OTHER, ()),
    ("last beat", When.LAST, ()),
    ("all but the last beat", When.BUT_LAST, ()),
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
]


@pytest.mark.parametrize(("pair", "name", "expected"), SHARES, ids=[row[0] for row in SHARES])
def test_shares_are_exact(pair, name, expected):
    """A decimal or a fraction is read exactly, never through a float."""
    style = parse_style(style_text(stroke_text('play = "bass"', pair)), "mine")
    value = getattr(style.figures[0].strokes[0], name)
    assert (None if value is None else str(value)) == expected


HOLDS = [
    ('hold = "2/3"', Until.NEXT, "2/3"),
    ("hold = 0.1", Until.NEXT, "1/10"),
    ("hold = 1", Until.NEXT, "1"),
    ('hold = "1 beat"', Until.BEATS, "1"),
    ('hold = "3/4 beat"', Until.BEATS, "3/4"),
    ('hold = "6 beats"', Until.BEATS, "6"),
    ('hold = "until bar line"', Until.BAR_LINE, "1"),
    ('hold = "until change"', Until.CHANGE, "1"),
]


@pytest.mark.parametrize(("pair", "until", "amount"), HOLDS, ids=[row[0] for row in HOLDS])
def test_how_long_a_stroke_is_held(pair, until, amount):
    """A stroke is held a share of the time to the next, so many beats, to the bar line, or
    until the harmony changes."""
    style = parse_style(style_text(stroke_text('play = "bass"', pair), more=""), "mine")
    hold = style.figures[0].strokes[0].hold
    assert (hold.until, str(hold.amount)) == (until, amount)


DEGREES = [
    ("degree = 5", (5,)),
    ("degree = [1, 3, 5, 8]", (1, 3, 5, 8)),
    ('degree = "tonic"', (Goal.TONIC,)),
    ('degree = ["tonic"]', (Goal.TONIC,)),
    ('degree = "run"', (Goal.RUN,)),
    ('degree = [1, "leading note"]', (1, Goal.LEADING)),
]


@pytest.mark.parametrize(("pair", "degrees"), DEGREES, ids=[row[0] for row in DEGREES])
def test_what_a_bass_takes(pair, degrees):
    """A bass takes a degree of the chord, the tonic, or a way to the next chord's root."""
    style = parse_style(style_text(stroke_text('play = "bass"', pair)), "mine")
    assert style.figures[0].strokes[0].degrees == degrees


def test_a_figure_of_two_bars():
    """A figure lasts so many bars, and a stroke may belong to one of them."""
    text = style_text('{ when = "bar 2 beats 1 and 2", play = "chord" }').replace(
        "metres", "bars = 2\nmetres"
    )
    (figure,) = parse_style(text, "mine").figures
    assert (figure.bars, figure.strokes[0].bar, figure.strokes[0].beats) == (2, 2, (1, 2))


def test_where_and_for_which_dance():
    """Figures and strokes say at which places, and a figure for which dances, they are."""
    special = (
        '[[figure]]\ndances = ["jig", "slip jig"]\nonly = "section end"\nnever = "tune end"\n'
        'strokes = [{ when = "beat 1", play = "chord", tones = "root", '
        'only = ["phrase end", "cadence"], never = "second time" }]\n'
    )
    text = style_text().replace("[[figure]]", special + "[[figure]]")
    figure, usual = parse_style(text, "mine").figures
    (stroke,) = figure.strokes
    assert figure.dances == ("jig", "slip jig")
    assert (figure.only, figure.never) == ({Place.SECTION_END}, {Place.TUNE_END})
    assert (stroke.only, stroke.never) == ({Place.PHRASE_END, Place.CADENCE}, {Place.SECOND_TIME})
    assert stroke.tones is Tones.ROOT
    assert usual.for_all


def test_a_variant_changes_every_root_in_the_bass():
    """A variant takes its own bass degrees by turns; chords and other basses stay."""
    strokes = ", ".join(
        [stroke_text('play = "bass"'), stroke_text('play = "chord"'),
         '{ when = "beat 2", play = "bass", degree = 5 }']
    )  # fmt: skip
    text = style_text(strokes) + "[variant.fifths]\nbass = { degree = [1, 5] }\n"
    fifths = parse_style(text, "mine").variant("fifths")
    assert fifths.name == "mine:fifths"
    assert [stroke.degrees for stroke in fifths.figures[0].strokes] == [(1, 5), (1,), (5,)]


def test_a_variant_changes_length_strength_and_tones():
    """A variant may shorten, soften and thin a hand's strokes; strength is per cent of its own."""
    strokes = stroke_text('play = "bass"') + ", " + stroke_text('play = "chord"', "strength = 60")
    more = (
        '[variant.thin]\nuse = "Thinner."\nbass = { hold = "1/4" }\n'
        'chord = { tones = "root and fifth", strength = 50 }\n'
    )
    style = parse_style(style_text(strokes) + more, "mine")
    bass, chord = style.variant("thin").figures[0].strokes
    assert (bass.hold.until, str(bass.hold.amount), bass.strength) == (Until.NEXT, "1/4", 100)
    assert (chord.tones, chord.strength, chord.hold) == (Tones.NO_THIRD, 30, Hold())
    assert style.variants[0].use == "Thinner."


def test_an_unknown_variant_is_named_with_the_nearest():
    """A mistyped variant gets the nearest one as a hint."""
    style = parse_style(style_text() + "[variant.fifths]\nbass = { degree = 5 }\n", "mine")
    with pytest.raises(StyleError, match="the style mine has no variant 'fiths'") as caught:
        style.variant("fiths")
    assert caught.value.hint == "did you mean fifths?"
    with pytest.raises(StyleError, match="no variant 'high'") as caught:
        style.variant("high")
    assert caught.value.hint == "it has fifths"
    with pytest.raises(StyleError, match="no variant 'high'") as caught:
        parse_style(style_text(), "mine").variant("high")
    assert caught.value.hint == ""


def bass(*pairs):
    """A style whose one stroke is a bass with these pairs."""
    return style_text(stroke_text('play = "bass"', *pairs))


WHEN_WORDS = (
    "; expected beat 1, beats 2 and 3, bar 2 beat 1, each beat, other beats, last beat, "
    "all but the last beat, strong beats, weak beats, each change or each section"
)
AT = "line 6, first figure, first stroke"
STROKES = 'expected strokes like [ { when = "beat 1", play = "bass" } ]'
DEGREE = "expected 1 to 8, tonic, run or leading note"
HOLD = 'expected a share like "1/2", "2 beats", "until bar line" or "until change"'
FAULTS = [
    ("", ["figure: missing; expected tables like [[figure]]", "title: missing", "use: missing"]),
    (style_text().replace("Plain", " "), ["line 1, title: expected a text in \"quotes\", got ' '"]),
    (style_text().replace('"Plain"', "3"), ['line 1, title: expected a text in "quotes", got 3']),
    (style_text(more='titel = "x"'), ["line 3, titel: unknown key; did you mean title?"]),
    (
        style_text(more='qqq = "x"'),
        [
            "line 3, qqq: unknown key; known here are title, use, harmony, thirds, fifths, "
            "figure, second-time, variant"
        ],
    ),
    (
        style_text(more='harmony = "tonics"'),
        ["line 3, harmony: unknown: 'tonics'; did you mean tonic?"],
    ),
    (style_text(more="thirds = 1"), ["line 3, thirds: expected true or false, got 1"]),
    (HEAD + "figure = []", ["line 3, figure: expected tables like [[figure]], got []"]),
    (HEAD + "figure = 3", ["line 3, figure: expected tables like [[figure]], got 3"]),
    (
        HEAD + "figure = [1,\n2]",
        [
            "line 3, first figure: expected tables like [[figure]], got 1",
            "line 4, second figure: expected tables like [[figure]], got 2",
        ],
    ),
    (HEAD + "[[figure]]\n", [f"line 3, first figure, strokes: missing; {STROKES}"]),
    (HEAD + "[[figure]]\nstrokes = []", [f"line 4, first figure, strokes: {STROKES}, got []"]),
    (
        style_text(metres='["6/8", "C"]') + "[[figure]]\nstrokes = [" + STROKE + "]",
        ["line 5, first figure, second metre: 'C' is felt in 4/4; write that"],
    ),
    (
        style_text(metres='["9/8", "2/3"]') + "[[figure]]\nstrokes = [" + STROKE + "]",
        ["line 5, first figure, second metre: expected a metre like \"3/4\", got '2/3'"],
    ),
    (
        style_text(metres='"3/4"'),
        ['line 5, first figure, metres: expected "any" or a list like ["3/4", "3/2"], got \'3/4\''],
    ),
    (
        style_text(metres="[]"),
        ['line 5, first figure, metres: expected "any" or a list like ["3/4", "3/2"], got []'],
    ),
    (
        style_text(metres='["3/7"]') + "[[figure]]\nstrokes = [" + STROKE + "]",
        ["line 5, first figure, first metre: expected a metre like \"3/4\", got '3/7'"],
    ),
    (
        style_text(metres='["waltz"]') + "[[figure]]\nstrokes = [" + STROKE + "]",
        ["line 5, first figure, first metre: expected a metre like \"3/4\", got 'waltz'"],
    ),
    (style_text('{ play = "bass" }'), [f"{AT}, when: missing{WHEN_WORDS}"]),
    (style_text('{ when = 3, play = "bass" }'), [f"{AT}, when: unknown: 3{WHEN_WORDS}"]),
    (
        style_text('{ when = "strong beat", play = "bass" }'),
        [f"{AT}, when: unknown: 'strong beat'; did you mean strong beats?"],
    ),
    (
        style_text('{ when = "beat 0", play = "bass" }'),
        [f"{AT}, when: unknown: 'beat 0'{WHEN_WORDS}"],
    ),
    (
        style_text('{ when = "beat 65", play = "bass" }'),
        [f"{AT}, when: unknown: 'beat 65'{WHEN_WORDS}"],
    ),
    (style_text('{ when = "beat 1" }'), [f"{AT}, play: missing; expected bass or chord"]),
    (
        style_text(stroke_text('play = "drum"')),
        [f"{AT}, play: unknown: 'drum'; expected bass or chord"],
    ),
    (
        style_text(stroke_text('play = "chord"', "degree = 5")),
        [f"{AT}, degree: only a bass has a degree"],
    ),
    (
        style_text(stroke_text('play = "bass"', 'tones = "root"')),
        [f"{AT}, tones: only a chord has tones"],
    ),
    (bass("degree = 9"), [f"{AT}, degree: {DEGREE}, got 9"]),
    (bass("degree = 0"), [f"{AT}, degree: {DEGREE}, got 0"]),
    (bass('degree = "5"'), [f"{AT}, degree: {DEGREE}, got '5'"]),
    (bass("degree = true"), [f"{AT}, degree: {DEGREE}, got true"]),
    (bass("degree = [[1]]"), [f"{AT}, first of degree: {DEGREE}, got [1]"]),
    (
        bass('degree = ["tonic", 5]'),
        [f'{AT}, degree: "tonic" stands alone: it goes by the key, the others by the chord'],
    ),
    (
        bass('only = "phrase ende"'),
        [f"{AT}, only: unknown: 'phrase ende'; did you mean phrase end?"],
    ),
    (bass("never = 3"), [f"{AT}, never: unknown: 3; expected phrase start, "]),
    (
        style_text(more="").replace("metres", 'dances = ["jigg"]\nmetres'),
        ["line 5, first figure, first dance: unknown: 'jigg'; did you mean jig?"],
    ),
    (
        style_text().replace("metres", "bars = 0\nmetres"),
        ["line 5, first figure, bars: expected 1 to 16 bars, got 0"],
    ),
    (
        style_text().replace("metres", "bars = 99999999999\nmetres"),
        ["line 5, first figure, bars: expected 1 to 16 bars, got 99999999999"],
    ),
    (bass("degree = []"), [f"{AT}, degree: expected a degree"]),
    (bass("after = 1"), [f'{AT}, after: expected a share like "1/2", got 1']),
    (bass('after = "-1/2"'), [f"{AT}, after: expected a share like \"1/2\", got '-1/2'"]),
    (bass('after = "1/0"'), [f"{AT}, after: expected a share like \"1/2\", got '1/0'"]),
    (bass("hold = 0"), [f"{AT}, hold: {HOLD}, got 0"]),
    (bass("hold = 1.5"), [f"{AT}, hold: {HOLD}, got 1.5"]),
    (bass("hold = true"), [f"{AT}, hold: {HOLD}, got true"]),
    (bass('hold = "until"'), [f"{AT}, hold: {HOLD}, got 'until'"]),
    (
        bass('hold = "0 beats"'),
        [f"{AT}, hold: expected more than 0 and up to 64 beats, got '0 beats'"],
    ),
    (
        bass('hold = "999 beats"'),
        [f"{AT}, hold: expected more than 0 and up to 64 beats, got '999"],
    ),
    (bass("strength = 0"), [f"{AT}, strength: expected 1 to 120 per cent, got 0"]),
    (bass("strength = 121"), [f"{AT}, strength: expected 1 to 120 per cent, got 121"]),
    (bass('strength = "loud"'), [f"{AT}, strength: expected 1 to 120 per cent, got 'loud'"]),
    (bass("strenght = 50"), [f"{AT}, strenght: unknown key; did you mean strength?"]),
    (
        style_text() + "metre = 3",
        ["line 7, first figure, metre: unknown key; did you mean metres?"],
    ),
    (
        style_text(more="variant = 3"),
        ["line 3, variant: expected tables like [variant.fifths], got 3"],
    ),
    (
        style_text() + "[variant.x]\n",
        ["line 7, variant x: expected changes like bass = { degree = [1, 5] }"],
    ),
    (
        style_text() + "[variant.x]\nbass = [1, 5]",
        ["line 8, variant x, bass: expected changes like { degree = [1, 5] }"],
    ),
    (
        style_text() + "[variant.x]\nbass = { degree = [1, 9] }",
        [f"line 8, variant x, bass, second of degree: {DEGREE}, got 9"],
    ),
    (
        style_text() + "[variant.x]\nchord = { degree = 5 }",
        ["line 8, variant x, chord, degree: unknown key; known here are tones, hold, strength"],
    ),
    (
        style_text() + "[variant.x]\nbass = { degree = 5 }\nbas = 1",
        ["line 9, variant x, bas: unknown key; did you mean bass?"],
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
    """A style with five faults names all five, in the order of their lines."""
    text = style_text(
        stroke_text('play = "bas"', "degree = 12", "strength = -1"), more='harmony = "x"\nfoo = 1'
    )
    at = "line 7, first figure, first stroke"
    assert [fault.partition(":")[0] for fault in faults_of(text)] == [
        "line 3, harmony", "line 4, foo", f"{at}, play", f"{at}, degree", f"{at}, strength",
    ]  # fmt: skip


def test_the_message_names_the_file_and_lists_the_faults():
    """What is shown names the file, counts the faults and lists them one a line."""
    with pytest.raises(StyleError) as caught:
        parse_style(bass("degree = 9", "strength = 0"), "mine.toml")
    assert caught.value.text() == (
        "error: mine.toml: 2 faults in the style\n"
        f"  {AT}, degree: {DEGREE}, got 9\n"
        f"  {AT}, strength: expected 1 to 120 per cent, got 0\n"
        "hint: backing styles alternating draws a style and names its file, as a pattern"
    )


def test_a_beat_number_of_any_size_is_a_fault():
    """A beat of four thousand digits is a fault like beat 65."""
    (fault,) = faults_of(style_text('{ when = "beat ' + "1" * 4000 + '", play = "bass" }'))
    assert fault.startswith(f"{AT}, when: unknown: 'beat 111")


# -- strokes and figures together ------------------------------------------------


def figures(*parts):
    """A style of these figures, each the text of its keys, and one for any metre."""
    usual = f"strokes = [{STROKE}]"
    return HEAD + "".join(f"[[figure]]\n{part}\n" for part in (*parts, usual))


BASS_1, CHORD_2 = '{ when = "beat 1", play = "bass" }', '{ when = "beat 2", play = "chord" }'
TOGETHER = {
    "a beat too many": (
        figures('metres = ["3/4"]\nstrokes = [{ when = "beats 2 and 4", play = "chord" }]'),
        ["line 5, first figure, first stroke, when: 3/4 has no beat 4; it is felt in 3"],
    ),
    "a compound metre has fewer beats": (
        figures('metres = ["6/8"]\nstrokes = [{ when = "beat 4", play = "chord" }]'),
        ["line 5, first figure, first stroke, when: 6/8 has no beat 4; it is felt in 2"],
    ),
    "a bar too many": (
        figures('metres = ["3/2"]\nbars = 2\nstrokes = [{ when = "bar 3 beat 1", play = "bass" }]'),
        [f"{AT}, when: the figure has no bar 3; bars = 3 makes it longer"],
    ),
    "a change in a bar": (
        figures(
            'bars = 2\nonly = "cadence"\nstrokes = [{ when = "bar 2 each change", play = "bass" }]'
        ),
        [f"{AT}, when: a change has no bar of its own; leave out bar 2"],
    ),
    "longer than the bar": (
        figures(
            'metres = ["3/4"]\nstrokes = [{ when = "beat 1", play = "bass", hold = "4 beats" }]'
        ),
        ["line 5, first figure, first stroke, hold: in 3/4 it is longer than the figure"],
    ),
    "longer than two bars": (
        figures(
            'metres = ["3/4"]\nbars = 2\n'
            'strokes = [{ when = "bar 2 beat 1", play = "bass", hold = "4 beats" }]'
        ),
        ["line 6, first figure, first stroke, hold: in 3/4 it is longer than the figure"],
    ),
    "into the next bass": (
        figures(
            'metres = ["2/4"]\nstrokes = [{ when = "beat 1", play = "bass", hold = "3/2 beats" }, '
            '{ when = "beat 2", play = "bass" }]'
        ),
        [
            "line 5, first figure, first stroke, hold: in 2/4 it sounds into the next bass, "
            "the second stroke"
        ],
    ),
    "two on one moment": (
        figures(
            f'metres = ["4/4"]\nstrokes = [{BASS_1}, {{ when = "strong beats", play = "bass" }}]'
        ),
        [
            "line 5, first figure, second stroke: falls on the same moment as another bass in 4/4, "
            "the first stroke"
        ],
    ),
    "never reached": (
        figures(f"strokes = [{BASS_1}]", f'metres = ["3/4"]\nstrokes = [{BASS_1}]')[:-len(
            f"[[figure]]\nstrokes = [{STROKE}]\n"
        )],
        [
            "line 5, second figure: never played, for the first figure fits every bar; "
            "put it before that",
        ],
    ),
    "nowhere": (
        figures(f'only = ["first half", "second half"]\nstrokes = [{BASS_1}]'),
        [
            "line 3, first figure: no bar is ever at the places of only and never",
        ],
    ),
    "nowhere for a stroke": (
        figures(f'never = "second half"\nstrokes = [{BASS_1[:-1]}, never = "first half" }}]'),
        ["line 5, first figure, first stroke: no bar is ever at the places of only and never"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "faults"), TOGETHER.values(), ids=TOGETHER.keys())
def test_what_strokes_may_not_do_together(text, faults):
    """Strokes that the metre has no room for, or that get in each other's way, are faults."""
    assert list(faults_of(text)) == faults


ALLOWED = {
    "bass and chord together": f'strokes = [{BASS_1}, {{ when = "beat 1", play = "chord" }}]',
    "one or the other": (
        'strokes = [{ when = "beat 1", play = "bass", only = "second time" }, '
        '{ when = "beat 1", play = "bass", never = "second time" }]'
    ),
    "halves of a phrase": (
        'strokes = [{ when = "beat 1", play = "bass", only = "first half" }, '
        '{ when = "beat 1", play = "bass", only = "second half" }]'
    ),
    "a beat that some metres lack": 'strokes = [{ when = "beats 1 and 4", play = "bass" }]',
    "a bass over two bars": (
        'metres = ["3/4"]\nbars = 2\n'
        'strokes = [{ when = "bar 1 beat 1", play = "bass", hold = "6 beats" }]'
    ),
}  # fmt: skip


@pytest.mark.parametrize("figure", ALLOWED.values(), ids=ALLOWED.keys())
def test_what_strokes_may_do_together(figure):
    """Strokes that never meet in one bar, or are of different hands, may share a moment."""
    only = "" if "metres" in figure else 'only = "phrase end"\n'
    assert len(parse_style(figures(only + figure), "mine").figures) == 2
