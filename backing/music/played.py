"""A tune as it is played: its bars in order, their beats and phrases, what is struck, how fast.

Repeats are unfolded and ties joined.  Positions are `Fraction`s of a whole note; the first
full bar starts at 0, a pickup before it is negative.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from backing.music.chord import Chord
from backing.music.dance import Dance, dance_of, felt, usual_tempo
from backing.music.dance_found import found_dance
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.swing import Placement, Swing, swing_of, swung
from backing.music.tempo import Tempo
from backing.music.tune import Bar, Ending, Note, Tune
from backing.music.unfold import PlayedBar, unfold

#: Phrases are taken to be so many bars long; common practice, no source.
PHRASE = 4
_CROTCHET = Fraction(1, 4)

#: What bars whose beats fall alike share: metre, length and beginning, in numerators and
#: denominators, whose hash is quick.
BarShape = tuple[Metre, int, int, int, int]
#: MIDI keys.
Keys = tuple[int, ...]


class Phrase(NamedTuple):
    """The bars of a phrase: positions [start, stop) in their part."""

    start: int
    stop: int


@lru_cache(maxsize=1024)
def phrase_at(position: int, count: int) -> Phrase:
    """The phrase of a bar, by its position in a part of so many bars.

    Phrases are four bars, counted from the part's start; where one bar would be left over
    the last has five.

    >>> [phrase_at(position, 9).start for position in range(9)]
    [0, 0, 0, 0, 4, 4, 4, 4, 4]
    """
    start = position // PHRASE * PHRASE
    if start == count - 1 and start:
        start -= PHRASE
    stop = min(start + PHRASE, count)
    return Phrase(start, stop + (stop == count - 1))


@dataclass(frozen=True, slots=True)
class MappedBar:
    """One bar as it is played.

    `index` and `number` are those of the written bar; `time` which time through its
    section, `ending` the ending it belongs to.  `begins` is where in its metre it starts
    (a pickup starts late).  `metre` has the beats that the dance is felt in.

    A part is one time through a section, `part` its number from 0.  `position` counts the
    `full` bars of the part from 0; a pickup has that of the bar that it leads into.
    """

    index: int
    number: int
    section: str
    time: int
    ending: Ending | None
    onset: Fraction
    length: Fraction
    metre: Metre
    key: Key
    begins: Fraction = Fraction(0)
    part: int = 0
    position: int = 0
    full: int = 1

    @property
    def stop(self) -> Fraction:
        """Where it ends."""
        return self.onset + self.length

    @property
    def pickup(self) -> bool:
        """True for a short bar that leads into the next one."""
        return bool(self.begins)

    @property
    def opens(self) -> bool:
        """True where a part begins: for its first full bar, and the pickup before it."""
        return not self.position

    @property
    def lead(self) -> bool:
        """True for a pickup that leads into a part."""
        return not self.position and bool(self.begins)

    @property
    def room(self) -> Fraction:
        """What a short bar lacks to a full one."""
        return max(self.metre.length - self.begins - self.length, Fraction(0))

    @property
    def phrase(self) -> Phrase:
        """The phrase that it belongs to."""
        return phrase_at(self.position, self.full)

    @property
    def opens_phrase(self) -> bool:
        """True for the first full bar of a phrase."""
        return not self.begins and self.position == self.phrase.start

    @property
    def shape(self) -> BarShape:
        """The same for bars whose beats fall alike."""
        return (self.metre, *self.length.as_integer_ratio(), *self.begins.as_integer_ratio())

    def beats(self) -> list[tuple[Fraction, Fraction, int]]:
        """Its felt beats: position from the bar's start, length, place in the metre from 0.

        Beats start again where a bar is longer than its metre; free metre beats in
        crotchets.
        """
        return list(shape_beats(*self.shape))


@lru_cache(maxsize=512)
def shape_beats(
    metre: Metre, over: int, below: int, begins: int, under: int
) -> tuple[tuple[Fraction, Fraction, int], ...]:
    """The beats of a bar of a shape, as `MappedBar.beats` has them: most tunes have three
    shapes."""
    found = []
    lengths = metre.beats or (_CROTCHET,)
    at, stop, place = Fraction(-begins, under), Fraction(over, below), 0
    while at < stop:
        beat = lengths[place % len(lengths)]
        if at >= 0:
            found.append((at, beat, place))
        at += beat
        place = place + 1 if metre.free else (place + 1) % len(lengths)
    return tuple(found)


def beats_in(bar: Bar, metre: Metre) -> tuple[Fraction, ...]:
    """Where the beats of a metre fall in a written bar, from its start: a pickup starts late."""
    shape = (*bar.length.as_integer_ratio(), *bar.begins.as_integer_ratio())
    return tuple(at for at, _, _ in shape_beats(metre, *shape))


def chords_before(tune: Tune) -> tuple[Chord | None, ...]:
    """The chord that goes on into each written bar, as it is first played: that of the bar
    played before it.  None where no chord has been named yet; bars that are never played
    follow the one that is written before them."""
    found: dict[int, Chord | None] = {}
    before: Chord | None = None
    for index in [*(played.index for played in unfold(tune)), *range(len(tune.bars))]:
        found.setdefault(index, before)
        chords = tune.bars[index].chords
        before = chords[-1].chord if chords else before
    return tuple(found[index] for index in range(len(tune.bars)))


class Strike(NamedTuple):
    """The keys of a note that are struck, and those that a tie holds on from the note before;
    a rest has neither."""

    keys: Keys
    held: Keys


class StruckBar(NamedTuple):
    """A bar as it is played, note by note; `into` is its index in the tune and the keys held
    into it, and those that share it are the same."""

    into: tuple[int, Keys]
    strikes: tuple[Strike, ...]


class PlayedTune(NamedTuple):
    """A tune as it is played: the dance that it is felt as, its own tempo, its swing, its
    bars, what is struck of the melody in each of them, and by index of the written bar onset
    and length of each of its notes, with their swing."""

    tune: Tune
    dance: Dance | None
    tempo: Tempo
    swing: Swing
    bars: tuple[MappedBar, ...]
    struck: tuple[StruckBar, ...]
    placed: Mapping[int, Sequence[Placement]]


def as_played(tune: Tune, dance: str = "", swing: Fraction | None = None) -> PlayedTune:
    """A tune as it is played; `dance` and `swing` (1 for even) stand in for its own."""
    found = dance_for(tune, dance)
    bars = bar_map(tune, found)
    written = tune.melody.bars
    swings = swing_of(found, swing or tune.swing)
    placed = {
        index: swung(written[index], bar.metre, bar.begins, *swings)
        for index, bar in {bar.index: bar for bar in bars}.items()
    }
    strikes = tuple(struck(bars, written))
    return PlayedTune(tune, found, tempo_for(tune, found), swings, bars, strikes, placed)


def dance_for(tune: Tune, named: str = "") -> Dance | None:
    """The dance that a player names, else the one that the tune tells, else the one that its
    title or its rhythm does."""
    told = dance_of(named or tune.dance, tune.metre)
    if told or named:
        return told
    found = found_dance(tune)
    return found.dance if found else None


def tempo_for(tune: Tune, dance: Dance | None) -> Tempo:
    """The tempo that the tune gives, else the dance's usual one, counted in felt beats."""
    usual = usual_tempo(tune.metre, dance)
    return tune.tempo.in_unit(usual.unit) if tune.tempo else usual


def tempos_of_bars(tune: Tune, own: Tempo) -> list[Tempo]:
    """The tempo in force at the start of each written bar; `own` is that of the tune."""
    found, tempo = [], own
    for bar in tune.bars:
        found.append(next((mark.tempo for mark in bar.tempos if not mark.onset), tempo))
        tempo = bar.tempos[-1].tempo if bar.tempos else tempo
    return found


# -- bars --------------------------------------------------------------------------


def bar_map(tune: Tune, dance: Dance | None) -> tuple[MappedBar, ...]:
    """The bars as they are played; the first full one starts at 0."""
    order = unfold(tune)
    places = list(_in_parts(tune.bars, order))
    full = {part: position + 1 for part, position, pickup in places if not pickup}
    known = {metre: felt(metre, dance) for metre in {bar.metre for bar in tune.bars}}
    metres = [known[bar.metre] for bar in tune.bars]
    first = tune.bars[order[0].index]
    at = -first.length if first.pickup else Fraction(0)
    mapped = []
    for played, (part, position, _) in zip(order, places, strict=True):
        bar = tune.bars[played.index]
        mapped.append(
            MappedBar(
                played.index, bar.number, bar.section, played.time, bar.ending, at, bar.length,
                metres[played.index], bar.key, bar.begins, part, position, full.get(part, 0),
            )
        )  # fmt: skip
        at = later(at, bar.length)
    return tuple(mapped)


def _in_parts(bars: Sequence[Bar], order: Sequence[PlayedBar]) -> Iterator[tuple[int, int, bool]]:
    """Part, position in it and pickup of each bar as it is played.

    A part begins with a section, and where the order goes back.
    """
    part, position = -1, 0
    before, section = len(bars), ""
    for played in order:
        bar = bars[played.index]
        if played.index <= before or bar.section != section:
            part, position = part + 1, 0
        before, section = played.index, bar.section
        yield part, position, bar.pickup
        position += not bar.pickup


# -- ties ----------------------------------------------------------------------------


def struck_in(
    notes: Iterable[Note], length: Fraction, tied: Keys = ()
) -> tuple[tuple[Strike, ...], Keys]:
    """What is struck in a bar of this length, note by note, and the keys held out of it.

    `tied` are the keys held into it.  A tie holds only over notes that follow at once.
    """
    found: list[Strike] = []
    stop = Fraction(0)
    for note in notes:
        keys = tuple([pitch.midi for pitch in note.pitches])
        if tied and note.onset == stop:
            held = tuple([key for key in keys if key in tied])
            found.append(Strike(tuple([key for key in keys if key not in tied]), held))
        else:
            found.append(Strike(keys, ()))
        tied = ()
        if note.ties:
            tied = tuple([pitch.midi for pitch in note.ties if pitch.midi in keys])
            stop = note.onset + note.length
    return tuple(found), tied if tied and stop == length else ()


def struck(bars: Iterable[MappedBar], written: Sequence[Sequence[Note]]) -> Iterator[StruckBar]:
    """What is struck in each bar as it is played; `written` are a voice's notes by written
    bar."""
    known: dict[tuple[int, Keys], tuple[StruckBar, Keys]] = {}
    tied: Keys = ()
    for bar in bars:
        into = (bar.index, tied)
        if into not in known:
            strikes, held = struck_in(written[bar.index], bar.length, tied)
            known[into] = (StruckBar(into, strikes), held)
        found, tied = known[into]
        yield found


# -- whole numbers ---------------------------------------------------------------------

#: Steps of a whole note on which nearly all positions lie: dotted 64ths, tuplets of 3, 5, 7, 9.
_GRID = 2**7 * 3**2 * 5 * 7


def later(position: Fraction, by: Fraction) -> Fraction:
    """The position `by` after another: their sum, for the thousands that an arrangement has.

    Melody, bass and chords share most of theirs, and a sum of `Fraction`s takes four times
    as long as looking one up (2.6 µs and 0.6).
    """
    over, below = position.as_integer_ratio()
    more, under = by.as_integer_ratio()
    if _GRID % below or _GRID % under:
        return position + by
    return _at_step(over * (_GRID // below) + more * (_GRID // under))


@lru_cache(maxsize=8192)
def _at_step(steps: int) -> Fraction:
    return Fraction(steps, _GRID)


def grid_of(lengths: Iterable[Fraction]) -> int:
    """How many steps of a whole note all of these lie on: whole numbers are compared ten
    times as fast.

    >>> grid_of([Fraction(1, 8), Fraction(1, 12)])
    24
    """
    return lcm(*{length.denominator for length in lengths})


def in_steps(length: Fraction, grid: int) -> int:
    """A length or position in steps of a grid that it lies on."""
    return length.numerator * (grid // length.denominator)
