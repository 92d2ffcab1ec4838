"""Key, metre and dance in words, as our own files tell them beside the signatures.

They are believed only where the signatures say the same.
"""

import re
from bisect import bisect_right
from collections.abc import Callable, Sequence
from fractions import Fraction
from operator import itemgetter
from typing import TypeVar

from backing.music.key import Key, parse_key
from backing.music.metre import Metre, parse_metre
from backing.parse.midi.events import Said

_FELT = re.compile(r"(.+?)(?: felt in (\d{1,2})/(\d{1,3}))?")
_MOST_FIFTHS = 7

T = TypeVar("T")
#: What begins at each tick, in order.
Rows = Sequence[tuple[int, T]]


def in_force(rows: Rows[T], tick: int) -> T | None:
    """What began last at or before a tick."""
    place = bisect_right(rows, tick, key=itemgetter(0))
    return rows[place - 1][1] if place else None


def told_keys(said: Said) -> Rows[Key]:
    """The keys in words; none where one cannot be read, or is not the signature's."""
    told = _read(said, "key", parse_key)
    keys = [(event.tick, event.key) for event in said.keys]
    ticks = {tick for tick, _ in (*told, *keys)}
    agree = all(_alike(in_force(told, tick), in_force(keys, tick)) for tick in ticks)
    return told if agree else []


def told_metres(said: Said) -> Rows[Metre]:
    """The metres in words; none where one cannot be read."""
    return _read(said, "metre", _parse_felt)


def told_dance(said: Said) -> str:
    """The dance in words, "" where there is none."""
    return next((event.text for event in said.told if event.what == "dance"), "")


def _read(said: Said, what: str, parse: Callable[[str], T]) -> Rows[T]:
    """What texts of a kind say; nothing where one of them cannot be read."""
    try:
        return [(event.tick, parse(event.text)) for event in said.told if event.what == what]
    except ValueError:
        return []


def _alike(words: Key | None, signature: Key | None) -> bool:
    """True where words and signature agree, as far as MIDI knows keys."""
    if words is None or signature is None:
        return False
    fifths = max(-_MOST_FIFTHS, min(_MOST_FIFTHS, words.fifths))
    return (fifths, words.minor) == (signature.fifths, signature.minor)


def _parse_felt(text: str) -> Metre:
    """A metre from words like "4/4 felt in 2/2"; ValueError for others.

    >>> _parse_felt("4/4 felt in 2/2").beats
    (Fraction(1, 2), Fraction(1, 2))
    """
    match = _FELT.fullmatch(text)
    metre = parse_metre(match[1] if match else text)
    if match is None or match[2] is None:
        return metre
    count, unit = int(match[2]), int(match[3])
    if not count or not unit:
        raise ValueError(f"{text!r} is not a metre")
    return metre.with_beats(*[Fraction(1, unit)] * count)
