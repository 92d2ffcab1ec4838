"""A loop without a seam: what sounds in it is what sounds in the middle of many times through."""

from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import PlacedTempo, Role
from backing.errors import PracticeError
from backing.files import load_style, read_tune
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection, Whole, endings_of
from backing.practice.performance import perform, perform_seamless
from backing.practice.plan import MOST_TIMES, Plan, Step
from backing.render.presses import Seconds, ticks

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
HEAD = "X:1\nT:Seam\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\n"
ONCE = "bar 2 and the pickup are longer than one bar: the pickup sounds once, at the start"
WHOLE = "bar 2 and the pickup are longer than one bar: the pickup is played whole between them"
TAKES = "bar 2 and the pickup are longer than one bar: the pickup takes the end of the last note"
#: A note that is held out of its bar, ornaments, a change of tempo.
CHANGING = (
    'D|"G"GABc|d2-d{e}d|[Q:1/4=80]"C"c2 e2|"D"d3:|\n'
    '|:(3D/E/F/|"Em"G2 !fermata!B2|"D7"A2 F2|"G"G4|1 "D"d3 (3D/E/F/:|2 "G"G4|]'
)


@cache
def arranged(name, style):
    """A tune of the examples (or the one whose tempo changes) and its arrangement."""
    tune = read_tune(EXAMPLES / f"{name}.abc", "").tune if name else parse_abc(HEAD + CHANGING)
    return arrange(tune, load_style(style)), tune


def spans_of(tune):
    """The whole, each section with its last ending, one bar in the middle, two across it."""
    middle = max(bar.number for bar in tune.bars) // 2
    sections = [
        OneSection(section.name, max(endings_of(tune, section.name), default=None))
        for section in tune.sections
    ]
    return [Whole(), *sections, Bars(middle, middle), Bars(middle, middle + 1)]


def seamless(music, style="alternating", **step):
    """The seamless loop of a few bars of ABC."""
    tune = parse_abc(HEAD + music)
    return perform_seamless(arrange(tune, load_style(style)), Step(**step), tune)


def melody(performance):
    """ "onset+length" of each melody event."""
    return " ".join(f"{e.onset}+{e.length}" for e in performance.track(Role.MELODY).events)


def middle_of(arrangement, tune, span):
    """A span three times through, and from where to where its second time lies."""
    performance = perform(arrangement, Plan((Step(span, times=3, count_in=0),)), tune)
    second, third = (
        next(t.onset for t in performance.markers if t.text == f"time through {time} of 3")
        for time in (2, 3)
    )
    return performance, second, third


def moved(performance, start, stop):
    """All that begins in a span, from its start, by tracks."""
    return [
        [
            (e.onset - start, e.length, e.pitches, e.velocity, e.origin)
            for e in track.events
            if start <= e.onset < stop
        ]
        for track in performance.tracks
    ]


def bars_of(performance, start, stop):
    """The bars of a span: onset from its start, length, number."""
    return [
        (bar.onset - start, bar.length, bar.number)
        for bar in performance.bars
        if start <= bar.onset < stop
    ]


NAMES = ["", *sorted(path.stem for path in EXAMPLES.glob("*.abc") if "book" not in path.stem)]


@pytest.mark.slow
@pytest.mark.parametrize("style", ["alternating", "sustained"])
@pytest.mark.parametrize("name", NAMES)
def test_a_loop_is_the_middle_of_many_times(name, style):
    """Length, events of every track, bars and seconds of a loop are those of the second of
    three times through, for each whole tune, section and pair of bars."""
    arrangement, tune = arranged(name, style)
    for span in spans_of(tune):
        loop = perform_seamless(arrangement, Step(span), tune)
        many, second, third = middle_of(arrangement, tune, span)
        assert loop.stop - loop.start == third - second
        assert moved(loop, loop.start, loop.stop) == moved(many, second, third)
        assert bars_of(loop, loop.start, loop.stop) == bars_of(many, second, third)
        seconds = Seconds(many.tempos, many.start)
        lasted = seconds.at(ticks(third)) - seconds.at(ticks(second))
        assert loop.seconds == pytest.approx(lasted, abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("times", [2, 5])
def test_so_many_times_are_so_many_loops(name, times):
    """A loop of n times lasts n times as long as one, and each of them sounds alike."""
    arrangement, tune = arranged(name, "alternating")
    for span in spans_of(tune):
        one = perform_seamless(arrangement, Step(span), tune)
        more = perform_seamless(arrangement, Step(span, times=times), tune)
        length = one.stop - one.start
        assert more.start == one.start
        assert more.stop - more.start == length * times
        for time in range(times):
            start = more.start + length * time
            assert moved(more, start, start + length) == moved(one, one.start, one.stop)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_bars_fill_a_loop_and_hold_everything(name):
    """The bars of a loop lie end to end from its start to its stop, and all that sounds begins
    inside."""
    arrangement, tune = arranged(name, "sustained")
    for span in spans_of(tune):
        loop = perform_seamless(arrangement, Step(span, count_in=2), tune)
        at = loop.start
        for bar in loop.bars:
            assert (bar.onset, bar.index >= 0) == (at, True)
            at = bar.stop
        assert at == loop.stop
        onsets = [event.onset for track in loop.tracks for event in track.events]
        assert loop.start <= min(onsets) <= max(onsets) < loop.stop


SEAMS = {
    "a pickup that fits sounds at the end": (
        'D|"G"GABc|d3|]', (), "0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4 7/4+1/4", 0, 2,
    ),
    "a pickup takes the end of a held note": (
        'D|"G"GABc|d4|]', (TAKES,), "0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4 7/4+1/4", 0, 2,
    ),
    "a pickup that does not fit is left out": (
        'D|"G"G4|ABAG|]', (ONCE,), "0+1 1+1/4 5/4+1/4 3/2+1/4 7/4+1/4", 0, 2,
    ),
    "where first-time bars end with the pickup it sounds once": (
        '|:D|"G"GABc|1 d3D:|2 d4|]', (), "0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4 7/4+1/4", 0, 2,
    ),
    "a short last bar without a pickup is filled up": (
        '"G"GABc|d3|]', (), "0+1/4 1/4+1/4 1/2+1/4 3/4+1/4 1+3/4", 0, 2,
    ),
    "no pickup": ('"G"G4|A4|]', (), "0+1 1+1", 0, 2),
}  # fmt: skip


@pytest.mark.parametrize(
    ("music", "notices", "expected", "start", "stop"), SEAMS.values(), ids=SEAMS.keys()
)
def test_the_pickup_of_a_loop(music, notices, expected, start, stop):
    """A loop begins on its first full bar, its pickup at its end where that has room; what is
    done to make room is said (common practice, no source)."""
    span = OneSection("A") if "1 " in music else Whole()
    loop = seamless(music, span=span)
    assert melody(loop) == expected
    assert (loop.start, loop.stop) == (start, stop)
    assert loop.notices == notices


def test_a_whole_pickup_begins_the_loop():
    """Asked for whole, a pickup that does not fit begins the loop, in a bar of its own."""
    loop = seamless('D|"G"G4|ABAG|]', whole_pickup=True)
    assert melody(loop) == "-1/4+1/4 0+1 1+1/4 5/4+1/4 3/2+1/4 7/4+1/4"
    assert (loop.start, loop.stop) == (Fraction(-1, 4), 2)
    assert loop.notices == (WHOLE,)


@pytest.mark.parametrize("role", [Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK])
def test_muting_a_loop_marks_one_track(role):
    """A muted track keeps its events and is marked; nothing else changes."""
    arrangement, tune = arranged("the-lamplighters-round", "waltz")
    plain = perform_seamless(arrangement, Step(), tune)
    muted = perform_seamless(arrangement, Step(muted=frozenset({role})), tune)
    assert [track.role for track in muted.tracks if track.muted] == [role]
    assert [track.events for track in muted.tracks] == [track.events for track in plain.tracks]
    assert (muted.bars, muted.tempos, muted.chords) == (plain.bars, plain.tempos, plain.chords)


def test_the_tempi_of_a_loop():
    """A loop has the tempo in force at its start and each change after it, also where the
    start lies after the change."""
    arrangement, tune = arranged("", "alternating")
    fast, slow = (Tempo(Fraction(beats), Fraction(1, 4)) for beats in (120, 80))

    def tempi(span, factor=Fraction(1)):
        return perform_seamless(arrangement, Step(span, factor), tune).tempos

    half = Fraction(1, 2)
    assert tempi(Bars(1, 4)) == (PlacedTempo(Fraction(0), fast), PlacedTempo(Fraction(2), slow))
    assert tempi(Bars(3, 4)) == (PlacedTempo(Fraction(0), slow),)
    assert tempi(Bars(1, 4), half)[1] == PlacedTempo(Fraction(2), slow.scaled(half))


def test_the_tempo_of_a_pickup_is_left_behind():
    """Where the first full bar has another tempo than the pickup, a loop has that one
    throughout, for so it sounds from the second time on."""
    loop = seamless('D|[Q:1/4=80]"G"GABc|d3|]')
    assert loop.tempos == (PlacedTempo(Fraction(0), Tempo(Fraction(80), Fraction(1, 4))),)
    assert loop.seconds == 8 * 60 / 80


@pytest.mark.parametrize("more", [{"echo": True}, {"gap": 1}, {"echo": True, "gap": 2}])
def test_a_loop_with_echoes_and_gaps(more):
    """An echo and a gap after each time belong to the loop, as they do in the middle of many
    times."""
    music = 'D|"G"GABc|d3|]'
    tune = parse_abc(HEAD + music)
    arrangement = arrange(tune, load_style("alternating"))
    loop = seamless(music, **more)
    many = perform(arrangement, Plan((Step(times=3, count_in=0, **more),)), tune)
    length = (2 + more.get("gap", 0)) * (2 if more.get("echo") else 1)
    assert (loop.start, loop.stop) == (0, length)
    assert moved(loop, 0, length) == moved(many, length, 2 * length)


def test_the_markers_of_a_loop():
    """The markers name the times through that there are, and no count-in and no end."""
    texts = [t.text for t in seamless('"G"GABc|d4|]', times=2, count_in=1).markers]
    assert [text for text in texts if text.startswith("time")] == [
        "time through 1 of 2", "time through 2 of 2",
    ]  # fmt: skip
    assert "end" not in texts
    assert "count-in" not in texts


@pytest.mark.parametrize("style", ["sustained", "drone"])
def test_a_held_chord_begins_a_loop(style):
    """Held bass and chords are struck on the loop's start and last to its stop."""
    loop = seamless('"G"GABc|d4|]', style)
    for role in (Role.BASS, Role.CHORDS):
        assert [(e.onset, e.stop) for e in loop.track(role).events] == [(0, 2)]


@pytest.mark.parametrize(
    ("times", "message", "hint"),
    [
        (MOST_TIMES, "1000 times in a loop", "once will do: a loop has no end"),
        (MOST_TIMES + 1, "1001 times", "give 1 to 1000"),
        (0, "0 times", "give 1 to 1000"),
        (-1, "-1 times", "give 1 to 1000"),
    ],
)
def test_times_that_no_loop_has(times, message, hint):
    """Times through that cannot be played are refused by their own number."""
    with pytest.raises(PracticeError) as refused:
        seamless('"G"G4|]', times=times)
    assert (refused.value.message, refused.value.hint) == (message, hint)
