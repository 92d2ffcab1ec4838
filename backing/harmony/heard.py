"""What is heard in a slot of a melody and beside it, by the part that it plays there."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.music.tune import Note

#: Positions inside a bar are counted in whole numbers: a whole note holds so many, which
#: leaves dotted 64ths and tuplets of 3, 5, 7 and 9 exact.
_GRID = 64 * 2 * 9 * 5 * 7
#: What is heard, by its part: what sounds in the slot and how long, on its strong points, first
#: and last, come to and left by step; the note that closes a phrase, in its last slot; what
#: sounds in the whole bar; the last note before the slot, and the first after it; the root of
#: a triad where the notes of the slot, or of the bar, spell it and no other note sounds.
PARTS = (
    "sounding", "in the bar", "on beats", "first", "last", "passing", "closing", "before", "after",
    "spells major", "spells minor", "bar spells major", "bar spells minor",
)  # fmt: skip
_TRIADS = {
    frozenset((root + step) % 12 for step in steps): (root, kind)
    for kind, steps in (("major", (0, 4, 7)), ("minor", (0, 3, 7)))
    for root in range(12)
}
#: Pitch classes and how much of each is heard.
HeardTones = tuple[tuple[int, float], ...]


class Heard(NamedTuple):
    """What of a note a slot holds, on the grid; `midi` is its highest pitch."""

    start: int
    stop: int
    midi: int


def heard_in(notes: Sequence[Note], spans: Sequence[tuple[int, int]]) -> Iterator[list[Heard]]:
    """What of a bar's notes, which follow each other, sounds between points of the grid."""
    sounding = [
        Heard(
            onset := on_grid(note.onset),
            onset + on_grid(note.length),
            max(pitch.midi for pitch in note.pitches),
        )
        for note in notes
        if note.pitches
    ]
    first = 0
    for start, stop in spans:
        while first < len(sounding) and sounding[first].stop <= start:
            first += 1
        last = first
        while last < len(sounding) and sounding[last].start < stop:
            last += 1
        yield [
            Heard(max(onset, start), min(end, stop), midi)
            for onset, end, midi in sounding[first:last]
        ]


def on_grid(length: Fraction) -> int:
    """A length or position on the grid."""
    return length.numerator * _GRID // length.denominator


def tones_of_bars(bars: Sequence[int], heard: Sequence[list[Heard]]) -> dict[int, HeardTones]:
    """What sounds in whole bars, given the bar of each slot and what it holds."""
    found: dict[int, list[Heard]] = {}
    for index, notes in zip(bars, heard, strict=True):
        found.setdefault(index, []).extend(notes)
    return {index: _shares(notes) for index, notes in found.items()}


def _shares(notes: Sequence[Heard]) -> HeardTones:
    """How much of the time each pitch class sounds."""
    total = sum(note.stop - note.start for note in notes)
    shares: dict[int, float] = {}
    for note in notes:
        tone = note.midi % 12
        shares[tone] = shares.get(tone, 0.0) + (note.stop - note.start) / total
    return tuple(shares.items())


def tones_in(
    heard: Sequence[Heard],
    before: Sequence[Heard],
    after: Sequence[Heard],
    whole_bar: HeardTones,
    points: Sequence[int],
    *,
    closing: bool,
) -> dict[str, HeardTones]:
    """What is heard in a slot and beside it, by the part that it plays there; `closing` for the
    last slot of a phrase."""
    tones: dict[str, HeardTones] = {"sounding": _shares(heard), "in the bar": whole_bar}
    if heard:
        tones["on beats"] = _on_beats(heard, points)
        tones["first"] = ((heard[0].midi % 12, 1.0),)
        tones["last"] = ((heard[-1].midi % 12, 1.0),)
        tones["passing"] = _passing(heard, before, after)
        tones["closing"] = _at_rest(heard) if closing else ()
    if before:
        tones["before"] = ((before[-1].midi % 12, 1.0),)
    if after:
        tones["after"] = ((after[0].midi % 12, 1.0),)
    for lead, sounding in (("", tones["sounding"]), ("bar ", whole_bar)):
        if len(sounding) == 3:
            spelled = _TRIADS.get(frozenset(tone for tone, _ in sounding))
            if spelled:
                tones[f"{lead}spells {spelled[1]}"] = ((spelled[0], 1.0),)
    return tones


def strong_points(onset: Fraction, stop: Fraction) -> tuple[int, int]:
    """The start of a slot and the stronger point inside it: its middle, or its last third
    where it divides in three."""
    length = stop - onset
    inside = Fraction(2, 3) if length.numerator == 3 else Fraction(1, 2)
    return on_grid(onset), on_grid(onset + length * inside)


def _on_beats(heard: Sequence[Heard], points: Sequence[int]) -> HeardTones:
    """The notes that sound at the strong points, half for each."""
    return tuple(
        (note.midi % 12, 0.5)
        for point in points
        for note in heard
        if note.start <= point < note.stop
    )


def _at_rest(heard: Sequence[Heard]) -> HeardTones:
    """The longest note, of equals the first, where it fills half of the slot at least: quick
    notes close no phrase."""
    longest = max(heard, key=lambda note: note.stop - note.start)
    half = sum(note.stop - note.start for note in heard) / 2
    return ((longest.midi % 12, 1.0),) if longest.stop - longest.start >= half else ()


def _passing(heard: Sequence[Heard], before: Sequence[Heard], after: Sequence[Heard]) -> HeardTones:
    """The notes that are come to and left by step: passing and neighbour notes."""
    line = [*before[-1:], *heard, *after[:1]]
    total = sum(note.stop - note.start for note in heard)
    shares: dict[int, float] = {}
    for last, note, following in zip(line, line[1:], line[2:], strict=False):
        if 0 < abs(last.midi - note.midi) <= 2 and 0 < abs(following.midi - note.midi) <= 2:
            tone = note.midi % 12
            shares[tone] = shares.get(tone, 0.0) + (note.stop - note.start) / total
    return tuple(shares.items())
