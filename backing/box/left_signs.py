"""The left hand's buttons under the chords of a tune as it is written.

A capital is a bass button, a small letter a chord button (common practice; so also in
accordeon-en-bretagne.bzh): "D d" is the D bass and the D chord, "E em" the E bass and the
E minor chord.  Brackets stand round what takes the place of a chord that is not there in
that direction, and "(-)" where there is nothing.
"""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import cache, partial
from typing import NamedTuple

from backing.box.at_hand import AtHand, Found, at_hand, bass_name, chord_name
from backing.box.fingering import Fingering
from backing.box.layout import Direction, Layout, LeftButton
from backing.box.left_side import ChordSpan, LeftSide
from backing.music.chord import Chord
from backing.music.played import MappedBar
from backing.music.tune import Bar, Tune

NOTHING_AT_HAND = "(-)"
_ZERO = Fraction(0)


class LeftSign(NamedTuple):
    """What the left hand takes at a place in a bar."""

    onset: Fraction
    text: str


class _Held(NamedTuple):
    """The buttons under the left hand, and how they are written."""

    buttons: tuple[LeftButton | None, LeftButton | None]
    text: str


def left_signs(tune: Tune, fingering: Fingering) -> tuple[tuple[LeftSign, ...], ...]:
    """The left hand's buttons, written bar by written bar, as played the first time.

    There is a sign at every chord symbol, and on a felt beat where the bellows have turned and
    the chord, which goes on, lies on other buttons then.  `fingering` is one of this tune's
    melody.  Silent chords have none.
    """
    bars = fingering.line.bars
    spans = list(_spans(tune.bars, bars))
    side = LeftSide(fingering, spans)
    held = cache(partial(_held, fingering.layout))
    found: dict[int, tuple[LeftSign, ...]] = {}
    at = 0
    for bar in bars:
        while at + 1 < len(spans) and spans[at].stop <= bar.onset:
            at += 1
        if bar.index not in found:
            symbols = {symbol.onset for symbol in tune.bars[bar.index].chords}
            found[bar.index] = tuple(_signs(bar, symbols, spans[at:], side, held))
    return tuple(found.get(index, ()) for index in range(len(tune.bars)))


def _spans(written: Sequence[Bar], played: Sequence[MappedBar]) -> Iterator[ChordSpan]:
    """The chords as they are played, one after the other."""
    before: tuple[Fraction, Chord] | None = None
    for bar in played:
        for symbol in written[bar.index].chords:
            start = bar.onset + symbol.onset
            if before is not None and start > before[0]:
                yield ChordSpan(before[0], start, before[1])
            before = start, symbol.chord
    if before is not None:
        yield ChordSpan(before[0], max(played[-1].stop, before[0]), before[1])


def _signs(
    bar: MappedBar,
    symbols: set[Fraction],
    spans: Sequence[ChordSpan],
    side: LeftSide,
    buttons: Callable[[Chord, Direction], _Held],
) -> Iterator[LeftSign]:
    """The signs of a bar; `spans` are the chords from the one at its start on, `buttons` what is
    held for a chord in a direction."""
    beats = {onset - bar.begins for onset in bar.metre.beat_onsets()}
    inside = {onset for onset in beats if _ZERO <= onset < bar.length}
    before: _Held | None = None
    for onset in sorted({_ZERO, *symbols, *inside}):
        chord = _chord_at(spans, bar.onset + onset)
        if chord is None or chord.silent:
            before = None
            continue
        held = buttons(chord, side.way_at(bar.onset + onset))
        named = onset in symbols
        if named or (before is not None and held.buttons != before.buttons):
            yield LeftSign(onset, held.text)
        before = held


def _chord_at(spans: Sequence[ChordSpan], position: Fraction) -> Chord | None:
    for span in spans:
        if span.start > position:
            break
        if position < span.stop:
            return span.chord
    return None


def left_sign(layout: Layout, chord: Chord, direction: Direction) -> str:
    """What the left hand takes for a chord in a direction, as it is written."""
    return _held(layout, chord, direction).text


def _held(layout: Layout, chord: Chord, direction: Direction) -> _Held:
    have = at_hand(layout, chord, direction)
    bass = None if have.bass is None else _button(layout, "bass", have.bass, direction)
    triad = None if have.chord is None else _button(layout, "chord", have.chord.root, direction)
    text = _text(layout, have)
    own = have.found is Found.WHOLE and have.chord and have.chord.root == chord.root
    return _Held((bass, triad), text if own else f"({text})" if text else NOTHING_AT_HAND)


def _text(layout: Layout, have: AtHand) -> str:
    bass = "" if have.bass is None else bass_name(layout, have.bass)
    triad = "" if have.chord is None else chord_name(have.chord)
    return " ".join(filter(None, (bass, triad[:1].lower() + triad[1:])))


def _button(layout: Layout, hand: str, root: int, direction: Direction) -> LeftButton | None:
    found = (b for b in layout.left if b.hand == hand and b.sounding(direction).root == root)
    return next(found, None)
