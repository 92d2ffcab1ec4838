"""The values of ABC fields: key, metre, unit length, tempo, order of sections."""

import re
from fractions import Fraction
from typing import NamedTuple

from backing.music.key import Key, parse_key
from backing.music.metre import Metre
from backing.music.pitch import pitch_of
from backing.music.tempo import FASTEST, SLOWEST, Tempo
from backing.music.transpose import Interval, interval_between, interval_of
from backing.parse.abc.spelling import octave_of

_CLEF = re.compile(r"(?:treble|alto|tenor|bass|perc|none)\d?([+-](?:8|15)|[\^_](?:8|15))?$")
_WORD = re.compile(r'[^\s="]+="[^"]*"|\S+')
_KEYLIKE = re.compile(r"[A-G][#b]?[A-Za-z]{0,10}=[A-Ga-g]$")
_PITCHES = re.compile(r"([\^_=]*)([A-Ga-g])([,']*)([\^_=]*)([A-Ga-g])([,']*)$")
_SIGNS = {"": 0, "^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
_PRINTED = ("middle", "m", "stafflines", "score", "name", "nm", "subname", "snm", "stem", "merge",
            "gchord", "gch", "cue", "stems", "up", "down", "instrument", "space", "dyn", "lyrics",
            "scale", "brace", "bracket")  # fmt: skip
_SHIFTS = ("transpose", "t", "octave", "sound", "shift")
_QUOTED = re.compile(r'"[^"]*"')
_BEATS = re.compile(r"((?:\s*\d+/\d+)+)\s*=\s*(\d+(?:\.\d+)?)$")
_UNITS = re.compile(r"(?:C(\d*)\s*=\s*)?(\d+(?:\.\d+)?)$")
_USER_SYMBOL = re.compile(r"\s*([H-Wh-w~])\s*=\s*(.*)$")
_ORDER = re.compile(r"([A-Z])|(\()|(\))|(\d+)|([.\s])")
_MOST_SECTIONS = 1000
#: A tonic, a mode and an accidental for each letter.
_MOST_KEY_WORDS = 9
_NAMED_SIGN = r"([A-G])[\s-]*(sharp|flat)\b"
_STRAY = " .,;:()[]"


class KeyField(NamedTuple):
    """A key (None where only other words stand there), how notes are to sound above what
    is written (None: as before), and the words that are not known.  `reworded` is what was
    written, where the key had to be put into ABC's words."""

    key: Key | None
    shift: Interval | None
    unknown: tuple[str, ...]
    reworded: str = ""


class Modifiers(NamedTuple):
    """The words of a `K:` or `V:` field that are no clef or transposition, the shift that
    those make (None: as before), and the words of the form name=value that are not known."""

    rest: list[str]
    shift: Interval | None
    unknown: tuple[str, ...]


def read_key(text: str, *, strict: bool = False) -> KeyField:
    """The value of a `K:` field: key, clef, words that shift what sounds.

    A clef alone, `middle=` and `stafflines=` never change the sound; `transpose=` moves
    it by semitones, `octave=` and a clef's "-8" by octaves.  ABC 2.1 clauses 3.1.14, 4.6;
    `sound=` and `shift=` (from one note to another) as in the draft 2.2.  Raises ValueError
    where no key can be made out, and where `strict` for anything that is not ABC.

    >>> read_key("C clef=treble-8").shift
    Interval(steps=-7, semitones=-12)
    >>> str(read_key("d minor. -8va").key), read_key("d minor. -8va").unknown
    ('D minor', ('-8va',))
    """
    rest, shift, unknown = read_modifiers(text, strict=strict)
    bare = " ".join(rest)
    if shift is not None and not bare:
        return KeyField(None, shift, unknown)
    try:
        return KeyField(parse_key(bare), shift, unknown)
    except ValueError:
        if strict:
            raise
        words = _in_abc_words(bare)
        count, key = _longest_key(words)
        if key is None:
            raise ValueError(f"{bare!r} is not a key") from None
    reworded = "" if words == rest else bare
    return KeyField(key, shift, (*words[count:], *unknown), reworded)


def trimmed(text: str) -> str:
    """A text without stray stops and brackets round it."""
    return text.strip(_STRAY)


def _in_abc_words(text: str) -> list[str]:
    """The words of a key without stray stops and brackets, the tonic as ABC writes it."""
    if named := re.match(_NAMED_SIGN, text, re.IGNORECASE):
        sign = "#" if named[2].lower() == "sharp" else "b"
        text = f"{named[1]}{sign}{text[named.end() :]}"
    words = [word for each in text.split() if (word := trimmed(each))]
    return [words[0][0].upper() + words[0][1:], *words[1:]] if words else []


def _longest_key(words: list[str]) -> tuple[int, Key | None]:
    """How many of the first words make a key, and that key; 0 and None for none."""
    for count in range(min(len(words), _MOST_KEY_WORDS), 0, -1):
        try:
            return count, parse_key(" ".join(words[:count]))
        except ValueError:
            continue
    return 0, None


def read_modifiers(text: str, *, strict: bool = False) -> Modifiers:
    """The words of a `K:` or `V:` field, parted into kinds.

    A transposition that cannot be read is a word that is not known; ValueError where
    `strict`.
    """
    rest: list[str] = []
    unknown: list[str] = []
    steps = semitones = 0
    found = False
    for word in _WORD.findall(text):
        name, equals, value = word.partition("=")
        name = name.lower()
        clef = _CLEF.match(value if name == "clef" else word)
        if equals and name in _SHIFTS:
            try:
                interval = _shift(name, value)
            except ValueError:
                if strict:
                    raise
                unknown.append(word)
                continue
        elif clef and (name == "clef" or word.lower() != "none"):
            octaves = {"8": 1, "15": 2}.get((clef[1] or "  ")[1:], 0)
            sign = {"+": 1, "-": -1}.get((clef[1] or " ")[0], 0)
            interval = interval_of(12 * sign * octaves)
        elif equals and name and (rest or not _KEYLIKE.match(word)):
            if name not in _PRINTED and name != "clef":
                unknown.append(word)
            continue
        else:
            rest.append(word)
            continue
        found = True
        steps += interval.steps
        semitones += interval.semitones
    return Modifiers(rest, Interval(steps, semitones) if found else None, tuple(unknown))


def printed_words(text: str, *, key: bool = False) -> list[str]:
    """The words of a `V:` field, or of a `K:` field but for its key, that bear on print alone:
    shifts of what sounds are left out, and the octave of a clef.

    >>> printed_words('clef=treble-8 name="Bass box" octave=-1')
    ['clef=treble', 'name="Bass box"']
    """
    words = []
    for word in _WORD.findall(text):
        name, equals, value = word.partition("=")
        clef = _CLEF.match(value if name.lower() == "clef" else word)
        if clef and (equals or word.lower() != "none"):
            words.append(word[: len(word) - len(clef[1] or "")])
        elif equals and name.lower() in _SHIFTS:
            continue
        elif not key or (equals and name.lower() in _PRINTED):
            words.append(word)
    return words


def _shift(name: str, value: str) -> Interval:
    if name in ("sound", "shift"):
        match = _PITCHES.match(value)
        if not match:
            raise ValueError(f"{name}={value} does not name two notes")
        low, high = (
            pitch_of(letter.upper(), _SIGNS.get(sign, 0), octave_of(letter, marks))
            for sign, letter, marks in (match.groups()[:3], match.groups()[3:])
        )
        return interval_between(low, high)
    if not re.fullmatch(r"[+-]?\d{1,2}", value):
        raise ValueError(f"{name}={value} is not a number")
    number = int(value)
    return interval_of(12 * number if name == "octave" else number)


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


def counts_units(text: str) -> bool:
    """True for a tempo that counts unit lengths: a bare number, or C=90 (clause 10.1)."""
    return bool(_UNITS.match(_QUOTED.sub("", text).strip()))


COUNTS_UNITS = "a tempo that counts unit lengths", "write one like Q:1/4=120"


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


NOT_FOLLOWED = "playback directives (MIDI) are not followed"


def is_playback(directive: str) -> bool:
    """True for a directive that tells a MIDI player how to play (clause 11.2)."""
    return directive.strip().partition(" ")[0].upper() == "MIDI"


def read_symbol(value: str) -> tuple[str, str]:
    """The letter of a `U:` field and what it stands for (clause 4.16): the name of a
    decoration, a text that begins with a quotation mark, or nothing.

    >>> read_symbol("T = !trill!"), read_symbol("u=!nil!")
    (('T', 'trill'), ('u', ''))
    """
    match = _USER_SYMBOL.match(value)
    if not match:
        raise ValueError(f"{value!r} is not a symbol like T = !trill!")
    meaning = match[2].strip()
    if meaning.startswith('"'):
        return match[1], meaning.rstrip('"')
    name = meaning.strip("!+").strip()
    return match[1], "" if name in ("nil", "none") else name


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
