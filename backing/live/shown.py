"""What there is to show while it sounds."""

from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Role
from backing.live.cues import FeltBeat
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
    one that sounds and `coming` the next.  `moving` is True while a jump waits for the
    bar line.
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
