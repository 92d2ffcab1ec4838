"""The values of ABC fields: key, metre, unit length, tempo, order of sections."""

import re
from dataclasses import dataclass
from fractions import Fraction

from backing.music.key import Key, parse_key
from backing.music.metre import Metre
from backing.music.tempo import FASTEST, SLOWEST, Tempo

_CLEFS = re.compile(r"(treble|alto|tenor|bass|perc|none)?\d?([+-^_]\d+)?$")
_SOUNDING = ("transpose", "t", "octave", "sound", "shift", "score")
_QUOTED = re.compile(r'"[^"]*"')
_BEATS = re.compile(r"((?:\s*\d+/\d+)+)\s*=\s*(\d+(?:\.\d+)?)$")
_UNITS = re.compile(r"(?:C(\d*)\s*=\s*)?(\d+(?:\.\d+)?)$")
_ORDER = re.compile(r"([A-Z])|(\()|(\))|(\d+)|([.\s])")
_MOST_SECTIONS = 1000


@dataclass(frozen=True, slots=True)
class KeyField:
    """A key, and the words beside it that would move what sounds but are not followed."""

    key: Key
    unfollowed: tuple[str, ...]


def read_key(text: str) -> KeyField:
    """The key of a `K:` field, clef and transposition words set aside (clauses 3.1.14, 4.6)."""
    words: list[str] = []
    unfollowed: list[str] = []
    for word in text.split():
        name, equals, value = word.partition("=")
        if equals and name:
            if name in _SOUNDING and value not in ("0", "") and name != "score":
                unfollowed.append(word)
        elif _CLEFS.match(word) and (words or word.lower() != "none"):
            continue
        else:
            words.append(word)
    return KeyField(parse_key(" ".join(words)), tuple(unfollowed))


def default_unit(metre: Metre) -> Fraction:
    """The unit length where `L:` is missing (clause 3.1.7): 1/16 below a 3/4 bar, else 1/8."""
    if metre.free or metre.written in ("C", "C|"):
        return Fraction(1, 8)
    return Fraction(1, 16) if metre.length < Fraction(3, 4) else Fraction(1, 8)


def read_unit(text: str) -> Fraction:
    """The length of an `L:` field; ValueError unless it is 1 to 1/512 (clause 3.1.7)."""
    match = re.match(r"\s*1\s*(?:/\s*(\d{1,3}))?\s*$", text)
    denominator = int(match[1] or 1) if match else 0
    if denominator not in (1, 2, 4, 8, 16, 32, 64, 128, 256, 512):
        raise ValueError(f"{text.strip()!r} is not a unit length like 1/8")
    return Fraction(1, denominator)


def read_tempo(text: str, unit: Fraction) -> Tempo | None:
    """The tempo of a `Q:` field, or None where it only names one in words.

    Several lengths before `=` add up to the beat; a bare number counts unit lengths
    (deprecated, clause 10.1).  Raises ValueError where it cannot be read.
    Clause 3.1.8.

    >>> str(read_tempo('"Slow" 3/8=50', Fraction(1, 8)))
    '3/8 = 50'
    """
    bare = _QUOTED.sub("", text).strip()
    if not bare:
        return None
    if match := _BEATS.match(bare):
        beat = sum((_fraction(part) for part in match[1].split()), Fraction(0))
        tempo = Tempo(Fraction(match[2]), beat)
    elif match := _UNITS.match(bare):
        tempo = Tempo(Fraction(match[2]), unit * int(match[1] or 1))
    else:
        raise ValueError(f"{bare!r} is not a tempo like 1/4=120")
    quarters = tempo.wholes * 4
    if not SLOWEST <= tempo.beats <= FASTEST * 4 or not 5 <= quarters <= 1000:
        raise ValueError(f"{bare!r} is too slow or too fast to play")
    return tempo


def _fraction(text: str) -> Fraction:
    top, bottom = (int(part) for part in text.split("/"))
    if not top or not bottom:
        raise ValueError(f"{text!r} is not a note length")
    return Fraction(top, bottom)


def read_order(text: str) -> tuple[str, ...]:
    """The order of sections of a header's `P:` field, written out (clause 3.1.9).

    Raises ValueError for unmatched brackets or more than 1,000 sections.

    >>> "".join(read_order("((AB)2.C)3"))
    'ABABCABABCABABC'
    """
    stack: list[list[str]] = [[]]
    last: list[str] = []
    at = 0
    while at < len(text):
        match = _ORDER.match(text, at)
        if not match:
            raise ValueError(f"{text.strip()!r} is not an order of sections like AABB")
        letter, opening, closing, times, _ = match.groups()
        if letter:
            last = [letter]
            stack[-1] += last
        elif opening:
            stack.append([])
            last = []
        elif closing:
            if len(stack) == 1:
                raise ValueError("a bracket is closed that was not opened")
            last = stack.pop()
            stack[-1] += last
        elif times:
            if int(times) * max(len(last), 1) > _MOST_SECTIONS:
                raise ValueError(f"more than {_MOST_SECTIONS} sections")
            stack[-1] += last * (int(times) - 1)
        if len(stack[-1]) > _MOST_SECTIONS:
            raise ValueError(f"more than {_MOST_SECTIONS} sections")
        at = match.end()
    if len(stack) > 1:
        raise ValueError("a bracket is opened and not closed")
    return tuple(stack[0])


def read_numbers(text: str) -> tuple[int, ...]:
    """The numbers of an ending: "1", "1,3", "1-3" (clause 4.10); ValueError past 100.

    >>> read_numbers("1,3,5-7")
    (1, 3, 5, 6, 7)
    """
    numbers: set[int] = set()
    for part in text.split(","):
        if not part:
            continue
        first, _, last = part.partition("-")
        if int(last or first) > 100:
            raise ValueError(f"an ending for time {last or first}")
        numbers.update(range(int(first), int(last or first) + 1))
    if not numbers or min(numbers) < 1:
        raise ValueError(f"{text!r} names no ending")
    return tuple(sorted(numbers))
