"""The left hand: from bars, chord symbols and a style to bass and chords.

The left hand is silent under a pickup and where a symbol says "no chord".
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from backing.arranging.arrangement import BarShape, Event, MappedBar, Origin
from backing.arranging.style import Hand, Stroke, Style, When
from backing.music.chord import NO_CHORD, Chord
from backing.music.tune import Bar

#: MIDI keys that the lower bass reeds sound: E2 to D#3, doubled an octave up (the upper
#: reeds carry on a phone's speaker).  Chords come from one fixed octave of reeds, G3 to
#: F#4, so inversions fall as on a box.  No published table; a working choice.
LOWEST_BASS, LOWEST_CHORD = 40, 55
_LOUDEST = 100
#: A press shorter than this does not speak: a 64th note.
_SHORTEST = Fraction(1, 64)


class HarmonySpan(NamedTuple):
    """One chord from `start` to `stop`, in the bar map's positions; `bar` is where it begins."""

    start: Fraction
    stop: Fraction
    chord: Chord
    bar: MappedBar


def chord_spans(bars: Sequence[MappedBar], written: Sequence[Bar]) -> list[HarmonySpan]:
    """The chords of the tune's symbols as they are played.

    A chord stays until the next symbol, but a span ends where a section begins.  Before
    the first symbol, under pickups and after "no chord" nothing sounds.
    """
    spans: list[HarmonySpan] = []
    chord = NO_CHORD
    for bar, opens in _with_section_starts(bars):
        changes = [(symbol.onset, symbol.chord) for symbol in written[bar.index].chords]
        if not changes or changes[0][0] > 0:
            changes.insert(0, (Fraction(0), chord))
        stops = [onset for onset, _ in changes[1:]] + [bar.length]
        for (onset, following), stop in zip(changes, stops, strict=True):
            chord = following
            if stop > onset and not (bar.begins and opens):
                span = HarmonySpan(bar.onset + onset, bar.onset + stop, chord, bar)
                _extend(spans, span, fresh=opens and not onset)
    return [span for span in spans if not span.chord.silent]


def tonic_spans(bars: Sequence[MappedBar], tonic: dict[int, Chord]) -> list[HarmonySpan]:
    """The tonic chord through each section; `tonic` by index of the written bar."""
    spans: list[HarmonySpan] = []
    for bar, opens in _with_section_starts(bars):
        if not (bar.begins and opens):
            _extend(spans, HarmonySpan(bar.onset, bar.stop, tonic[bar.index], bar), fresh=opens)
    return spans


def _with_section_starts(bars: Sequence[MappedBar]) -> Iterator[tuple[MappedBar, bool]]:
    """Each bar, and whether a section (or a time through it) begins with it."""
    before: MappedBar | None = None
    led = False
    for bar in bars:
        opens = before is None or led or before.section != bar.section or bar.index <= before.index
        yield bar, opens
        led = bool(opens and bar.begins)
        before = bar


def _extend(spans: list[HarmonySpan], span: HarmonySpan, *, fresh: bool) -> None:
    """Add a span, or make the last one longer where the same chord goes on."""
    last = spans[-1] if spans else None
    if last and not fresh and last.chord == span.chord and last.stop == span.start:
        spans[-1] = HarmonySpan(last.start, span.stop, last.chord, last.bar)
    else:
        spans.append(span)


@dataclass(slots=True, eq=False)
class _Press:
    """A stroke at its place, before pitches are chosen."""

    onset: Fraction
    length: Fraction
    stroke: Stroke
    span: HarmonySpan
    bar: MappedBar


def left_hand(
    bars: Sequence[MappedBar], spans: Sequence[HarmonySpan], style: Style, *, thirds: bool
) -> tuple[tuple[Event, ...], tuple[Event, ...]]:
    """Bass and chord events of a style over harmony spans.

    `thirds` False leaves the third out of every chord.
    """
    presses = list(_on_beats(bars, spans, style))
    if changes := list(_on_changes(bars, spans, style)):
        presses = sorted(changes + presses, key=lambda press: press.onset)
    bass: list[Event] = []
    chords: list[Event] = []
    with_thirds = thirds and style.thirds
    turn, turn_span = 0, -Fraction(1)
    for press in presses:
        length = press.length
        velocity = max(1, min(127, _LOUDEST * press.stroke.strength // 100))
        origin = Origin(press.bar.tune, -1, press.bar.index, -1)
        if press.stroke.play is Hand.CHORD:
            pitches = chord_pitches(press.span.chord, with_thirds)
            chords.append(Event(press.onset, length, pitches, velocity, origin))
            continue
        turn = 0 if press.span.start != turn_span else turn + 1
        turn_span = press.span.start
        degree = press.stroke.degrees[turn % len(press.stroke.degrees)]
        pitches = bass_pitches(press.span.chord, degree)
        bass.append(Event(press.onset, length, pitches, velocity, origin))
    return tuple(bass), tuple(chords)


@lru_cache(maxsize=512)
def bass_pitches(chord: Chord, degree: int = 1) -> tuple[int, int]:
    """The two octaves that a bass button sounds.

    >>> bass_pitches(Chord("D"))
    (50, 62)
    """
    low = LOWEST_BASS + (chord.degree(degree) - LOWEST_BASS) % 12
    return (low, low + 12)


@lru_cache(maxsize=512)
def chord_pitches(chord: Chord, thirds: bool = True) -> tuple[int, ...]:
    """The notes of a chord button, folded into the octave of its reeds, from the lowest.

    >>> chord_pitches(Chord("D"))
    (57, 62, 66)
    """
    classes = chord.pitch_classes if thirds else chord.without_third
    return tuple(sorted({LOWEST_CHORD + (pitch - LOWEST_CHORD) % 12 for pitch in classes}))


def _on_beats(
    bars: Sequence[MappedBar], spans: Sequence[HarmonySpan], style: Style
) -> Iterator[_Press]:
    """The strokes that belong to beats, each with the chord in force there."""
    shapes: dict[BarShape, list[tuple[Fraction, Fraction | None, Stroke]]] = {}
    at = 0
    for bar in bars:
        shape = shapes.get(bar.shape)
        if shape is None:
            shape = shapes[bar.shape] = _shape(bar, style)
        for onset, length, stroke in shape:
            position = bar.onset + onset
            while at < len(spans) and spans[at].stop <= position:
                at += 1
            if at == len(spans):
                return
            span = spans[at]
            if span.start <= position:
                held = span.stop - position if length is None else length
                yield _Press(position, held, stroke, span, bar)


def _shape(bar: MappedBar, style: Style) -> list[tuple[Fraction, Fraction | None, Stroke]]:
    """Where in a bar the strokes on beats fall, and how long each is held (None: until
    the harmony changes)."""
    strokes = style.figure_for(bar.metre).strokes
    strong = bar.metre.strong if bar.metre.beats else (0,)
    found: list[tuple[Fraction, Stroke]] = []
    for at, length, place in bar.beats():
        for stroke in strokes:
            if _falls_on(stroke, place, strong):
                onset = at + _after(stroke, length)
                if onset < bar.length:
                    found.append((onset, stroke))
    onsets = sorted({onset for onset, _ in found} | {bar.length})
    following = dict(pairwise(onsets))
    found.sort(key=lambda item: item[0])
    return [
        (onset, _held(stroke, following[onset] - onset) if stroke.hold else None, stroke)
        for onset, stroke in found
    ]


def _held(stroke: Stroke, time: Fraction) -> Fraction:
    """How long a stroke sounds of the time up to the next."""
    return max(time * (stroke.hold or 1), min(time, _SHORTEST))


def _falls_on(stroke: Stroke, place: int, strong: tuple[int, ...]) -> bool:
    if stroke.when is When.BEATS:
        return place + 1 in stroke.beats
    if stroke.when is When.STRONG:
        return place in strong
    if stroke.when is When.WEAK:
        return place not in strong
    return stroke.when is When.EACH


def _after(stroke: Stroke, beat: Fraction) -> Fraction:
    """How long after the beat: the off-beat of 3/8 is its last quaver, of 1/4 its half."""
    if stroke.after is None:
        return beat * (Fraction(2, 3) if beat.numerator == 3 else Fraction(1, 2))
    return beat * stroke.after


def _on_changes(
    bars: Sequence[MappedBar], spans: Sequence[HarmonySpan], style: Style
) -> Iterator[_Press]:
    """The strokes that belong to changes of harmony, or to the start of a section."""
    changing = (When.CHANGE, When.SECTION)
    if not any(stroke.when in changing for f in style.figures for stroke in f.strokes):
        return
    section_starts = {bar.onset for bar, opens in _with_section_starts(bars) if opens}
    for span in spans:
        opens = span.start in section_starts
        for stroke in style.figure_for(span.bar.metre).strokes:
            if stroke.when is When.CHANGE or (stroke.when is When.SECTION and opens):
                length = _held(stroke, span.stop - span.start)
                yield _Press(span.start, length, stroke, span, span.bar)
