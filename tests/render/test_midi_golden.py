"""Small practices as text, one line an event: tick, track, event.

The texts are read by a person before they are kept; --update-golden writes them anew.
"""

from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

JIG = """X:1
T:Three Wet Herons
R:jig
M:6/8
L:1/8
K:D
|:A|"D"d2f "G"g2e|"A7"{d}cBA "D"d2:|
"""
WALTZ = """X:2
T:The Slow Sluice
R:waltz
M:3/4
L:1/4
Q:1/4=120
K:Ador
|:"Am"A2B|"G/B"d3-|d2B|"Am"!fermata!A3:|
"""
HORNPIPE = """X:3
T:Rope and Ladder
R:hornpipe
M:4/4
L:1/8
K:G
|:BA|"G"GABc d>B (3gfe|"N.C."d2 "D7"[FA]2 "G".G2:|
"""
PRACTICES = {
    "jig-loop-with-melody-muted": (
        JIG, "alternating", Manner(),
        Step(Bars(1, 2), Fraction(3, 5), times=2, count_in=1, muted=frozenset({Role.MELODY})),
    ),
    "jig-section-thirds-out": (
        JIG, "alternating", Manner(thirds=False), Step(OneSection("A"), count_in=0),
    ),
    "waltz-sustained": (WALTZ, "sustained", Manner(), Step(OneSection("A"), count_in=1)),
    "hornpipe-swung-with-echo": (
        HORNPIPE, "alternating", Manner(), Step(OneSection("A"), count_in=1, echo=True),
    ),
    "hornpipe-drone-plain-even": (
        HORNPIPE, "drone", Manner(swing=Fraction(1), ornaments=False),
        Step(OneSection("A"), count_in=0),
    ),
}  # fmt: skip


def dump(tracks):
    """Every event of a file but the notes' ends as "tick track event", a note with its length."""
    lines = []
    for name, messages in tracks.items():
        ends = {}
        for tick, message in reversed(messages):
            if message.type == "note_off":
                ends.setdefault(message.note, []).append(tick)
            elif message.type == "note_on":
                length = ends[message.note].pop() - tick
                what = f"key {message.note} velocity {message.velocity} length {length}"
                lines.append((tick, name, what))
            else:
                lines.append((tick, name, said(message)))
    order = {name: place for place, name in enumerate(tracks)}
    lines.sort(key=lambda line: (line[0], order[line[1]], line[2]))
    return "".join(f"{tick:6} {name:16} {what}\n" for tick, name, what in lines)


def said(message):
    """A message that is no note, in words."""
    fields = {
        key: value
        for key, value in vars(message).items()
        if key not in ("type", "time", "channel") and value is not None
    }
    return " ".join([message.type, *(f"{key} {value}" for key, value in sorted(fields.items()))])


@pytest.mark.parametrize("name", PRACTICES)
def test_golden(name, golden, tracks_of):
    """The practice is, event by event, the text that was read and kept."""
    text, style, manner, step = PRACTICES[name]
    tune = parse_abc(text)
    performance = perform(arrange(tune, load_style(style), manner), Plan((step,)), tune)
    golden(name, dump(tracks_of(render_midi(performance))))
