"""pretty_midi keeps time with our files through the tempi of a ladder and the metres of a set."""

from fractions import Fraction
from pathlib import Path

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.faces import faces_of
from backing.files import load_style, read_tune
from backing.practice.devices import rungs, with_times
from backing.practice.passages import Bars, Join
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.practice.practice import change_between, in_a_set
from backing.practice.rounds import Piece
from backing.render.midi import render_midi

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG, WALTZ = (
    read_tune(EXAMPLES / name).tune
    for name in ("the-lock-keepers-kettle.abc", "the-lamplighters-round.abc")
)
LADDER = rungs(Fraction(3, 5), Fraction(1), Fraction(1, 10), beyond=Fraction(1, 20), down=True)
WAYS = {
    "a ladder": [Step(Bars(5, 8), ladder=LADDER, gap=1)],
    "a ladder of a join": [Step(Join("A", "B"), ladder=LADDER, echo=True)],
    "a set": in_a_set([Step(), Step(piece=1), Step()]),
    "changes": change_between(Step(), Step(piece=1, ladder=LADDER), (JIG, WALTZ)),
    "steps": [Step(Bars(5, 6), Fraction(1, 2)), Step(Bars(3, 4), Fraction(4, 5), piece=1)],
}


@pytest.mark.parametrize("name", WAYS)
def test_pretty_midi_finds_beats_and_downbeats(name, read_pretty, clock, downbeats):
    """It finds a downbeat at every bar line and a beat on every felt beat, within a millisecond,
    and the length of the whole."""
    pieces = [Piece(faces_of(arrange(each, load_style("light"))), each) for each in (JIG, WALTZ)]
    plan = with_times(Plan(tuple(WAYS[name])), (JIG, WALTZ))
    performance = perform(pieces[0].faces, plan, JIG, pieces[1:])
    seconds = clock(performance)
    midi = read_pretty(render_midi(performance))
    bars = [seconds(position) for position in downbeats(performance)]
    assert list(midi.get_downbeats()[: len(bars)]) == pytest.approx(bars, abs=0.001)
    beats = [
        seconds(bar.onset + at)
        for bar in performance.bars
        if not bar.begins
        for at, *_ in bar.beats()
    ]
    found = midi.get_beats()
    assert max(min(abs(found - at)) for at in beats) < 0.001
    assert len(beats) <= len(found) <= len(beats) + len(bars)
    assert midi.get_end_time() == pytest.approx(performance.seconds, abs=1.5)
    tempi = [tempo.tempo.wholes * 4 for tempo in performance.tempos]
    assert list(midi.get_tempo_changes()[1]) == pytest.approx([float(t) for t in tempi], abs=0.01)
