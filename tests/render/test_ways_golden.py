"""Each way to practise as a text, bar by bar, from the MIDI file that is written.

Above each bar stand the position of its first tick in crotchets, and what begins in it: metre,
tempo, markers, where a track sounds; below, each track's keys as `key at-length`, in crotchets
from the bar line on.  A musician reads the texts before they are kept.
"""

from bisect import bisect_right
from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange_faces
from backing.arranging.faces import StyleTurns
from backing.files import load_style
from backing.parse.abc import parse_abc
from backing.practice.devices import rungs, with_times
from backing.practice.passages import Bars, Join, OneSection
from backing.practice.performance import perform
from backing.practice.plan import Ears, Grow, Plan, Step
from backing.practice.practice import change_between, in_a_set
from backing.practice.rounds import Piece
from backing.render.midi import render_midi

#: Two parts of four bars, the first with a pickup and endings.
POLKA = """X:1
T:Two Buckets
R:polka
M:2/4
L:1/8
Q:1/4=120
K:D
|:A|"D"d2 fd|"G"gf "A"e2|"D"fa "A"ge|1 "D"d2 d:|2 "D"d2 d2||
|:"Em"e2 ge|"A"c2 e2|"D"d2 "G"BA|"A7"Ac "D"d2:|
"""
WALTZ = """X:2
T:Lid on the Pail
R:waltz
M:3/4
L:1/4
Q:1/4=150
K:G
D|"G"G2 B|"D"A2 F|"G"G2|]
"""
TUNES = POLKA_TUNE, WALTZ_TUNE = parse_abc(POLKA), parse_abc(WALTZ)
EMPTY = Step(count_in=1)
WAYS = {
    "ladder": EMPTY._replace(
        span=Bars(1, 2),
        ladder=rungs(Fraction(3, 5), Fraction(4, 5), Fraction(1, 10), beyond=Fraction(1, 20),
                     down=True),
    ),
    "ladder-every-two": EMPTY._replace(
        span=Bars(6, 6), ladder=rungs(Fraction(1, 2), Fraction(1), Fraction(1, 2)), every=2
    ),
    "echo": EMPTY._replace(span=OneSection("B"), times=1, echo=True),
    "gap": EMPTY._replace(span=OneSection("A"), times=2, gap=1),
    "grow-bar": EMPTY._replace(span=Bars(3, 3), grow=Grow.BAR),
    "grow-phrase": EMPTY._replace(span=Bars(7, 7), grow=Grow.PHRASE),
    "grow-backwards": EMPTY._replace(span=OneSection("A"), grow=Grow.BACKWARDS),
    "join": EMPTY._replace(span=Join("A", "B"), times=2),
    "join-of-a-part-to-itself": EMPTY._replace(span=Join("A", "A"), times=2),
    "less-help": EMPTY._replace(span=Bars(6, 6), less_help=True),
    "left-hand-stages": EMPTY._replace(span=Bars(6, 6), hands=True),
    "edges": EMPTY._replace(span=Bars(7, 7), edges=True, times=2),
    "ears": EMPTY._replace(span=Bars(6, 6), ears=Ears.LEFT),
}  # fmt: skip


def faces_of(tune, style):
    """A tune's arrangements for each time through."""
    return arrange_faces(tune, StyleTurns((load_style(style),)), Manner())


PIECES = (
    Piece(faces_of(POLKA_TUNE, "alternating"), POLKA_TUNE),
    Piece(faces_of(WALTZ_TUNE, "alternating"), WALTZ_TUNE),
)


def performed(*steps):
    """The performance of some steps."""
    plan = with_times(Plan(steps), TUNES)
    return perform(PIECES[0].faces, plan, POLKA_TUNE, PIECES[1:])


def key_name(key):
    """A MIDI key by its letter and octave, c4 in the middle."""
    letter = ["c", "c#", "d", "d#", "e", "f", "f#", "g", "g#", "a", "a#", "b"][key % 12]
    return f"{letter}{key // 12 - 1}"


def crotchets(ticks):
    """Ticks as crotchets, "1", "1/2"."""
    return str(Fraction(ticks, 960))


def said(name, message):
    """What begins at a message that is no note, in words; nothing for what does not matter."""
    if message.type == "set_tempo":
        return f"1/4 = {60e6 / message.tempo:.5g}"
    if message.type == "time_signature":
        return f"{message.numerator}/{message.denominator}"
    if message.type == "marker":
        return f"({message.text})"
    if message.type == "control_change" and message.control == 10:
        return f"{name} pan {message.value}"
    return None


def bar_by_bar(performance, tracks):
    """The text of a file."""
    starts = [round((bar.onset - performance.start) * 3840) for bar in performance.bars]
    begins = [[] for _ in starts]
    keys = [{} for _ in starts]
    for name, messages in tracks.items():
        open_ = {}
        for tick, message in messages:
            place = max(bisect_right(starts, tick) - 1, 0)
            at = crotchets(tick - starts[place])
            words = said(name, message)
            if words:
                begins[place].append(words + ("" if at == "0" else f" at {at}"))
            if message.type == "note_on":
                open_[message.note] = (place, at, tick)
            elif message.type == "note_off":
                place, at, since = open_.pop(message.note)
                keys[place].setdefault(name, []).append(
                    (since, f"{key_name(message.note)} {at}-{crotchets(tick - since)}")
                )
        assert not open_
    lines = []
    for start, words, struck in zip(starts, begins, keys, strict=True):
        lines.append(f"{crotchets(start)}: {', '.join(words)}")
        for name, found in struck.items():
            if name == "click":
                lines.append(f"    click    {len(found)}")
            else:
                lines.append(f"    {name:8} {', '.join(text for _, text in sorted(found))}")
    return "\n".join(lines) + "\n"


def texted(performance, tracks_of):
    """A performance, written and read again."""
    return bar_by_bar(performance, tracks_of(render_midi(performance)))


@pytest.mark.parametrize("name", WAYS)
def test_way(name, golden, tracks_of):
    """A way to practise is, bar by bar, the text that was read and kept."""
    golden(f"way-{name}", texted(performed(WAYS[name]), tracks_of))


def test_set(golden, tracks_of):
    """Of two tunes in a set the second comes at once, in its metre and tempo from the bar line
    on; its pickup sounds inside the last bar of the first."""
    steps = in_a_set([Step(count_in=1), Step(piece=1)])
    golden("way-set", texted(performed(*steps), tracks_of))


def test_changes(golden, tracks_of):
    """The change of a set is the last two bars of the one tune, as it ends, and the first two of
    the other."""
    steps = change_between(Step(count_in=1), Step(count_in=1, piece=1), TUNES, times=2)
    golden("way-changes", texted(performed(*steps), tracks_of))
