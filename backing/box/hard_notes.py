"""What makes a bar hard by its notes alone, on whatever instrument."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from statistics import median

from backing.box.costs import pace
from backing.box.difficulty import (
    LEAP,
    LEAP_FROM,
    LEAST_ALIKE,
    POINTS,
    QUICK_MS,
    QUICKEST_MS,
    Difficulty,
    Trait,
)
from backing.box.line import BeatPlace, Moment
from backing.music.key import Key
from backing.music.pitch import name_of
from backing.music.played import BarShape, MappedBar, shape_beats
from backing.music.saying import Fact, HowMany, LeapOf, NoteName, Parts, WhichOne
from backing.music.tonality import note_name, spell_class

#: How strong a place in a bar is: nowhere, halfway through a beat in two, on a beat, at the bar.
_HALF, _BEAT, _BAR = 1, 2, 3
_NEARLY = 1e-5


def notes_in(
    bar: MappedBar,
    moments: Sequence[Moment],
    before: Moment | None,
    usual: float,
    changed: Sequence[bool],
) -> Iterator[Difficulty]:
    """What makes a bar hard by its notes; `before` is the moment before it, `usual` the
    milliseconds from note to note that the tune mostly has.  `changed` says of each moment
    whether the bellows change for it."""
    yield from _fast(moments, usual)
    yield from _leaps(bar, moments, before, changed)
    yield from _syncopation(bar, moments)
    yield from _accidentals(bar, moments)


# -- fast notes --------------------------------------------------------------------------


def _fast(moments: Sequence[Moment], usual: float) -> Iterator[Difficulty]:
    gaps = [max(moment.gap, QUICKEST_MS) for moment in moments if 0 < moment.gap < QUICK_MS]
    if not gaps:
        return
    points = POINTS["fast"] * sum(QUICK_MS / gap - 1 for gap in gaps)
    quicker = [gap for gap in gaps if gap < 0.8 * usual]
    each = quicker or gaps
    what = Fact("quicker-notes" if quicker else "fast-notes", number=len(each))
    rate = Fact("a-second", {"rate": HowMany(round(1000 / median(each)))})
    yield Difficulty(Trait.FAST, points, Parts((what, rate)))


# -- leaps -------------------------------------------------------------------------------


def _leaps(
    bar: MappedBar, moments: Sequence[Moment], before: Moment | None, changed: Sequence[bool]
) -> Iterator[Difficulty]:
    found: list[tuple[int, float, Fact | Parts]] = []
    for moment, turns in zip(moments, changed, strict=True):
        if before is not None:
            step = moment.pitches[-1] - before.pitches[-1]
            size = abs(step)
            if size > LEAP:
                ease = POINTS["leap-at-rest"] if moment.rested or moment.phrase else 1.0
                points = POINTS["leap-a-semitone"] * (size - LEAP_FROM) * ease * pace(moment.gap)
                found.append((size, points, _leap(step, moment, bar.key, turns=turns)))
        before = moment
    if not found:
        return
    _, _, widest = max(found, key=lambda leap: leap[0])
    reason = Fact("leaps", {"widest": widest}, number=len(found))
    yield Difficulty(Trait.LEAPS, sum(points for _, points, _ in found), reason)


def _leap(step: int, moment: Moment, key: Key, *, turns: bool) -> Fact | Parts:
    """How wide a leap is and where to."""
    note = NoteName(note_name(moment.pitches[-1], key))
    leap = Fact("leap-up" if step > 0 else "leap-down", {"size": LeapOf(abs(step)), "note": note})
    return Parts((leap, Fact("leap-on-a-change"))) if turns else leap


# -- syncopation -------------------------------------------------------------------------


@lru_cache(maxsize=512)
def _strengths(*shape: *BarShape) -> dict[float, int]:
    """The strong places of a bar of a shape, its end the last."""
    found: dict[float, int] = {}
    for at, length, place in shape_beats(*shape):
        found[_float(at)] = _BEAT if place else _BAR
        if length.numerator == 1:
            found[_float(at + length / 2)] = _HALF
    stop = _float(Fraction(shape[1], shape[2]))
    return {at: strength for at, strength in found.items() if at < stop} | {stop: _BAR}


def _float(position: Fraction) -> float:
    """A position as it is found again: a whole note has far fewer places than this."""
    over, below = position.as_integer_ratio()
    return round(over / below, 6)


def _syncopation(bar: MappedBar, moments: Sequence[Moment]) -> Iterator[Difficulty]:
    if bar.metre.free:
        return
    places = _strengths(*bar.shape)
    start, end = _float(bar.onset), _float(bar.length)
    points, held, late = 0.0, 0, 0
    for moment in moments:
        if moment.place is BeatPlace.ONE:
            continue
        at = round(_float(moment.onset) - start, 6)
        stop = at + _float(moment.length) - _NEARLY
        own = places.get(at, 0)
        over = _BAR if stop > end else max(
            [strength for place, strength in places.items() if at < place < stop], default=0
        )  # fmt: skip
        if over > own:
            points += POINTS[_held_name(own, over)]
            held += own < _BEAT
        elif moment.rested and own < _BEAT:
            points += POINTS["late"]
            late += 1
    if points:
        yield Difficulty(Trait.SYNCOPATION, points, _syncopated(held, late))


def _held_name(own: int, over: int) -> str:
    if over == _HALF:
        return "held-over-half-a-beat"
    return "held-over-a-beat" if own < _BEAT else "tied-over-a-bar-line"


def _syncopated(held: int, late: int) -> Parts | Fact:
    said = [Fact(key, number=n) for key, n in (("held-over", held), ("late", late)) if n]
    return Fact("both", {"said": [*said]}) if said else Fact("tied-over")


# -- notes outside the key -----------------------------------------------------------------


def _accidentals(bar: MappedBar, moments: Sequence[Moment]) -> Iterator[Difficulty]:
    key = bar.key
    if key.mode == "none":
        return
    found: dict[int, int] = {}
    for moment in moments:
        for pitch in moment.pitches:
            if pitch % 12 not in key.scale:
                found[pitch % 12] = found.get(pitch % 12, 0) + 1
    if not found:
        return
    raised = {(key.tonic - 1) % 12, (key.tonic - 3) % 12} if key.minor else set()
    points = sum(
        (POINTS["accidental"] + POINTS["accidental-again"] * (times - 1))
        * (POINTS["raised"] if tone in raised else 1.0)
        for tone, times in found.items()
    )
    names = [_accidental(tone, key) for tone in found]
    yield Difficulty(Trait.ACCIDENTALS, points, Fact("outside", {"notes": [*names]}))


def _accidental(tone: int, key: Key) -> NoteName | Fact:
    step, alter = spell_class(tone, key)
    name = NoteName(name_of(step, alter))
    return Fact("natural", {"note": name}) if not alter and step in key.signature else name


# -- a bar like another ----------------------------------------------------------------------

#: What a bar has: a number for each of its notes.
BarNotes = tuple[int, ...]


class Contents:
    """What is struck in bars: the same for bars that are alike."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[object, ...], int] = {}

    def of(self, moments: Sequence[Moment]) -> BarNotes:
        """A number for each note of a bar: for its place, its pitches and its length."""
        known = self._numbers
        return tuple(
            [
                known.setdefault(
                    (moment.note, moment.pitches, moment.length.as_integer_ratio()), len(known)
                )
                for moment in moments
            ]
        )


def likenesses(
    bars: Sequence[MappedBar], heard: Mapping[int, Sequence[Moment]]
) -> dict[int, Difficulty]:
    """The bars that differ from an earlier one in a single note, by index: hands go the way
    they know."""
    contents = Contents()
    first: dict[BarNotes, Difficulty | None] = {}
    bare: dict[tuple[BarNotes, BarNotes, int], int] = {}
    found: dict[int, Difficulty] = {}
    for bar in bars:
        moments = heard[bar.index]
        if len(moments) < LEAST_ALIKE:
            continue
        notes = contents.of(moments)
        if notes not in first:
            first[notes] = _likeness(bar.number, notes, contents.of(_unpitched(moments)), bare)
        likeness = first[notes]
        if likeness is not None:
            found[bar.index] = likeness
    return found


def _unpitched(moments: Sequence[Moment]) -> list[Moment]:
    return [moment._replace(pitches=()) for moment in moments]


def _likeness(
    number: int,
    notes: BarNotes,
    unpitched: BarNotes,
    bare: dict[tuple[BarNotes, BarNotes, int], int],
) -> Difficulty | None:
    """The earliest bar that is the same but for a pitch; `bare` are the bars so far without
    each of their pitches."""
    like: list[tuple[int, int]] = []
    for place, note in enumerate(unpitched):
        other = bare.setdefault((notes[:place], notes[place + 1 :], note), number)
        if other != number:
            like.append((other, place))
    if not like:
        return None
    other, place = min(like)
    last = place == len(notes) - 1
    key, which = ("like-but-last", {}) if last else ("like-but", {"which": WhichOne(place + 1)})
    return Difficulty(Trait.LIKENESS, POINTS["likeness"], Fact(key, {"bar": other, **which}))
