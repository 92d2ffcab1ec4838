"""What makes a bar hard: the kinds of difficulty, and one table of what each counts."""

from enum import StrEnum
from typing import NamedTuple

from backing.music.saying import Fact, Parts


class Trait(StrEnum):
    """A kind of difficulty, by its name in a sentence."""

    FAST = "fast notes"
    LEAPS = "leaps"
    SYNCOPATION = "syncopation"
    ACCIDENTALS = "notes outside the key"
    LIKENESS = "bars that are nearly alike"
    BELLOWS = "changes of the bellows"
    AIR = "long stretches in one direction"
    ROWS = "changes of row"
    HAND = "moves of the hand"
    STRETCHES = "stretches"


class Difficulty(NamedTuple):
    """One part of what makes a bar hard: its kind, its points (above 0), and the reason."""

    trait: Trait
    points: float
    reason: Fact | Parts


#: What counts how much, in points: one is about what a change of bellows off the beat costs
#: among quavers 180 ms apart.  They are working values, no source.  What the buttons ask for is
#: in the table of `costs` already.
POINTS: dict[str, float] = {
    "fast": 0.25,  # a note, times how far it is quicker than quick-ms: twice as quick is once
    "leap-a-semitone": 0.1,  # beyond leap-from, times the pace
    "leap-at-rest": 0.5,  # times so much, after a rest and where a phrase begins
    "held-over-half-a-beat": 0.25,
    "held-over-a-beat": 0.5,  # from off the beat, over a beat or a bar line
    "tied-over-a-bar-line": 0.2,  # from a beat
    "late": 0.3,  # off the beat after a rest
    "accidental": 0.4,  # the first in a bar of each note outside the key
    "accidental-again": 0.15,
    "raised": 0.5,  # times so much: the raised sixth and seventh of a minor key
    "likeness": 0.5,
    "most-air": 2.0,  # a bar, however long the stretch
}
#: Notes closer than this are quick to an amateur's fingers, and this is as quick as they count.
QUICK_MS, QUICKEST_MS = 250.0, 50.0
#: In semitones: a leap is wider than this many, and its points are counted from the other.
LEAP, LEAP_FROM = 7, 5
#: Bars of fewer notes are taken for nobody's double.
LEAST_ALIKE = 4
