"""The bellows: how far they are out, where they end, where air can be taken."""

import pytest

from backing.box.bellows import bellows
from backing.box.costs import parse_costs
from backing.box.fingering import finger
from backing.box.line import line_of
from backing.files import load_box
from backing.parse.abc import parse_abc

DG = load_box("D/G")
#: At a crotchet a second; ten seconds from closed to open for a melody note.
COSTS = parse_costs("travel-seconds = 10\nleft-hand-air = 0")


def fingered(body: str, costs: object = COSTS, key: str = "D") -> object:
    """A tune fingered on the D/G at a crotchet a second."""
    text = f"X:1\nT:Test\nM:4/4\nL:1/4\nQ:1/4=60\nK:{key}\n{body}\n"
    return finger(line_of(parse_abc(text)), DG, costs)


def test_push_closes_and_pull_opens():
    """D is push only and E pull only on a D/G: four seconds of each move the bellows in and
    out by as much (their definition)."""
    air = bellows(fingered("d4|e4|"))
    outs = [round(point.out - air.start, 9) for point in air.points]
    assert outs == [0, -0.4, 0]
    assert air.drift == pytest.approx(0)


def test_a_note_held_twice_as_long_takes_twice_the_air():
    """Half the tempo, twice the drift (reasoned, no source)."""
    found = fingered("e2 e2|")
    assert bellows(found, percent=50).drift == pytest.approx(2 * bellows(found).drift)


def test_two_reeds_take_twice_the_air():
    """A double stop lets through twice as much (reasoned, no source)."""
    assert bellows(fingered("[eg]2 z2|")).drift == pytest.approx(
        2 * bellows(fingered("e2z2|")).drift
    )


def test_rests_keep_the_bellows_where_they_are():
    """Nothing sounds, nothing moves."""
    assert bellows(fingered("e z3|")).drift == pytest.approx(0.1)


def test_air_runs_out_on_a_long_pull():
    """Twelve seconds of pull are more than the travel of ten: air runs out in the third bar,
    with the bellows closed at the start."""
    air = bellows(fingered("e4|c4|e4|"))
    assert air.start == 0
    assert [(limit.bar, limit.closed) for limit in air.limits] == [(3, False)]


def test_the_bellows_close_on_a_long_push():
    """Twelve seconds of push from all the way out close the bellows in the third bar."""
    air = bellows(fingered("d4|D4|d4|"))
    assert air.start == 1
    assert [(limit.bar, limit.closed) for limit in air.limits] == [(3, True)]


def test_the_curve_stays_within_the_travel():
    """The bellows are never further in than closed, nor further out than they go."""
    air = bellows(fingered("e4|c4|e4|c4|e4|d4|"))
    assert 0 <= air.lowest <= air.highest <= 1


def test_drift_is_told_by_part_and_priced():
    """Each time through is counted by itself; half a point for each quarter of the travel
    (working value, no source)."""
    air = bellows(fingered("|:e2 d z:|"))
    assert [(drift.section, round(drift.share, 3)) for drift in air.drifts] == [
        ("A", 0.1), ("A", 0.1)
    ]  # fmt: skip
    assert air.cost == pytest.approx(2 * 0.5 * 0.1 / 0.25)


def test_air_is_let_out_on_a_long_push_or_in_a_rest():
    """Where the bellows end further out, air goes out on the push and in rests (the air button
    adds to the direction that is played; common practice, no source)."""
    air = bellows(fingered("e4|c2 d2|e3 z|c2e2|"))
    assert air.drift > 0
    assert [(spot.bar, spot.why) for spot in air.spots] == [
        (2, "long note"), (3, "rest"), (2, "run")
    ]  # fmt: skip
