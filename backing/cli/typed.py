"""What a player typed after an option, read into musical values.

Each function takes the option's name for its message, and raises UsageError for words that
it cannot make out.
"""

import re
from collections.abc import Callable, Iterable
from fractions import Fraction

from backing.arranging.arrangement import Role
from backing.arranging.faces import StyleTurns
from backing.arranging.style import Style
from backing.errors import PracticeError, UsageError, did_you_mean
from backing.harmony.setting import BarChords
from backing.language.tables import LANGUAGES
from backing.music.chord import Chord, parse_chord
from backing.music.dance import Dance, find_dance
from backing.music.key import Key, parse_key
from backing.music.metre import parse_metre
from backing.music.tempo import FeltBeats, Tempo, parse_tempo
from backing.parse.played_as import PlayedAs
from backing.practice.devices import rungs
from backing.practice.passages import Bars, Join, OneSection, Passage, Whole
from backing.wording import either

#: The tracks that a player can name.
TRACKS = {role.value: role for role in (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)}
SLOWEST_PER_CENT, FASTEST_PER_CENT = 1, 1000
# Compiled when they are first used: most commands need none of them.
_PART = r"\s*([^:]*?)\s*:(?:\s+|$)(.*?)\s*$"
_NUMBER = r"\s*([+-]?\d{1,9})(?:[.,](\d{1,6}))?\s*$"
_BARS = r"\s*(\d{1,6})\s*(?:[-–—]\s*(\d{1,6})\s*)?$"
_TIMES = r"\s*(\d{1,4})\s*[xX×]\s*(\d{1,4})\s*$"
_JOIN = r"\s*([A-Za-z]{1,3})\s*(?:-|–|>|to)\s*([A-Za-z]{1,3})(?:\s+(\d{1,2}))?\s*$"
_SWING = r"\s*(\d{1,2}(?:[.,]\d)?)\s*:\s*(\d{1,2})\s*$"


def whole_number(text: str, option: str, example: str) -> int:
    """A whole number."""
    number = _number(text)
    if number is None or number.denominator != 1:
        raise UsageError(f"{option} {text!r} is not a whole number", f"give a number: {example}")
    return int(number)


def how_often(text: str) -> tuple[int, int]:
    """How often, and how many bars each time must have (0: any): "4", "7x32".

    >>> how_often("4"), how_often("7 x 32"), how_often("7×32")
    ((4, 0), (7, 32), (7, 32))
    """
    asked = re.match(_TIMES, text)
    if asked:
        return int(asked[1]), int(asked[2])
    return whole_number(text, "--times", "4, or 7x32"), 0


def decimal_number(text: str, option: str, example: str) -> float:
    """A number, with a decimal point or comma."""
    number = _number(text)
    if number is None:
        raise UsageError(f"{option} {text!r} is not a number", f"give a number: {example}")
    return float(number)


def share(text: str, option: str = "--percent") -> Fraction:
    """Per cent, with or without the sign, as a share of 1: "62,5", "60%".

    >>> share("62,5"), share("60 %")
    (Fraction(5, 8), Fraction(3, 5))
    """
    number = _number(text.strip().removesuffix("%"))
    if number is None:
        raise UsageError(f"{option} {text!r} is not a number of per cent", f"try {option} 60")
    if not SLOWEST_PER_CENT <= number <= FASTEST_PER_CENT:
        meant = f"did you mean {option} {float(number * 100):g}?" if 0 < number < 1 else ""
        raise UsageError(
            f"{option} {text.strip()}: that is {float(number):g} per cent",
            meant or f"give {SLOWEST_PER_CENT} to {FASTEST_PER_CENT} per cent",
        )
    return number / 100


def ladder(text: str, by: str, *, beyond: str = "", down: bool = False) -> tuple[Fraction, ...]:
    """A ladder of tempi, from one per cent to another: "50..100", by so many per cent a round.

    >>> [str(100 * rung) for rung in ladder("60..80", "10", beyond="5")]
    ['60', '70', '80', '85', '80']
    """
    low, _, high = (part.strip() for part in text.replace("…", "..").partition(".."))
    return rungs(
        share(low), share(high), per_cent_more(by or "5", "--step"),
        beyond=per_cent_more(beyond, "--beyond") if beyond else Fraction(0), down=down,
    )  # fmt: skip


def is_ladder(text: str) -> bool:
    """True for per cent that go from one to another."""
    return ".." in text or "…" in text


def per_cent_more(text: str, option: str) -> Fraction:
    """So many per cent more or less, above 0, as a share of 1."""
    number = _number(text.strip().removesuffix("%"))
    if number is None or not 0 < number <= FASTEST_PER_CENT:
        raise UsageError(f"{option} {text.strip()!r} is no step in per cent", f"try {option} 5")
    return number / 100


def tempo(text: str, option: str = "--tempo") -> Tempo | FeltBeats:
    """Felt beats a minute, or a tempo with its note."""
    try:
        return parse_tempo(text)
    except ValueError as error:
        raise UsageError(f"{option}: {error}", "give felt beats a minute, 60 or 3/8=60") from None


def played_as(metre_text: str, beat_text: str) -> PlayedAs:
    """What is told of a tune that was played without a click."""
    metre = None
    if metre_text.strip():
        try:
            metre = parse_metre(metre_text)
        except ValueError as error:
            raise UsageError(f"--metre: {error}", "give one like 6/8") from None
        if metre.free:
            raise UsageError(f"--metre {metre_text.strip()} has no bars", "give one like 6/8")
    return PlayedAs(metre, tempo(beat_text, "--beat") if beat_text.strip() else None)


def speed(tempo_text: str, percent_text: str) -> Tempo | FeltBeats | Fraction:
    """How fast: by --tempo, by --percent, or the tune's own tempo without either."""
    if tempo_text and percent_text:
        raise UsageError("--tempo and --percent both say how fast", "give one of them, not both")
    if percent_text:
        return share(percent_text)
    return tempo(tempo_text) if tempo_text else Fraction(1)


def span(bars: str, part: str, ending: str, joined: str = "") -> Passage:
    """What is played: bars, a part of the tune, the join of two, or all of it."""
    if joined:
        if bars or part:
            raise UsageError("--join says what is played", "leave --bars and --part out")
        return part_join(joined)
    if bars and part:
        raise UsageError("--bars and --part both say what is played", "give one of them, not both")
    if ending and not part:
        raise UsageError("--ending goes with --part", "say which part: --part A --ending 2")
    if part:
        return OneSection(part, whole_number(ending, "--ending", "2") if ending else None)
    return _bars(bars) if bars else Whole()


def part_join(text: str) -> Join:
    """The join of two parts: "A-B", "A-A"; with how many bars of each: "A-B 4".

    >>> part_join("a-b"), part_join("A>B 1")
    (Join(name='A', following='B', bars=2), Join(name='A', following='B', bars=1))
    """
    match = re.match(_JOIN, text)
    if not match:
        raise UsageError(f"--join {text!r} is no join of two parts", "give it like A-B")
    return Join(match[1].upper(), match[2].upper(), int(match[3] or 2))


def _bars(text: str) -> Bars:
    match = re.match(_BARS, text)
    if not match:
        raise UsageError(f"--bars {text!r} are no bars", "give bars like 5-6, or 5")
    return Bars(int(match[1]), int(match[2] or match[1]))


def tracks(words: Iterable[str], option: str = "--mute") -> frozenset[Role]:
    """Tracks by name, several after each other or with commas between.

    >>> sorted(tracks(["melody,click", "Bass"]))
    [<Role.BASS: 'bass'>, <Role.CLICK: 'click'>, <Role.MELODY: 'melody'>]
    """
    names = [name for word in words for name in re.split(r"[\s,;+]+", word.strip()) if name]
    return frozenset(_track(name, option) for name in names)


def balance(text: str) -> dict[Role, Fraction]:
    """Tracks with their loudness in per cent of usual: "click=50, melody=120"."""
    found: dict[Role, Fraction] = {}
    for part in filter(str.strip, re.split(r"[;,](?!\s*\d)", text)):
        name, _, amount = part.partition("=")
        number = _number(amount.strip().removesuffix("%"))
        if number is None or number < 0:
            raise UsageError(
                f"--balance {part.strip()!r} is not a track and its per cent",
                f"give them like click=50; the tracks are {', '.join(TRACKS)}",
            )
        found[_track(name, "--balance")] = number
    return found


def swing(text: str) -> Fraction | None:
    """How uneven pairs are, 1 for even; None where nothing was typed."""
    if not text.strip():
        return None
    match = re.match(_SWING, text)
    long, short = (match[1].replace(",", "."), int(match[2])) if match else ("0", 1)
    ratio = Fraction(long) / short if short else Fraction(0)
    if not 1 <= ratio <= 3:
        raise UsageError(f"--swing {text!r} is no swing", "give a ratio from 1:1 to 3:1, like 2:1")
    return ratio


def styles(text: str, load: Callable[[str], Style]) -> StyleTurns:
    """Styles for the times through, and for parts: "waltz, waltz:fifths", "A: light, B: polka".

    What follows a part's name is for it, up to the next one.  UsageError where a name is
    missing; what `load` raises for a name that is not known.
    """
    always: list[Style] = []
    parts: dict[str, list[Style]] = {}
    here = always
    for word in text.split(","):
        named = re.match(_PART, word)
        if named:
            here = parts.setdefault(named[1].lower(), [])
        name = named[2] if named else word.strip()
        if not name:
            raise UsageError(
                f"--style {text!r}: a name is missing",
                "give one, or several: waltz, waltz:fifths; A: light, B: polka",
            )
        here.append(load(name))
    return StyleTurns(tuple(always), {part: tuple(found) for part, found in parts.items()})


def key(text: str, option: str) -> Key:
    """A key: D, Em, Ador."""
    try:
        found = parse_key(text)
    except ValueError:
        found = None
    if found is None or found.mode == "none":
        raise UsageError(f"{option} {text!r} is not a key", "give a key like D, Em or Ador")
    return found


def bar_chords(text: str, option: str = "--set") -> BarChords:
    """A bar and its chords: "12: G D", "12: G . D", "12: N.C."; "12: -" for none of its own.

    >>> [str(chord) for chord in bar_chords("12: G D7").chords]
    ['G', 'D7']
    """
    bar, colon, names = text.partition(":")
    number = _number(bar)
    if not colon or not names.strip() or number is None or number.denominator != 1 or number < 0:
        raise UsageError(
            f"{option} {text!r} is not a bar and its chords", f'give them like {option} "12: G D"'
        )
    words = [word for word in re.split(r"[\s,|]+", names) if word]
    if words == ["-"]:
        words = []
    return BarChords(int(number), tuple(_chord(word, text, option) for word in words))


def _chord(word: str, text: str, option: str) -> Chord | None:
    if word == ".":
        return None
    try:
        return parse_chord(word)
    except ValueError:
        raise UsageError(
            f"{option} {text!r}: {word!r} is not a chord",
            "give chords like G, Em, A7 or D/F#, N.C. for silence, . where the one before goes on",
        ) from None


def _track(name: str, option: str) -> Role:
    role = TRACKS.get(name.strip().lower())
    if role is None:
        near = did_you_mean(name, list(TRACKS))
        raise UsageError(
            f"{option} {name.strip()!r} is not a track",
            near or f"give {', '.join(TRACKS)}",
        )
    return role


def _number(text: str) -> Fraction | None:
    """A number as people write it, with a point or a comma."""
    match = re.match(_NUMBER, text)
    return Fraction(f"{match[1]}.{match[2] or 0}") if match else None


def dance(name: str) -> Dance | None:
    """The dance of this name, None for none.  Raises PracticeError where it is not known."""
    found = find_dance(name) if name else None
    if name and found is None:
        raise PracticeError(f"{name!r} is not a dance that is known here", "try reel, jig, waltz")
    return found


def language(name: str) -> str:
    """The language of this tag.  Raises UsageError where there is no table for it."""
    if name not in LANGUAGES:
        raise UsageError(f"--language {name}: it is not spoken here", f"give {either(LANGUAGES)}")
    return name
