"""A style need not be for every metre: what it leaves out, another one plays."""

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.style import SILENCE, fallback_notices
from backing.arranging.style_file import parse_style
from backing.files import load_style
from backing.music.metre import FREE, parse_metre
from backing.parse.abc import parse_abc

WALTZ_ALONE = """\
title = "Waltz alone"
use = "For waltzes."
[[figure]]
metres = ["3/4"]
strokes = [{ when = "beat 1", play = "bass", hold = "3/4" }]
[variant.fifths]
bass = { degree = 5 }
"""
AT_ENDS = WALTZ_ALONE.replace("metres", 'only = "phrase end"\nmetres')
TUNE = 'X:1\nL:1/4\nM:{metre}\nK:D\n"D"D{length}|"G"G{length}|"A"A{length}|"D"D{length}|]\n'


def tune_in(metre, length):
    """A tune of four bars, a note and a chord each."""
    return parse_abc(TUNE.format(metre=metre, length=length))


def left_hand(tune, style):
    """The bass and chord events of a tune."""
    return [track.events for track in arrange(tune, style).tracks[1:]]


@pytest.fixture
def own(tmp_path):
    """A style of a player's own, by its text."""

    def load(text):
        path = tmp_path / "mine.toml"
        path.write_text(text, encoding="utf-8")
        return load_style(str(path))

    return load


def test_other_metres_are_played_by_the_everyday_style(own):
    """A style for three-time alone plays waltzes, and leaves a reel to alternating."""
    style, everyday = own(WALTZ_ALONE), load_style("alternating")
    reel, waltz = tune_in("2/2", 4), tune_in("3/4", 3)
    assert left_hand(reel, style) == left_hand(reel, everyday)
    basses, chords = left_hand(waltz, style)
    assert (len(basses), len(chords)) == (4, 0)
    assert style.falls_back_on == "alternating"


def test_bars_that_no_figure_is_for_are_played_by_the_everyday_style(own):
    """A style for the ends of phrases leaves the other bars to alternating."""
    style, waltz = own(AT_ENDS), tune_in("3/4", 3)
    usual_basses, usual_chords = left_hand(waltz, load_style("alternating"))
    basses, chords = left_hand(waltz, style)
    last = waltz.bars[-1].length * 3
    assert basses[:-1] == tuple(event for event in usual_basses if event.onset < last)
    assert chords == tuple(event for event in usual_chords if event.onset < last)
    assert (basses[-1].onset, basses[-1].length) == (last, waltz.bars[-1].length * 3 / 4)


def test_a_variant_changes_what_it_falls_back_on_too(own):
    """A variant asked for is heard in every metre."""
    style, reel = own(WALTZ_ALONE), tune_in("2/2", 4)
    fifths = style.variant("fifths")
    assert left_hand(reel, fifths)[0] != left_hand(reel, style)[0]
    assert {stroke.degrees for figure in fifths.fallback for stroke in figure.strokes
            if stroke.play == "bass"} == {(5,)}  # fmt: skip


SAID = "the style mine has no figure for "


@pytest.mark.parametrize(
    ("text", "metres", "said"),
    [
        (WALTZ_ALONE, ["3/4"], []),
        (WALTZ_ALONE, ["4/4"], ["bars felt in 4/4: alternating is played there"]),
        (WALTZ_ALONE, ["3/4", "6/8", "2/4", "6/8"],
         ["bars felt in 6/8 and bars felt in 2/4: alternating is played there"]),
        (AT_ENDS, ["3/4"], ["some bars felt in 3/4: alternating is played there"]),
        (WALTZ_ALONE + "[[figure]]\nstrokes = [{ when = 'beat 1', play = 'bass' }]", ["4/4"], []),
    ],
)  # fmt: skip
def test_what_is_left_to_another_style_is_said(own, text, metres, said):
    """Metres that the style leaves out are named with the style that plays there."""
    notices = fallback_notices(own(text), [parse_metre(metre) for metre in metres])
    assert [notice.message for notice in notices] == [SAID + each for each in said]


def test_free_metre_is_said_as_such(own):
    """Bars without a metre are called by their name."""
    (notice,) = fallback_notices(own(WALTZ_ALONE), [FREE])
    assert notice.message == f"{SAID}bars in free metre: alternating is played there"


def test_figures_for_dances_count_for_these_dances(own):
    """A style for jigs alone leaves a march in the same metre to another style."""
    style = own(WALTZ_ALONE.replace('metres = ["3/4"]', 'dances = "jig"'))
    six_eight = [parse_metre("6/8")]
    assert fallback_notices(style, six_eight, "jig") == ()
    assert len(fallback_notices(style, six_eight, "march")) == 1


def test_without_another_style_nothing_is_played():
    """A style that was read from its text alone is silent where it has no figure."""
    style = parse_style(WALTZ_ALONE, "mine")
    assert style.figure_for(parse_metre("4/4")) is SILENCE
    assert left_hand(tune_in("2/2", 4), style) == [(), ()]
    (notice,) = fallback_notices(style, [parse_metre("4/4")])
    assert notice.message == f"{SAID}bars felt in 4/4: nothing is played there"


def test_our_own_styles_are_for_every_bar():
    """None of the styles that come with us falls back on another."""
    for name in ("alternating", "waltz", "jig", "sparing", "drone"):
        style = load_style(name)
        assert style.for_all
        assert style._replace(fallback=(), falls_back_on="") == style
