"""The melody as it sounds: ties joined, grace notes, ornaments, swing, staccato."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from backing.arranging.arrangement import Event, MappedBar, Origin
from backing.arranging.dynamics import STEP, Loudness
from backing.arranging.ornaments import QUICK, figure, ornament_of
from backing.music.metre import Metre
from backing.music.tune import Note

#: An accent is one step louder.
_ACCENT = STEP
_ACCENTS = frozenset({"accent", "emphasis", ">", "L", "marcato", "^"})

Span = tuple[Fraction, Fraction]


class _Sounding:
    """An event that a tie may still make longer."""

    __slots__ = ("length", "onset", "origin", "pitches", "velocity")

    def __init__(
        self,
        onset: Fraction,
        length: Fraction,
        pitches: tuple[int, ...],
        velocity: int,
        origin: Origin,
    ) -> None:
        self.onset, self.length, self.pitches = onset, length, pitches
        self.velocity, self.origin = velocity, origin

    def event(self) -> Event:
        return Event(self.onset, self.length, self.pitches, self.velocity, self.origin)


def melody_events(
    bars: Sequence[MappedBar],
    written: Sequence[Sequence[Note]],
    *,
    swing: Fraction | None,
    soften: bool,
    ornaments: bool,
) -> tuple[Event, ...]:
    """The events of a voice through the bars as they are played.

    `swing` is the ratio of a swung pair, None for even ones; with `soften`, written
    dotted pairs take that ratio too.  `ornaments` False leaves out grace notes, rolls,
    trills and the like.
    """
    sounding: list[_Sounding] = []
    held: dict[int, _Sounding] = {}
    loudness = Loudness(written)
    spans: dict[int, list[Span]] = {}
    for bar in bars:
        notes = written[bar.index]
        placed = spans.get(bar.index)
        if placed is None:
            placed = swung(notes, bar.metre, bar.begins, swing, soften)
            spans[bar.index] = placed
        for index, (note, (onset, length)) in enumerate(zip(notes, placed, strict=True)):
            if not note.pitches:
                held = {}
                continue
            origin = Origin(bar.tune, 0, bar.index, index)
            held = _strike(
                sounding, held, note, bar, bar.onset + onset, length, origin,
                loudness.of(note, (bar.index, index)),
                ornaments=ornaments,
            )  # fmt: skip
    return tuple(event.event() for event in sounding)


def _strike(
    sounding: list[_Sounding],
    held: dict[int, _Sounding],
    note: Note,
    bar: MappedBar,
    onset: Fraction,
    length: Fraction,
    origin: Origin,
    level: int,
    *,
    ornaments: bool,
) -> dict[int, _Sounding]:
    """Sound one note; what its ties hold on into the next is returned."""
    keys = tuple(pitch.midi for pitch in note.pitches)
    started = keys
    if held:
        started = ()
        for key in keys:
            if key in held and held[key].onset + held[key].length == onset:
                held[key].length += length
            else:
                started += (key,)
                held.pop(key, None)
    velocity = level
    if note.decorations:
        if not _ACCENTS.isdisjoint(note.decorations):
            velocity = min(level + _ACCENT, 127)
        if "staccato" in note.decorations and not note.ties:
            length = length / 2
    if ornaments and started and (note.graces or note.decorations):
        for part, quick in _quick_notes(note, bar, length):
            sounding.append(_Sounding(onset, part, quick, velocity, origin))
            onset, length = onset + part, length - part
    if not note.ties and len(set(started)) == len(started):
        if started:
            sounding.append(_Sounding(onset, length, started, velocity, origin))
        return {}
    new = {key: _Sounding(onset, length, (key,), velocity, origin) for key in started}
    sounding.extend(new.values())
    now = {**held, **new}
    return {tied.midi: now[tied.midi] for tied in note.ties if tied.midi in now}


def _quick_notes(
    note: Note, bar: MappedBar, length: Fraction
) -> Iterator[tuple[Fraction, tuple[int, ...]]]:
    """The length and keys of what sounds before the written note, in its time: grace notes,
    which take half of it at most, and its ornament but for the last note."""
    if note.graces:
        each = min(QUICK, length / (2 * len(note.graces)))
        length -= each * len(note.graces)
        for grace in note.graces:
            yield each, tuple(dict.fromkeys(pitch.midi for pitch in grace.pitches))
    name = ornament_of(note.decorations)
    if name and len(note.pitches) == 1:
        for part, key in figure(name, note.pitches[0], length, bar.key, bar.metre)[:-1]:
            yield part, (key,)


def swing_unit(metre: Metre) -> Fraction | None:
    """The time that a swung pair fills: a quarter of the bar in two- and four-time, else
    a crotchet; None where beats divide in three, or where there is no metre."""
    if metre.free or any(beat.numerator == 3 for beat in metre.beats):
        return None
    if metre.count in (2, 4):
        return metre.length / 4
    return Fraction(1, 4) if metre.unit <= 4 else None


def swung(
    notes: Sequence[Note], metre: Metre, begins: Fraction, ratio: Fraction | None, soften: bool
) -> list[Span]:
    """Onset and length of each note with its swing.

    Only equal, undotted pairs that fill one swing unit move, never tuplets; with
    `soften`, pairs written dotted (3 to 1) take the ratio too.
    """
    spans = [(note.onset, note.length) for note in notes]
    unit = swing_unit(metre)
    if ratio is None or unit is None:
        return spans
    dotted = unit * 3 / 4
    for index in range(len(notes) - 1):
        first, second = notes[index], notes[index + 1]
        even = first.length == second.length == unit / 2
        if not even and not (soften and first.length == dotted and second.length == unit / 4):
            continue
        if first.tuplet or second.tuplet or (first.onset + begins) % unit:
            continue
        long = unit * ratio / (ratio + 1)
        spans[index] = (first.onset, long)
        spans[index + 1] = (first.onset + long, unit - long)
    return spans
