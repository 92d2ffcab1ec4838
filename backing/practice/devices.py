"""The ways to practise that change from round to round: a ladder of tempi, a growing loop, less
help, the left hand by stages.

They are teachers' common practice, no source.  Each gives what it changes as a row of stages;
a step goes to the next stage of each every so many rounds, and stays with the last.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple, TypeVar

from backing.arranging.arrangement import Role
from backing.errors import PracticeError
from backing.music.played import PHRASE
from backing.music.tempo import FeltBeats, Tempo
from backing.music.tune import Tune
from backing.practice.passages import Bars, Join, OneSection, Passage, endings_of, find_bars
from backing.practice.plan import Grow, Plan, Step

#: A ladder has so many rungs at most.
MOST_RUNGS = 200
_Stage = TypeVar("_Stage")
_NONE: frozenset[Role] = frozenset()
#: Who leaves, one after the other.
_LEAVING = (Role.MELODY, Role.CHORDS, Role.CLICK)
_LESS_HELP = tuple(frozenset(_LEAVING[:count]) for count in range(len(_LEAVING) + 1))
#: What is silent while the left hand is learnt: the bass alone, the chords alone, both.
_BY_HANDS = (frozenset({Role.CHORDS}), frozenset({Role.BASS}), _NONE)


class Lap(NamedTuple):
    """One time through, as the devices of its step have it."""

    span: Passage
    tempo: Tempo | FeltBeats | Fraction
    muted: frozenset[Role]


class Laps(NamedTuple):
    """All times through a step: what each of its devices goes through, a stage every so many
    rounds."""

    spans: tuple[Passage, ...]
    tempos: tuple[Tempo | FeltBeats | Fraction, ...]
    helps: tuple[frozenset[Role], ...]
    hands: tuple[frozenset[Role], ...]
    every: int

    @property
    def rounds(self) -> int:
        """How many rounds they take."""
        return self.every * max(map(len, self[:4]))

    def stage(self, time: int) -> int:
        """The stage, from 0, of a time through, from 1."""
        return (max(time, 1) - 1) // self.every

    def last_alike(self, time: int, times: int) -> int:
        """The last of so many times through that is in the same stage as this one."""
        if time > self.rounds - self.every:
            return times
        return min((self.stage(time) + 1) * self.every, times)

    def at(self, time: int) -> Lap:
        """A time through, from 1."""
        stage = self.stage(time)
        silent = _at(self.helps, stage) | _at(self.hands, stage)
        return Lap(_at(self.spans, stage), _at(self.tempos, stage), silent)


def with_times(plan: Plan, tunes: Sequence[Tune]) -> Plan:
    """The plan with how often each step sounds, where that is left to its devices.

    Raises PracticeError where a device has nothing to work on, or too few rounds for it.
    """
    steps = []
    for step in plan.steps:
        rounds = laps_of(step, tunes[step.piece]).rounds
        if step.times is not None and step.times < rounds:
            raise PracticeError(
                f"what changes from round to round takes {rounds} rounds, not {step.times}",
                f"give {rounds} times or more, or leave it out",
            )
        steps.append(step._replace(times=step.times or rounds))
    return Plan(tuple(steps))


def differs(step: Step) -> bool:
    """True where rounds differ: a ladder, a growing loop, less help, the left hand by stages."""
    return bool(step.ladder or step.grow or step.less_help or step.hands)


def _at(stages: Sequence[_Stage], stage: int) -> _Stage:
    return stages[min(stage, len(stages) - 1)]


def laps_of(step: Step, tune: Tune) -> Laps:
    """The times through a step.  Raises PracticeError where a device has nothing to work on."""
    return Laps(
        tuple(grown(tune, step.span, step.grow)) if step.grow else (step.span,),
        step.ladder or (step.tempo,),
        _LESS_HELP if step.less_help else (_NONE,),
        _BY_HANDS if step.hands else (_NONE,),
        step.every,
    )


def rungs(
    first: Fraction,
    last: Fraction,
    by: Fraction,
    *,
    beyond: Fraction = Fraction(0),
    down: bool = False,
) -> tuple[Fraction, ...]:
    """The tempi of a ladder from one factor to another, both played; `by` is more than 0.

    It goes `beyond` its last rung once, and back to it; where it goes `down` again, by the same
    rungs to the first.  Raises PracticeError for none, or too many.

    >>> [str(100 * rung) for rung in rungs(Fraction(1, 2), Fraction(7, 10), Fraction(1, 10))]
    ['50', '60', '70']
    """
    if by <= 0:
        raise PracticeError("a ladder needs a step", "give per cent above 0, like 5")
    if first == last:
        raise PracticeError("a ladder goes from one tempo to another", "give two, like 50..100")
    if beyond < 0:
        raise PracticeError("a ladder goes beyond its last tempo", "give per cent above 0, like 5")
    way = by if first < last else -by
    count = int(abs(last - first) / by) + 1
    if count > MOST_RUNGS:
        raise PracticeError(f"a ladder of {count} steps", f"up to {MOST_RUNGS} are possible")
    up = [first + way * place for place in range(count)]
    if up[-1] != last:
        up.append(last)
    over = [last + (beyond if way > 0 else -beyond)] if beyond else []
    if down:
        return (*up, *over, *(up[::-1] if over else up[-2::-1]))
    return (*up, *over, *([last] if over else []))


# -- growing loops -----------------------------------------------------------------------


def grown(tune: Tune, span: Passage, grow: Grow) -> Iterator[Passage]:
    """The spans of a growing loop, the last one the whole: the section of a few bars, or, from
    its end backwards, the span itself.

    Where there are several endings it has the one that the span has, else the last.  Raises
    PracticeError for a join, and where a loop cannot grow.
    """
    if isinstance(span, Join):
        raise PracticeError("a join does not grow", "give bars or a part")
    asked = find_bars(tune, span)
    numbers = _numbers(tune, asked)
    ending = _ending(tune, span, asked)
    if grow is Grow.BACKWARDS:
        way = _numbers(tune, find_bars(tune, Bars(numbers[0], numbers[-1], ending)))
        by = PHRASE if len(way) > PHRASE else 1
        for start in range(len(way) - by, 0, -by):
            yield Bars(way[start], way[-1], ending)
        yield span
        return
    if not isinstance(span, Bars):
        raise PracticeError("the loop grows from a few bars", "say which: bars 6, or 5-6")
    yield span
    home = _home(tune, asked, ending)
    first, last = home.index(numbers[0]), home.index(numbers[-1])
    while first > 0 or last < len(home) - 1:
        if grow is Grow.BAR:
            first, last = first - 1, last + 1
        else:
            first, last = _to_phrases(first, last)
        first, last = max(first, 0), min(last, len(home) - 1)
        yield Bars(home[first], home[last], ending)


def _numbers(tune: Tune, indices: Sequence[int]) -> list[int]:
    """The numbers of the full bars among some, of all where none is full."""
    bars = [tune.bars[index] for index in indices]
    found = [bar.number for bar in bars if not bar.begins] or [bar.number for bar in bars]
    return list(dict.fromkeys(found))


def _ending(tune: Tune, span: Passage, asked: Sequence[int]) -> int | None:
    """Which ending a loop grows with; None where there are none, or where a span of bars has
    more than one, and goes straight through them."""
    found = {n for i in asked if (mark := tune.bars[i].ending) for n in mark.numbers[:1]}
    if isinstance(span, Bars) and found:
        return max(found) if len(found) == 1 else None
    if isinstance(span, OneSection) and span.ending:
        return span.ending
    names = {tune.bars[index].section for index in asked}
    return max((n for name in names for n in endings_of(tune, name)), default=None)


def _home(tune: Tune, asked: Sequence[int], ending: int | None) -> list[int]:
    """The numbers of the bars of the sections that some bars lie in."""
    names = {tune.bars[index].section for index in asked}
    found = _numbers(tune, [i for i, bar in enumerate(tune.bars) if bar.section in names])
    kept = set(_numbers(tune, find_bars(tune, Bars(found[0], found[-1], ending))))
    return sorted({*(number for number in found if number in kept), *_numbers(tune, asked)})


def _to_phrases(first: int, last: int) -> tuple[int, int]:
    """The phrases that places lie in, counted from the start; those round about them where they
    are whole phrases already."""
    low = first // PHRASE * PHRASE
    high = (last // PHRASE + 1) * PHRASE - 1
    return (low, high) if (low, high) != (first, last) else (low - PHRASE, high + PHRASE)
