"""How a practice begins and how it comes to its end, beyond clicks and the style's own stop.

Before the tune: a held chord under the clicks, chords in their place, or the last bars of the
first strain.  After it: the last chord held, a tag of two chords, or slowing down (common
practice, no source).
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from backing.arranging.arrangement import (
    Arrangement,
    Event,
    MappedBar,
    Origin,
    PlacedTempo,
    Role,
    Track,
    cut,
    shifted,
)
from backing.arranging.style import Tones
from backing.arranging.voicing import bass_pitches, chord_pitches
from backing.music.chord import parse_chord
from backing.practice.plan import Close
from backing.practice.round import melody_ended
from backing.practice.stretch import plain_bar

#: A chord of a tag sounds for this share of its beat.
_TAG = Fraction(2, 3)
#: How slow the tune gets when it slows down at its end, and over how many bars.
_SLOWEST, _SLOWING_BARS = Fraction(3, 5), 2
#: How many bars of the first strain lead in.
LEAD_IN_BARS = 2


# -- before ------------------------------------------------------------------------------


def led_by_chord(tune: Arrangement, bars: Sequence[MappedBar], *, held: bool) -> Arrangement:
    """The left hand over bars before the tune, on its first harmony: one chord held through all
    of them, or bass and chord beat by beat."""
    bass, chord = (_first(track.events) for track in tune.tracks[1:3])
    if held:
        length = bars[-1].stop - bars[0].onset
        low, high = (
            [e._replace(onset=bars[0].onset, length=length, origin=_NOWHERE) for e in found]
            for found in (bass, chord)
        )
    else:
        low = [_placed(e, *beat) for e in bass for beat in _beats(bars, strong=True)]
        high = [_placed(e, *beat) for e in chord for beat in _beats(bars, strong=False)]
    return _left_hand(tune, bars, low, high)


_NOWHERE = Origin(-1, -1, -1)


def _first(events: Sequence[Event]) -> list[Event]:
    return list(events[:1])


def _beats(bars: Sequence[MappedBar], *, strong: bool) -> Iterator[tuple[Fraction, Fraction]]:
    """Onset and length of each strong beat, or of the others."""
    for bar in bars:
        starts = bar.metre.strong if bar.metre.beats else (0,)
        for at, length, place in bar.beats():
            if (place in starts) is strong:
                yield bar.onset + at, length / 2


def _placed(event: Event, onset: Fraction, length: Fraction) -> Event:
    return event._replace(onset=onset, length=length, origin=_NOWHERE)


def _left_hand(
    tune: Arrangement, bars: Sequence[MappedBar], low: Sequence[Event], high: Sequence[Event]
) -> Arrangement:
    """A piece in which the left hand plays alone."""
    events = {Role.BASS: tuple(low), Role.CHORDS: tuple(high)}
    return Arrangement(
        tune.title,
        tuple(bars),
        tuple(track._replace(events=events.get(track.role, ())) for track in tune.tracks),
        (PlacedTempo(bars[0].onset, tune.tempo_at(bars[0].onset)),),
    )


def last_bars(tune: Arrangement, pickup: Fraction) -> Arrangement:
    """The last bars of the first strain as they lead into the tune, the melody leaving room for
    its pickup; from 0 on."""
    first = [bar for bar in tune.bars if bar.part == tune.bars[0].part and not bar.begins]
    lead = first[-LEAD_IN_BARS:]
    piece = cut(tune, lead[0].onset, lead[-1].stop)
    bars = tuple(replace(plain_bar(bar, bar.onset), length=bar.length) for bar in piece.bars)
    room = lead[-1].onset + (lead[-1].metre.length or lead[-1].length) - pickup
    return shifted(melody_ended(piece._replace(bars=bars), room), -lead[0].onset)


# -- after --------------------------------------------------------------------------------


def with_close(piece: Arrangement, close: Close) -> Arrangement:
    """A time through with its close; a tag comes after it and changes nothing here."""
    if close is Close.HELD:
        return _held(piece)
    return _slowed(piece) if close is Close.SLOW else piece


def _held(piece: Arrangement) -> Arrangement:
    """The last bass and the last chord held to the end of the last bar, from where in that bar
    they are first struck."""
    last = piece.bars[-1]
    stop = max(piece.stop, last.onset - last.begins + last.metre.length)
    hands = [_kept(track, last.onset, stop) for track in piece.tracks[1:3]]
    return piece._replace(tracks=(piece.tracks[0], *hands, *piece.tracks[3:]))


def _kept(track: Track, start: Fraction, stop: Fraction) -> Track:
    """A hand that keeps its last keys, from their first stroke after `start`."""
    events = track.events
    first = len(events) - 1
    while first > 0 and events[first - 1].pitches == events[-1].pitches:
        if events[first - 1].onset < start:
            break
        first -= 1
    if first < 0:
        return track
    held = events[first]._replace(length=stop - events[first].onset)
    return track._replace(events=(*events[:first], held))


def _slowed(piece: Arrangement) -> Arrangement:
    """Slower from beat to beat through the last bars."""
    bars = [bar for bar in piece.bars if not bar.begins][-_SLOWING_BARS:]
    beats = [bar.onset + at for bar in bars for at, _, _ in bar.beats()]
    if len(beats) < 2:
        return piece
    step = (1 - _SLOWEST) / (len(beats) - 1)
    slower = [
        PlacedTempo(onset, piece.tempo_at(onset).scaled(1 - step * place), held=True)
        for place, onset in enumerate(beats)
        if place
    ]
    kept = [tempo for tempo in piece.tempos if tempo.onset < slower[0].onset]
    return piece._replace(tempos=(*kept, *slower))


def tag_bars(bar: MappedBar) -> int:
    """How many bars a tag lasts: one that has two felt beats, else two."""
    return 1 if len(bar.metre.beats) > 1 else 2


def tag_of(piece: Arrangement, bars: Sequence[MappedBar]) -> Arrangement:
    """Two chords after the tune: its last change of harmony again, bass and chord together."""
    places = list(_beats(bars, strong=True))
    if len(places) < 2:
        places = [(bar.onset + at, length / 2) for bar in bars for at, length, _ in bar.beats()]
    (one, length), (two, _) = places[:2]
    low, high = (
        [
            _placed(event, onset, 2 * length * _TAG)
            for event, onset in zip(strokes, (one, two), strict=False)
            if event
        ]
        for strokes in tag_strokes(piece)
    )
    return _left_hand(piece, bars, low, high)


def tag_strokes(piece: Arrangement) -> tuple[Sequence[Event | None], ...]:
    """What a tag strikes, of bass and of chords: the strokes of the last change of harmony, None
    where there is nothing to strike."""
    names = list(dict.fromkeys(text.text for text in reversed(piece.chords)))[:2][::-1]
    return tuple(_last_change(piece, track, names) for track in piece.tracks[1:3])


def _last_change(piece: Arrangement, track: Track, names: Sequence[str]) -> Sequence[Event | None]:
    """What a hand strikes first under the last two chord symbols; a chord that it never strikes
    is made of the symbol.  Without symbols its last stroke, twice."""
    if not track.events:
        return ()
    last = track.events[-1]
    if len(names) < 2:
        return last, last
    under = _strokes_under(names, piece, track)
    return [under.get(name) or _made(last, name, track.role) for name in names]


def _made(like: Event, symbol: str, role: Role) -> Event | None:
    """A stroke for a chord symbol; none for one that names no chord."""
    try:
        chord = parse_chord(symbol)
    except ValueError:
        return None
    if chord.silent:
        return None
    keys = bass_pitches(chord) if role is Role.BASS else chord_pitches(chord, Tones.ALL)
    return like._replace(pitches=keys)


def _strokes_under(names: Sequence[str], piece: Arrangement, track: Track) -> dict[str, Event]:
    """The first stroke under each of these chord symbols, where it comes last."""
    found: dict[str, Event] = {}
    stop = piece.stop
    for text in reversed(piece.chords):
        if text.text in names and text.text not in found:
            first = bisect_left(track.events, text.onset, key=lambda event: event.onset)
            struck = track.events[first : first + 1]
            if struck and struck[0].onset < stop:
                found[text.text] = struck[0]
        stop = text.onset
    return found
