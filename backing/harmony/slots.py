"""The places of a tune that may each have a chord of their own, and what is heard there.

A slot is half a bar where the bar has two or four felt beats; a beat in 3/2 and 9/8, whose beats
last as long as half bars of other metres; else the bar, of which in 3/4 the third beat is a slot
of its own where a phrase comes to its end.  In free metre it is a minim.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import cycle, groupby

from backing.errors import TuneError
from backing.harmony.heard import (
    Heard,
    HeardTones,
    heard_in,
    on_grid,
    strong_points,
    tones_in,
    tones_of_bars,
)
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.played import PHRASE
from backing.music.tune import Bar, Tune

#: In free metre a chord may change every minim.
_IN_FREE_METRE = Fraction(1, 2)
MOST_SLOTS = 50_000


class Pace(StrEnum):
    """How fast harmony goes in a metre: by half bars or bars, or with three beats in a bar that
    may each have a chord (3/2, 9/8), or of which only the third may (3/4)."""

    HALVES = "halves"
    SLOW_BEATS = "three slow beats"
    QUICK_BEATS = "three quick beats"


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """Half a bar (or a beat, or a bar) of the melody.

    `onset` and `length` count from the start of the written bar `bar`.  `before` is the
    index of the slot that is played before it the first time, -1 for none.  `bar_start`
    is True at the start of a bar; `struck` where a note or a rest begins with the slot, so
    that a new chord can stand there.  `pace` is that of its metre.  `ends_bar` is True for the
    last slot of a bar.  `bars_left` counts the bars to the end of the section or ending, 0 in the
    last one; `bars_in` those since the section's start.  `tones` is what is heard: see
    `tones_in`.
    """

    bar: int
    onset: Fraction
    length: Fraction
    key: Key
    section: str
    before: int
    bar_start: bool
    struck: bool
    pace: Pace
    ends_bar: bool
    bars_left: int
    bars_in: int
    tones: dict[str, HeardTones]

    @property
    def closes(self) -> bool:
        """True for the last slot of a section or of an ending."""
        return self.ends_bar and not self.bars_left

    @property
    def ends_on(self) -> tuple[int, ...]:
        """The pitch classes of which a chord that closes here holds one: the last note, or the
        longer one before it; in a run of quick notes, which leads on, the first and the last."""
        if "last" not in self.tones:
            return ()
        early = self.tones["closing"] or self.tones["first"]
        return tuple(dict.fromkeys((early[0][0], self.tones["last"][0][0])))

    @property
    def in_phrase(self) -> int:
        """The bar's place in its phrase, from 0; the last one for a section's last bar."""
        return self.bars_in % PHRASE if self.bars_left else PHRASE - 1


def slots_of(tune: Tune, keys: Sequence[Key]) -> list[Slot]:
    """The slots of a tune's melody in written order, pickups left out.

    `keys` are the keys that its bars live in.  Raises TuneError past 50,000 slots.
    """
    spans: list[tuple[int, Fraction, Fraction]] = []
    heard: list[list[Heard]] = []
    struck: list[set[Fraction]] = []
    places = _places(tune.bars)
    for index, bar in enumerate(tune.bars):
        notes = tune.melody.bars[index]
        steps = _steps(bar, *places[index])
        pieces = [] if bar.pickup else list(_pieces(bar, steps, MOST_SLOTS - len(spans)))
        spans += [(index, onset, stop) for onset, stop in pieces]
        heard += heard_in(notes, [(on_grid(onset), on_grid(stop)) for onset, stop in pieces])
        struck.append({note.onset for note in notes})
    bars = [index for index, _, _ in spans]
    befores = _befores(tune.bars, bars)
    whole_bars = tones_of_bars(bars, heard)
    slots = []
    for at, (index, onset, stop) in enumerate(spans):
        left, since = places[index]
        before = befores[at]
        ends_bar = at + 1 == len(spans) or bars[at + 1] != index
        slots.append(
            Slot(
                bar=index,
                onset=onset,
                length=stop - onset,
                key=keys[index],
                section=tune.bars[index].section,
                before=before,
                bar_start=not onset,
                struck=not onset or onset in struck[index],
                pace=_pace(tune.bars[index].metre),
                ends_bar=ends_bar,
                bars_left=left,
                bars_in=since,
                tones=tones_in(
                    heard[at],
                    heard[before] if before >= 0 else [],
                    heard[at + 1] if at + 1 < len(heard) else [],
                    whole_bars[index],
                    strong_points(onset, stop),
                    closing=ends_bar and (not left or since % PHRASE == PHRASE - 1),
                ),
            )
        )
    return slots


def _pace(metre: Metre) -> Pace:
    if len(metre.beats) != 3:
        return Pace.HALVES
    slow = all(beat.numerator == 3 or beat >= Fraction(1, 2) for beat in metre.beats)
    return Pace.SLOW_BEATS if slow else Pace.QUICK_BEATS


def _steps(bar: Bar, left: int, since: int) -> tuple[Fraction, ...]:
    """The lengths of the slots of a full bar, which has so many bars left and so many before
    it in its section."""
    metre = bar.metre
    pace = _pace(metre)
    if metre.free:
        return (_IN_FREE_METRE,)
    if pace is Pace.SLOW_BEATS:
        return metre.beats
    if pace is Pace.QUICK_BEATS and (left < 2 or since % PHRASE >= PHRASE - 2):
        return sum(metre.beats[:2], Fraction(0)), metre.beats[2]
    return (metre.length / 2,) if len(metre.beats) in (2, 4) else (metre.length,)


def _pieces(bar: Bar, steps: Sequence[Fraction], most: int) -> Iterator[tuple[Fraction, Fraction]]:
    """Start and stop of the slots of a bar; a short bar has those that begin in it."""
    at = Fraction(0)
    for step in cycle(steps):
        if at >= bar.length:
            return
        most -= 1
        if most < 0:
            raise TuneError(
                f"the tune has more than {MOST_SLOTS:,} half bars, too many to find chords for",
                "split it in two, or write its chords into it",
            )
        yield at, min(at + step, bar.length)
        at += step


def _befores(bars: Sequence[Bar], slots: Sequence[int]) -> list[int]:
    """The slot that each slot follows: a second ending follows what its first follows."""
    befores = []
    before_endings = -1
    for at, index in enumerate(slots):
        ending = bars[index].ending
        before = at - 1
        last = bars[slots[at - 1]].ending if at else None
        if ending is not None and last is None:
            before_endings = before
        elif ending is not None and last is not None and ending.numbers != last.numbers:
            before = before_endings
        befores.append(before)
    return befores


def _places(bars: Sequence[Bar]) -> list[tuple[int, int]]:
    """For each bar: how many follow in its section as played once, how many went before.

    Pickups do not count, and have (0, 0); bars before the endings count to the end of the
    first one.
    """
    places = [(0, 0)] * len(bars)
    full = [index for index, bar in enumerate(bars) if not bar.pickup]
    for _, group in groupby(full, key=lambda index: bars[index].section):
        section = list(group)
        of_section = _places_in_section([bars[index] for index in section])
        for index, place in zip(section, of_section, strict=True):
            places[index] = place
    return places


def _places_in_section(bars: Sequence[Bar]) -> Iterator[tuple[int, int]]:
    first_of: dict[tuple[int, ...], int] = {}
    ends: dict[tuple[int, ...], int] = {}
    for index, bar in enumerate(bars):
        if bar.ending is not None:
            first_of.setdefault(bar.ending.numbers, index)
            ends[bar.ending.numbers] = index
    last = len(bars) - 1
    body_end = next(iter(ends.values()), last)
    body = next(iter(first_of.values()), last)
    for index, bar in enumerate(bars):
        end, since = body_end, index
        if bar.ending is not None:
            end, since = ends[bar.ending.numbers], body + index - first_of[bar.ending.numbers]
        # Bars after the endings belong to the section's own end.
        yield (end if index <= end else last) - index, since
