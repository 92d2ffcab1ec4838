"""A melody as it is played, moment by moment: what a player's right hand has to strike.

Repeats are unfolded and ties joined.  Positions are `Fraction`s of a whole note, the first
full bar at 0, as in an arrangement.  Grace notes and ornaments are left out.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from fractions import Fraction
from typing import NamedTuple

from backing.errors import TuneError
from backing.music.chord import Chord
from backing.music.dance import Dance, dance_of, felt, usual_tempo
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tempo import Tempo
from backing.music.transpose import interval_of, move_chord, move_key
from backing.music.tune import Bar, Note, Tune
from backing.music.unfold import unfold

#: Phrases are taken to be so many bars long, counted from each section's start.
_PHRASE = 4
_CROTCHET = Fraction(1, 4)
#: Where notes lie in a bar, swung say: notes, felt metre, where the bar begins in it.
Placing = Callable[[Sequence[Note], Metre, Fraction], Sequence[tuple[Fraction, Fraction]]]


class Place(IntEnum):
    """Where in the bar something stands: off the beat, on a felt beat, on the first one."""

    OFF = 0
    BEAT = 1
    ONE = 2


class Wish(NamedTuple):
    """A chord that the tune wants at a place; `last` on a part's last note."""

    chord: Chord
    place: Place
    last: bool


class Moment(NamedTuple):
    """Notes struck together, as MIDI keys; `held` go on from before.

    `bar` counts the bars as played, `note` those of the written bar.  `phrase` marks the
    first of a phrase, `rested` one after a rest, `slurred` one that a slur joins to the
    one before, `last` a part's last.  `gap` is the time since the onset before in
    milliseconds; `seconds` is how long it sounds, `beat` how long a felt beat is.
    `wishes` are the tune's chords at its onset and at the beats that it is held through.
    """

    onset: Fraction
    length: Fraction
    pitches: tuple[int, ...]
    held: tuple[int, ...]
    bar: int
    note: int
    place: Place
    phrase: bool
    rested: bool
    slurred: bool
    last: bool
    gap: float
    seconds: float
    beat: float
    wishes: tuple[Wish, ...]

    @property
    def stop(self) -> Fraction:
        """Where it ends."""
        return self.onset + self.length


class LineBar(NamedTuple):
    """A bar as it is played: which of the written ones, and its number in print; `part`
    counts the times through sections from 0."""

    written: int
    number: int
    section: str
    part: int
    onset: Fraction
    length: Fraction
    pickup: bool
    metre: Metre


@dataclass(frozen=True, slots=True)
class Line:
    """A melody as it is played: its bars, and its moments in order."""

    title: str
    key: Key
    tempo: Tempo
    bars: tuple[LineBar, ...]
    moments: tuple[Moment, ...]

    def moved(self, semitones: int) -> "Line":
        """The same line so many semitones higher, its chords too."""
        if not semitones:
            return self
        interval = interval_of(semitones)
        chords: dict[Chord, Chord] = {}

        def moved(moment: Moment) -> Moment:
            for wish in moment.wishes:
                if wish.chord not in chords:
                    chords[wish.chord] = move_chord(wish.chord, interval)
            return moment._replace(
                pitches=tuple([pitch + semitones for pitch in moment.pitches]),
                held=tuple([pitch + semitones for pitch in moment.held]),
                wishes=tuple([wish._replace(chord=chords[wish.chord]) for wish in moment.wishes]),
            )

        moments = tuple(moved(moment) for moment in self.moments)
        return replace(self, key=move_key(self.key, interval), moments=moments)

    @property
    def has_chords(self) -> bool:
        """True where the tune says which chords it wants."""
        return any(moment.wishes for moment in self.moments)


def line_of(
    tune: Tune, *, dance: Dance | None = None, tempo: Tempo | None = None,
    placing: Placing | None = None,
) -> Line:  # fmt: skip
    """The melody of a tune as it is played.

    `dance` stands in for the one that the tune names, `tempo` for its own or usual one;
    later tempi of the tune scale with it.  `placing` moves notes in their bars.  Raises
    TuneError where there are no notes.
    """
    if next(tune.notes(), None) is None:
        raise TuneError("there are no notes to play on a box")
    dance = dance or dance_of(tune.dance, tune.metre)
    usual = usual_tempo(tune.metre, dance)
    own = tune.tempo.in_unit(usual.unit) if tune.tempo else usual
    tempo = tempo or own
    bars = tuple(_line_bars(tune, dance))
    moments = _Walk(tune, bars, _speeds(tune, own, tempo), placing).moments()
    return Line(tune.title, tune.key, tempo, bars, tuple(moments))


def _line_bars(tune: Tune, dance: Dance | None) -> Iterator[LineBar]:
    """The bars as they are played; the first full one starts at 0."""
    played = unfold(tune)
    first = tune.bars[played[0].index]
    at = -first.length if first.pickup else Fraction(0)
    part, before = -1, None
    for index in (bar.index for bar in played):
        bar = tune.bars[index]
        if before is None or index <= before or bar.section != tune.bars[before].section:
            part += 1
        before = index
        yield LineBar(
            index, bar.number, bar.section, part, at, bar.length, bar.pickup, felt(bar.metre, dance)
        )
        at += bar.length


def _speeds(tune: Tune, own: Tempo, tempo: Tempo) -> list[float]:
    """Seconds a whole note lasts in each written bar; a tempo inside a bar counts from the
    next bar on."""
    found, wholes = [], own.wholes
    scale = tempo.wholes / own.wholes
    for bar in tune.bars:
        wholes = next((m.tempo.wholes for m in bar.tempos if not m.onset), wholes)
        found.append(60 / float(wholes * scale))
        wholes = bar.tempos[-1].tempo.wholes if bar.tempos else wholes
    return found


class _Written(NamedTuple):
    """A written bar in whole steps of the grid."""

    length: int
    notes: list[tuple[int, int, Note, tuple[int, ...], tuple[int, ...]]]
    beats: list[tuple[int, Place]]
    chords: list[tuple[int, Chord]]
    beat: int


class _Draft:
    """A moment that a tie may still make longer."""

    __slots__ = ("bar", "gap", "held", "length", "note", "onset", "pitches", "rested", "slurred")

    def __init__(
        self, onset: int, length: int, pitches: tuple[int, ...], held: tuple[int, ...], bar: int,
        note: int, *, rested: bool, slurred: bool, gap: float,
    ) -> None:  # fmt: skip
        self.onset, self.length, self.pitches, self.held = onset, length, pitches, held
        self.bar, self.note, self.rested, self.slurred = bar, note, rested, slurred
        self.gap = gap


class _Walk:
    """One walk through the bars as played, on a grid of whole steps: `Fraction`s are slow."""

    def __init__(
        self, tune: Tune, bars: Sequence[LineBar], speeds: list[float], placing: Placing | None
    ) -> None:
        self._bars, self._speeds = bars, speeds
        metres = {bar.written: bar.metre for bar in bars}
        placed = {
            index: _placed(tune.bars[index], notes, metres[index], placing)
            for index, notes in enumerate(tune.melody.bars)
            if index in metres
        }
        self._steps = _grid(tune, bars, placed.values())
        self._written = {
            index: self._write(tune.bars[index], tune.melody.bars[index], metres[index], spans)
            for index, spans in placed.items()
        }
        self._starts = [0]
        for bar in bars:
            self._starts.append(self._starts[-1] + self._written[bar.written].length)
        self._first = self._whole(bars[0].onset)

    def _whole(self, length: Fraction) -> int:
        return length.numerator * (self._steps // length.denominator)

    def _write(
        self, bar: Bar, notes: Sequence[Note], metre: Metre, spans: Sequence[tuple[Fraction, ...]]
    ) -> _Written:
        whole = self._whole
        return _Written(
            whole(bar.length),
            [
                (whole(onset), whole(length), note,
                 tuple([pitch.midi for pitch in note.pitches]),
                 tuple([pitch.midi for pitch in note.ties]) if note.ties else ())
                for note, (onset, length) in zip(notes, spans, strict=True)
            ],
            [(whole(at), place) for at, place in _beats(bar, metre)],
            [(whole(symbol.onset), symbol.chord) for symbol in bar.chords],
            whole(metre.beats[0] if metre.beats else _CROTCHET),
        )  # fmt: skip

    def _drafts(self) -> list[_Draft]:
        """What is struck, in order."""
        drafts: list[_Draft] = []
        tied: tuple[int, ...] = ()
        rested, slurs, before, gap = False, 0, -1, 0.0
        for played, (bar, start) in enumerate(zip(self._bars, self._starts, strict=False)):
            if bar.written != before + 1:
                slurs = 0
            before = bar.written
            second = 1000 * self._speeds[bar.written] / self._steps
            for number, (onset, length, note, keys, ties) in enumerate(
                self._written[bar.written].notes
            ):
                if not keys:
                    rested, tied, gap = True, (), gap + length * second
                    continue
                held = tuple([key for key in keys if key in tied]) if tied else ()
                struck = tuple(sorted({key for key in keys if key not in held}))
                if not struck and drafts:
                    drafts[-1].length += length
                else:
                    drafts.append(
                        _Draft(start + onset, length, struck or keys, held if struck else (),
                               played, number, rested=rested, slurred=slurs > 0, gap=gap)
                    )  # fmt: skip
                    gap = 0.0
                gap += length * second
                tied, rested = ties, False
                slurs = max(slurs + note.opens - note.closes, 0)
        return drafts

    def moments(self) -> Iterator[Moment]:
        """The moments, with all that their place says."""
        drafts = self._drafts()
        onsets = [draft.onset for draft in drafts]
        parts, phrases = self._boundaries(set(onsets))
        lasts = {bisect_left(onsets, part) - 1 for part in (*parts[1:], self._starts[-1])}
        wanted = _Wanted(self._chords(), self._beats())
        for index, draft in enumerate(drafts):
            bar = self._bars[draft.bar]
            second = self._speeds[bar.written] / self._steps
            last = index in lasts
            yield Moment(
                Fraction(self._first + draft.onset, self._steps),
                Fraction(draft.length, self._steps),
                draft.pitches, draft.held, draft.bar, draft.note,
                wanted.places.get(draft.onset, Place.OFF),
                draft.onset in phrases, draft.rested, draft.slurred, last,
                draft.gap, draft.length * second, self._written[bar.written].beat * second,
                () if bar.pickup else wanted.through(draft.onset, draft.length, last=last),
            )  # fmt: skip

    def _boundaries(self, onsets: set[int]) -> tuple[list[int], set[int]]:
        """Where parts begin, and where phrases do: with the notes that lead into them, where
        notes begin just there."""
        parts: list[int] = []
        phrases: set[int] = set()
        lead = self._written[self._bars[0].written].length if self._bars[0].pickup else 0
        part, full = -1, 0
        for bar, start in zip(self._bars, self._starts, strict=False):
            begins, part = bar.part != part, bar.part
            full = 0 if begins else full
            if begins or (full and not full % _PHRASE and not bar.pickup):
                led = not bar.pickup and parts and start - lead in onsets
                at = start - lead if led else start
                phrases.add(at)
                if begins:
                    parts.append(at)
            full += not bar.pickup
        return parts, phrases

    def _beats(self) -> list[tuple[int, Place]]:
        """Every beat of the tune."""
        return [
            (start + at, place)
            for bar, start in zip(self._bars, self._starts, strict=False)
            for at, place in self._written[bar.written].beats
        ]

    def _chords(self) -> list[tuple[int, Chord]]:
        """Every chord of the tune, from where it is in force."""
        return [
            (start + at, chord)
            for bar, start in zip(self._bars, self._starts, strict=False)
            for at, chord in self._written[bar.written].chords
        ]


class _Wanted:
    """Which chords the tune wants when; all lists are in order."""

    def __init__(self, chords: list[tuple[int, Chord]], beats: list[tuple[int, Place]]) -> None:
        self.places = dict(beats)
        self._beats = beats
        self._onsets = [at for at, _ in beats]
        self._chords = chords
        self._changes = [at for at, _ in chords]

    def through(self, onset: int, length: int, *, last: bool) -> tuple[Wish, ...]:
        """The chords at an onset, and at the beats that a note is held through."""
        if not self._chords:
            return ()
        first = bisect_right(self._onsets, onset)
        after = bisect_left(self._onsets, onset + length, first)
        held = self._beats[first:after]
        wishes = []
        for at, place in ((onset, self.places.get(onset, Place.OFF)), *held):
            index = bisect_right(self._changes, at) - 1
            if index >= 0 and not self._chords[index][1].silent:
                wishes.append(Wish(self._chords[index][1], place, last and at == onset))
        return tuple(wishes)


def _placed(
    bar: Bar, notes: Sequence[Note], metre: Metre, placing: Placing | None
) -> Sequence[tuple[Fraction, Fraction]]:
    if placing is not None:
        return placing(notes, metre, bar.begins)
    return [(note.onset, note.length) for note in notes]


def _beats(bar: Bar, metre: Metre) -> Iterator[tuple[Fraction, Place]]:
    """The felt beats of a bar; they start again where it is longer than its metre, and free
    metre beats in crotchets."""
    lengths = metre.beats or (_CROTCHET,)
    at, place = -bar.begins, 0
    while at < bar.length:
        if at >= 0:
            yield at, Place.BEAT if place else Place.ONE
        at += lengths[place % len(lengths)]
        place = place + 1 if metre.free else (place + 1) % len(lengths)


def _grid(
    tune: Tune, bars: Sequence[LineBar], placed: Iterable[Sequence[tuple[Fraction, Fraction]]]
) -> int:
    """How many steps of a whole note every position lies on."""
    found = {_CROTCHET.denominator}
    for bar in bars:
        written = tune.bars[bar.written]
        found.update((bar.length.denominator, bar.onset.denominator, written.begins.denominator))
        found.update(beat.denominator for beat in bar.metre.beats)
        found.update(symbol.onset.denominator for symbol in written.chords)
    for spans in placed:
        for onset, length in spans:
            found.update((onset.denominator, length.denominator))
    return math.lcm(*found)
