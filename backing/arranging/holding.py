"""What the left hand holds: chords over many bars breathe with the phrase, a fermata stills it."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.figures import HandPress
from backing.arranging.spans import HarmonySpan
from backing.arranging.style import Hand, Until
from backing.music.played import MappedBar

#: Where in a written bar fermatas begin, and where they end.
Holds = Mapping[Fraction, Fraction]
#: What is held to a phrase's start ends so much before it, a quarter of a beat at most.
_BREATH = Fraction(1, 16)


def with_breaths(found: list[HandPress], bars: Sequence[MappedBar]) -> list[HandPress]:
    """What is held until the harmony changes is struck again where a phrase begins, and ends a
    little before it; the key note of a pedal goes on."""
    phrases = [bar for bar in bars if bar.opens_phrase]
    done: list[HandPress] = []
    span: HarmonySpan | None = None
    ahead, again, reaches = 0, False, False
    for press in found:
        if press.span is not span and press.stroke.hold.until is Until.CHANGE:
            span = press.span
            while ahead < len(phrases) and phrases[ahead].onset <= press.onset:
                ahead += 1
            reaches = ahead < len(phrases) and phrases[ahead].onset <= span.stop
        if reaches and press.stroke.hold.until is Until.CHANGE and not press.stroke.on_tonic:
            parts = list(_breathing(press, phrases, ahead))
            again = again or len(parts) > 1
            done += parts
        else:
            done.append(press)
    return sorted(done, key=lambda press: press.onset) if again else done


def _breathing(press: HandPress, phrases: Sequence[MappedBar], ahead: int) -> Iterator[HandPress]:
    """A press, and again from the start of each phrase that it reaches."""
    stop = press.onset + press.length
    while ahead < len(phrases) and phrases[ahead].onset <= press.onset:
        ahead += 1
    while ahead < len(phrases) and phrases[ahead].onset <= stop:
        phrase = phrases[ahead]
        room = phrase.onset - press.onset
        breath = min(_BREATH, press.bar.beats()[0][1] / 4, room / 2)
        yield press._replace(length=room - breath)
        if phrase.onset == stop:
            return
        press = press._replace(onset=phrase.onset, length=stop - phrase.onset, bar=phrase)
        ahead += 1
    yield press


class _Stillness(NamedTuple):
    """A note under a fermata, from start to stop, and its bar."""

    start: Fraction
    stop: Fraction
    bar: MappedBar


def stilled(
    found: list[HandPress], bars: Sequence[MappedBar], holds: Mapping[int, Holds]
) -> list[HandPress]:
    """What is struck at or before the start of a note under a fermata is held to its end, and
    nothing is struck inside it but a harmony that enters there.

    What the style strikes inside it sounds from its start.
    """
    if not holds:
        return found
    notes = [
        _Stillness(bar.onset + start, bar.onset + stop, bar)
        for bar in bars
        for start, stop in sorted(holds.get(bar.index, {}).items())
        if not bar.begins
    ]
    hands = [[press for press in found if press.stroke.play is hand] for hand in Hand]
    held = [press for hand in hands for press in _hand_stilled(hand, notes)]
    return sorted(held, key=lambda press: press.onset)


def _hand_stilled(line: Sequence[HandPress], notes: Sequence[_Stillness]) -> list[HandPress]:
    done: list[HandPress] = []
    at = 0
    for note in notes:
        while at < len(line) and line[at].onset < note.start:
            done.append(line[at])
            at += 1
        inside = at
        while at < len(line) and line[at].onset < note.stop:
            at += 1
        done += _held_through(note, line[inside:at], done)
    return [*done, *line[at:]]


def _held_through(
    note: _Stillness, inside: Sequence[HandPress], done: list[HandPress]
) -> Iterator[HandPress]:
    """What one hand holds under a fermata; `done` is what it struck before, of which the last
    is held on where nothing falls inside."""
    before = done[-1] if done else None
    if before and before.bar is note.bar:
        until = min(note.stop, before.span.stop) if not inside else note.start
        if not inside or before.onset + before.length > until:
            done[-1] = before._replace(length=until - before.onset)
    last = None
    for press in inside:
        if press.span is last:
            continue
        last = press.span
        onset = max(note.start, last.start)
        reaches = max(min(note.stop, last.stop), press.onset + press.length)
        yield press._replace(onset=onset, length=reaches - onset)
