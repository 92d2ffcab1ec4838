"""Which chord sounds when: the harmony of a tune as it is played."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from backing.arranging.arrangement import MappedBar
from backing.arranging.places import with_section_starts
from backing.music.chord import NO_CHORD, Chord
from backing.music.tune import Bar


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
    for bar, opens in with_section_starts(bars):
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
    for bar, opens in with_section_starts(bars):
        if not (bar.begins and opens):
            _extend(spans, HarmonySpan(bar.onset, bar.stop, tonic[bar.index], bar), fresh=opens)
    return spans


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
        if before.stop == after.start and before.chord.bass_class != after.chord.bass_class
    ]


def _extend(spans: list[HarmonySpan], span: HarmonySpan, *, fresh: bool) -> None:
    """Add a span, or make the last one longer where the same chord goes on."""
    last = spans[-1] if spans else None
    if last and not fresh and last.chord == span.chord and last.stop == span.start:
        spans[-1] = HarmonySpan(last.start, span.stop, last.chord, last.bar)
    else:
        spans.append(span)
