"""What there is to say of a tune, as values, and the words for it in each language."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from backing.language.tables import ENGLISH, language_table, name_in, text_in
from backing.music.key import Key
from backing.music.pitch import Pitch, name_of
from backing.music.tune import UNTITLED
from backing.wording import listed, number_word, ordinal, times_in_words

#: No more bars than this in a sentence.
_MOST_BARS = 8
_OCTAVE = 12


class NoteName(NamedTuple):
    """A note by its name, without an octave: "F#"."""

    name: str


class AtOnce(NamedTuple):
    """Notes struck together."""

    notes: tuple[NoteName, ...]


class InBars(NamedTuple):
    """Bars by their numbers, in order; 0 is the pickup."""

    numbers: tuple[int, ...]


class MovedBy(NamedTuple):
    """A move by so many semitones, up where above 0."""

    semitones: int


class LeapOf(NamedTuple):
    """A leap by so many semitones, more than a fifth."""

    semitones: int


class HowMany(NamedTuple):
    """A number, in a word."""

    number: int


class HowOften(NamedTuple):
    """So many times."""

    number: int


class WhichOne(NamedTuple):
    """One of several by its place, from 1."""

    place: int


class Parts(NamedTuple):
    """What is said one after the other, with a sign between: "comma", "semicolon", or
    "sentences", each of which begins with upper case."""

    said: tuple["Fact | Parts", ...]
    sign: str = "comma"


class Fact(NamedTuple):
    """Something to say: the `key` of its text in the tables of the languages, what stands in that
    text, and the number for texts that count."""

    key: str
    values: Mapping[str, "Sayable"] = {}
    number: int | None = None


#: What can be said: a text as it is (a name), a number in digits, a list, and all of the above.
Sayable = (
    str | int | Pitch | Key | NoteName | AtOnce | InBars | MovedBy | LeapOf | HowMany | HowOften
    | WhichOne | Parts | Fact | list["Sayable"]
)  # fmt: skip


def said_in(what: "Sayable", language: str = ENGLISH) -> str:
    """It in words.

    >>> fact = Fact("note-in-bars", {"note": Pitch("B", -1, 4), "bars": InBars((2, 6))})
    >>> [said_in(fact, language) for language in ("en", "de", "fr")]
    ['Bb4 (bars 2 and 6)', 'b¹ (Takt 2 und 6)', 'si bémol 3 (mesures 2 et 6)']
    """
    match what:
        case Fact(key, values, number):
            said = {name: said_in(value, language) for name, value in values.items()}
            if number is not None:
                said["number"] = number_word(number, language)
            return text_in(language, key, number).format(**said)
        case Parts(parts, sign):
            said_parts = [said_in(part, language) for part in parts]
            if sign == "sentences":
                said_parts = list(map(opened, said_parts))
            return text_in(language, sign).join(said_parts)
        case Pitch():
            return pitch_said(what, language)
        case Key():
            return key_said(str(what), language)
        case NoteName(name):
            return name_in(language, "note-names", name)
        case AtOnce(notes):
            return "+".join(said_in(note, language) for note in notes)
        case InBars(numbers):
            return in_bars(numbers, language)
        case MovedBy(semitones):
            return moved_by(semitones, language)
        case LeapOf(semitones):
            leaps = language_table(language)["leaps"]
            return str(leaps.get(str(semitones), leaps["more"]))
        case HowMany(number):
            return number_word(number, language)
        case HowOften(number):
            return times_in_words(number, language)
        case WhichOne(place):
            return ordinal(place, language)
        case list():
            return listed([said_in(each, language) for each in what], language)
    return str(what)


def opened(text: str) -> str:
    """Upper case at the start.

    >>> opened("bars 5 and 6")
    'Bars 5 and 6'
    """
    return text[:1].upper() + text[1:]


def title_said(title: str, language: str = ENGLISH) -> str:
    """A tune's title; what one is called that has none.

    >>> title_said("The Eel Trap", "de"), title_said(UNTITLED, "de")
    ('The Eel Trap', 'ohne Titel')
    """
    return text_in(language, "untitled") if title == UNTITLED else title


def pitch_said(pitch: Pitch, language: str = ENGLISH) -> str:
    """A pitch by its name.

    >>> [pitch_said(Pitch("F", 1, 4), language) for language in ("en", "de", "fr")]
    ['F#4', 'fis¹', 'fa dièse 3']
    """
    name = name_in(language, "note-names", name_of(pitch.step, pitch.alter))
    form = language_table(language)["octaves"].get(str(pitch.octave))
    return form.format(note=name, low=name.lower()) if form else f"{name}{pitch.octave}"


def key_said(key: str, language: str = ENGLISH) -> str:
    """A key as `str(Key)` has it, by its name; signs of its own stay as ABC writes them.

    >>> [key_said("B minor", language) for language in ("en", "de", "fr")]
    ['B minor', 'h-Moll', 'si mineur']
    """
    tonic, _, rest = key.partition(" ")
    mode, _, signs = rest.partition(" ")
    form = language_table(language)["keys"].get(mode)
    if form is None:
        return key
    name = name_in(language, "note-names", tonic)
    said = form.format(tonic=name, low=name.lower())
    return f"{said} {signs}" if signs else str(said)


def in_bars(bars: Sequence[int], language: str = ENGLISH) -> str:
    """Bars by their numbers, neighbours taken together; 0 is the pickup.

    >>> in_bars([6]), in_bars([3, 7]), in_bars([1, 2, 3, 9]), in_bars([0, 4])
    ('bar 6', 'bars 3 and 7', 'bars 1-3 and 9', 'the pickup and bar 4')
    >>> in_bars([1, 2, 3, 9], "de"), in_bars([0, 4], "fr")
    ('Takt 1–3 und 9', 'levée et mesure 4')

    Where there are more than eight, the first seven are named.

    >>> in_bars(range(1, 17, 2))
    'bars 1, 3, 5, 7, 9, 11, 13 and 15'
    >>> in_bars(range(1, 19, 2))
    'bars 1, 3, 5, 7, 9, 11, 13 and 2 more'
    """
    pickup = text_in(language, "pickup")
    if 0 in bars and len(bars) > 1:
        return listed([pickup, in_bars([bar for bar in bars if bar], language)], language)
    if tuple(bars) == (0,):
        return pickup
    words: list[str] = []
    for first, last in _runs_of(bars):
        span = text_in(language, "span").format(first=first, last=last)
        words += [span] if last > first + 1 else map(str, range(first, last + 1))
    if len(words) > _MOST_BARS:
        more = text_in(language, "more").format(count=len(words) - _MOST_BARS + 1)
        words = [*words[: _MOST_BARS - 1], more]
    return text_in(language, "bars", len(bars)).format(bars=listed(words, language))


def _runs_of(bars: Sequence[int]) -> list[tuple[int, int]]:
    """The first and last number of bars that follow each other."""
    runs = []
    for _, run in groupby(enumerate(bars), lambda placed: placed[1] - placed[0]):
        numbers = [number for _, number in run]
        runs.append((numbers[0], numbers[-1]))
    return runs


def moved_by(semitones: int, language: str = ENGLISH) -> str:
    """A move by so many semitones.

    >>> moved_by(5), moved_by(-12), moved_by(14), moved_by(0), moved_by(-7, "de")
    ('a fourth up', 'an octave down', 'an octave and a tone up', 'as written', 'eine Quinte tiefer')
    """
    if not semitones:
        return text_in(language, "as-written")
    intervals = language_table(language)["intervals"]
    size = abs(semitones)
    said = intervals[str(size - _OCTAVE if size > _OCTAVE else size)]
    if size > _OCTAVE:
        said = text_in(language, "wider").format(octave=intervals[str(_OCTAVE)], size=said)
    return text_in(language, "up" if semitones > 0 else "down").format(size=said)
