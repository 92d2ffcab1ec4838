"""What to practise, as a value: which bars, how fast, how often, what is muted."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, Role
from backing.errors import PracticeError, did_you_mean
from backing.music.tempo import FASTEST, SLOWEST, FeltBeats, Tempo
from backing.music.tune import Section, Tune
from backing.music.unfold import unfold

MOST_TIMES, MOST_COUNT_IN = 1000, 64
#: Quarter notes a minute that a MIDI file can hold (24 bits of microseconds) and a player use.
_SLOWEST_QUARTERS, _FASTEST_QUARTERS = 4, 1600


@dataclass(frozen=True, slots=True)
class Whole:
    """The whole tune with its repeats."""


class Bars(NamedTuple):
    """Written bars `first` to `last`, both played, straight through whatever repeats.

    They are numbered as in print: a pickup is bar 0.
    """

    first: int
    last: int


class OneSection(NamedTuple):
    """Once through a section, with this ending; None: the last it has, and where the section
    comes several times each by turns, so that the last time has the last."""

    name: str
    ending: int | None = None


Passage = Whole | Bars | OneSection


class LeadIn(StrEnum):
    """What comes before the tune."""

    CLICKS = "clicks"
    HELD = "held"
    CHORDS = "chords"
    TUNE = "tune"


class Close(StrEnum):
    """How the last time through ends."""

    STOP = "stop"
    HELD = "held"
    TAG = "tag"
    SLOW = "slow"


class Click(StrEnum):
    """What the click gives: every felt beat; its parts too; only what lies between the beats;
    beats in every other bar; beats in two bars, then two bars of silence, by turns."""

    BEATS = "beats"
    SUBDIVIDED = "subdivided"
    OFF_BEATS = "off-beats"
    EVERY_OTHER_BAR = "every-other-bar"
    BY_TURNS = "by-turns"


class Step(NamedTuple):
    """One thing to practise.

    `tempo` is a tempo, felt beats a minute (10 to 400), or a factor of the tune's own (3/5
    is 60 per cent).  `times` is how often the span sounds (1 to 1000), after `count_in` bars
    of clicks (0 to 64; None: as many as make four felt beats).  `muted` tracks are silent.
    With `echo` each time is followed by one without the melody, for the player to answer;
    `gap` bars of clicks (0 to 64) come between one time and the next.  `whole_pickup` plays
    the pickup whole each time, also where the last bar has no room for it.  `lead_in` says
    what comes before it, `close` how its last time ends (bars alone never close).  Where it
    `goes_on` it does not stop: the next step follows at once.  `each` is how many bars one time
    through must have (0: any).  `click` is what the click gives (None: the beats, subdivided
    below 45 felt beats a minute).
    """

    span: Passage = Whole()
    tempo: Tempo | FeltBeats | Fraction = Fraction(1)
    times: int = 1
    muted: frozenset[Role] = frozenset()
    count_in: int | None = None
    echo: bool = False
    gap: int = 0
    whole_pickup: bool = False
    lead_in: LeadIn = LeadIn.CLICKS
    close: Close = Close.STOP
    goes_on: bool = False
    each: int = 0
    click: Click | None = None


class Plan(NamedTuple):
    """A practice: its steps, one after the other."""

    steps: tuple[Step, ...] = (Step(),)


def with_first_part(plan: Plan, tune: Tune) -> Plan:
    """The plan with the first part of the tune before it, "once to yourself": dancers hear it
    once and begin with what follows, without a stop between."""
    first, name = plan.steps[0], tune.sections[0].name
    part = OneSection(name, min(endings_of(tune, name), default=None))
    once = first._replace(span=part, times=1, goes_on=True, each=0)
    dance = first._replace(count_in=0, lead_in=LeadIn.CLICKS)
    return Plan((once, dance, *plan.steps[1:]))


def check_plan(plan: Plan, tune: Tune) -> None:
    """Raise PracticeError where a step cannot be played from this tune."""
    for step in plan.steps:
        find_bars(tune, step.span)
        if not 1 <= step.times <= MOST_TIMES:
            raise PracticeError(f"{step.times} times", f"give 1 to {MOST_TIMES}")
        if step.count_in is not None and not 0 <= step.count_in <= MOST_COUNT_IN:
            raise PracticeError(
                f"a count-in of {step.count_in} bars", f"give 0 to {MOST_COUNT_IN} bars"
            )
        if step.each:
            _check_bars(tune, step)
        if not 0 <= step.gap <= MOST_COUNT_IN:
            raise PracticeError(f"a gap of {step.gap} bars", f"give 0 to {MOST_COUNT_IN} bars")


def _check_bars(tune: Tune, step: Step) -> None:
    """Dancers count bars: once through the tune must have as many as they are told."""
    played = sum((tune.bars[played.index].length for played in unfold(tune)), Fraction(0))
    bars = round(played / tune.metre.length) if tune.metre.length else 0
    if bars != step.each:
        raise PracticeError(
            f"{step.times} times {step.each} bars: the tune has {bars} bars once through",
            f"choose a tune with {step.each} bars, or say how often: --times {step.times}",
        )


def check_tempo(tempo: Tempo) -> None:
    """Raise PracticeError where a tempo is too slow or too fast to practise at."""
    if not SLOWEST <= tempo.beats <= FASTEST:
        raise PracticeError(
            f"the tempo would be {tempo}", f"give {SLOWEST} to {FASTEST} beats a minute"
        )
    check_speed(tempo)


def check_speed(tempo: Tempo) -> None:
    """Raise PracticeError where a tempo, perhaps later in the tune, cannot be written."""
    if not _SLOWEST_QUARTERS <= tempo.wholes * 4 <= _FASTEST_QUARTERS:
        raise PracticeError(
            f"the tempo would be {tempo} somewhere in the tune", "choose one nearer to its own"
        )


def check_speeds(piece: Arrangement, factor: Fraction) -> None:
    """Raise PracticeError where a piece so scaled is too slow or too fast, at its start or
    later."""
    check_tempo(piece.tempo_at(Fraction(0)).scaled(factor))
    for placed in piece.tempos:
        check_speed(placed.tempo.scaled(factor))


def scale_of(piece: Arrangement, step: Step) -> Fraction:
    """How a step scales every tempo of what it plays: its own tempo is that of the start."""
    if isinstance(step.tempo, Fraction):
        return step.tempo
    own = piece.tempo_at(Fraction(0))
    return step.tempo.in_unit(own.unit).wholes / own.wholes


def find_bars(tune: Tune, span: Passage) -> tuple[int, ...]:
    """The indices of the written bars that a span plays straight, pickups left out.

    Raises PracticeError for bars past the end, a reversed range, an unknown section.
    """
    if isinstance(span, Whole):
        return tuple(range(len(tune.bars)))
    if isinstance(span, Bars):
        return _numbered(tune, span)
    return _in_section(tune, span)


def _numbered(tune: Tune, span: Bars) -> tuple[int, ...]:
    last = max(bar.number for bar in tune.bars)
    if span.first > span.last:
        raise PracticeError(
            f"bars {span.first}-{span.last} run backwards", f"give {span.last}-{span.first}"
        )
    first = min(bar.number for bar in tune.bars)
    if span.last > last or span.first < first:
        one = span.first == span.last
        asked = f"is no bar {span.first}" if one else f"are no bars {span.first}-{span.last}"
        raise PracticeError(f"there {asked} here", f"the tune has bars {first} to {last}")
    indices = [i for i, bar in enumerate(tune.bars) if span.first <= bar.number <= span.last]
    while len(indices) > 1 and tune.bars[indices[-1]].pickup:
        indices.pop()
    return tuple(indices)


def endings_of(tune: Tune, name: str) -> tuple[int, ...]:
    """The endings that a section has, in their order.  Raises PracticeError for no such one."""
    section = _find_section(tune, name)
    bars = tune.bars[section.start : section.stop]
    return tuple(sorted({n for bar in bars if bar.ending for n in bar.ending.numbers}))


def _in_section(tune: Tune, span: OneSection) -> tuple[int, ...]:
    section = _find_section(tune, span.name)
    endings = endings_of(tune, span.name)
    if span.ending is not None and span.ending not in endings:
        given = f"it has {', '.join(map(str, endings))}" if endings else "it has none"
        raise PracticeError(f"section {section.name} has no ending {span.ending}", given)
    ending = span.ending or max(endings, default=1)
    return tuple(
        index
        for index in range(section.start, section.stop)
        if (marked := tune.bars[index].ending) is None or ending in marked.numbers
    )


def _find_section(tune: Tune, name: str) -> Section:
    for section in tune.sections:
        if section.name.lower() == name.strip().lower():
            return section
    names = [section.name for section in tune.sections]
    raise PracticeError(
        f"there is no section {name!r}", did_you_mean(name, names) or f"it has {', '.join(names)}"
    )
