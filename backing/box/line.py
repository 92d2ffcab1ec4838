"""A melody as it is played, moment by moment: what a player's right hand has to strike.

Repeats are unfolded and ties joined.  Positions are `Fraction`s of a whole note, the first
full bar at 0, as in an arrangement.  Grace notes stand with the note that they lead into;
ornaments are left out.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from fractions import Fraction
from typing import NamedTuple

from backing.errors import TuneError
from backing.music.chord import Chord
from backing.music.dance import Dance
from backing.music.key import Key
from backing.music.played import (
    Keys,
    MappedBar,
    PlayedTune,
    as_played,
    grid_of,
    in_steps,
    later,
    tempos_of_bars,
)
from backing.music.swing import Placement
from backing.music.tempo import Tempo
from backing.music.transpose import move_chord, move_key, readable_interval
from backing.music.tune import Note, Tune

_CROTCHET = Fraction(1, 4)
_EVEN = Fraction(1)


class BeatPlace(IntEnum):
    """Where in the bar something stands: off the beat, on a felt beat, on the first one."""

    OFF = 0
    BEAT = 1
    ONE = 2


class ChordWish(NamedTuple):
    """A chord that the tune wants at a place; `first` on a part's first bar line, `last` on its
    last note."""

    chord: Chord
    place: BeatPlace
    last: bool = False
    first: bool = False


class Moment(NamedTuple):
    """Notes struck together, as MIDI keys; `held` go on from before.

    `bar` counts the bars as played, `note` those of the written bar.  `phrase` marks the
    first of a phrase, `rested` one after a rest, `slurred` one that a slur joins to the
    one before, `last` a part's last.  `gap` is the time since the onset before in
    milliseconds; `seconds` is how long it sounds, `beat` how long a felt beat is.
    `wishes` are the tune's chords at its onset and at the beats that it is held through.
    `graces` are the grace notes before it.
    """

    onset: Fraction
    length: Fraction
    pitches: tuple[int, ...]
    held: tuple[int, ...]
    bar: int
    note: int
    place: BeatPlace
    phrase: bool
    rested: bool
    slurred: bool
    last: bool
    gap: float
    seconds: float
    beat: float
    wishes: tuple[ChordWish, ...]
    graces: tuple[Keys, ...] = ()

    @property
    def stop(self) -> Fraction:
        """Where it ends."""
        return later(self.onset, self.length)


@dataclass(frozen=True, slots=True)
class MelodyLine:
    """A melody as it is played: its bars, and its moments in order."""

    title: str
    key: Key
    tempo: Tempo
    bars: tuple[MappedBar, ...]
    moments: tuple[Moment, ...]

    def moved(self, semitones: int) -> "MelodyLine":
        """The same line so many semitones higher, its chords too, in a key with few signs."""
        if not semitones:
            return self
        interval = readable_interval(self.key, semitones)
        chords: dict[Chord, Chord] = {}

        def moved(moment: Moment) -> Moment:
            for wish in moment.wishes:
                if wish.chord not in chords:
                    chords[wish.chord] = move_chord(wish.chord, interval)
            return moment._replace(
                pitches=tuple([pitch + semitones for pitch in moment.pitches]),
                held=tuple([pitch + semitones for pitch in moment.held]),
                wishes=tuple([wish._replace(chord=chords[wish.chord]) for wish in moment.wishes]),
                graces=tuple([tuple([key + semitones for key in keys]) for keys in moment.graces]),
            )

        moments = tuple(moved(moment) for moment in self.moments)
        return replace(self, key=move_key(self.key, interval), moments=moments)

    @property
    def has_chords(self) -> bool:
        """True where the tune says which chords it wants."""
        return any(moment.wishes for moment in self.moments)


def line_of(tune: Tune, *, dance: Dance | None = None, tempo: Tempo | None = None) -> MelodyLine:
    """The melody of a tune as it is played, its pairs even.

    `dance` stands in for the one that the tune names, `tempo` for its own or usual one;
    later tempi of the tune scale with it.  Raises TuneError where there are no notes.
    """
    _check_notes(tune)
    return line_as_played(as_played(tune, dance.name if dance else "", _EVEN), tempo)


def line_as_played(played: PlayedTune, tempo: Tempo | None = None) -> MelodyLine:
    """The melody of a tune as it is played, at another tempo perhaps, which later ones scale
    with.  Raises TuneError where there are no notes."""
    _check_notes(played.tune)
    tempo = tempo or played.tempo
    moments = _LineWalk(played, _speeds(played, tempo)).moments()
    return MelodyLine(played.tune.title, played.tune.key, tempo, played.bars, tuple(moments))


def _check_notes(tune: Tune) -> None:
    if next(tune.notes(), None) is None:
        raise TuneError("there are no notes to play on a box")


def _speeds(played: PlayedTune, tempo: Tempo) -> list[float]:
    """Seconds a whole note lasts in each written bar; a tempo inside a bar counts from the
    next bar on."""
    scale = tempo.wholes / played.tempo.wholes
    tempos = tempos_of_bars(played.tune, played.tempo)
    return [60 / float(own.wholes * scale) for own in tempos]


class _Written(NamedTuple):
    """A written bar in whole steps of the grid."""

    length: int
    notes: list[tuple[int, int, Note]]
    beats: list[tuple[int, BeatPlace]]
    chords: list[tuple[int, Chord]]
    beat: int


class _MomentDraft:
    """A moment that a tie may still make longer."""

    __slots__ = ("bar", "gap", "held", "length", "note", "onset", "pitches", "rested", "slurred")

    def __init__(
        self, onset: int, length: int, pitches: tuple[int, ...], held: tuple[int, ...], bar: int,
        note: int, *, rested: bool, slurred: bool, gap: float,
    ) -> None:  # fmt: skip
        self.onset, self.length, self.pitches, self.held = onset, length, pitches, held
        self.bar, self.note, self.rested, self.slurred = bar, note, rested, slurred
        self.gap = gap


class _LineWalk:
    """One walk through the bars as played, on a grid of whole steps: `Fraction`s are slow."""

    def __init__(self, played: PlayedTune, speeds: list[float]) -> None:
        self._played, self._bars, self._speeds = played, played.bars, speeds
        bars = {bar.index: bar for bar in played.bars}
        self._steps = grid_of(_positions(played, played.placed.values()))
        self._written = {
            index: self._write(bar, played.placed[index]) for index, bar in bars.items()
        }
        self._starts = [0]
        for bar in self._bars:
            self._starts.append(self._starts[-1] + self._written[bar.index].length)
        self._first = self._whole(self._bars[0].onset)

    def _whole(self, length: Fraction) -> int:
        return in_steps(length, self._steps)

    def _write(self, bar: MappedBar, spans: Sequence[Placement]) -> _Written:
        whole, tune = self._whole, self._played.tune
        notes = tune.melody.bars[bar.index]
        return _Written(
            whole(bar.length),
            [
                (whole(onset), whole(length), note)
                for note, (onset, length) in zip(notes, spans, strict=True)
            ],
            [
                (whole(at), BeatPlace.BEAT if place else BeatPlace.ONE)
                for at, _, place in bar.beats()
            ],
            [(whole(symbol.onset), symbol.chord) for symbol in tune.bars[bar.index].chords],
            whole(bar.metre.beats[0] if bar.metre.beats else _CROTCHET),
        )

    def _drafts(self) -> list[_MomentDraft]:
        """What is struck, in order."""
        drafts: list[_MomentDraft] = []
        rested, slurs, before, gap = False, 0, -1, 0.0
        for at, (bar, start, struck) in enumerate(
            zip(self._bars, self._starts, self._played.struck, strict=False)
        ):
            if bar.index != before + 1:
                slurs = 0
            before = bar.index
            second = 1000 * self._speeds[bar.index] / self._steps
            notes = self._written[bar.index].notes
            for number, ((onset, length, note), (keys, held)) in enumerate(
                zip(notes, struck.strikes, strict=True)
            ):
                if not note.pitches:
                    rested, gap = True, gap + length * second
                    continue
                if keys:
                    drafts.append(
                        _MomentDraft(start + onset, length, tuple(sorted(set(keys))), held,
                               at, number, rested=rested, slurred=slurs > 0, gap=gap)
                    )  # fmt: skip
                    gap = 0.0
                else:
                    drafts[-1].length += length
                gap += length * second
                rested = False
                slurs = max(slurs + note.opens - note.closes, 0)
        return drafts

    def moments(self) -> Iterator[Moment]:
        """The moments, with all that their place says."""
        drafts = self._drafts()
        onsets = [draft.onset for draft in drafts]
        parts, phrases = self._boundaries(set(onsets))
        lasts = {bisect_left(onsets, part) - 1 for part in (*parts[1:], self._starts[-1])}
        wanted = _Wanted(self._chords(), self._beats(), self._downbeats())
        for index, draft in enumerate(drafts):
            bar = self._bars[draft.bar]
            second = self._speeds[bar.index] / self._steps
            last = index in lasts
            yield Moment(
                Fraction(self._first + draft.onset, self._steps),
                Fraction(draft.length, self._steps),
                draft.pitches, draft.held, draft.bar, draft.note,
                wanted.places.get(draft.onset, BeatPlace.OFF),
                draft.onset in phrases, draft.rested, draft.slurred, last,
                draft.gap, draft.length * second, self._written[bar.index].beat * second,
                () if bar.pickup else wanted.through(draft.onset, draft.length, last=last),
                self._written[bar.index].notes[draft.note][2].grace_keys,
            )  # fmt: skip

    def _boundaries(self, onsets: set[int]) -> tuple[list[int], set[int]]:
        """Where parts begin, and where phrases do: with the notes that lead into them, where
        notes begin just there."""
        parts: list[int] = []
        phrases: set[int] = set()
        first = self._bars[0]
        lead = self._written[first.index].length if first.pickup else 0
        part = -1
        for bar, start in zip(self._bars, self._starts, strict=False):
            begins, part = bar.part != part, bar.part
            if begins or (bar.opens_phrase and bar.position):
                led = not bar.pickup and parts and start - lead in onsets
                at = start - lead if led else start
                phrases.add(at)
                if begins:
                    parts.append(at)
        return parts, phrases

    def _downbeats(self) -> frozenset[int]:
        """The first bar line of each part, past its pickup."""
        first: dict[int, int] = {}
        for bar, start in zip(self._bars, self._starts, strict=False):
            if not bar.pickup:
                first.setdefault(bar.part, start)
        return frozenset(first.values())

    def _beats(self) -> list[tuple[int, BeatPlace]]:
        """Every beat of the tune."""
        return [
            (start + at, place)
            for bar, start in zip(self._bars, self._starts, strict=False)
            for at, place in self._written[bar.index].beats
        ]

    def _chords(self) -> list[tuple[int, Chord]]:
        """Every chord of the tune, from where it is in force."""
        return [
            (start + at, chord)
            for bar, start in zip(self._bars, self._starts, strict=False)
            for at, chord in self._written[bar.index].chords
        ]


class _Wanted:
    """Which chords the tune wants when; all lists are in order."""

    def __init__(
        self,
        chords: list[tuple[int, Chord]],
        beats: list[tuple[int, BeatPlace]],
        downbeats: frozenset[int],
    ) -> None:
        self.places, self._downbeats = dict(beats), downbeats
        self._beats = beats
        self._onsets = [at for at, _ in beats]
        self._chords = chords
        self._changes = [at for at, _ in chords]

    def through(self, onset: int, length: int, *, last: bool) -> tuple[ChordWish, ...]:
        """The chords at an onset, and at the beats that a note is held through."""
        if not self._chords:
            return ()
        first = bisect_right(self._onsets, onset)
        after = bisect_left(self._onsets, onset + length, first)
        held = self._beats[first:after]
        wishes = []
        for at, place in ((onset, self.places.get(onset, BeatPlace.OFF)), *held):
            index = bisect_right(self._changes, at) - 1
            if index >= 0 and not self._chords[index][1].silent:
                chord, first = self._chords[index][1], at in self._downbeats
                wishes.append(ChordWish(chord, place, last and at == onset, first))
        return tuple(wishes)


def _positions(played: PlayedTune, placed: Iterable[Sequence[Placement]]) -> Iterator[Fraction]:
    """All that must lie on the grid."""
    yield _CROTCHET
    for bar in played.bars:
        yield from (bar.length, bar.onset, bar.begins, *bar.metre.beats)
    for written in played.tune.bars:
        yield from (symbol.onset for symbol in written.chords)
    for spans in placed:
        for span in spans:
            yield from span
