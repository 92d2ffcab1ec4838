"""A moment as it stands in a window."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.arrangement import Role
from backing.cli.flow import columns_wide
from backing.cli.signs import drawn, lines_high
from backing.cli.sizes import widest_chord
from backing.cli.stand import stand
from backing.live.marks import MarkedBars
from backing.live.shown import State
from backing.practice.laying import Target
from backing.practice.passages import Bars, Whole
from backing.practice.stretch import Kind

START = (
    "playing Plain to the sound card (PulseAudio): alternating, band backing, 3/8 = 60 (75 % of "
    "the tune's own 3/8 = 80; 30 bars a minute); ? shows the keys"
)
WINDOWS = [(80, 24), (60, 20), (200, 60), (120, 30), (100, 24), (60, 24)]


def seen(shown, columns, rows, *, told=(START,), widest="D7"):
    """What stands in a window; nothing is too long or too wide."""
    lines = stand(shown, columns, rows, told=told, widest=widest)
    assert len(lines) <= rows
    assert all(columns_wide(line) <= columns for line in lines)
    return lines


def places(lines, text, scale):
    """Where a text stands in large signs: line and column."""
    picture = [row.rstrip() for row in drawn(text, scale)]
    wide = len(drawn(text, scale)[0])
    found = []
    for top in range(len(lines) - len(picture) + 1):
        left = lines[top].find(picture[0])
        while left >= 0:
            rows = (line[left : left + wide].rstrip() for line in lines[top:])
            if all(want == row for want, row in zip(picture, rows, strict=False)):
                found.append((top, left))
            left = lines[top].find(picture[0], left + 1)
    return found


def scale_of_sign(lines, text, least=1):
    """The largest scale at which a text stands there; 0 for none."""
    scales = range(len(lines), least - 1, -1)
    return next((s for s in scales if lines_high(s) <= len(lines) and places(lines, text, s)), 0)


PICTURE = """\
A part, bar           round 3 of 8
▀▀▀▄                  3/8 = 60 (75 %)
 ▄▄▀
   █
▀▀▀
1 ──────────────── 2 ████████████████
now                        in 3 beats
▄▀▀▄           ▀▀▀▄        █▀▀▄ ▀▀▀█
█ ▄▄            ▄▄▀        █  █   █
█  █              █        █  █  █
 ▀▀            ▀▀▀         ▀▀▀   ▀
playing Plain to the sound card"""


def test_a_small_window_as_a_picture(at):
    """In 40 columns and 12 lines: bar, beat, chord now and next, and all else in words."""
    shown = at(6, beat=1, time=3, times=8, chord="G", coming="D7", beats=3)
    picture = PICTURE.replace("A part", "B part")
    assert seen(shown, 39, 12) == picture.splitlines()


@pytest.mark.parametrize("size", WINDOWS)
def test_what_a_glance_looks_for_is_large(at, size):
    """Bar, chord now, chord next and the beats until it comes are in large signs; the beat that
    sounds is a block of its own."""
    shown = at(2, beat=1, time=3, times=8, chord="G", coming="D7", beats=5)
    lines = seen(shown, *size)
    assert scale_of_sign(lines, "2", 2)
    assert scale_of_sign(lines, "G", 2) == scale_of_sign(lines, "D7", 2) > 1
    assert scale_of_sign(lines, "5") >= 1
    text = "\n".join(lines)
    assert "in 5 beats" in text
    (marks,) = (line for line in lines if line.startswith("1 ─"))
    first, second = marks.split(" 2 ")
    assert "█" not in first
    assert set(second) == {"█"}


@pytest.mark.parametrize("size", WINDOWS)
def test_nothing_that_matters_is_cut_off(at, size):
    """From 60 columns on part, time, round, tempo, per cent, loop, marks, mutes, step,
    what for and how long are all there, in words or large."""
    more = {
        "chord": "G", "coming": "D7", "beats": 2, "marks": MarkedBars(first=1), "steps": 5,
        "purpose": "keep the wrist loose", "left": 80.0,
        "muted": frozenset({Role.MELODY, Role.CLICK}),
    }  # fmt: skip
    lines = seen(at(4, time=3, times=8, span=Bars(1, 2), **more), *size)
    text = "\n".join(lines)
    for said in (
        "time 2", "only bars 1-2", "from bar 1 to …", "without click and melody",
        "step 1 of 5, 1:20 left", "keep the wrist loose", "75 %",
    ):  # fmt: skip
        assert said in text
    assert "3/8 = 60" in text or ("tempo 3/8" in text and scale_of_sign(lines, "60"))
    assert "round 3 of 8" in text or scale_of_sign(lines, "3/8")
    assert "A part" in text or scale_of_sign(lines, "A")


def test_where_there_is_room_all_is_large(at):
    """In 200 columns and 60 lines tempo, part, round and step are large too, and bar and chords
    larger than in 80 and 24."""
    shown = at(1, time=3, times=8, chord="G", coming="D7", beats=2, steps=5)
    wide, usual = seen(shown, 199, 60), seen(shown, 79, 24)
    for text in ("60", "A", "3/8", "1/5"):
        assert scale_of_sign(wide, text) >= 2
    assert scale_of_sign(wide, "D7") > scale_of_sign(usual, "D7") >= 2


@pytest.mark.parametrize("size", WINDOWS)
def test_signs_stay_where_they_are_from_moment_to_moment(at, size):
    """From beat to beat, bar to bar and in a count-in nothing moves aside: the bar, the chords
    and the beats stand in the same lines, chords in the same columns."""
    moments = [
        at(1, time=3, times=8, chord="G", coming="D7", beats=2),
        at(2, beat=1, time=3, times=8, chord="D7", coming="G", beats=1),
        at(5, time=4, times=8, chord="G", coming="D7", beats=2),
        at(1, kind=Kind.COUNT_IN, times=8, coming="G", beats=3),
    ]
    found = [seen(each, *size) for each in moments]
    places_of_beats = {
        next(at for at, line in enumerate(lines) if line.startswith(("1 ─", "1 █")))
        for lines in found
    }
    assert len(places_of_beats) == 1
    assert len({line.index("in ") for lines in found for line in lines if "in 2 b" in line}) == 1
    scale = scale_of_sign(found[0], "D7", 2)
    later = {places(lines, "D7", scale)[0] for lines in (found[0], found[2])}
    assert len(later) == 1


@pytest.mark.parametrize("size", WINDOWS)
def test_stopped_it_still_says_where(at, size):
    """While it is stopped the bar where it goes on stays large, with part and tempo, and what it
    is; neither beat nor chord is there."""
    lines = seen(at(2, state=State.STOPPED, chord="G", coming="D7", beats=1), *size)
    text = "\n".join(lines)
    assert "stopped at bar" in text
    assert scale_of_sign(lines, "2", 2)
    assert scale_of_sign(lines, "stopped")
    assert "█ 2 ─" not in text
    assert "in 1 beat" not in text


def test_a_port_that_is_gone_is_said(at):
    """Without a port that stands in the place of the chords, and the bar where it goes on."""
    lines = seen(at(2, state=State.GONE), 79, 24)
    text = "\n".join(lines)
    assert "the port is gone: waiting for it to come back" in text
    assert scale_of_sign(lines, "no port")
    assert "then bar" in text


def test_a_long_purpose_of_a_step_takes_nothing_away(at):
    """Where what the step is for needs two lines, all the rest is still there."""
    more = {"steps": 2, "purpose": "the join of the bars 4 and 5 once more", "left": 80.0}
    for rows in range(11, 16):
        text = "\n".join(seen(at(1, chord="G", coming="D7", beats=1, **more), 39, rows))
        assert "1:20 left" in text
        assert drawn("D7", 1)[-1].rstrip() in text or "G → D7 in 1 beat" in text


def test_a_chord_that_cannot_be_drawn_large_stands_in_words(at):
    """A chord symbol that is too long, or of signs that there are none of, is written small."""
    lines = seen(at(1, chord="Gmaj7#11/F# x", coming="日本", beats=1), 59, 20)
    assert any("Gmaj7#11/F# x" in line and "日本" in line for line in lines)


def test_long_symbols_are_smaller_the_others_stay(at):
    """One long chord symbol does not make the others small."""
    long = at(1, chord="F#m7b5", coming="D7", beats=1)
    lines = seen(long, 79, 24, widest="F#m7b5")
    assert scale_of_sign(lines, "D7", 2) == 2
    assert scale_of_sign(lines, "F#m7b5") == 1
    assert widest_chord(["G", "F#m7b5", "日本", "Em"]) == "F#m7b5"
    assert widest_chord([]) == ""


def test_a_tune_without_chords_leaves_their_room_to_the_bar(at):
    """Where there are no chord symbols the bar is larger."""
    with_chords = seen(at(1, chord="G"), 99, 24)
    without = seen(at(1), 99, 24, widest="")
    assert scale_of_sign(without, "1") > scale_of_sign(with_chords, "1")


def test_a_bar_of_many_beats_says_which(at):
    """Where beats are too many to be marked side by side they are counted in words."""
    beat = at(1).beat._replace(place=24, beats=40)
    assert any(
        line == "beat 25 of 40" for line in seen(at(1, beat=beat)._replace(beat=beat), 79, 24)
    )


def test_what_was_told_stays_below(at):
    """The newest of what was told stands in the last lines, older as there is room."""
    lines = seen(at(1, chord="G"), 79, 24, told=(START, "a rest is due"))
    assert lines[-1] == "a rest is due"
    assert lines[-3].startswith("playing Plain")
    assert seen(at(1, chord="G"), 59, 17, told=(START, "rest"))[-1] == "rest"


def test_a_low_window_has_words_alone(at):
    """Where large signs have no room, what matters most comes first."""
    shown = at(6, beat=1, time=3, times=8, chord="G", coming="D7", beats=3, muted={Role.BASS})
    assert seen(shown, 79, 4, told=()) == [
        "B part, bar 3   beat 2 of 2",
        "G → D7 in 3 beats",
        "3/8 = 60 (75 %)   round 3 of 8   without bass",
    ]
    assert seen(shown, 12, 3, told=()) == ["B part, bar", "3", "beat 2 of 2"]


@given(
    columns=st.integers(0, 220), rows=st.integers(0, 70), place=st.integers(0, 7),
    chord=st.sampled_from(["", "G", "F#m7b5", "Bb/D", "日本", "x" * 90]),
    coming=st.sampled_from(["", "D7", "Am", "Gmaj7#11/F#"]), beats=st.integers(0, 40),
    state=st.sampled_from(list(State)), kind=st.sampled_from(list(Kind)), steps=st.integers(1, 12),
    times=st.sampled_from([0, 1, 8, 1000]), told=st.lists(st.sampled_from([START, "x" * 300, ""])),
    marks=st.sampled_from([MarkedBars(), MarkedBars(3), MarkedBars(None, 3)]), moving=st.booleans(),
)  # fmt: skip
def test_it_fits_into_every_window(at, columns, rows, told, steps, **moment):
    """Whatever the moment and the window, no line is too wide and there are not too many."""
    target = Target(Whole(), step=steps - 1)
    shown = at(**moment)._replace(target=target, steps=steps, purpose="what for " * 9)
    seen(shown, columns, rows, told=told, widest=moment["chord"] * (columns % 2))
