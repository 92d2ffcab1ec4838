"""The second time through a section is heard to differ, by one thing, in every dance style."""

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.places import Place
from backing.arranging.style import HandChange, StyleVariant
from backing.arranging.style_file import parse_style
from backing.errors import StyleError
from backing.files import load_style, style_files
from backing.music.metre import parse_metre
from backing.parse.abc import parse_abc

#: Styles that hold: their second time is the first again.
HELD = {"drone", "pedal", "sustained"}
OURS = [name for name, file in style_files().items() if not file.own]
#: A tune of eight bars in each metre that a dance style is made for.
METRES = {
    "2/4": ("polka", "GB dB"), "4/4": ("hornpipe", "GBdB GBdB"), "C|": ("reel", "GBdB GBdB"),
    "6/8": ("jig", "GBd GBd"), "9/8": ("slip jig", "GBd GBd GBd"), "3/4": ("waltz", "GB d2 B2"),
    "3/8": ("bourrée", "GBd"),
}  # fmt: skip


def heard(tune, style):
    """What bass and chords play in the first and in the second time of eight bars, phrase ends
    left out."""
    arrangement = arrange(tune, style)
    times = []
    for time in (1, 2):
        bars = [b for b in arrangement.bars if b.time == time and b.position % 4 != 3]
        times.append(
            [
                (event.onset - bar.onset, event.length, event.pitches)
                for track in arrangement.tracks[1:]
                for bar in bars
                for event in track.events
                if bar.onset <= event.onset < bar.stop
            ]
        )
    return times


@pytest.mark.parametrize("name", sorted(set(OURS) - HELD))
@pytest.mark.parametrize("metre", METRES)
def test_every_dance_style_differs(name, metre):
    """In every metre in which it has chords the second time is not the first; as many strokes or
    one less or more in a bar, so that it is the same style still."""
    dance, bar = METRES[metre]
    head = f"X:1\nT:Twice\nR:{dance}\nM:{metre}\nL:1/8\nK:G\n"
    tune = parse_abc(head + "|:" + "|".join(['"G"' + bar, '"C"' + bar] * 4) + ":|")
    first, second = heard(tune, load_style(name))
    if all(len(keys) == 2 for _, _, keys in first):  # in this metre it has basses alone
        assert first == second
        return
    assert first != second
    assert abs(len(first) - len(second)) <= 6


def test_held_styles_stay():
    """A drone, a pedal and held chords are the same each time."""
    tune = parse_abc("X:1\nT:T\nM:4/4\nL:1/4\nK:G\n" + '|:"G"GBdB|"C"cege|"D"dfaf|"G"g4:|')
    for name in HELD:
        first, second = heard(tune, load_style(name))
        assert first == second


STYLE = """
title = "Mine"
use = "To try."
[[figure]]
metres = "any"
strokes = [
  { when = "beat 1", play = "bass", hold = "1/2" },
  { when = "beat 2", play = "chord", hold = "1/3" },
]
[second-time]
use = "The chords are longer."
chord = { hold = "3/4" }
"""
FOUR = parse_metre("4/4")


def test_what_a_file_says_of_the_second_time():
    """The change is made at the second time, not at a phrase's end, and not in a figure that
    names the second time itself."""
    style = parse_style(STYLE, "mine")
    assert style.second is not None
    assert style.second.use == "The chords are longer."
    first = style.figure_for(FOUR)
    second = style.figure_for(FOUR, places=frozenset({Place.SECOND_TIME}))
    assert [float(stroke.hold.amount) for stroke in first.strokes] == [0.5, pytest.approx(1 / 3)]
    assert [float(stroke.hold.amount) for stroke in second.strokes] == [0.5, 0.75]
    end = frozenset({Place.SECOND_TIME, Place.PHRASE_END})
    assert style.figure_for(FOUR, places=end) == first
    named = parse_style(STYLE.replace('hold = "1/3"', 'hold = "1/3", never = "second time"'), "m")
    assert (
        named.figure_for(FOUR, places=frozenset({Place.SECOND_TIME})).strokes[1].hold.amount < 0.5
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("second-time = 3", "second-time"),
        ("[second-time]\nchords = { hold = 1 }", "chords"),
        ('[second-time]\nchord = { hold = "nine" }', "hold"),
    ],
)
def test_faults_in_the_second_time_are_said(text, said):
    """A fault there is named with its place, like any other."""
    head = STYLE.partition("[second-time]")[0]
    faulty = text + "\n" + head if text.startswith("second-time") else head + text
    with pytest.raises(StyleError) as error:
        parse_style(faulty, "mine")
    assert said in "\n".join(error.value.faults)


def test_a_variant_keeps_the_second_time():
    """Asked for as a variant the style still has its second time."""
    style = load_style("waltz:fifths")
    assert isinstance(style.second, StyleVariant)
    assert style.second.chord != HandChange()
