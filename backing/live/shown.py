"""What there is to show while it sounds."""

from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import MappedBar, Role
from backing.live.cues import FeltBeat
from backing.live.marks import MarkedBars
from backing.music.tempo import Tempo
from backing.practice.laying import Target


class State(StrEnum):
    """Whether it sounds."""

    PLAYING = "playing"
    STOPPED = "stopped"
    GONE = "the port is gone"
    ENDED = "ended"


class Shown(NamedTuple):
    """A moment of a practice.

    `beat` is the felt beat that sounds, None before the first; `target` what it goes
    round in and where it goes on; `factor` how fast, of the tune's own tempo; `chord` the
    one that sounds and `coming` the next, `beats` felt beats away (0: before the next one
    begins).  `moving` is True while a jump waits for the bar line.  `bar` is the target's bar:
    the one that sounds, or while nothing of the tune does, or on the way elsewhere, the one
    that comes; `marks` are the bars that are marked so far.

    Of a practice of several `steps`, the target's is number `step` (from 1), has a `purpose` (""
    where none is said), and still lasts `left` seconds (None: not known, or without an end);
    `staying` is True where the player stays on it.
    """

    state: State
    beat: FeltBeat | None
    target: Target
    tempo: Tempo
    factor: Fraction
    muted: frozenset[Role]
    chord: str = ""
    coming: str = ""
    moving: bool = False
    beats: int = 0
    bar: MappedBar | None = None
    marks: MarkedBars = MarkedBars()
    step: int = 1
    steps: int = 1
    purpose: str = ""
    left: float | None = None
    staying: bool = False
