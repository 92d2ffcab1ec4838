"""Chords that a player sets in single bars, those of all others left as they are."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from backing.errors import PracticeError
from backing.music.chord import NO_CHORD, Chord
from backing.music.dance import felt
from backing.music.metre import Metre
from backing.music.played import beats_in, chords_before, dance_for
from backing.music.tune import Bar, ChordSymbol, Tune
from backing.wording import count


class BarChords(NamedTuple):
    """Chords to set in the bar of this number, from its start on; None where the one before
    goes on.  Without any the chord of the bar before goes on through it."""

    number: int
    chords: tuple[Chord | None, ...]


def set_chords(tune: Tune, wanted: Sequence[BarChords]) -> Tune:
    """The tune with other chords in some of its bars, spread over their felt beats.

    Other bars sound as before: where a chord would go on into one that it did not, that bar
    names its own.  Raises PracticeError for a bar that is not there or is set twice, and for
    more chords than beats.
    """
    bars = list(tune.bars)
    changed: set[int] = set()
    for one in wanted:
        index = _index_of(tune, one.number)
        if index in changed:
            raise PracticeError(f"bar {one.number} is set twice", "give all its chords at once")
        changed.add(index)
        bars[index] = replace(bars[index], chords=_spread(tune, bars[index], one))
    return _as_before(tune, replace(tune, bars=tuple(bars)), changed)


def _index_of(tune: Tune, number: int) -> int:
    """The bar of a number; of a split bar the half before the repeat sign."""
    found = [index for index, bar in enumerate(tune.bars) if bar.number == number]
    if not found:
        first, last = (function(bar.number for bar in tune.bars) for function in (min, max))
        raise PracticeError(
            f"there is no bar {number} here", f"the tune has bars {first} to {last}"
        )
    return next((index for index in found if not tune.bars[index].pickup), found[0])


def _spread(tune: Tune, bar: Bar, wanted: BarChords) -> tuple[ChordSymbol, ...]:
    """Chords at the beats of a bar; where they do not share them evenly the earlier last longer."""
    beats = _beats_for(tune, bar, len(wanted.chords))
    size = len(wanted.chords)
    if size > len(beats):
        raise PracticeError(
            f"bar {wanted.number} has {count(len(beats), 'beat')}, and {size} chords are given",
            f"give {len(beats)} at most",
        )
    onsets = [beats[-(-len(beats) * place // size)] for place in range(size)]
    return tuple(
        ChordSymbol(onset, chord, str(chord))
        for onset, chord in zip(onsets, wanted.chords, strict=True)
        if chord is not None
    )


def _beats_for(tune: Tune, bar: Bar, size: int) -> tuple[Fraction, ...]:
    """The felt beats of a bar; those of its metre where so many chords need them; in a metre of
    one beat the notes that make it."""
    metre = bar.metre
    unit = Metre(metre.count, metre.unit, (Fraction(1, metre.unit),) * metre.count, (metre.count,))
    ways = [felt(metre, dance_for(tune)), metre, *([unit] if len(metre.beats) == 1 else [])]
    found = [beats_in(bar, way) for way in ways]
    return next((beats for beats in found if len(beats) >= size), max(found, key=len))


def _as_before(old: Tune, new: Tune, changed: set[int]) -> Tune:
    """The new tune, in which bars that were not changed name the chord that went on into them
    where another would do so now."""
    wanted = chords_before(old)
    while True:
        lost = (
            index
            for index, (before, now) in enumerate(zip(wanted, chords_before(new), strict=True))
            if before != now and index not in changed and not _names_its_first(new.bars[index])
        )
        index = next(lost, None)
        if index is None:
            return new
        bar, kept = new.bars[index], wanted[index] or NO_CHORD
        named = replace(bar, chords=(ChordSymbol(Fraction(0), kept, str(kept)), *bar.chords))
        new = replace(new, bars=(*new.bars[:index], named, *new.bars[index + 1 :]))


def _names_its_first(bar: Bar) -> bool:
    return bool(bar.chords) and not bar.chords[0].onset
