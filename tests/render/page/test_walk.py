"""What a page schedules is what `make` writes, event by event."""

from fractions import Fraction
from pathlib import Path
from random import Random
from typing import NamedTuple

import pytest

from backing.arranging.arrangement import Role
from backing.arranging.faces import StyleTurns
from backing.cli.practice_making import read_practice
from backing.files import load_style, read_tune
from backing.files.boxes import load_box
from backing.music.tempo import FeltBeats, Tempo
from backing.parse.abc import parse_abc
from backing.practice.asked import Asked
from backing.practice.backing import make_backing
from backing.practice.devices import rungs
from backing.practice.passages import Bars, Join, OneSection
from backing.practice.plan import Click, Close, Ears, Grow, LeadIn, Plan, Step
from backing.practice.practice import (
    Practice,
    change_between,
    in_a_set,
    performance_of_practice,
    practice_of,
)
from backing.render.page.music import PageChoice, music_data
from backing.render.presses import Seconds, key_presses, ticks

EXAMPLES, STYLES = (Path(__file__).parents[3] / name for name in ("examples", "styles"))
#: What is written may be so many seconds off.
NEAR = 0.001
#: Seconds from asking to the first click.
BREATH = 0.1

TUNES = {
    # a first ending that ends with the pickup, and a second that does not
    "endings": 'X:1\nT:Way\nM:4/4\nL:1/8\nK:G\n|:D2|"G"G2A2B2c2|"D"d4"G"B2A2|1"D"F6D2:|2"G"G6||'
    '\n|:e2|"C"e2d2c2B2|"D7"A2F2D2e2|"G"G6:|',
    # a pickup for which the last bar has no room, over a note that is held, and one that is not
    "long last": 'X:1\nT:Tail\nM:3/4\nL:1/4\nK:D\nA|"D"d2f|"A"e3|"G"B2d|"D"d3:|',
    "full last": 'X:1\nT:Full\nM:3/4\nL:1/8\nK:D\nAB|"D"d2f2a2|"A"e2d2c2|"D"d2f2ed:|',
    # cuts, a trill, a roll, fermatas, a tempo of its own in the middle
    "ornaments": 'X:1\nT:Leaf\nM:4/4\nL:1/8\nQ:1/4=100\nK:G\n{a}"G"g2Td4{c}B2|"C"~c3e {fg}f2He2|'
    '[Q:1/4=60]"D"TA4 {B}A2F2|"G"G8|]',
    # beats that are not alike, tuplets of five, seven and eleven, a metre that changes
    "uneven": 'X:1\nT:Odd\nM:7/8\nL:1/8\nK:Em\n"Em"e3 (5Bcdef e2|"D"d2 (7:4:7d/c/B/A/B/c/d/|'
    '[M:4/4]"Em"(11:8:11e/f/g/e/f/g/e/f/g/e/f/ B4|',
    "free": 'X:1\nT:Air\nM:none\nL:1/4\nK:Am\n"Am"A2 c e/d/ c|"G"B2 G|"Am"A4|]',
    "jumps": 'X:1\nT:Round\nM:6/8\nL:1/8\nR:jig\nK:D\n|:"D"d2f a2f|"A"e2c A3:|\n'
    '|:"G"B2d g2f|"A"e2c A2c!D.C.!|"D"d3 d3:|',
}


def own(name):
    return parse_abc(TUNES[name])


def example(name):
    return read_tune(EXAMPLES / f"{name}.abc", "").tune


def made(tune, *steps, style="alternating", box=""):
    """A practice of one tune."""
    styles = tuple(load_style(each) for each in style.split(", "))
    asked = Asked(Plan(steps), StyleTurns(styles), box=load_box(box) if box else None)
    return practice_of(make_backing(tune, asked))


def whole(name, *, style="alternating", box="", **step):
    return lambda: made(own(name), Step(**step), style=style, box=box)


def kettle(**step):
    return lambda: made(example("the-lock-keepers-kettle"), Step(**step), style="jig", box="D/G")


def a_set(change=False):
    tunes = [example("the-towpath-mare"), example("the-ice-boat-march"), own("endings")]
    practice = one_after_the_other(made(tune, Step(times=2)) for tune in tunes)
    steps = practice.plan.steps
    steps = change_between(*steps[:2], tuple(tunes[:2])) if change else in_a_set(steps)
    return practice._replace(plan=Plan(tuple(steps)))


def one_after_the_other(practices):
    """Practices of one tune as one."""
    backings = tuple(each.backings[0] for each in practices)
    steps = tuple(each.plan.steps[0]._replace(piece=at) for at, each in enumerate(backings))
    return Practice("set", backings, Plan(steps))


def all_of_a_style(name):
    """Its variants too; on a box and without, in four-time, three-time and six-eight."""
    pieces = [(name, "endings", ""), (name, "jumps", "D/G"), (name, "long last", "G/C")]
    pieces += [(f"{name}:{each.name}", "endings", "D/G") for each in load_style(name).variants]
    return one_after_the_other(
        made(own(tune), Step(times=3, count_in=1), style=style, box=box)
        for style, tune, box in pieces
    )


PRACTICE = """
practice = "Evening"
tune = "the-lock-keepers-kettle.abc"
box = "D/G"
[[step]]
for = "the hard bars, slowly"
bars = "5-6"
percent = "50..70"
step = 10
[[step]]
rest = 1
[[step]]
part = "B"
times = 2
mute = "melody"
style = "drone"
[[step]]
tune = "the-towpath-mare.abc"
percent = 80
once-to-yourself = true
"""


def practice_file(folder):
    path = folder / "evening.toml"
    path.write_text(PRACTICE, encoding="utf-8")
    for name in ("the-lock-keepers-kettle.abc", "the-towpath-mare.abc"):
        (folder / name).write_bytes((EXAMPLES / name).read_bytes())
    return read_practice(path).practice


HALF = Fraction(1, 2)
CASES = {
    "once": whole("endings"),
    "three times": whole("endings", times=3),
    "a pickup that takes the end of a held note": whole("long last", times=3),
    "a pickup that sounds once": whole("full last", times=3),
    "a pickup played whole each time": whole("full last", times=3, whole_pickup=True),
    "no count-in": whole("endings", count_in=0, times=2),
    "a count-in of three bars": whole("full last", count_in=3),
    "ornaments": whole("ornaments", times=2),
    "ornaments, very slowly": whole("ornaments", tempo=Fraction(3, 10)),
    "ornaments, quickly": whole("ornaments", tempo=Fraction(17, 10)),
    "ornaments on a box": whole("ornaments", box="G/C", tempo=Fraction(2, 5)),
    "uneven beats and tuplets": whole("uneven", times=2, tempo=Fraction(2, 3)),
    "free metre": whole("free", times=2),
    "jumps": whole("jumps", times=2, style="jig"),
    "bars of an order with jumps": whole("jumps", span=Bars(2, 4), times=3),
    "felt beats a minute": whole("endings", tempo=FeltBeats(Fraction(77, 2))),
    "a tempo of a named note": whole("endings", tempo=Tempo(Fraction(151), Fraction(1, 8))),
    "clicks subdivided by themselves": whole("endings", tempo=Fraction(3, 10), style="drone"),
    **{f"click {click}": whole("jumps", click=click, times=2, count_in=1) for click in Click},
    **{f"lead-in {way}": whole("endings", lead_in=way) for way in LeadIn},
    **{f"lead-in {way} in free metre": whole("free", lead_in=way) for way in LeadIn},
    **{f"close {close}": whole("endings", close=close, times=2) for close in Close},
    **{f"close {close} on one beat": whole("long last", close=close) for close in Close},
    **{
        f"style {path.stem}": lambda name=path.stem: all_of_a_style(name)
        for path in sorted(STYLES.glob("*.toml"))
    },
    "styles by turns": whole("endings", style="sustained, alternating, drone", times=4),
    "styles by turns in a part": whole(
        "endings", style="sustained, alternating", times=3, span=OneSection("A")
    ),
    "a part, its endings by turns": whole("endings", span=OneSection("A"), times=4),
    "the first ending": whole("endings", span=OneSection("A", 1), times=2),
    "a part without an ending": whole("endings", span=OneSection("B"), times=2, gap=1),
    "bars": kettle(span=Bars(5, 6), times=8, muted=frozenset({Role.MELODY})),
    "one bar": kettle(span=Bars(7, 7), times=4),
    "bars with their edges": kettle(span=Bars(5, 6), times=3, edges=True),
    "the last bars with their edges": kettle(span=Bars(15, 16), times=3, edges=True),
    "a join of two parts": kettle(span=Join("A", "B"), times=2),
    "a join of a part with itself": whole("endings", span=Join("A", "A", 1), times=2),
    "echo": kettle(span=Bars(1, 2), times=3, echo=True),
    "echo and gap": kettle(span=Bars(1, 2), times=2, echo=True, gap=2),
    "a gap before a pickup": whole("endings", times=2, gap=1),
    "muted one by one": whole("endings", muted=frozenset({Role.BASS, Role.CLICK})),
    "all muted": whole("endings", muted=frozenset(Role)),
    "a ladder": kettle(
        span=Bars(5, 6), times=None, every=2,
        ladder=rungs(HALF, Fraction(1), Fraction(1, 8), beyond=Fraction(1, 10), down=True),
    ),
    "a ladder with ornaments": whole("ornaments", times=None, ladder=(HALF, Fraction(33, 40))),
    **{
        f"a loop that grows, {grow}": kettle(span=Bars(6, 6), times=None, grow=grow)
        for grow in (Grow.BAR, Grow.PHRASE)
    },
    "a part with endings that grows backwards": whole(
        "endings", span=OneSection("A"), times=None, grow=Grow.BACKWARDS
    ),
    "bars of an ending": whole("endings", span=Bars(2, 4, 1), times=2),
    "a loop that grows with its ending": whole(
        "endings", span=Bars(2, 2), times=None, grow=Grow.BAR
    ),
    "a join over a pickup": whole("endings", span=Join("A", "B", 1), times=2),
    "a part that grows backwards": kettle(
        span=OneSection("A"), times=None, grow=Grow.BACKWARDS, every=2
    ),
    "less help": kettle(span=Bars(3, 4), times=None, less_help=True),
    "the left hand by stages": kettle(span=Bars(3, 4), times=7, hands=True, every=2),
    "ears": kettle(span=Bars(3, 4), ears=Ears.LEFT),
    "steps one after the other": lambda: made(
        own("endings"), Step(OneSection("A"), times=2), Step(Bars(2, 3), count_in=0, goes_on=True),
        Step(tempo=Fraction(4, 5)),
    ),
    "a set": a_set,
    "the changes of a set": lambda: a_set(change=True),
    **{
        path.stem: lambda path=path: made(read_tune(path, "").tune, Step(times=2), box="G/C")
        for path in sorted(EXAMPLES.glob("*.abc"))
        if path.stem != "canal-book"
    },
}  # fmt: skip


def music_of(practice):
    """What a page has of a practice; rests are left out, as in a file."""
    steps = tuple(step for step in practice.plan.steps if not step.rest)
    return music_data(practice.title, [PageChoice("", "", practice.backings)], Plan(steps))


def written(practice):
    """Every key that sounds in a file, with its seconds from the start."""
    performance = performance_of_practice(practice)
    seconds = Seconds(performance.tempos, performance.start)
    zero = seconds.at(ticks(performance.start))
    return sorted(
        (str(track.role), press.key, seconds.at(press.onset) - zero,
         seconds.at(press.stop) - zero, press.velocity)
        for track in performance.tracks
        if not track.muted
        for press in key_presses(track.events)
    )  # fmt: skip


def differing(found, wanted):
    """Keys that are not the same, or not at the same time."""
    same_count = len(found) == len(wanted)
    return [
        (one, other)
        for one, other in zip(found, wanted, strict=False)
        if one[:2] != other[:2]
        or one[4] != other[4]
        or abs(one[2] - other[2]) > NEAR
        or abs(one[3] - other[3]) > NEAR
    ] or ([] if same_count else [(len(found), len(wanted))])


PRACTICE_FILE_CASE, LESSON_CASE = "a practice file", "a lesson from the examples"
#: Long ones, and those of which others say nearly the same.
SLOW = frozenset(
    {path.stem for path in EXAMPLES.glob("*.abc")}
    | {"a set", "the changes of a set", "a ladder", "less help"}
    | {name for name in CASES if name.startswith(("style ", "click ", "a loop that grows"))}
) - {"the-winding-hole", "style sustained", "click by-turns"}
QUICK_NAMES = [name for name in CASES if name not in SLOW]
SLOW_NAMES = [*(name for name in CASES if name in SLOW), PRACTICE_FILE_CASE, LESSON_CASE]


class Played(NamedTuple):
    """A practice, and what the page's player says of it."""

    practice: Practice
    said: dict


def practices(names, folder):
    made = {
        **CASES,
        PRACTICE_FILE_CASE: lambda: practice_file(folder),
        LESSON_CASE: lambda: read_practice(EXAMPLES / "a-lesson-on-the-kettle.toml").practice,
    }
    return {name: made[name]() for name in names}


def played(node, names, folder, asked):
    """What the page's player schedules in each case, all in one run of Node."""
    found = practices(names, folder)
    values = [{"music": music_of(practice), "asked": asked()} for practice in found.values()]
    said = node("play.mjs", values)
    return {name: Played(*each) for name, *each in zip(found, found.values(), said, strict=True)}


def check(case):
    wanted = written(case.practice)
    assert wanted
    found = sorted(
        (role, key, start - BREATH, stop - BREATH, velocity)
        for role, key, start, stop, velocity in case.said["pressed"]
    )
    assert differing(found, wanted) == []
    assert (case.said["faults"], case.said["late"]) == ([], 0)


@pytest.fixture(scope="module")
def quick_cases(node, tmp_path_factory):
    return played(node, QUICK_NAMES, tmp_path_factory.mktemp("quick"), list)


@pytest.fixture(scope="module")
def slow_cases(node, tmp_path_factory):
    return played(node, SLOW_NAMES, tmp_path_factory.mktemp("slow"), list)


@pytest.fixture(scope="module")
def disturbed(node, tmp_path_factory):
    """All of them, while what is scheduled is taken back and made anew at odd moments."""
    chance = Random(5)
    folder = tmp_path_factory.mktemp("disturbed")
    return played(
        node,
        [*QUICK_NAMES, *SLOW_NAMES],
        folder,
        lambda: sorted([chance.uniform(0.2, 40), "nudge"] for _ in range(25)),
    )


@pytest.mark.parametrize("name", QUICK_NAMES)
def test_a_page_plays_what_make_writes(name, quick_cases):
    """Every key of every track, its velocity, and when it goes down and up, to a millisecond."""
    check(quick_cases[name])


@pytest.mark.slow
@pytest.mark.parametrize("name", SLOW_NAMES)
def test_a_page_plays_what_make_writes_for_long(name, slow_cases):
    """The same for whole tunes, sets, practice files."""
    check(slow_cases[name])


@pytest.mark.slow
@pytest.mark.parametrize("name", [*QUICK_NAMES, *SLOW_NAMES])
def test_nothing_is_lost_where_it_is_scheduled_anew(name, disturbed):
    """A player who asks for the tempo that there is hears nothing of it."""
    check(disturbed[name])


@pytest.fixture(scope="module")
def all_practices(tmp_path_factory):
    return practices([*QUICK_NAMES, *SLOW_NAMES], tmp_path_factory.mktemp("all"))


@pytest.fixture
def browsers_case(request, modules_tab, all_practices):
    """One of them in a browser, played when it is asked for."""
    practice = all_practices[request.param]
    value = {"music": music_of(practice), "asked": []}
    return Played(practice, modules_tab.evaluate("value => $playing.play(value)", value))


@pytest.mark.slow
@pytest.mark.parametrize("browsers_case", [*QUICK_NAMES, *SLOW_NAMES], indirect=True)
def test_a_page_plays_what_make_writes_in_every_engine(browsers_case):
    """The same in Chromium, Firefox and WebKitGTK: their numbers, sorting and language."""
    check(browsers_case)
