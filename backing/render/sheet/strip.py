"""A page for players who read no staff: the buttons alone, on a line of time.

A bar is as wide as it lasts, every felt beat has a tick, and under each number a line shows how
long it is held.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import Any, NamedTuple

from backing.box.fit import Fit
from backing.box.left_signs import LeftSign, left_signs
from backing.box.under_notes import UnderNote, under_notes
from backing.music.dance import Dance, felt
from backing.music.played import dance_for
from backing.music.tune import Bar, Tune
from backing.render.sheet.boxes import printed_chord
from backing.render.sheet.breaks import bar_widths, line_starts
from backing.render.sheet.cut import BarPiece, cut_tune, pieces_of_bars
from backing.render.sheet.look import SheetLook

#: What the names of the rows, and a bar's edges, take of a line: in millimetres of usual print,
#: as all widths here.
_NAMES, _EDGES = 11.0, 6.0
#: How wide a usual bar is, and one that has hardly a note: four bars of eight notes go into a
#: line, two in large print.
_BAR, _BAR_LARGE, _LEAST = 27.5, 32.4, 7.5
#: A line that is less full than this is not spread out.
_SPREAD = 0.75
#: How wide a letter is, and what stays free after it: of buttons, chords, left-hand signs.
_BUTTON, _CHORD, _SIGN, _FREE = 2.5, 2.4, 1.7, 1.0
_NARROW = "'+"


class _Pressed(NamedTuple):
    """A button on its row, where and how long; without a sign it is held on from before."""

    onset: Fraction
    length: Fraction
    push: bool
    sign: str


class _StripBar(NamedTuple):
    """A bar, or a piece of one, with what stands in it."""

    bar: Bar
    piece: BarPiece
    moments: tuple[_Pressed, ...]
    left: tuple[LeftSign, ...]


def strip_rows(tune: Tune, found: Fit, look: SheetLook) -> list[list[dict[str, Any]]]:
    """The bars of a tune, line by line.  A bar that is wider than a line is cut."""
    usual = _BAR_LARGE if look.large else _BAR
    dance = dance_for(tune)
    room = look.width * SheetLook().text / look.text - _NAMES
    bars = _bars(tune, found, pieces_of_bars(tune, {}))
    widths = [_width(bar, usual) for bar in bars]
    wide = {at: ceil(width / room) for at, width in enumerate(widths) if width > room}
    if wide:
        pieces = pieces_of_bars(tune, wide)
        bars, tune = _bars(tune, found, pieces), cut_tune(tune, pieces)
        widths = [min(_width(bar, usual), room) for bar in bars]
    starts = line_starts(bar_widths(tune, widths), room)
    rows: list[list[dict[str, Any]]] = []
    for start, stop in zip(starts, [*starts[1:], len(bars)], strict=True):
        total = max(sum(widths[start:stop]), _SPREAD * room)
        rows.append(
            [
                _data(tune, index, bars[index], widths[index] / total, dance)
                for index in range(start, stop)
            ]
        )
    return rows


def _bars(tune: Tune, found: Fit, pieces: Sequence[BarPiece]) -> list[_StripBar]:
    """The bars of a tune in these pieces."""
    moments = list(_moments(tune, under_notes(tune, found.fingering)))
    left = left_signs(tune, found.fingering)
    bars = cut_tune(tune, pieces).bars
    return [
        _StripBar(
            bar,
            piece,
            tuple(
                moment._replace(onset=moment.onset - piece.start)
                for moment in moments[piece.bar]
                if piece.holds(moment.onset)
            ),
            tuple(
                sign._replace(onset=sign.onset - piece.start)
                for sign in left[piece.bar]
                if piece.holds(sign.onset)
            ),
        )
        for bar, piece in zip(bars, pieces, strict=True)
    ]


def _moments(tune: Tune, under: Sequence[Sequence[UnderNote]]) -> Iterator[list[_Pressed]]:
    """Bar by bar what is pressed; a tie holds a button on, across bar lines as well."""
    push, tied = True, False
    for notes, signs in zip(tune.melody.bars, under, strict=True):
        bar: list[_Pressed] = []
        for note, sign in zip(notes, signs, strict=True):
            push = bool(sign.push) if any(sign) else push
            if any(sign) or (tied and note.pitches):
                bar.append(_Pressed(note.onset, note.length, push, sign.push or sign.pull))
            tied = bool(note.ties)
        yield bar


# -- how wide ------------------------------------------------------------------------------


def _width(bar: _StripBar, usual: float) -> float:
    """How wide a bar is: by its length, but never too narrow for what stands in it."""
    full = bar.bar.metre.length or bar.bar.length or Fraction(1)
    length = bar.bar.length or Fraction(1)
    wanted = max(usual * float(length / full), _LEAST)
    for row in _texts(bar):
        for (onset, width), (later, _) in pairwise(sorted(row)):
            if later > onset:
                wanted = max(wanted, width * float(length / (later - onset)))
    last = max((width for row in _texts(bar) for _, width in row), default=0.0)
    return max(wanted, last) + _EDGES


def _texts(bar: _StripBar) -> Iterator[list[tuple[Fraction, float]]]:
    """Of each row of texts in a bar, where they stand and how wide they are."""
    for push in (True, False):
        yield [(m.onset, _wide(m.sign, _BUTTON)) for m in bar.moments if m.push is push and m.sign]
    yield [(symbol.onset, _wide(symbol.text, _CHORD)) for symbol in bar.bar.chords]
    yield [(sign.onset, _wide(sign.text, _SIGN)) for sign in bar.left]


def _wide(text: str, letter: float) -> float:
    return sum(letter / 2 if sign in _NARROW else letter for sign in text) + _FREE


# -- what stands there ---------------------------------------------------------------------


def _data(
    tune: Tune, index: int, strip: _StripBar, width: float, dance: Dance | None
) -> dict[str, Any]:
    bar, piece = strip.bar, strip.piece
    opens = index == 0 or tune.bars[index - 1].section != bar.section
    length = bar.length or Fraction(1)
    return {
        "number": "" if bar.pickup or not piece.first else str(bar.number),
        "letter": bar.section if opens and len(tune.sections) > 1 else "",
        "ending": f"{bar.ending}." if bar.ending and bar.ending.first else "",
        "width": width,
        "opens": bar.opens_repeat > 0,
        "close": _close(bar) if piece.last else "cut",
        "beats": [float(beat / length) for beat in _beats(bar, dance)],
        "chords": list(_chords(bar, strip.left, length)),
        "notes": [
            {
                "x": float(moment.onset / length),
                "length": float(moment.length / length),
                "push": moment.push,
                "sign": moment.sign,
            }
            for moment in strip.moments
        ],
    }


def _chords(bar: Bar, left: Iterable[LeftSign], length: Fraction) -> Iterator[dict[str, Any]]:
    signs = {sign.onset: sign.text for sign in left}
    names = {symbol.onset: printed_chord(symbol.text) for symbol in bar.chords}
    for onset in sorted({*signs, *names}):
        yield {
            "x": float(onset / length),
            "name": names.get(onset, ""),
            "sign": signs.get(onset, ""),
        }


def _close(bar: Bar) -> str:
    if bar.plays:
        return "repeat"
    return {"|]": "end", "||": "double"}.get(bar.close, "")


def _beats(bar: Bar, dance: Dance | None) -> Iterator[Fraction]:
    metre = felt(bar.metre, dance)
    for onset in metre.beat_onsets():
        if bar.begins <= onset < bar.begins + bar.length:
            yield onset - bar.begins
