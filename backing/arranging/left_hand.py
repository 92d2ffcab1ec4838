"""The left hand: from bars, chord symbols and a style to bass and chords.

The left hand is silent under a pickup and where a symbol says "no chord".
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from backing.arranging.arrangement import Event, MappedBar, Origin
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


@dataclass(frozen=True, slots=True)
class HarmonySpan:
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
                _extend(spans, bar, bar.onset + onset, bar.onset + stop, chord, opens and not onset)
    return [span for span in spans if not span.chord.silent]


def tonic_spans(bars: Sequence[MappedBar], tonic: dict[int, Chord]) -> list[HarmonySpan]:
    """The tonic chord through each section; `tonic` by index of the written bar."""
    spans: list[HarmonySpan] = []
    for bar, opens in _with_section_starts(bars):
        if not (bar.begins and opens):
            _extend(spans, bar, bar.onset, bar.stop, tonic[bar.index], opens)
    return spans


def _with_section_starts(bars: Sequence[MappedBar]) -> Iterator[tuple[MappedBar, bool]]:
    """Each bar, and whether a section (or a time through it) begins with it."""
    before: MappedBar | None = None
    led = False
    for bar in bars:
        opens = (
            before is None or led or before.section != bar.section or bar.index <= before.index
        )
        yield bar, opens
        led = bool(opens and bar.begins)
        before = bar


def _extend(
    spans: list[HarmonySpan],
    bar: MappedBar,
    start: Fraction,
    stop: Fraction,
    chord: Chord,
    fresh: bool,
) -> None:
    """Add a span, or make the last one longer where the same chord goes on."""
    if spans and not fresh:
        last = spans[-1]
        if last.chord == chord and last.stop == start:
            spans[-1] = HarmonySpan(last.start, stop, chord, last.bar)
            return
    spans.append(HarmonySpan(start, stop, chord, bar))


@dataclass(slots=True)
class _Press:
    """A stroke at its place, before pitches are chosen."""

    onset: Fraction
    stop: Fraction
    stroke: Stroke
    span: HarmonySpan
    bar: MappedBar


def left_hand(
    bars: Sequence[MappedBar], spans: Sequence[HarmonySpan], style: Style, *, thirds: bool
) -> tuple[tuple[Event, ...], tuple[Event, ...]]:
    """Bass and chord events of a style over harmony spans.

    `thirds` False leaves the third out of every chord.
    """
    presses = [*_on_beats(bars, spans, style), *_on_changes(bars, spans, style)]
    presses.sort(key=lambda press: press.onset)
    bass: list[Event] = []
    chords: list[Event] = []
    with_thirds = thirds and style.thirds
    turn, turn_span = 0, -Fraction(1)
    for press in presses:
        length = max(press.stop - press.onset, _SHORTEST)
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


def bass_pitches(chord: Chord, degree: int = 1) -> tuple[int, int]:
    """The two octaves that a bass button sounds.

    >>> bass_pitches(Chord("D"))
    (50, 62)
    """
    low = LOWEST_BASS + (chord.degree(degree) - LOWEST_BASS) % 12
    return (low, low + 12)


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
    shapes: dict[tuple[object, ...], list[tuple[Fraction, Fraction, Stroke]]] = {}
    at = 0
    for bar in bars:
        shape_of = (bar.metre.count, bar.metre.unit, bar.metre.beats, bar.length, bar.begins)
        shape = shapes.get(shape_of)
        if shape is None:
            shape = shapes[shape_of] = _shape(bar, style)
        for onset, length, stroke in shape:
            position = bar.onset + onset
            while at < len(spans) and spans[at].stop <= position:
                at += 1
            if at == len(spans):
                return
            span = spans[at]
            if span.start <= position:
                stop = span.stop if stroke.hold is None else position + length * stroke.hold
                yield _Press(position, stop, stroke, span, bar)


def _shape(bar: MappedBar, style: Style) -> list[tuple[Fraction, Fraction, Stroke]]:
    """Where in a bar the strokes on beats fall, and the time from each to the next."""
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
    following = dict(zip(onsets, onsets[1:], strict=False))
    found.sort(key=lambda item: item[0])
    return [(onset, following[onset] - onset, stroke) for onset, stroke in found]


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
    section_starts = {bar.onset for bar, opens in _with_section_starts(bars) if opens}
    for span in spans:
        opens = span.start in section_starts
        for stroke in style.figure_for(span.bar.metre).strokes:
            if stroke.when is When.CHANGE or (stroke.when is When.SECTION and opens):
                hold = Fraction(1) if stroke.hold is None else stroke.hold
                stop = span.start + (span.stop - span.start) * hold
                yield _Press(span.start, stop, stroke, span, span.bar)
