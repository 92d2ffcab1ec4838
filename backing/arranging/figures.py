"""A style laid over bars: which strokes fall where, and how long each is held."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from backing.arranging.places import NOWHERE, Places, Stand
from backing.arranging.spans import SILENCE, HarmonySpan, Pieces, Progression
from backing.arranging.style import Figure, Hold, Stroke, Style, Until, When
from backing.music.key import NO_KEY
from backing.music.metre import Metre
from backing.music.played import MappedBar, later

#: A press shorter than this does not speak: a 64th note.
SHORTEST = Fraction(1, 64)


class PlacedStroke(NamedTuple):
    """A stroke in its bar: onset from the bar's start, length (None: until the harmony
    changes)."""

    onset: Fraction
    length: Fraction | None
    stroke: Stroke


class HandPress(NamedTuple):
    """A stroke at its place in the tune, with the harmony in force, before pitches are
    chosen."""

    onset: Fraction
    length: Fraction
    stroke: Stroke
    span: HarmonySpan
    bar: MappedBar


def laid(
    bar: MappedBar, figure: Figure, position: int = 0, places: Places = NOWHERE
) -> list[PlacedStroke]:
    """The strokes of a figure that fall on beats of a bar, in their order.

    `position` counts the bars of the section, for figures of several bars.  A stroke that
    is left out at these places still ends the one before it.
    """
    cycle = position % figure.bars + 1
    beats = bar.beats()
    due = [
        (onset, place, stroke)
        for stroke in figure.strokes
        if stroke.bar in (0, cycle) and (not stroke.only or stroke.played_at(places))
        for onset, place in _moments(bar, beats, stroke)
    ]
    following = dict(pairwise(sorted({onset for onset, _, _ in due} | {bar.length})))
    return [
        PlacedStroke(
            onset, length_of(stroke.hold, bar, onset, place, following[onset] - onset), stroke
        )
        for onset, place, stroke in sorted(due, key=lambda item: item[0])
        if stroke.played_at(places)
    ]


def _moments(
    bar: MappedBar, beats: Sequence[tuple[Fraction, Fraction, int]], stroke: Stroke
) -> Iterator[tuple[Fraction, int]]:
    """Where in a bar a stroke falls: onset, place of its beat."""
    strong = bar.metre.strong if bar.metre.beats else (0,)
    for number, (at, length, place) in enumerate(beats, start=1):
        if _falls_on(stroke, place, strong, last=number == len(beats)):
            onset = at + _after(stroke, length)
            if onset < bar.length:
                yield onset, place


def length_of(
    hold: Hold, bar: MappedBar, onset: Fraction, place: int, room: Fraction
) -> Fraction | None:
    """How long a stroke sounds; `room` is the time up to the next one."""
    if hold.until is Until.CHANGE:
        return None
    if hold.until is Until.BAR_LINE:
        return bar.length - onset
    if hold.until is Until.BEATS:
        lengths = bar.metre.beats or (Fraction(1, 4),)
        whole = int(hold.amount)
        beats = [lengths[(place + n) % len(lengths)] for n in range(whole + 1)]
        return sum(beats[:-1], (hold.amount - whole) * beats[-1])
    return _share(hold, room)


def _share(hold: Hold, room: Fraction) -> Fraction:
    return max(room * hold.amount, min(room, SHORTEST))


def _falls_on(stroke: Stroke, place: int, strong: tuple[int, ...], *, last: bool) -> bool:
    match stroke.when:
        case When.BEATS:
            return place + 1 in stroke.beats
        case When.STRONG:
            return place in strong
        case When.WEAK:
            return place not in strong
        case When.OTHER:
            return place > 0
        case When.LAST:
            return last
        case When.BUT_LAST:
            return not last
        case _:
            return stroke.when is When.EACH


def _after(stroke: Stroke, beat: Fraction) -> Fraction:
    """How long after the beat: the off-beat of 3/8 is its last quaver, of 1/4 its half."""
    if stroke.after is None:
        return beat * (Fraction(2, 3) if beat.numerator == 3 else Fraction(1, 2))
    return beat * stroke.after


# -- over the whole tune ---------------------------------------------------------


class Grounds(NamedTuple):
    """What the left hand plays over: the harmony, and the key's tonic under it."""

    harmony: Progression
    tonic: Sequence[HarmonySpan] = ()


class Chosen(NamedTuple):
    """The figures that a style plays in a tune, and the number of each bar's among them."""

    known: Sequence[Figure]
    numbers: Sequence[int]

    @property
    def holding(self) -> bool:
        """True where a stroke is held until the harmony changes."""
        strokes = (stroke for figure in self.known for stroke in figure.strokes)
        return any(stroke.hold.until is Until.CHANGE for stroke in strokes)

    def of_bars(self) -> Iterator[Figure]:
        """The figure of each bar."""
        return (self.known[number] for number in self.numbers)


def chosen(bars: Sequence[MappedBar], where: Sequence[Stand], style: Style, dance: str) -> Chosen:
    """Which figure a style plays in each bar."""
    known: list[Figure] = []
    numbers: dict[tuple[Metre, Places], int] = {}
    figures = []
    for bar, stand in zip(bars, where, strict=True):
        key = (bar.metre, stand.places)
        if key not in numbers:
            figure = style.figure_for(bar.metre, dance, stand.places)
            if figure not in known:
                known.append(figure)
            numbers[key] = known.index(figure)
        figures.append(numbers[key])
    return Chosen(known, figures)


def presses(
    bars: Sequence[MappedBar], where: Sequence[Stand], figures: Chosen, grounds: Grounds
) -> list[HandPress]:
    """All presses of a style over a tune, in the order of their onsets."""
    on_beats = list(_on_beats(bars, where, figures, grounds))
    if not any(stroke.on_change for figure in figures.known for stroke in figure.strokes):
        return on_beats
    on_changes = _on_changes(bars, where, figures, grounds)
    return sorted([*on_changes, *on_beats], key=lambda press: press.onset)


#: A stroke in a bar of the tune: onset from the bar's start, length, the stroke, and in
#: which piece of the bar's harmony it falls.
Sounded = tuple[Fraction, Fraction, Stroke, int]
#: A figure laid over a bar, and whether every stroke of it goes by the harmony and ends
#: within the bar.
Shape = tuple[tuple[PlacedStroke, ...], bool]


def _on_beats(
    bars: Sequence[MappedBar], where: Sequence[Stand], figures: Chosen, grounds: Grounds
) -> Iterator[HandPress]:
    """The strokes that belong to beats, each with the chord in force there."""
    known, numbers = figures
    shapes: dict[tuple[object, ...], Shape] = {}
    sounded: dict[tuple[object, ...], tuple[Sounded, ...]] = {}
    mentioned = {number: known[number].mentioned for number in set(numbers)}
    spans, tonic = grounds.harmony.spans, _SpanWalk(grounds.tonic)
    harmony = _SpanWalk(spans)
    for bar, stand, number, pieces in zip(
        bars, where, numbers, grounds.harmony.pieces, strict=True
    ):
        places, cycle = stand.places & mentioned[number], stand.position % known[number].bars
        alike = (bar.shape, number, cycle, places)
        if alike not in shapes:
            shapes[alike] = _shape(bar.metre, bar.length, bar.begins, known[number], cycle, places)
        shape, inside = shapes[alike]
        if inside:
            cuts = (alike, *[at.as_integer_ratio() for at, _ in pieces])
            if cuts not in sounded:
                sounded[cuts] = tuple(_in_pieces(shape, pieces))
            for onset, length, stroke, piece in sounded[cuts]:
                span = pieces[piece][1]
                if span != SILENCE:
                    yield HandPress(later(bar.onset, onset), length, stroke, spans[span], bar)
            continue
        for onset, held, stroke in shape:
            position = bar.onset + onset
            under = (tonic if stroke.on_tonic else harmony).at(position)
            if under:
                yield HandPress(position, within(under, position, held), stroke, under, bar)


@lru_cache(maxsize=2048)
def _shape(
    metre: Metre, length: Fraction, begins: Fraction, figure: Figure, cycle: int, places: Places
) -> Shape:
    """A figure laid over such a bar; styles play the same figures in tune after tune."""
    bar = replace(one_bar(metre), length=length, begins=begins)
    shape = tuple(laid(bar, figure, cycle, places))
    return shape, _stays_inside(shape, bar)


def one_bar(metre: Metre) -> MappedBar:
    """A full bar of a metre, alone; one of four crotchets in free metre."""
    length = metre.length or Fraction(1)
    return MappedBar(0, 1, "A", 1, None, Fraction(0), length, metre, NO_KEY)


def _stays_inside(shape: Sequence[PlacedStroke], bar: MappedBar) -> bool:
    return all(
        length is not None and onset + length <= bar.length and not stroke.on_tonic
        for onset, length, stroke in shape
    )


def _in_pieces(shape: Sequence[PlacedStroke], pieces: Pieces) -> Iterator[Sounded]:
    """The strokes of a bar in the pieces of its harmony; none sounds into the next piece."""
    starts = [at for at, _ in pieces]
    for onset, length, stroke in shape:
        piece = bisect_right(starts, onset) - 1
        held = Fraction(0) if length is None else length
        if piece + 1 < len(starts):
            held = min(held, starts[piece + 1] - onset)
        yield onset, held, stroke, piece


def within(span: HarmonySpan, position: Fraction, length: Fraction | None) -> Fraction:
    """A length that does not reach out of its harmony; None fills it."""
    left = span.stop - position
    return left if length is None or length > left else length


class _SpanWalk:
    """Spans asked for from left to right."""

    def __init__(self, spans: Iterable[HarmonySpan]) -> None:
        self._spans = iter(spans)
        self._span = next(self._spans, None)

    def at(self, position: Fraction) -> HarmonySpan | None:
        """The span in which a position lies."""
        while self._span and self._span.stop <= position:
            self._span = next(self._spans, None)
        return self._span if self._span and self._span.start <= position else None


def _on_changes(
    bars: Sequence[MappedBar], where: Sequence[Stand], figures: Chosen, grounds: Grounds
) -> Iterator[HandPress]:
    """The strokes that belong to changes of harmony, or to the start of a section."""
    strokes_at = {
        bar.onset: [s for s in figure.strokes if s.on_change and s.played_at(stand.places)]
        for bar, stand, figure in zip(bars, where, figures.of_bars(), strict=True)
    }
    starts = {bar.onset for bar in bars if bar.opens}
    for on_tonic, spans in ((False, grounds.harmony.spans), (True, grounds.tonic)):
        for span in spans:
            for stroke in strokes_at[span.bar.onset]:
                due = stroke.when is When.CHANGE or span.start in starts
                if stroke.on_tonic is on_tonic and due:
                    yield HandPress(span.start, _held(stroke, span), stroke, span, span.bar)


def _held(stroke: Stroke, span: HarmonySpan) -> Fraction:
    """How long a stroke on a change is held."""
    whole = span.stop - span.start
    if stroke.hold.until is Until.NEXT:
        return _share(stroke.hold, whole)
    length = length_of(stroke.hold, span.bar, span.start - span.bar.onset, 0, whole)
    return within(span, span.start, length)
