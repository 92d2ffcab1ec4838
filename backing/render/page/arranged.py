"""Arrangements as a page takes them: plain numbers and texts, in musical time.

Positions and lengths are steps of a grid.  What is the same in several arrangements is written
once: a line of events is a row of numbers of bars, and bars that hold the same are one.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from itertools import product
from typing import Any

from backing.arranging.arrangement import (
    TRILL,
    Arrangement,
    Event,
    MappedBar,
    PlacedTempo,
    TimeLimit,
)
from backing.arranging.breathing import BellowsSpan
from backing.arranging.face import Face
from backing.arranging.faces import Faces
from backing.music.metre import Metre
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.practice.ends import tag_strokes
from backing.practice.passages import endings_of
from backing.render.page.grid import PageGrid

#: More notes than this are in no bar: an origin is one number, of a bar and a note in it.
_NOTES = 2**20


class Pool:
    """Values that are written once, each by its number."""

    def __init__(self) -> None:
        self.values: list[Any] = []
        self._numbers: dict[Any, int] = {}

    def number(self, key: Any, value: Callable[[], Any]) -> int:
        """The number of a value, which is made where it is new; those with the same key are one."""
        number = self._numbers.get(key)
        if number is None:
            number = self._numbers[key] = len(self.values)
            self.values.append(value())
        return number


class PageScore:
    """Collects arrangements on a grid; `data` is all that they share."""

    def __init__(self, grid: PageGrid) -> None:
        self.grid = grid
        self._bars, self._lines, self._metres, self._limits = Pool(), Pool(), Pool(), Pool()
        #: Lines that were met, by their identity, and what must live on for that.
        self._known: dict[tuple[int, int], tuple[int, object, object]] = {}

    def data(self) -> dict[str, Any]:
        """The grid, and the pools of bars of events, of lines, of metres, of limits."""
        return {
            "grid": self.grid.steps,
            "cells": self._bars.values,
            "lines": self._lines.values,
            "metres": self._metres.values,
            "limits": self._limits.values,
        }

    def faces(self, faces: Faces) -> dict[str, Any]:
        """The arrangements of a tune for each time through: what they share, and by
        `face_name` the left hand's two lines."""
        once = faces()
        hands = {}
        times = range(1, faces.different + 1)
        for time, last, alone in product(times, (True, False), (True, False)):
            face = Face(time, last, alone)
            bass, chords = faces(face).tracks[1:3]
            hands[face_name(face)] = [self._line(once.bars, t.events) for t in (bass, chords)]
        return {
            **self._frame(once),
            "melody": self._line(once.bars, once.tracks[0].events),
            "different": faces.different,
            "hands": hands,
            "tag": [[self._stroke(e) if e else None for e in hand] for hand in tag_strokes(once)],
        }

    def _frame(self, piece: Arrangement) -> dict[str, Any]:
        """What all faces of a tune have alike."""
        at = self.grid.at
        return {
            "title": piece.title,
            "bars": list(map(self._bar, piece.bars)),
            "tempos": [self._tempo(placed) for placed in piece.tempos],
            "chords": [[at(text.onset), text.text] for text in piece.chords],
            "bellows": [self._bellows(span) for span in piece.bellows],
        }

    def _bar(self, bar: MappedBar) -> list[Any]:
        at = self.grid.at
        ending = list(bar.ending.numbers) if bar.ending else None
        return [
            bar.index, bar.number, bar.section, bar.time, ending, at(bar.onset), at(bar.length),
            self._metre(bar.metre), at(bar.begins), bar.part,
        ]  # fmt: skip

    def _metre(self, metre: Metre) -> int:
        at = self.grid.at
        return self._metres.number(
            metre, lambda: [at(metre.length), list(map(at, metre.beats)), list(metre.strong)]
        )

    def _tempo(self, placed: PlacedTempo) -> list[Any]:
        return [self.grid.at(placed.onset), *tempo_data(placed.tempo), int(placed.held)]

    def _bellows(self, span: BellowsSpan) -> list[Any]:
        at = self.grid.at
        return [at(span.start), at(span.stop), span.way, at(span.beat)]

    # -- events ---------------------------------------------------------------------------

    def _line(self, bars: Sequence[MappedBar], events: Sequence[Event]) -> int:
        """The number of a line, made of the bars in which its events begin."""
        known = (id(bars), id(events))
        if known in self._known:
            return self._known[known][0]
        cells = tuple(
            self._bars.number(key, partial(list, map(list, key)))
            for key in self._by_bar(bars, events)
        )
        number = self._lines.number(cells, lambda: list(cells))
        self._known[known] = (number, bars, events)
        return number

    def _by_bar(
        self, bars: Sequence[MappedBar], events: Sequence[Event]
    ) -> Iterator[tuple[tuple[int, ...], ...]]:
        place = 0
        for number, bar in enumerate(bars):
            stop = bars[number + 1].onset if number + 1 < len(bars) else None
            begins = self.grid.at(bar.onset)
            found = []
            while place < len(events) and (stop is None or events[place].onset < stop):
                found.append(self._event(events[place], bar, begins))
                place += 1
            yield tuple(found)

    def _event(self, event: Event, bar: MappedBar, begins: int) -> tuple[int, ...]:
        """An event in its bar, which begins at that step; the origin of one that the tune writes
        is that of its note, counted from the bar's."""
        onset, written = self.grid.at(event.onset), event.origin.note >= 0
        origin = (event.origin.bar - bar.index) * _NOTES + event.origin.note if written else -1
        return (
            onset - begins, self.grid.at(event.stop) - onset, event.velocity,
            self._limit(event.limit), origin, *event.pitches,
        )  # fmt: skip

    def _stroke(self, event: Event) -> list[int]:
        """An event of no bar, at 0."""
        length = self.grid.at(event.length)
        return [0, length, event.velocity, self._limit(event.limit), -1, *event.pitches]

    def _limit(self, limit: TimeLimit | None) -> int:
        """The number of a limit, -1 without one."""
        if limit is None:
            return -1
        return self._limits.number(limit, partial(_limit_data, limit))


def _limit_data(limit: TimeLimit) -> list[Any]:
    most = ratio(limit.most) if limit.most is not None else None
    return [ratio(limit.least), most, limit is TRILL]


def face_name(face: Face) -> str:
    """How a page calls a face.

    >>> face_name(Face(2, last=False, alone=True))
    '2 on alone'
    """
    return f"{face.time} {'last' if face.last else 'on'}{' alone' if face.alone else ''}"


def ratio(number: Fraction) -> list[int]:
    """A number as numerator and denominator."""
    return list(number.as_integer_ratio())


def tempo_data(tempo: Tempo) -> list[list[int]]:
    """Beats a minute, and the note that beats."""
    return [ratio(tempo.beats), ratio(tempo.unit)]


def written_data(tune: Tune, grid: PageGrid) -> dict[str, Any]:
    """What a page must know of the written bars: number, section, pickup, whether it begins
    late, endings, length, what it lacks to a full one; and the sections."""
    return {
        "bars": [
            [
                bar.number, bar.section, bar.pickup, bool(bar.begins),
                list(bar.ending.numbers) if bar.ending else None, grid.at(bar.length),
                grid.at(bar.metre.length - bar.begins - bar.length),
            ]
            for bar in tune.bars
        ],
        "sections": [
            [each.name, each.start, each.stop, list(endings_of(tune, each.name))]
            for each in tune.sections
        ],
    }  # fmt: skip


def positions_in(piece: Arrangement) -> Iterator[Fraction]:
    """Every position and length of an arrangement, for its grid."""
    for bar in piece.bars:
        yield from (bar.onset, bar.length, bar.begins, bar.metre.length, *bar.metre.beats)
    for placed in piece.tempos:
        yield placed.onset
    for text in piece.chords:
        yield text.onset
    for span in piece.bellows:
        yield from (span.start, span.stop, span.beat)
    yield from _onsets_and_lengths(event for track in piece.tracks for event in track.events)


def _onsets_and_lengths(events: Iterable[Event]) -> Iterator[Fraction]:
    for event in events:
        yield event.onset
        yield event.length
