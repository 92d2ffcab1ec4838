"""The melody as it sounds: ties joined, grace notes, ornaments, swing, staccato."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import CUT, TRILL, Event, Origin, TimeLimit
from backing.arranging.dynamics import STEP, Loudness
from backing.arranging.ornaments import QUICK, figure, ornament_of
from backing.arranging.stress import EVEN, stress_of
from backing.music.played import Keys, MappedBar, PlayedTune, Strike, later
from backing.music.swing import Placement
from backing.music.tune import Note

#: An accent is one step louder.
_ACCENT = STEP
_ACCENTS = frozenset({"accent", "emphasis", ">", "L", "marcato", "^"})
#: In place of a number: the event that sounded already when the bar began.
_ENTERED = -1


class _SoundingBar(NamedTuple):
    """What sounds in a written bar: events from the bar's start; how much longer the keys
    sound that are held into it; which event each key belongs to that is held out of it; the
    level after it."""

    events: tuple[Event, ...]
    entering: dict[int, Fraction]
    leaving: dict[int, int]
    level: int


def melody_events(played: PlayedTune, *, ornaments: bool) -> tuple[Event, ...]:
    """The events of the melody through the bars as they are played.

    `ornaments` False leaves out grace notes, rolls, trills and the like, and stress.  What
    sounds in a written bar is worked out once for each way into it: what is held, how loud it
    is, where in its part it stands.
    """
    written = played.tune.melody.bars
    loudness = Loudness(written)
    events: list[Event] = []
    held: dict[int, int] = {}
    known: dict[tuple[tuple[int, Keys], int, int, int], _SoundingBar] = {}
    for bar, (into, strikes) in zip(played.bars, played.struck, strict=True):
        way = (into, loudness.level, bar.position, bar.full)
        heard = known.get(way)
        if heard is None:
            sounding = _OpenEvent(bar, loudness, ornaments=ornaments)
            heard = sounding.heard(written[bar.index], played.placed[bar.index], strikes)
            known[way] = heard
        loudness.level = heard.level
        for key, more in heard.entering.items():
            begun = events[held[key]]
            events[held[key]] = begun._replace(length=begun.length + more)
        first, start = len(events), bar.onset
        events += [
            Event(later(start, at), length, pitches, velocity, origin, limit)
            for at, length, pitches, velocity, origin, limit in heard.events
        ]
        held = {
            key: held[key] if number == _ENTERED else first + number
            for key, number in heard.leaving.items()
        }
    return tuple(events)


class _OpenEvent:
    """One written bar, note by note; an event may still be made longer by a tie."""

    def __init__(self, bar: MappedBar, loudness: Loudness, *, ornaments: bool) -> None:
        self._bar, self._loudness, self._ornaments = bar, loudness, ornaments
        self._events: list[Event] = []
        self._entering: dict[int, Fraction] = {}

    def heard(
        self, notes: Sequence[Note], placed: Sequence[Placement], strikes: Sequence[Strike]
    ) -> _SoundingBar:
        """What sounds in the bar."""
        held: dict[int, int] = {}
        events, index, loudness = self._events, self._bar.index, self._loudness
        stress = stress_of(self._bar) if self._ornaments else EVEN
        for number, (note, (onset, length), (keys, tied)) in enumerate(
            zip(notes, placed, strikes, strict=True)
        ):
            if not note.pitches:
                held = {}
                continue
            for key in tied:
                self._lengthen(key, held.setdefault(key, _ENTERED), length)
            level = loudness.of(note, (index, number))
            velocity = stress.on(level, note.onset.as_integer_ratio())
            event = Event(onset, length, keys, velocity, Origin(0, index, number))
            if note.ties or note.decorations or note.graces or len(keys) != 1:
                now = {**held, **self._strike(note, event)}
                held = {tie.midi: now[tie.midi] for tie in note.ties if tie.midi in now}
            else:
                events.append(event)
                held = {}
        return _SoundingBar(tuple(events), self._entering, held, loudness.level)

    def _lengthen(self, key: int, number: int, more: Fraction) -> None:
        if number == _ENTERED:
            self._entering[key] = self._entering.get(key, Fraction(0)) + more
        else:
            event = self._events[number]
            self._events[number] = event._replace(length=event.length + more)

    def _strike(self, note: Note, event: Event) -> dict[int, int]:
        """Sound what is struck of a note; the number of each key's event, for a tie."""
        onset, length, keys, velocity, origin, limit = event
        if not _ACCENTS.isdisjoint(note.decorations):
            velocity = min(velocity + _ACCENT, 127)
        if "staccato" in note.decorations and not note.ties:
            length = length / 2
        if self._ornaments and keys:
            for part, quick, own in _quick_notes(note, self._bar, length):
                strength = max(velocity - STEP, 1) if own is CUT else velocity
                self._events.append(Event(onset, part, quick, strength, origin, own))
                onset, length = onset + part, length - part
                limit = TRILL if own is TRILL else None
        together = tuple(dict.fromkeys(keys))
        first = len(self._events)
        # Each key that is tied on has an event of its own, which only its tie makes longer.
        struck = [(key,) for key in together] if note.ties else [together] if together else []
        self._events += [
            Event(onset, length, sounding, velocity, origin, limit) for sounding in struck
        ]
        return {key: first + place for place, sounding in enumerate(struck) for key in sounding}


def _quick_notes(
    note: Note, bar: MappedBar, length: Fraction
) -> Iterator[tuple[Fraction, Keys, TimeLimit | None]]:
    """The length, keys and limit of what sounds before the written note, in its time: grace
    notes, which take half of it at most, and its ornament but for the last note."""
    if note.graces:
        each = min(QUICK, length / (2 * len(note.graces)))
        length -= each * len(note.graces)
        for keys in note.grace_keys:
            yield each, keys, CUT
    name = ornament_of(note.decorations)
    if name and len(note.pitches) == 1:
        *before, (_, own) = figure(name, note.pitches[0], length, bar.key, bar.metre)
        for part, key in before:
            cut = CUT if name == "roll" and key != own else None
            yield part, (key,), TRILL if name == "trill" else cut
