"""The left hand: from bars, harmony and a style to bass and chords.

The left hand is silent under a pickup and where a symbol says "no chord".  No bass sounds
into the next bass, no chord into the next chord.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from backing.arranging.arrangement import BASS, Event, Origin, TimeLimit
from backing.arranging.basses import basses
from backing.arranging.box_true import Side, on_side
from backing.arranging.face import ONCE, Face
from backing.arranging.figures import Grounds, HandPress, chosen, presses
from backing.arranging.holding import Holds, stilled, with_breaths
from backing.arranging.landing import landed
from backing.arranging.places import stands
from backing.arranging.silences import unemptied
from backing.arranging.spans import changes_of
from backing.arranging.style import Hand, Style, Tones, Until
from backing.arranging.voicing import bass_of, chord_pitches
from backing.music.chord import Chord
from backing.music.played import MappedBar, PlayedTune

_LOUDEST = 100


class HandStrokes(NamedTuple):
    """A left hand whose chords are not voiced yet: its basses as they sound, and each stroke of
    its chords with the chord."""

    bass: tuple[Event, ...]
    chords: tuple[tuple[HandPress, Chord], ...]


def left_hand(
    played: PlayedTune,
    grounds: Grounds,
    style: Style,
    *,
    side: Side | None = None,
    face: Face = ONCE,
    holds: Mapping[int, Holds] | None = None,
) -> HandStrokes:
    """What a style strikes.

    With `side` only what the bass side of a box has in the direction of the bellows.  `face`
    says which time through the tune it is, `holds` are the fermatas, by index of the written
    bar, which the left hand holds too.
    """
    bars, dance = played.bars, played.dance.name if played.dance else ""
    where = stands(played, changes_of(grounds.harmony.spans), style.mentioned, face)
    where = unemptied(bars, where, style, dance)
    figures = chosen(bars, where, style, dance)
    found = presses(bars, where, figures, grounds)
    if not style.from_key:
        if figures.holding:
            found = with_breaths(found, bars)
        found = landed(found, played, figures, grounds.harmony.spans)
        found = stilled(found, bars, holds or {})
    bass = [press for press in found if press.stroke.play is Hand.BASS]
    chords = [press for press in found if press.stroke.play is Hand.CHORD]
    notes = basses(bass, grounds, fifths=style.fifths and not style.from_key)
    if side is not None:
        return HandStrokes(
            _events(_basses_on(side, bass, bars, notes), BASS),
            tuple(_chords_on(side, chords, bars)),
        )
    return HandStrokes(
        _events(zip(bass, notes, strict=True), BASS),
        tuple((press, press.span.chord) for press in chords),
    )


def voiced_chords(
    chords: Iterable[tuple[HandPress, Chord]],
    *,
    thirds: bool = True,
    full: bool = False,
    side: Side | None = None,
) -> tuple[Event, ...]:
    """Strokes of chords as they sound.

    `thirds` False leaves the third out of every chord, `full` sounds every note of a symbol; on
    a box neither is more than it has.
    """

    def keys(press: HandPress, chord: Chord) -> tuple[int, ...]:
        tones = press.stroke.tones
        if side is None:
            bare = not thirds and tones is Tones.ALL
            return chord_pitches(chord, Tones.NO_THIRD if bare else tones, full=full)
        whole = thirds and side.thirds and tones is Tones.ALL
        tones = Tones.ALL if whole else Tones.NO_THIRD
        return chord_pitches(chord, tones, lowest=side.lowest_chord)

    return _events((press, keys(press, chord)) for press, chord in chords)


def _basses_on(
    side: Side,
    found: Sequence[HandPress],
    bars: Sequence[MappedBar],
    keys: Sequence[tuple[int, ...]],
) -> Iterator[tuple[HandPress, tuple[int, ...]]]:
    """The basses that a box has in the direction of the bellows."""

    def sounding(number: int, way: str) -> tuple[int, ...]:
        tone = side.bass(found[number].span.chord, keys[number][0] % 12, way)
        return () if tone is None else bass_of(tone, side.lowest_bass)

    return on_side(found, bars, side, sounding)


def _chords_on(
    side: Side, found: Sequence[HandPress], bars: Sequence[MappedBar]
) -> Iterator[tuple[HandPress, Chord]]:
    """The chords that a box has in the direction of the bellows; single notes it has none of."""
    return on_side(found, bars, side, lambda number, way: side.chord(found[number].span.chord, way))


def _events(
    found: Iterable[tuple[HandPress, tuple[int, ...]]], limit: TimeLimit | None = None
) -> tuple[Event, ...]:
    """Events of one hand: the first of those that fall together, none into the next."""
    events: list[Event] = []
    reaches, before = False, None
    for press, keys in found:
        onset, length, stroke, _, bar = press
        # The first stroke of a bar can't fall together with one that stays in another.
        if events and (reaches or bar is before or stroke.on_change):
            last = events[-1]
            if last.onset == onset:
                continue
            if reaches and last.onset + last.length > onset:
                events[-1] = last._replace(length=onset - last.onset)
        # What is measured up to the next stroke of its bar can't sound into it.
        reaches, before = stroke.on_change or stroke.hold.until is not Until.NEXT, bar
        velocity = max(1, min(127, _LOUDEST * stroke.strength // 100))
        events.append(Event(onset, length, keys, velocity, Origin(-1, bar.index, -1), limit))
    return tuple(events)
