"""From a tune and a style to an arrangement."""

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import (
    CHANNELS,
    LEVELS,
    PROGRAMS,
    Arrangement,
    Event,
    MappedBar,
    PlacedTempo,
    PlacedText,
    Role,
    Track,
)
from backing.arranging.box_true import Side
from backing.arranging.figures import Grounds
from backing.arranging.left_hand import Sound, left_hand
from backing.arranging.melody import melody_events
from backing.arranging.spans import chord_spans, tonic_spans, where_sounding
from backing.arranging.style import Style
from backing.music.chord import NO_CHORD, Chord
from backing.music.dance import Dance, dance_of, felt, usual_tempo
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.music.unfold import unfold

#: A fermata makes its note half as long again.
_FERMATA = Fraction(2, 3)
_HOLDS = frozenset({"fermata", "invertedfermata"})
_DANCES_THAT_SOFTEN = ("hornpipe", "schottische")


@dataclass(frozen=True, slots=True)
class Manner:
    """How a tune is to be played.

    `swing` is the ratio of a swung pair (1 for even), None for what the tune or its dance does.
    `thirds` False leaves the third out of every chord; `ornaments` False leaves grace
    notes and fermatas out.  `dance` stands in for the one that the tune names.
    `full_chords` sounds every note of a chord symbol, not only what a box has.
    """

    swing: Fraction | None = None
    thirds: bool = True
    ornaments: bool = True
    dance: str = ""
    full_chords: bool = False


def tune_dance(tune: Tune, manner: Manner) -> Dance | None:
    """The dance that the player names, else the one that the tune names."""
    return dance_of(manner.dance or tune.dance, tune.metre)


class Swing(NamedTuple):
    """The ratio of a swung pair, None for even ones; whether dotted pairs take it too."""

    ratio: Fraction | None
    soften: bool


def tune_swing(tune: Tune, manner: Manner) -> Swing:
    """The swing that the player names, else the tune's, else its dance's."""
    dance = tune_dance(tune, manner)
    ratio = manner.swing or tune.swing or (dance.swing if dance else None)
    ratio = None if ratio == 1 else ratio
    soften = ratio is not None and dance is not None and dance.name in _DANCES_THAT_SOFTEN
    return Swing(ratio, soften)


def own_tempo(tune: Tune, manner: Manner) -> Tempo:
    """The tempo that the tune gives, else the usual one, counted in felt beats."""
    dance = tune_dance(tune, manner)
    usual = usual_tempo(tune.metre, dance)
    return tune.tempo.in_unit(usual.unit) if tune.tempo else usual


def arrange(
    tune: Tune, style: Style, manner: Manner | None = None, *, side: Side | None = None
) -> Arrangement:
    """The whole tune unfolded once, with its left hand.

    Tracks are melody, bass and chords, in this order, none muted.  A style that plays
    chord symbols plays the tonic chord through each section where the tune has none.
    With `side` the left hand plays only what a box has under the melody's bellows.
    """
    manner = manner or Manner()
    dance = tune_dance(tune, manner)
    bars = bar_map(tune, dance)
    bass, chords = left_hand(
        bars,
        tune.melody.bars,
        grounds_of(tune, bars, style),
        style,
        dance=dance.name if dance else "",
        sound=Sound(manner.thirds, manner.full_chords),
        side=side,
    )
    swing = tune_swing(tune, manner)
    melody = melody_events(
        bars, tune.melody.bars, swing=swing.ratio, soften=swing.soften, ornaments=manner.ornaments
    )
    return Arrangement(
        title=tune.title,
        bars=bars,
        tracks=(
            make_track(Role.MELODY, melody),
            make_track(Role.BASS, bass),
            make_track(Role.CHORDS, chords),
        ),
        tempos=_tempos(tune, bars, own_tempo(tune, manner), manner),
        chords=tuple(
            PlacedText(bar.onset + symbol.onset, symbol.text)
            for bar in bars
            for symbol in tune.bars[bar.index].chords
        ),
    )


def make_track(role: Role, events: tuple[Event, ...]) -> Track:
    """A track with the channel, program and level of its role."""
    return Track(role, CHANNELS[role], PROGRAMS[role], LEVELS[role], events=events)


def bar_map(tune: Tune, dance: Dance | None) -> tuple[MappedBar, ...]:
    """The bars as they are played; the first full one starts at 0."""
    played = unfold(tune)
    first = tune.bars[played[0].index]
    at = -first.length if first.pickup else Fraction(0)
    mapped = []
    metres: dict[int, Metre] = {}
    for bar_played in played:
        bar = tune.bars[bar_played.index]
        metre = metres.get(id(bar.metre)) or metres.setdefault(
            id(bar.metre), felt(bar.metre, dance)
        )
        mapped.append(
            MappedBar(
                tune=0,
                index=bar_played.index,
                number=bar.number,
                section=bar.section,
                time=bar_played.time,
                ending=bar.ending,
                onset=at,
                length=bar.length,
                metre=metre,
                key=bar.key,
                begins=bar.begins,
            )
        )
        at += bar.length
    return tuple(mapped)


def grounds_of(tune: Tune, bars: tuple[MappedBar, ...], style: Style) -> Grounds:
    """What the left hand plays over: the chord symbols, or the key note's chord."""
    if style.from_key or not tune.has_chords:
        tonics = tonic_spans(bars, _tonics(tune))
        return Grounds(tonics, tonics)
    harmony = chord_spans(bars, tune.bars)
    if not style.needs_tonic:
        return Grounds(harmony)
    return Grounds(harmony, where_sounding(tonic_spans(bars, _tonics(tune)), harmony))


def _tonics(tune: Tune) -> dict[int, Chord]:
    """The tonic chord at each written bar."""
    found: dict[int, Chord] = {}
    chord, key = NO_CHORD, None
    for index, bar in enumerate(tune.bars):
        if bar.key is not key:
            chord, key = _tonic(tune, bar.key), bar.key
        found[index] = chord
    return found


def _tonic(tune: Tune, key: Key) -> Chord:
    """The tonic chord of a key; without a key, root and fifth of the tune's last note."""
    if key.mode != "none":
        return Chord(key.step, key.alter, "minor" if key.minor else "major")
    last = list(tune.notes())[-1].pitches[0]
    return Chord(last.step, last.alter, "power")


def _tempos(
    tune: Tune, bars: tuple[MappedBar, ...], own: Tempo, manner: Manner
) -> tuple[PlacedTempo, ...]:
    """The tempi as they are played; a note under a fermata is half as long again.

    A written bar goes at the tempo that its place in the tune has, however it is reached.
    A tempo counts in the felt beats of its bar.
    """
    at_start = _tempos_of_bars(tune, own)
    found: list[PlacedTempo] = []
    tempo, before = own, -1
    for bar in bars:
        marks = {mark.onset: mark.tempo for mark in tune.bars[bar.index].tempos}
        if bar.index != before + 1:
            marks.setdefault(Fraction(0), at_start[bar.index])
        before = bar.index
        unit = bar.metre.beats[0] if bar.metre.beats else tempo.unit
        if unit != tempo.unit or not found:
            marks.setdefault(Fraction(0), tempo)
        holds = _fermatas(tune, bar.index) if manner.ornaments else {}
        for at in sorted({*marks, *holds, *holds.values()}):
            changed = at in marks and marks[at].in_unit(unit) != tempo
            tempo = marks[at].in_unit(unit) if at in marks else tempo
            held = any(start <= at < stop for start, stop in holds.items())
            if changed or not found or (at not in marks and not held):
                found.append(PlacedTempo(bar.onset + at, tempo))
            if held:
                found.append(PlacedTempo(bar.onset + at, tempo.scaled(_FERMATA), held=True))
    return tuple(found)


def _tempos_of_bars(tune: Tune, own: Tempo) -> list[Tempo]:
    """The tempo at the start of each written bar."""
    found = []
    tempo = own
    for bar in tune.bars:
        found.append(tempo)
        for mark in bar.tempos:
            tempo = mark.tempo
    return found


def _fermatas(tune: Tune, index: int) -> dict[Fraction, Fraction]:
    """Where in a bar fermatas begin, and where they end."""
    return {
        note.onset: note.onset + note.length
        for note in tune.melody.bars[index]
        if not _HOLDS.isdisjoint(note.decorations)
    }
