"""Which chord sounds when: the harmony of a tune as it is played."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from backing.music.chord import NO_CHORD, Chord
from backing.music.played import MappedBar, later
from backing.music.tune import Bar

_START = Fraction(0)
#: In place of a span's number: nothing sounds.
SILENCE = -1


class HarmonySpan(NamedTuple):
    """One chord from `start` to `stop`, in the bar map's positions; `bar` is where it begins."""

    start: Fraction
    stop: Fraction
    chord: Chord
    bar: MappedBar


#: Which spans a bar lies in: from where in it, the number of the span or `SILENCE`.
Pieces = tuple[tuple[Fraction, int], ...]


class Progression(NamedTuple):
    """The spans in order, and which of them each bar as it is played lies in."""

    spans: Sequence[HarmonySpan]
    pieces: Sequence[Pieces]


def chord_spans(bars: Sequence[MappedBar], written: Sequence[Bar]) -> Progression:
    """The chords of the tune's symbols as they are played.

    A chord stays until the next symbol, but a span ends where a section begins.  Before
    the first symbol, under pickups and after "no chord" nothing sounds.
    """
    changes = {index: _changes(written[index]) for index in {bar.index for bar in bars}}
    made = _Spans()
    chord = NO_CHORD
    for bar, stop in zip(bars, _stops(bars), strict=True):
        if bar.lead:
            made.rest()
        else:
            inside = changes[bar.index]
            made.through(bar, stop, [(at, following or chord) for at, following in inside])
        named = written[bar.index].chords
        chord = named[-1].chord if named else chord
    return made.harmony()


def tonic_spans(bars: Sequence[MappedBar], tonic: dict[int, Chord]) -> Progression:
    """The tonic chord through each section; `tonic` by index of the written bar."""
    made = _Spans()
    for bar, stop in zip(bars, _stops(bars), strict=True):
        if bar.lead:
            made.rest()
        else:
            made.through(bar, stop, [(_START, tonic[bar.index])])
    return made.harmony()


def where_sounding(
    spans: Sequence[HarmonySpan], sounding: Sequence[HarmonySpan]
) -> list[HarmonySpan]:
    """The parts of spans where others sound: a pedal is silent where "no chord" is."""
    stretches: list[tuple[Fraction, Fraction]] = []
    for other in sounding:
        if stretches and stretches[-1][1] == other.start:
            stretches[-1] = (stretches[-1][0], other.stop)
        else:
            stretches.append((other.start, other.stop))
    return [
        HarmonySpan(max(span.start, start), min(span.stop, stop), span.chord, span.bar)
        for span in spans
        for start, stop in stretches
        if start < span.stop and span.start < stop
    ]


def changes_of(spans: Sequence[HarmonySpan]) -> list[Fraction]:
    """Where another bass note follows at once."""
    return [
        after.start
        for before, after in pairwise(spans)
        if before.chord.bass_class != after.chord.bass_class and before.stop == after.start
    ]


def _stops(bars: Sequence[MappedBar]) -> list[Fraction]:
    return [*(bar.onset for bar in bars[1:]), bars[-1].stop]


def _changes(bar: Bar) -> Sequence[tuple[Fraction, Chord | None]]:
    """The chords of a written bar: from where in it, None for the one before it; of two at
    one place the second."""
    named: list[tuple[Fraction, Chord | None]] = [(_START, None)]
    named += [(symbol.onset, symbol.chord) for symbol in bar.chords]
    stops = [*(at for at, _ in named[1:]), bar.length]
    return [piece for piece, stop in zip(named, stops, strict=True) if stop > piece[0]]


class _Spans:
    """Spans in the making, from left to right; a span goes on where its chord does."""

    def __init__(self) -> None:
        self._spans: list[HarmonySpan] = []
        self._pieces: list[Pieces] = []
        self._going = False

    def rest(self) -> None:
        """A bar of silence."""
        self._going = False
        self._pieces.append(((_START, SILENCE),))

    def through(
        self, bar: MappedBar, stop: Fraction, chords: Sequence[tuple[Fraction, Chord]]
    ) -> None:
        """A bar with its chords, each from where in it; where a part opens every span does."""
        starts = [later(bar.onset, at) if at else bar.onset for at, _ in chords]
        pieces = []
        for (at, chord), start, end in zip(chords, starts, [*starts[1:], stop], strict=True):
            fresh = bar.opens and not at
            if chord.silent:
                self._going = False
            elif self._going and not fresh and self._spans[-1].chord == chord:
                self._spans[-1] = self._spans[-1]._replace(stop=end)
            else:
                self._spans.append(HarmonySpan(start, end, chord, bar))
                self._going = True
            pieces.append((at, len(self._spans) - 1 if self._going else SILENCE))
        self._pieces.append(tuple(pieces))

    def harmony(self) -> Progression:
        """All of them."""
        return Progression(tuple(self._spans), tuple(self._pieces))
