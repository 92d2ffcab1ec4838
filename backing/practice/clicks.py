"""The click: on the felt beats, subdivided where they are slow, or as the player chooses."""

from bisect import bisect_right
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import islice

from backing.arranging.arrangement import BarShape, Event, MappedBar, Origin, move_events
from backing.practice.plan import Click
from backing.practice.stretch import Kind, Stretch

#: General MIDI percussion keys: high wood block for the first beat, low for the others.
ACCENT_KEY, BEAT_KEY = 76, 77
_ACCENT, _BEAT, _SOFT, _BETWEEN = 110, 88, 52, 44
_CLICK_LENGTH = Fraction(1, 32)
#: Below so many felt beats a minute the click subdivides.
SLOW = Fraction(45)
#: So many bars with clicks, then as many without.
_BARS_BY_TURNS = {Click.EVERY_OTHER_BAR: 1, Click.BY_TURNS: 2}


def _as_asked() -> Fraction:
    return Fraction(1)


def clicks(
    stretch: Stretch, scale: Callable[[], Fraction] = _as_asked, first: int = 0
) -> Iterator[tuple[Event, ...]]:
    """The clicks of each bar of a stretch from the place `first` on, softer under a pickup.

    `scale` is how much faster than asked it is played when a bar is made ready.  What stands
    before, between and after the times through has its beats, whatever is chosen: the player
    needs them there.
    """
    tempo_at = _own_tempo(stretch)
    counted = _counted(stretch)
    soft_from = stretch.stop - stretch.pickup
    known: dict[tuple[BarShape, Click], tuple[Event, ...]] = {}
    for bar, number in islice(zip(stretch.frame, counted, strict=True), first, None):
        way = _way(stretch, bar, tempo_at(bar.onset) * scale(), number)
        if way is None:
            yield ()
            continue
        shape = (bar.shape, way)
        if shape not in known:
            known[shape] = tuple(_bar_clicks(bar, way))
        found = move_events(known[shape], bar.onset)
        if stretch.pickup and bar.stop > soft_from:
            found = (
                event._replace(velocity=min(event.velocity, _SOFT))
                if event.onset >= soft_from
                else event
                for event in found
            )
        yield tuple(found)


def _way(stretch: Stretch, bar: MappedBar, wholes: Fraction, number: int) -> Click | None:
    """How a bar is clicked, at so many whole notes a minute; None for one that is silent."""
    asked = stretch.click
    if stretch.kind is Kind.REST:
        return None
    if asked is Click.SUBDIVIDED or (asked is Click.OFF_BEATS and stretch.in_tune):
        return asked
    turn = _BARS_BY_TURNS.get(asked, 0) if asked and stretch.in_tune else 0
    if turn and number // turn % 2:
        return None
    slow = wholes < SLOW * bar.metre.felt_beat
    return Click.SUBDIVIDED if slow and asked is not Click.BEATS else Click.BEATS


def _own_tempo(stretch: Stretch) -> Callable[[Fraction], Fraction]:
    """Whole notes a minute at a position, fermatas left aside."""
    sounding = stretch.sounding
    if sounding is None:
        return lambda position: stretch.tempo.wholes
    steady = [placed for placed in sounding.piece.tempos if not placed.held]
    if len(steady) == 1:
        only = steady[0].tempo.wholes * stretch.factor
        return lambda position: only
    onsets = [placed.onset + sounding.by for placed in steady]

    def wholes(position: Fraction) -> Fraction:
        place = max(bisect_right(onsets, position) - 1, 0)
        return steady[place].tempo.wholes * stretch.factor

    return wholes


def _counted(stretch: Stretch) -> Iterator[int]:
    """The number of each bar from the first time through on, from 0; a short bar and the pickup
    that completes it are one."""
    full = sum(not bar.begins for bar in stretch.frame) + max(stretch.first, 0)
    number = max(stretch.time - 1, 0) * full + max(stretch.first, 0) - 1
    for bar in stretch.frame:
        number += not bar.begins
        yield max(number, 0)


def _bar_clicks(bar: MappedBar, way: Click) -> Iterator[Event]:
    """The clicks of one bar, from its start."""
    for at, length, place in bar.beats():
        parts = 3 if length.numerator == 3 else 2
        between = [at + length * part / parts for part in range(1, parts)]
        if way is not Click.OFF_BEATS:
            yield _click(at, *((BEAT_KEY, _BEAT) if place else (ACCENT_KEY, _ACCENT)))
        for onset in between if way is Click.SUBDIVIDED else ():
            if onset < bar.length:
                yield _click(onset, BEAT_KEY, _BETWEEN)
        if way is Click.OFF_BEATS and between[-1] < bar.length:
            yield _click(between[-1], BEAT_KEY, _BEAT)


def _click(at: Fraction, key: int, velocity: int) -> Event:
    return Event(at, _CLICK_LENGTH, (key,), velocity, Origin(-1, -1, -1))
