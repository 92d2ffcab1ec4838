"""A page for players who read no staff: the buttons alone, on a line of time.

A bar is as wide as it lasts, every felt beat has a tick, and under each number a line shows how
long it is held.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from backing.box.fit import Fit
from backing.box.left_signs import LeftSign, left_signs
from backing.box.under_notes import UnderNote, under_notes
from backing.music.dance import dance_of, felt
from backing.music.tune import Bar, Note, Tune
from backing.render.sheet.breaks import bar_widths, line_starts

#: What a line holds, in usual print and in large print: four bars of eight notes, or half.
_ROOM, _ROOM_LARGE = 3.7, 2.3
#: A line that is less full than this is not spread out.
_SPREAD = 0.75


def strip_rows(tune: Tune, found: Fit, *, large: bool) -> list[list[dict[str, Any]]]:
    """The bars of a tune, line by line."""
    under = under_notes(tune, found.fingering)
    left = left_signs(tune, found.fingering)
    room = _ROOM_LARGE if large else _ROOM
    widths = [_width(tune, index) for index in range(len(tune.bars))]
    starts = line_starts(bar_widths(tune, widths), room)
    rows: list[list[dict[str, Any]]] = []
    for start, stop in zip(starts, [*starts[1:], len(tune.bars)], strict=True):
        total = max(sum(widths[start:stop]), _SPREAD * room)
        rows.append(
            [
                _bar(tune, index, widths[index] / total, under[index], left[index])
                for index in range(start, stop)
            ]
        )
    return rows


def _width(tune: Tune, index: int) -> float:
    """How much of a line a bar wants: by its length, but never too little for its notes."""
    bar = tune.bars[index]
    full = bar.metre.length or bar.length or Fraction(1)
    return max(0.6 * float(bar.length / full), 0.16 + 0.09 * len(tune.melody.bars[index]))


def _bar(
    tune: Tune, index: int, width: float, under: Sequence[UnderNote], left: Sequence[LeftSign]
) -> dict[str, Any]:
    bar = tune.bars[index]
    opens = index == 0 or tune.bars[index - 1].section != bar.section
    signs = {sign.onset: sign.text for sign in left}
    names = {symbol.onset: symbol.text for symbol in bar.chords}
    length = bar.length or Fraction(1)
    return {
        "number": "" if bar.pickup else str(bar.number),
        "letter": bar.section if opens and len(tune.sections) > 1 else "",
        "ending": f"{bar.ending}." if bar.ending and bar.ending.first else "",
        "width": width,
        "opens": bar.opens_repeat > 0,
        "close": _close(bar),
        "beats": [float(beat / length) for beat in _beats(tune, bar)],
        "chords": [
            {"x": float(onset / length), "name": names.get(onset, ""), "sign": signs.get(onset, "")}
            for onset in sorted({*signs, *names})
        ],
        "notes": list(_notes(tune.melody.bars, index, under, length)),
    }


def _close(bar: Bar) -> str:
    if bar.plays:
        return "repeat"
    return {"|]": "end", "||": "double"}.get(bar.close, "")


def _beats(tune: Tune, bar: Bar) -> Iterator[Fraction]:
    metre = felt(bar.metre, dance_of(tune.dance, bar.metre))
    for onset in metre.beat_onsets():
        if bar.begins <= onset < bar.begins + bar.length:
            yield onset - bar.begins


def _notes(
    bars: Sequence[Sequence[Note]], index: int, under: Sequence[UnderNote], length: Fraction
) -> Iterator[dict[str, Any]]:
    """The buttons of a bar; a note that is tied on is held as long as both."""
    row = [note for bar in bars[index : index + 2] for note in bar]
    for place, (note, signs) in enumerate(zip(bars[index], under, strict=True)):
        if not note.pitches or not any(signs):
            continue
        held, at = note.length, place
        while row[at].ties and at + 1 < len(bars[index]):
            at += 1
            held += row[at].length
        yield {
            "x": float(note.onset / length),
            "length": float(held / length),
            "push": bool(signs.push),
            "sign": signs.push or signs.pull,
        }
