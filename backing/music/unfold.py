"""The order in which the bars of a tune are played: repeats, endings, sections."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from backing.errors import TuneError
from backing.music.tune import Bar, Jump, Note, Tune

MOST_BARS = 20_000
#: Bars may be very long: so much music in all, the most bars of ten crotchets.
MOST_WHOLES = 50_000
#: Short notes may be very many in a bar: notes and rests of the melody, repeats counted.
MOST_PLAYED = 200_000


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar as it is played: its index in the tune, and which time through (from 1)."""

    index: int
    time: int


class _Strain(NamedTuple):
    """Bars [start, stop) that are played `plays` times."""

    start: int
    stop: int
    plays: int


def unfold(tune: Tune) -> tuple[PlayedBar, ...]:
    """The bars in the order in which they are played.

    A repeat end goes back to the latest of: the sign that opens the repeat, a double
    bar, the end of the repeat before, the start.  A strain with endings is played as
    often as its highest ending says.  Sections named in an order play with their own
    repeats each time, but "A4" with endings 1 to 4 means four times in all.  "D.C." and
    "D.S." act the last time that they are reached; what follows has no repeats.
    ABC 2.1 clauses 3.1.9, 4.8, 4.9, 4.10.  Raises TuneError past 20,000 bars, 50,000
    semibreves, and 200,000 notes.
    """
    played: list[PlayedBar] = []
    for bar in _played(tune):
        played.append(bar)
        if len(played) > MOST_BARS:
            raise TuneError(
                f"the repeats make more than {MOST_BARS:,} bars", "check the repeat signs"
            )
    _check_length(tune.bars, played)
    _check_notes(tune.melody.bars, played)
    return tuple(played)


def _check_length(bars: Sequence[Bar], played: Sequence[PlayedBar]) -> None:
    """Raise TuneError where the bars played last too long; few bars are looked at one by one."""
    longest = max((bar.length for bar in bars), default=0)
    if len(played) * longest <= MOST_WHOLES:
        return
    if sum(bars[each.index].length for each in played) > MOST_WHOLES:
        raise TuneError(
            f"the tune lasts longer than {MOST_WHOLES:,} semibreves",
            "check the lengths of its longest notes, and the repeat signs",
        )


def _check_notes(melody: Sequence[Sequence[Note]], played: Sequence[PlayedBar]) -> None:
    """Raise TuneError where too many notes are played."""
    fullest = max((len(notes) for notes in melody), default=0)
    if len(played) * fullest <= MOST_PLAYED:
        return
    if sum(len(melody[each.index]) for each in played) > MOST_PLAYED:
        raise TuneError(
            f"the repeats make more than {MOST_PLAYED:,} notes", "check the repeat signs"
        )


def _played(tune: Tune) -> Iterator[PlayedBar]:
    sections = {section.name: section for section in tune.sections}
    order = [name for name in tune.order if name in sections]
    if not order:
        yield from _with_jumps(tune.bars)
        return
    for name, run in groupby(order):
        section = sections[name]
        namings = len(list(run))
        highest = _highest_ending(tune.bars[section.start : section.stop])
        if highest > 2 and namings == highest:
            yield from _play(tune.bars, section.start, section.stop)
            continue
        for _ in range(namings):
            yield from _play(tune.bars, section.start, section.stop)


def _with_jumps(bars: Sequence[Bar]) -> Iterator[PlayedBar]:
    """The bars with their repeats up to the first "D.C." or "D.S.", then what follows it."""
    lasts = _last_times(bars)
    for played in _play(bars, 0, len(bars)):
        yield played
        bar = bars[played.index]
        last = max(bar.ending.numbers) if bar.ending else lasts[played.index]
        if played.time < last:
            continue
        if Jump.DA_CAPO in bar.jumps:
            yield from _after_jump(bars, lasts, 0)
            return
        if Jump.DAL_SEGNO in bar.jumps:
            yield from _after_jump(bars, lasts, _find(bars, Jump.SEGNO) or 0)
            return


def _after_jump(bars: Sequence[Bar], lasts: list[int], index: int) -> Iterator[PlayedBar]:
    """From a bar on, each bar once with its last ending, to "fine" or by the coda to the
    end."""
    coda = _find(bars, Jump.CODA)
    while index < len(bars):
        bar, last = bars[index], lasts[index]
        index += 1
        if bar.ending is not None and last not in bar.ending.numbers:
            continue
        yield PlayedBar(index - 1, last)
        if Jump.FINE in bar.jumps:
            return
        if Jump.TO_CODA in bar.jumps and coda is not None and coda >= index:
            index = coda


def _find(bars: Sequence[Bar], sign: Jump) -> int | None:
    return next((index for index, bar in enumerate(bars) if sign in bar.jumps), None)


def _last_times(bars: Sequence[Bar]) -> list[int]:
    """For each bar the last time through the strain that it stands in."""
    times = [1] * len(bars)
    for strain in _strains(bars, 0, len(bars)):
        times[strain.start : strain.stop] = [strain.plays] * (strain.stop - strain.start)
    return times


def _play(bars: Sequence[Bar], start: int, stop: int) -> Iterator[PlayedBar]:
    for strain in _strains(bars, start, stop):
        for time in range(1, strain.plays + 1):
            for index in range(strain.start, strain.stop):
                ending = bars[index].ending
                if ending is None or time in ending.numbers:
                    yield PlayedBar(index, time)


def _strains(bars: Sequence[Bar], start: int, stop: int) -> Iterator[_Strain]:
    """The strains between two bars, in written order."""
    at, asked, opened = start, 0, False
    for index in range(start, stop):
        bar = bars[index]
        if bar.opens_repeat:
            if index > at:
                yield _strain(bars, at, index, 0)
            at, asked, opened = index, bar.opens_repeat, True
        following = bars[index + 1] if index + 1 < stop else None
        if _closes(bar, following, opened):
            yield _strain(bars, at, index + 1, max(asked, bar.plays) if bar.plays else 0)
            at, asked, opened = index + 1, 0, False
    if at < stop:
        yield _strain(bars, at, stop, 0)


def _closes(bar: Bar, following: Bar | None, opened: bool) -> bool:
    """True where the strain ends with this bar."""
    if bar.ending is not None:
        if following is None or following.ending is None:
            return True
        again = following.ending
        return again.first and min(again.numbers) <= min(bar.ending.numbers)
    if following is not None and following.ending is not None:
        return False
    return bool(bar.plays) or (not opened and bar.close in ("||", "|]", "[|"))


def _strain(bars: Sequence[Bar], start: int, stop: int, plays: int) -> _Strain:
    return _Strain(start, stop, _highest_ending(bars[start:stop]) or plays or 1)


def _highest_ending(bars: Sequence[Bar]) -> int:
    return max((number for bar in bars if bar.ending for number in bar.ending.numbers), default=0)
