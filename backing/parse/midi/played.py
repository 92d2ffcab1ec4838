"""A tune that was played without a click, put where it would stand had there been one.

What lies off its file's beats as if by chance has beats of its own.  They are found in seconds
(`pulse`), heard as a metre (`heard`), and every event is moved to the tick of a file
whose beats they are; notes keep how far they lie before or after them.
"""

from collections.abc import Callable, Sequence
from fractions import Fraction
from math import exp
from typing import NamedTuple

from backing.music.metre import Metre
from backing.music.tempo import FASTEST, SLOWEST, FeltBeats, Tempo
from backing.parse.midi.events import PERCUSSION, ChannelLine, Said
from backing.parse.midi.heard import (
    MetreHearing,
    hearings,
    likeliest,
    points,
    seen_closely,
    speaks_for,
)
from backing.parse.midi.heard_row import Features, PulseNote
from backing.parse.midi.off_beat import seconds_by_tick
from backing.parse.midi.pulse import Pulse, find_pulse
from backing.parse.midi.quick_notes import graces_of, struck_together
from backing.parse.played_as import PlayedAs

_PPQ, _USUAL_TEMPO, _MINUTE = 960, 500_000, 60_000_000
#: Rubato: a pulse that leaves so many onsets out, or costs so much a note to tell.
_LEAST_KEPT, _MOST_BITS, _MANY_BITS = 0.85, -0.2, -0.5
#: A tempo that is told is meant to so many per cent.
_NEAR_TEMPO = 0.08
#: Another way to hear it is told from this share of likelihood on.
_IN_DOUBT = 0.1
_MOST_HEARD = 4096
#: What a told beat may cost a note more than the one that is heard, in bits.
_MOST_DEARER = 0.7
_SPAN_NAMES = {
    Fraction(1, 8): "quavers", Fraction(1, 4): "crotchets", Fraction(3, 8): "dotted crotchets",
    Fraction(1, 2): "minims", Fraction(3, 4): "dotted minims", Fraction(3, 16): "dotted quavers",
}  # fmt: skip


class Retimed(NamedTuple):
    """A file as if it had been played to a click: what it says and its lines at new ticks, the
    pulse and how it was heard; keys struck just before a note, by its tick; the reasons, in
    words, and the next likely hearing of another metre with its likelihood (0 to 1)."""

    ppq: int
    said: Said
    melody: ChannelLine
    lines: list[ChannelLine]
    pulse: Pulse
    hearing: MetreHearing
    graces: dict[int, tuple[int, ...]]
    reasons: list[str]
    other: tuple[MetreHearing, float] | None

    @property
    def tempo(self) -> Tempo:
        """The tempo, in whole felt beats."""
        return _tempo(self.hearing, self.pulse)

    @property
    def message(self) -> str:
        """How it was heard, in words."""
        return f"heard as {heard_words(self.hearing, self.pulse)}"

    @property
    def hint(self) -> str:
        """Why, and what else it might be."""
        said = []
        if self.pulse.bits > _MANY_BITS:
            said.append("the beat is hardly steady: check the notes, or say how fast with --beat")
        if self.reasons:
            said.append("since " + " and ".join(self.reasons))
        if self.pulse.drift > 0.03:
            said.append(f"the tempo drifts by {100 * self.pulse.drift:.0f} per cent")
        if self.other and self.other[1] >= _IN_DOUBT:
            other = heard_words(self.other[0], self.pulse)
            metre, beats = self.other[0].metre, _tempo(self.other[0], self.pulse).beats
            said.append(f"it may be {other}: --metre {metre} --beat {round(beats)} reads it so")
        return "; ".join(said)


def heard_words(hearing: MetreHearing, pulse: Pulse) -> str:
    """ "6/8 at 112 dotted crotchets a minute"."""
    tempo = _tempo(hearing, pulse)
    name = _SPAN_NAMES.get(tempo.unit, f"notes of {tempo.unit}")
    return f"{hearing.metre} at {round(tempo.beats)} {name} a minute"


def _tempo(hearing: MetreHearing, pulse: Pulse) -> Tempo:
    unit = hearing.metre.beats[0]
    beats = round(60 / pulse.period * float(hearing.value / unit))
    return Tempo(Fraction(min(max(beats, SLOWEST), FASTEST)), unit)


def retime(
    ppq: int, said: Said, melody: ChannelLine, lines: Sequence[ChannelLine], told: PlayedAs
) -> Retimed | None:
    """The file on beats of its own; None where no steady beat is heard."""
    seconds = seconds_by_tick(said, ppq)
    as_played = melody
    melody = ChannelLine(
        melody.track, melody.channel, melody.name, struck_together(melody.presses, seconds)
    )
    lines = [melody if line is as_played else line for line in lines]
    onsets, keys = _struck(melody, seconds)
    pulse = find_pulse(onsets)
    if told.beat and pulse:
        free, pulse = pulse, find_pulse(onsets, list(_told_periods(told)))
        if pulse and pulse.bits > free.bits + _MOST_DEARER:
            return None
    if pulse is None or pulse.kept < _LEAST_KEPT or pulse.bits > _MOST_BITS:
        return None
    notes = [
        PulseNote(place, key)
        for place, key in zip(pulse.places, keys, strict=True)
        if place is not None
    ]
    under = [
        Fraction(round(pulse.at(seconds(press.start)) * 6), 6)
        for line in lines
        if line is not melody and line.channel != PERCUSSION + 1
        for press in line.presses[:_MOST_HEARD]
    ]
    weighed = _weighed(notes, under, pulse, told)
    if not weighed:
        return None
    best, features, _ = weighed[0]
    total: dict[tuple[Metre, Fraction], float] = {}
    for hearing, _, share in weighed:
        key = hearing.metre, hearing.value
        total[key] = total.get(key, 0.0) + share
    other = next((row for row in weighed if row[0][:2] != best[:2]), None)
    because = speaks_for(best, features, other[1] if other else {})
    doubt = None if other is None or told.metre else (other[0], total[other[0][:2]])
    return _moved(said, melody, lines, pulse, best, seconds, because=because, other=doubt)


def _weighed(
    notes: Sequence[PulseNote], under: Sequence[Fraction], pulse: Pulse, told: PlayedAs
) -> list[tuple[MetreHearing, Features, float]]:
    """The ways to hear it with their likelihoods, the likeliest first."""
    metres = [told.metre] if told.metre else []
    found = [
        (hearing, features)
        for hearing, features in hearings(notes, under, pulse.period, metres)
        if _agrees(hearing, pulse, told)
    ]
    if not found:
        return []
    found = list(seen_closely(notes, pulse.period, likeliest(found)))
    scores = [points(features) for _, features in found]
    most = max(scores)
    shares = [exp(score - most) for score in scores]
    total = sum(shares)
    rows = [(*row, share / total) for row, share in zip(found, shares, strict=True)]
    return sorted(rows, key=lambda row: -row[2])


def _told_periods(told: PlayedAs) -> list[float]:
    """The seconds that a pulse may last where the beat is told: it, or a part of it."""
    if told.beat is None:
        return []
    beat = 60 / float(told.beat.beats)
    return [beat / n for n in (0.5, 1, 1.5, 2, 3, 4, 6, 8)]


def _agrees(hearing: MetreHearing, pulse: Pulse, told: PlayedAs) -> bool:
    """True where a hearing goes as fast as told."""
    if told.beat is None:
        return True
    wholes = 60 / pulse.period * float(hearing.value)
    if isinstance(told.beat, FeltBeats):
        beats = wholes / float(hearing.metre.beats[0])
    else:
        beats = wholes / float(told.beat.unit)
        if hearing.metre.length % told.beat.unit:
            return False
        three, felt = told.beat.unit.numerator == 3, hearing.metre.beats[0].numerator == 3
        if three != felt:
            return False
    return abs(beats / float(told.beat.beats) - 1) < _NEAR_TEMPO


def _struck(line: ChannelLine, seconds: Callable[[int], float]) -> tuple[list[float], list[int]]:
    """The seconds at which keys are struck, and the highest key of each."""
    keys = {press.start: press.key for press in line.presses}
    return [seconds(tick) for tick in keys], list(keys.values())


def _moved(
    said: Said,
    melody: ChannelLine,
    lines: Sequence[ChannelLine],
    pulse: Pulse,
    hearing: MetreHearing,
    seconds: Callable[[int], float],
    *,
    because: list[str],
    other: tuple[MetreHearing, float] | None,
) -> Retimed:
    """The file at its new ticks: the first pulse at 0, the tempo that was heard."""
    scale = float(hearing.value) * 4 * _PPQ

    def at(tick: int) -> int:
        return round(pulse.at(seconds(tick)) * scale)

    def line_of(line: ChannelLine) -> ChannelLine:
        presses = [
            press._replace(start=(start := at(press.start)), stop=max(at(press.stop), start + 1))
            for press in line.presses
        ]
        return ChannelLine(line.track, line.channel, line.name, tuple(sorted(presses)))

    ornaments = graces_of(melody, seconds, pulse.period / float(hearing.value) / 16)
    graces = {at(tick): keys for tick, (keys, _) in ornaments.items()}
    left_out = {id(press) for _, presses in ornaments.values() for press in presses}
    kept = tuple(press for press in melody.presses if id(press) not in left_out)
    moved = {id(line): line_of(line) for line in lines if line is not melody}
    tune = line_of(ChannelLine(melody.track, melody.channel, melody.name, kept))
    first = tune.presses[0].start
    quarters = _tempo(hearing, pulse).wholes * 4
    timed = Said(
        title=said.title,
        tempos=[(min(0, first), round(Fraction(_MINUTE) / quarters))],
        metres=[],
        keys=[event._replace(tick=max(at(event.tick), 0)) for event in said.keys],
        texts=[event._replace(tick=max(at(event.tick), 0)) for event in said.texts],
        markers=[event._replace(tick=max(at(event.tick), 0)) for event in said.markers],
        told=said.told,
        end=at(said.end),
    )
    return Retimed(
        _PPQ, timed, tune, [moved.get(id(line), tune) for line in lines], pulse, hearing, graces,
        because, other,
    )  # fmt: skip
