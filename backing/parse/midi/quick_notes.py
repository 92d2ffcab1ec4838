"""Notes that follow each other quickly: chords, grace notes, or notes of their own."""

from collections.abc import Callable, Sequence
from itertools import pairwise
from statistics import median

from backing.parse.midi.events import ChannelLine, HeldKey
from backing.parse.midi.grid import TOGETHER_MS

#: Seconds: a grace note is struck no longer than so much before its note, and so much less than
#: a semiquaver, since two that are played unevenly come near each other.
_MOST_GRACE, _ROOM = 0.06, 0.035
#: Seconds that a demisemiquaver lasts at least, and the share of it that quick notes last in the
#: middle where they are notes: grace notes have a length of their own, whatever the tempo.
_LEAST_NOTE, _NOTES = 0.045, 0.85


def struck_together(
    presses: Sequence[HeldKey], seconds: Callable[[int], float]
) -> tuple[HeldKey, ...]:
    """The presses, those struck together at one tick: within 30 milliseconds, and held
    together, which notes of a quick run are not."""
    found: list[HeldKey] = []
    for press in sorted(presses):
        before = found[-1] if found else press
        near = (seconds(press.start) - seconds(before.start)) * 1000 <= TOGETHER_MS
        held = min(before.stop - before.start, press.stop - press.start)
        if near and (before.stop - press.start) * 2 > held:
            found.append(press._replace(start=before.start))
        else:
            found.append(press)
    return tuple(sorted(found))


def graces_of(
    line: ChannelLine, seconds: Callable[[int], float], semiquaver: float
) -> dict[int, tuple[tuple[int, ...], list[HeldKey]]]:
    """The keys struck too shortly before a note to be notes of their own, by its tick."""
    most = min(_MOST_GRACE, semiquaver - _ROOM)
    gaps = [seconds(b.start) - seconds(a.start) for a, b in pairwise(line.presses)]
    short = [gap for gap in gaps if 0 < gap < semiquaver * 3 / 4]
    if short and semiquaver / 2 >= _LEAST_NOTE and median(short) >= _NOTES * semiquaver / 2:
        return {}
    found: dict[int, tuple[tuple[int, ...], list[HeldKey]]] = {}
    before: list[HeldKey] = []
    for press, following in pairwise(line.presses):
        gap = seconds(following.start) - seconds(press.start)
        if 0 < gap < most:
            before.append(press)
            continue
        if before:
            found[press.start] = (tuple(one.key for one in before), before)
        before = []
    if before:
        found[line.presses[-1].start] = (tuple(one.key for one in before), before)
    return found
