"""From a tune and a style to an arrangement."""

from collections.abc import Mapping
from fractions import Fraction
from functools import cache, partial
from typing import NamedTuple

from backing.arranging.arrangement import (
    CHANNELS,
    LEVELS,
    PROGRAMS,
    Arrangement,
    Event,
    PlacedTempo,
    PlacedText,
    Role,
    Track,
)
from backing.arranging.box_cuts import cuts_on_side
from backing.arranging.box_true import Side
from backing.arranging.breathing import bellows_of
from backing.arranging.face import ONCE, Face
from backing.arranging.faces import Faces, Hands, StyleTurns, joined_hands, styles_of_parts
from backing.arranging.figures import Grounds
from backing.arranging.holding import Holds
from backing.arranging.left_hand import HandStrokes, left_hand, voiced_chords
from backing.arranging.melody import melody_events
from backing.arranging.spans import chord_spans, tonic_spans, where_sounding
from backing.arranging.style import Style
from backing.music.chord import NO_CHORD, Chord
from backing.music.dance import Dance
from backing.music.key import Key
from backing.music.played import (
    MappedBar,
    PlayedTune,
    as_played,
    dance_for,
    later,
    tempo_for,
    tempos_of_bars,
)
from backing.music.tempo import Tempo
from backing.music.tune import Tune

#: A fermata makes its note half as long again.
_FERMATA = Fraction(2, 3)
_HOLDS = frozenset({"fermata", "invertedfermata"})


class Manner(NamedTuple):
    """How a tune is to be played.

    `swing` is the ratio of a swung pair (1 for even, up to 3), None for what the tune or its
    dance does.
    `thirds` False leaves the third out of every chord; `ornaments` False leaves grace
    notes, fermatas and the melody's stress out.  `dance` stands in for the one that the tune
    names.
    `full_chords` sounds every note of a chord symbol, not only what a box has.
    """

    swing: Fraction | None = None
    thirds: bool = True
    ornaments: bool = True
    dance: str = ""
    full_chords: bool = False


def tune_dance(tune: Tune, manner: Manner) -> Dance | None:
    """The dance that the player names, else that of the tune."""
    return dance_for(tune, manner.dance)


def own_tempo(tune: Tune, manner: Manner) -> Tempo:
    """The tempo that the tune gives, else the usual one, counted in felt beats."""
    return tempo_for(tune, tune_dance(tune, manner))


def arrange(
    tune: Tune,
    style: Style,
    manner: Manner | None = None,
    *,
    side: Side | None = None,
    face: Face = ONCE,
) -> Arrangement:
    """The whole tune unfolded once, with its left hand, as it is played the only time or, by
    its `face`, one of several.

    Tracks are melody, bass and chords, in this order, none muted.  A style that plays
    chord symbols plays the tonic chord through each section where the tune has none.
    With `side` the left hand plays only what a box has under the melody's bellows, cuts
    come from buttons in the direction of their notes, and the ways of the bellows are known.
    Raises TuneError where the repeats make more than 20,000 bars.
    """
    return arrange_faces(tune, StyleTurns((style,)), manner, side=side)(face)


def arrange_faces(
    tune: Tune, turns: StyleTurns, manner: Manner | None = None, *, side: Side | None = None
) -> Faces:
    """The whole tune for each time through, made as `arrange` does when it is asked for.

    Raises TuneError where the repeats make more than 20,000 bars.
    """
    manner = manner or Manner()
    played = as_played(tune, manner.dance, manner.swing)
    holds = _fermatas(tune) if manner.ornaments else {}
    plain = _without_left_hand(played, manner, holds)
    melody, bass, chords = plain.tracks
    if side is not None:
        melody = melody._replace(events=cuts_on_side(melody.events, side))
        plain = plain._replace(bellows=tuple(bellows_of(side, played.bars)))

    @cache
    def grounds(style: Style) -> Grounds:
        return grounds_of(played, style)

    @cache
    def struck(style: Style, face: Face) -> HandStrokes:
        return left_hand(played, grounds(style), style, side=side, face=face, holds=holds)

    @cache
    def hands(style: Style, face: Face, thirds: bool) -> Hands:
        bass, strokes = struck(style, face)
        thirds, full = thirds and style.thirds, manner.full_chords
        return bass, voiced_chords(strokes, thirds=thirds, full=full, side=side)

    def made(face: Face, thirds: bool) -> Arrangement:
        by_part = styles_of_parts(played.bars, turns, face)
        found = {
            style: hands(style, style.heard_at(face), thirds) for style in dict.fromkeys(by_part)
        }
        low, high = joined_hands(played.bars, [found[style] for style in by_part])
        return plain._replace(
            tracks=(melody, bass._replace(events=low), chords._replace(events=high))
        )

    return Faces(partial(made, thirds=manner.thirds), turns.most, partial(made, thirds=False))


def _without_left_hand(
    played: PlayedTune, manner: Manner, holds: Mapping[int, Holds]
) -> Arrangement:
    tune = played.tune
    melody = melody_events(played, ornaments=manner.ornaments)
    return Arrangement(
        title=tune.title,
        bars=played.bars,
        tracks=(
            make_track(Role.MELODY, melody),
            make_track(Role.BASS, ()),
            make_track(Role.CHORDS, ()),
        ),
        tempos=_tempos(played, holds),
        chords=tuple(
            PlacedText(later(bar.onset, symbol.onset), symbol.text)
            for bar in played.bars
            for symbol in tune.bars[bar.index].chords
        ),
    )


def make_track(role: Role, events: tuple[Event, ...]) -> Track:
    """A track with the channel, program and level of its role."""
    return Track(role, CHANNELS[role], PROGRAMS[role], LEVELS[role], events=events)


def grounds_of(played: PlayedTune, style: Style) -> Grounds:
    """What the left hand plays over: the chord symbols, or the key note's chord."""
    tune, bars = played.tune, played.bars
    if style.from_key or not tune.has_chords:
        tonics = tonic_spans(bars, _tonics(tune))
        return Grounds(tonics, tonics.spans)
    harmony = chord_spans(bars, tune.bars)
    if not style.needs_tonic:
        return Grounds(harmony)
    tonics = tonic_spans(bars, _tonics(tune))
    return Grounds(harmony, where_sounding(tonics.spans, harmony.spans))


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


def _tempos(played: PlayedTune, fermatas: Mapping[int, Holds]) -> tuple[PlacedTempo, ...]:
    """The tempi as they are played; a note under a fermata is half as long again.

    A written bar goes at the tempo that its place in the tune has, however it is reached.
    A tempo counts in the felt beats of its bar.
    """
    at_start = tempos_of_bars(played.tune, played.tempo)
    found: list[PlacedTempo] = []
    tempo, before = played.tempo, -1
    last: MappedBar | None = None
    for bar in played.bars:
        marks = {mark.onset: mark.tempo for mark in played.tune.bars[bar.index].tempos}
        if bar.index != before + 1:
            marks.setdefault(Fraction(0), at_start[bar.index])
        before = bar.index
        unit = bar.metre.beats[0] if bar.metre.beats else tempo.unit
        if last is None or (bar.metre is not last.metre and unit != tempo.unit):
            marks.setdefault(Fraction(0), tempo)
        last = bar
        holds = fermatas.get(bar.index, {})
        for at in sorted({*marks, *holds, *holds.values()}) if marks or holds else ():
            changed = at in marks and marks[at].in_unit(unit) != tempo
            tempo = marks[at].in_unit(unit) if at in marks else tempo
            held = any(start <= at < stop for start, stop in holds.items())
            if changed or not found or (at not in marks and not held):
                found.append(PlacedTempo(bar.onset + at, tempo))
            if held:
                found.append(PlacedTempo(bar.onset + at, tempo.scaled(_FERMATA), held=True))
    return tuple(found)


def _fermatas(tune: Tune) -> dict[int, dict[Fraction, Fraction]]:
    """The fermatas of each written bar that has some."""
    found: dict[int, dict[Fraction, Fraction]] = {}
    for index, notes in enumerate(tune.melody.bars):
        for note in notes:
            if note.decorations and not _HOLDS.isdisjoint(note.decorations):
                found.setdefault(index, {})[note.onset] = note.onset + note.length
    return found
