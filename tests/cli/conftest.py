"""Running the command line inside the tests."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.cli.main import run
from backing.files import load_style
from backing.live.cues import FeltBeat
from backing.live.shown import Shown, State
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.passages import Whole
from backing.practice.plan import Plan, Step
from backing.practice.stretch import Kind

PLAIN = 'X:1\nT:Plain\nM:6/8\nL:1/8\nQ:3/8=80\nK:G\nD|"G"G3 B3|"D"d3 A2:|"C"c6|"G"G6|]\n'
Moment = Callable[..., Shown]


@dataclass(frozen=True)
class Result:
    """How a command ended and what it printed."""

    code: int
    out: str
    err: str


Cli = Callable[..., Result]


@pytest.fixture
def cli(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Cli:
    """Run `backing` with these arguments."""

    def call(*arguments: object) -> Result:
        monkeypatch.setattr(sys, "argv", ["backing", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        printed = capsys.readouterr()
        assert "Traceback" not in printed.err
        return Result(code, printed.out, printed.err)

    return call


@pytest.fixture(scope="session")
def at() -> Moment:
    """A moment in a bar of a jig, by its place in the order in which the bars are played: the
    pickup is 0; `time` of `times` rounds, beat `beat` (from 0) of two; None for before the first
    beat."""
    tune = parse_abc(PLAIN)
    arrangement = arrange(tune, load_style("sustained"))
    first = Course(arrangement, tune, Plan((Step(),))).start
    tempo = Tempo(Fraction(60), Fraction(3, 8))
    before = Shown(State.PLAYING, None, Target(Whole()), tempo, Fraction(3, 4), frozenset())

    def moment(place, *, kind=Kind.PLAY, time=1, times=0, beat=0, span=None, **more):
        if place is None:
            return before._replace(**more)
        stretch = first._replace(kind=kind, time=time, times=times, frame=arrangement.bars)
        if kind in (Kind.COUNT_IN, Kind.GAP):
            stretch = stretch._replace(sounding=None)
        bar = arrangement.bars[place]
        felt = FeltBeat(stretch, bar, beat, 2, bar.stop, place)
        shown = before._replace(beat=felt, target=Target(span or Whole()), bar=bar)
        return shown._replace(**more)

    return moment
