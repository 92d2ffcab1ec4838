"""The tempi of a MIDI file, as marks in its bars."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from backing.errors import TuneError
from backing.music.metre import Metre
from backing.music.tempo import FASTEST, SLOWEST, Tempo
from backing.music.tune import TempoMark
from backing.parse.midi.events import Said
from backing.parse.midi.frame import Span, simplest
from backing.parse.midi.off_beat import USUAL_TEMPO

_MINUTE = 60_000_000
_MOST_TEMPOS = 8
#: A tick, and microseconds a crotchet from there on.
TickTempo = tuple[int, int]


def tempi_of(said: Said, spans: Sequence[Span], ppq: int) -> list[TickTempo]:
    """The tempi from the start of the tune: one at a tick, each where it changes."""
    start = round((spans[0].start + Fraction(1, 128)) * 4 * ppq)
    stop = round(spans[-1].stop * 4 * ppq)
    events: dict[int, int] = {0: USUAL_TEMPO}
    for tick, microseconds in said.tempos:
        if tick <= start:
            events = {0: microseconds}
        elif tick < stop:
            events[tick] = microseconds
    return [*events.items()]


def mean_tempo(found: list[TickTempo], spans: Sequence[Span], ppq: int) -> list[TickTempo]:
    """The same; the mean of all where they change all the time."""
    if len(found) <= max(_MOST_TEMPOS, len(spans) // 2):
        return found
    first, stop = (round(place * 4 * ppq) for place in (spans[0].start, spans[-1].stop))
    bounds = [max(tick, first) for tick, _ in found] + [stop]
    total = sum(us * (b - a) for (_, us), (a, b) in zip(found, pairwise(bounds), strict=True))
    return [(0, total // max(stop - first, 1))]


def tempo_marks(
    events: Sequence[tuple[Fraction, int, int]], spans: Sequence[Span]
) -> tuple[list[list[TempoMark]], Tempo]:
    """The marks of each bar, and the tempo at the head, from (place, tick, microseconds)."""
    _, tick, microseconds = events[0]
    head = current = _tempo(tick, microseconds, spans[0].metre)
    marks: list[list[TempoMark]] = [[] for _ in spans]
    index = 0
    for place, tick, microseconds in events[1:]:
        while index + 1 < len(spans) and spans[index].stop <= place:
            index += 1
        span = spans[index]
        tempo = _tempo(tick, microseconds, span.metre)
        if span.start <= place < span.stop and tempo != current:
            marks[index].append(TempoMark(place - span.start, tempo, str(tempo)))
            current = tempo
    return marks, head


def _tempo(tick: int, microseconds: int, metre: Metre) -> Tempo:
    """A tempo in felt beats (crotchets in free metre), as simple as the microseconds allow."""
    unit = metre.beats[0] if metre.beats else Fraction(1, 4)
    quarters = Fraction(_MINUTE) / (4 * unit)
    low = quarters * 2 / (2 * microseconds + 1)
    high = quarters * 2 / (2 * microseconds - 1)
    tempo = Tempo(simplest(low, high), unit)
    if not SLOWEST <= tempo.beats <= FASTEST:
        raise TuneError(
            f"tick {tick}: the tempo is {tempo} beats a minute",
            f"{SLOWEST} to {FASTEST} are possible",
        )
    return tempo
