"""Laws of the ways to practise: ladder, echo, gaps, growing loops, joins, less help, edges, and all
of them together."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.errors import PracticeError
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.devices import laps_of, rungs, with_times
from backing.practice.passages import Bars, Join, OneSection, Whole, find_bars
from backing.practice.performance import perform
from backing.practice.plan import Ears, Grow, Plan, Step
from backing.practice.route import route
from backing.practice.stretch import Kind

TRIES = settings(max_examples=60, deadline=None)
TEXTS = {
    "pickups": 'M:6/8\nL:1/8\nQ:3/8=100\nK:D\n|:A|"D"dfd AFA|"G"BGB "D"A2F|"A"ecA "D"d2:|\n'
    '|:g|"D"a2b afd|"G"g2a "Em"gfe|"A"cde "D"d2:|\n',
    "endings": 'M:2/4\nL:1/8\nQ:1/4=100\nK:D\n|:A|"D"d2 fd|"G"gf "A"e2|1 "D"d2 d:|2 "D"d2 d2||\n'
    '|:"Em"e2 ge|"A"c2 e2|"D"d2 BA|1 "A"c2 e2:|2 "D"d4|]\n',
    "plain": 'M:3/4\nL:1/4\nQ:1/4=120\nK:G\n|:"G"G2B|"D"A2F|"C"E2G|"G"G3:|\n',
    "long": 'M:4/4\nL:1/4\nQ:1/2=80\nK:G\n|:"G"GBdB|"C"cegc|"G"BdBG|"D"AFDF|"G"GBdB|'
    '"C"cegc|"D"d2F2|"G"G4:|\n|:"Em"e2B2|"C"c4|"D"d2A2|"G"B4|"Em"e2B2|"C"c4|"D"dcAF|"G"G4:|\n',
    "changing": 'M:4/4\nL:1/4\nQ:1/4=90\nK:G\n"G"GABc|[Q:1/4=120]"D"d2 A2|"C"e2 !fermata!g2|'
    '"G"G4|\n',
}  # fmt: skip
TUNES = {name: parse_abc(f"X:1\nT:{name}\n{text}") for name, text in TEXTS.items()}
ARRANGED = {name: arrange(tune, load_style("sustained")) for name, tune in TUNES.items()}
names = st.sampled_from(sorted(TUNES))


@st.composite
def ways(draw, tune, **fixed):
    """A step with any of the ways to practise."""
    last = max(bar.number for bar in tune.bars)
    first = draw(st.integers(1, last))
    sections = [section.name for section in tune.sections]
    joins = [Join(sections[0], name, draw(st.integers(1, 2))) for name in sections]
    bars = Bars(first, draw(st.integers(first, last)))
    span = draw(st.sampled_from([bars, bars, Whole(), *map(OneSection, sections), *joins]))
    grow = draw(st.sampled_from([None, None, *Grow]))
    tops = st.sampled_from([Fraction(6, 10), Fraction(7, 10), Fraction(4, 10)])
    ladder = rungs(
        Fraction(1, 2), draw(tops), Fraction(1, 10),
        beyond=draw(st.sampled_from([Fraction(0), Fraction(1, 20)])), down=draw(st.booleans()),
    )  # fmt: skip
    step = Step(
        span=span,
        tempo=draw(st.sampled_from([Fraction(1), Fraction(3, 5)])),
        ladder=draw(st.sampled_from([(), ladder])),
        count_in=draw(st.sampled_from([None, 0, 1])),
        echo=draw(st.booleans()),
        gap=draw(st.integers(0, 2)),
        every=draw(st.integers(1, 2)),
        grow=grow,
        less_help=draw(st.booleans()),
        hands=draw(st.booleans()),
        edges=draw(st.booleans()) and isinstance(span, Bars),
        ears=draw(st.sampled_from([None, *Ears])),
    )._replace(**fixed)
    try:
        return with_times(Plan((step,)), (tune,)).steps[0]
    except PracticeError:
        assume(False)
        raise


def walked(name, *steps):
    """The stretches of some steps."""
    return list(route(ARRANGED[name], Plan(steps), TUNES[name]))


def plays(stretches):
    """The times through."""
    return [stretch for stretch in stretches if stretch.kind is Kind.PLAY]


def seconds_in(performance, start, stop):
    """Seconds from one position to another, by the performance's tempi."""
    ends = [*(placed.onset for placed in performance.tempos[1:]), performance.stop]
    total = Fraction(0)
    for placed, end in zip(performance.tempos, ends, strict=True):
        within = min(end, stop) - max(placed.onset, start)
        total += 60 * max(within, Fraction(0)) / placed.tempo.wholes
    return total


# -- ladders -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bars", "metre", "tempo", "full"),
    [
        (8, "4/4", "1/4=120", Fraction(16)), (8, "4/4", "1/4=60", Fraction(32)),
        (8, "6/8", "3/8=120", Fraction(8)), (8, "6/8", "3/8=80", Fraction(12)),
        (16, "6/8", "3/8=60", Fraction(32)), (8, "9/8", "3/8=90", Fraction(16)),
        (8, "3/4", "1/4=100", Fraction(72, 5)), (8, "2/4", "1/4=90", Fraction(32, 3)),
        (8, "2/2", "1/2=80", Fraction(12)), (8, "7/8", "1/8=210", Fraction(16)),
        (32, "4/4", "1/2=100", Fraction(192, 5)), (1, "12/8", "3/8=100", Fraction(12, 5)),
    ],
)  # fmt: skip
def test_seconds_of_a_ladder(bars, metre, tempo, full):
    """Seconds are bars times the bar's length by the beat's, times 60 by beats a minute, and at p
    per cent 100 / p times as many: a ladder lasts the sum of that (by the definition of a tempo,
    ABC 2.1 clause 3.1.8)."""
    length = Fraction(metre)
    note = f"G{int(length * 8)}|"
    tune = parse_abc(f"X:1\nT:t\nM:{metre}\nL:1/8\nQ:{tempo}\nK:G\n{note * bars}\n")
    arrangement = arrange(tune, load_style("sustained"))
    ladder = rungs(Fraction(1, 2), Fraction(1), Fraction(1, 4), beyond=Fraction(1, 4), down=True)
    step = with_times(Plan((Step(ladder=ladder, count_in=0),)), (tune,)).steps[0]
    performance = perform(arrangement, Plan((step,)), tune)
    assert [int(100 * rung) for rung in ladder] == [50, 75, 100, 125, 100, 75, 50]
    assert performance.seconds == pytest.approx(float(sum(full / rung for rung in ladder)))


@pytest.mark.slow
@TRIES
@given(names, st.data())
def test_a_ladder_lasts_as_long_as_its_rounds(name, data):
    """Each round lasts as long as at its tempo alone; the change of tempo falls on the seam."""
    step = data.draw(
        ways(TUNES[name], grow=None, edges=False, gap=0, echo=False, count_in=0,
             span=Bars(1, 3), ladder=rungs(Fraction(1, 2), Fraction(3, 4), Fraction(1, 10)))
    )  # fmt: skip
    found = plays(walked(name, step))
    performance = perform(ARRANGED[name], Plan((step,)), TUNES[name])
    laps = laps_of(step, TUNES[name])
    for stretch in found:
        alone = step._replace(ladder=(), tempo=laps.at(stretch.time).tempo, times=2)
        alone = with_times(Plan((alone._replace(less_help=False, hands=False),)), (TUNES[name],))
        one, two = plays(list(route(ARRANGED[name], alone, TUNES[name])))
        whole = perform(ARRANGED[name], alone, TUNES[name])
        each = seconds_in(whole, two.start, two.stop)
        if len(stretch.frame) == len(two.frame):
            assert seconds_in(performance, stretch.start, stretch.stop) == each
        else:
            assert seconds_in(performance, stretch.start, stretch.stop) == seconds_in(
                whole, one.start, one.stop
            )
    for before, after in pairwise(found):
        assert before.stop == after.start
        if before.factor != after.factor:
            assert after.start in [placed.onset for placed in performance.tempos]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ((50, 100, 10, 0, False), [50, 60, 70, 80, 90, 100]),
        ((50, 72, 10, 0, False), [50, 60, 70, 72]),
        ((80, 100, 10, 5, False), [80, 90, 100, 105, 100]),
        ((80, 100, 10, 0, True), [80, 90, 100, 90, 80]),
        ((80, 100, 10, 5, True), [80, 90, 100, 105, 100, 90, 80]),
        ((100, 80, 10, 0, False), [100, 90, 80]),
        ((100, 80, 10, 5, False), [100, 90, 80, 75, 80]),
        ((50, 60, 40, 0, False), [50, 60]),
    ],
)
def test_the_tempi_of_a_ladder(words, expected):
    """Both ends are played, whatever the step; an overshoot comes back; it goes down as it came
    up, and may go down first."""
    first, last, by, beyond, down = words
    found = rungs(
        Fraction(first, 100), Fraction(last, 100), Fraction(by, 100),
        beyond=Fraction(beyond, 100), down=down,
    )  # fmt: skip
    assert [int(100 * rung) for rung in found] == expected


# -- echoes, gaps, less help ---------------------------------------------------------------


@pytest.mark.slow
@TRIES
@given(names, st.data())
def test_an_echo_mutes_only_the_melody(name, data):
    """An echo has the bars, tempo, bass, chords of the time before it, and no melody."""
    step = data.draw(ways(TUNES[name], echo=True, edges=False))
    found = walked(name, step)
    rounds = [stretch for stretch in found if stretch.in_tune]
    for play, echo in zip(rounds[::2], rounds[1::2], strict=True):
        assert (play.kind, echo.kind) == (Kind.PLAY, Kind.ECHO)
        assert echo.muted == play.muted | {Role.MELODY}
        assert (echo.factor, echo.span, echo.time) == (play.factor, play.span, play.time)
        assert [bar.index for bar in play.frame if not bar.begins] == [
            bar.index for bar in echo.frame if not bar.begins
        ]
        if not isinstance(step.span, Bars | Join):
            continue  # the last time has the style's stop
        apart = echo.stop - play.stop
        for track in (1, 2):
            one, other = play.events(track), echo.events(track)
            assert [(e.onset + apart, e.pitches) for e in one if e.onset + apart >= echo.start] == [
                (e.onset, e.pitches) for e in other if e.onset >= echo.start
            ]


@pytest.mark.slow
@TRIES
@given(names, st.data())
def test_gaps_last_whole_bars(name, data):
    """Between any two times there are so many full bars, and after the last none."""
    step = data.draw(ways(TUNES[name], gap=2))
    found = [stretch for stretch in walked(name, step) if stretch.kind is not Kind.COUNT_IN]
    assert [stretch.kind is Kind.GAP for stretch in found] == [
        place % 2 == 1 for place in range(len(found))
    ]
    assert found[-1].kind is not Kind.GAP
    for gap in found[1::2]:
        assert [bar.length for bar in gap.frame] == [gap.frame[0].metre.length] * 2
        assert gap.sounding is None


def test_less_help_leaves_one_after_the_other():
    """Melody, then chords, then click leave; the bass stays."""
    step = Step(Bars(1, 1), less_help=True, every=2)
    laps = laps_of(step, TUNES["plain"])
    gone = [sorted(laps.at(time).muted) for time in range(1, 10)]
    melody, chords, click = Role.MELODY, Role.CHORDS, Role.CLICK
    assert gone == [
        [], [], [melody], [melody], sorted([melody, chords]), sorted([melody, chords]),
        *[sorted([melody, chords, click])] * 3,
    ]  # fmt: skip
    assert laps.rounds == 8


# -- growing loops -------------------------------------------------------------------------


@given(names, st.data(), st.sampled_from(Grow))
def test_a_growing_loop_holds_what_came_before(name, data, grow):
    """Each span of a growing loop holds the one before it and more; the last is the whole: the
    parts of its bars, or, from its end, the span itself; no bars of two endings by turns."""
    tune = TUNES[name]
    step = data.draw(ways(tune, grow=grow, less_help=False, hands=False, ladder=()))
    spans = laps_of(step, tune).spans
    held = [find_bars(tune, span) for span in spans]
    for before, after in pairwise(held):
        assert set(before) < set(after)
    asked = find_bars(tune, step.span)
    if grow is Grow.BACKWARDS:
        assert held[-1] == asked
        assert all(indices[-1] == asked[-1] for indices in held)
    else:
        parts = {tune.bars[index].section for index in asked}
        full = [n for n, bar in enumerate(tune.bars) if bar.section in parts and not bar.begins]
        assert held[-1][0] <= full[0] or len(held) == 1
        last = tune.bars[held[-1][-1]]
        assert last.number >= max(tune.bars[index].number for index in asked)
    mixed = {n for i in asked if (mark := tune.bars[i].ending) for n in mark.numbers}
    if len(mixed) < 2:
        for indices in held[:-1] if isinstance(step.span, Whole) else held:
            for part in {tune.bars[index].section for index in indices}:
                endings = [
                    set(mark.numbers)
                    for i in indices
                    if tune.bars[i].section == part and (mark := tune.bars[i].ending)
                ]
                assert not endings or set.intersection(*endings)


@pytest.mark.parametrize(
    ("name", "span", "grow", "expected"),
    [
        ("long", Bars(6, 6), Grow.BAR, ["6", "5-7", "4-8", "3-8", "2-8", "1-8"]),
        ("long", Bars(6, 6), Grow.PHRASE, ["6", "5-8", "1-8"]),
        ("long", Bars(3, 6), Grow.PHRASE, ["3-6", "1-8"]),
        ("long", OneSection("B"), Grow.BACKWARDS, ["13-16", "all"]),
        ("long", Whole(), Grow.BACKWARDS, ["13-16", "9-16", "5-16", "all"]),
        ("long", Bars(1, 4), Grow.BACKWARDS, ["4", "3-4", "2-4", "1-4"]),
        ("endings", Bars(2, 2), Grow.BAR, ["2", "1-4 (2)"]),
        ("endings", Bars(3, 3), Grow.BAR, ["3", "2-3 (1)", "1-3 (1)"]),
        ("endings", OneSection("B"), Grow.BACKWARDS, ["9 (2)", "7-9 (2)", "6-9 (2)", "all"]),
    ],
)
def test_how_a_loop_grows(name, span, grow, expected):
    """By a bar on each side to the part's ends; by phrases of four bars; from the end on."""
    spans = laps_of(Step(span, grow=grow), TUNES[name]).spans

    def words(found):
        if not isinstance(found, Bars):
            return "all"
        bars = f"{found.first}-{found.last}" if found.last > found.first else f"{found.first}"
        return f"{bars} ({found.ending})" if found.ending else bars

    assert list(map(words, spans)) == expected


# -- all of them ----------------------------------------------------------------------------


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(names, st.data())
def test_every_round_has_the_bars_of_a_plain_loop(name, data):
    """Whatever else changes, the bars of each time through are those of its span played alone, and
    stretches lie end to end."""
    step = data.draw(ways(TUNES[name]))
    found = walked(name, step)
    laps = laps_of(step, TUNES[name])
    for before, after in pairwise(found):
        assert before.stop == after.start
    for stretch in plays(found):
        span = laps.at(stretch.time).span
        assert stretch.span == span
        if isinstance(span, OneSection):
            continue  # its endings come by turns
        alone = Step(span, count_in=1, edges=step.edges and isinstance(span, Bars))
        plain = plays(walked(name, alone))[0]
        assert [bar.index for bar in stretch.frame if not bar.begins] == [
            bar.index for bar in plain.frame if not bar.begins
        ]
    assert len(plays(found)) == step.times == laps.rounds


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(names, st.data())
def test_route_course_and_performance_agree(name, data):
    """A course taken stretch by stretch is the route, and a performance has its bars, tempi and
    what sounds of each track, no more and no less."""
    tune, arrangement = TUNES[name], ARRANGED[name]
    plan = Plan(tuple(data.draw(st.lists(ways(tune), min_size=1, max_size=3))))
    course = Course(arrangement, tune, plan)
    stretches = list(iter(course.next, None))
    assert stretches == list(route(arrangement, plan, tune))
    performance = perform(arrangement, plan, tune)
    assert list(performance.bars) == [bar for s in stretches for bar in s.frame]
    for place, track in enumerate(performance.tracks[:3]):
        if track.muted:
            continue
        sounding = [s for s in stretches if s.sounding and track.role not in s.muted]
        assert list(track.events) == [event for s in sounding for event in s.events(place)]
    total = sum(seconds_in(performance, s.start, s.stop) for s in stretches)
    assert performance.seconds == pytest.approx(float(total))
