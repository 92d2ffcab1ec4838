"""Which tune of a book is meant by a number or a title; nothing is taken on a guess."""

import unicodedata
from collections import Counter
from collections.abc import Sequence
from itertools import count
from typing import NamedTuple

from backing.errors import TuneError, did_you_mean
from backing.parse.abc.book import TuneText
from backing.parse.abc.tune import read_head

_MOST_SHOWN = 10
_NEAR = 3
#: More figures than any book has tunes.
_MOST_FIGURES = 9
#: Typographic quotation marks, as a keyboard has them.
_PLAIN_MARKS = str.maketrans("‘’‚“”„", "'''\"\"\"")


class BookEntry(NamedTuple):
    """A tune and what to ask for it by."""

    reference: str
    tune: TuneText

    def __str__(self) -> str:
        return f"{self.reference} {self.tune.title}".rstrip()


def pick_tune(tunes: Sequence[TuneText], wanted: str) -> TuneText:
    """The one tune that a number or a title means.

    "12" means the tune with that number (0012 as well), "735.2" the second of those numbered
    735 in the book's order.  Other text is looked for in all titles, in any case, with
    accents or without; a whole title goes before part of one.  Raises TuneError where there
    is none, with those that are near, and where there are several, with their numbers.
    """
    wanted = wanted.strip()
    book = [BookEntry(*entry) for entry in zip(references(tunes), tunes, strict=True)]
    found = _numbered(book, wanted)
    said = f"tunes have the number {wanted}"
    if not found and not _is_numeral(wanted.partition(".")[0]):
        found = _titled(book, wanted)
        said = f"tunes have {wanted!r} in their titles"
    if not found:
        raise TuneError(f"no tune {wanted!r} in the book", _near(book, wanted))
    if len(found) > 1:
        raise TuneError(
            f"{len(found)} {said}" + _lines(found),
            f"say which by its number: --tune {found[-1].reference}",
        )
    return found[0].tune


def has_in_title(tune: TuneText, text: str) -> bool:
    """True where one of a tune's titles holds a text, in any case, with accents or without."""
    plain = _plain(text)
    return not plain or any(plain in _plain(title) for title in tune.titles)


def references(tunes: Sequence[TuneText]) -> list[str]:
    """What to ask for each tune of a book by: its number; where that stands more than once,
    or not at all, with its place among them after a stop.

    >>> from backing.parse.abc.book import split_book
    >>> references(list(split_book("X:007\\nK:C\\nC|\\n\\nX:8\\nK:C\\nC|\\n\\nX:8\\nK:C\\nC|")))
    ['7', '8.1', '8.2']
    """
    numbers = [_number(tune.number) for tune in tunes]
    times = Counter(numbers)
    places = {number: count(1) for number in times}
    return [
        number if number and times[number] == 1 else f"{number}.{next(places[number])}"
        for number in numbers
    ]


def double_numbers(tunes: Sequence[TuneText]) -> list[str]:
    """The numbers that more than one tune of the book has."""
    times = Counter(_number(tune.number) for tune in tunes)
    return [number for number, found in times.items() if found > 1]


def _number(written: str) -> str:
    """A number without zeros before it; what is none, as it is written."""
    return written.lstrip("0") or "0" if _is_numeral(written) else written


def _is_numeral(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _numbered(book: list[BookEntry], wanted: str) -> list[BookEntry]:
    """The tunes that a number means, or the one that a number with its place means."""
    number = _number(wanted)
    found = [entry for entry in book if number and _number(entry.tune.number) == number]
    base, stop, place = wanted.rpartition(".")
    if found or not stop or not _is_numeral(place):
        return found
    asked = {f"{_number(base)}.{_number(place)}"}
    if _number(place) == "1" and base:
        asked.add(_number(base))
    return [entry for entry in book if entry.reference in asked]


def _titled(book: list[BookEntry], wanted: str) -> list[BookEntry]:
    """The tunes with this title, else those with this text in a title."""
    plain = _plain(wanted)
    whole = [entry for entry in book if plain in map(_plain, entry.tune.titles)]
    return whole or [entry for entry in book if has_in_title(entry.tune, wanted)]


def _plain(text: str) -> str:
    """A text without case, accents and double blanks, to compare titles by."""
    if not text.isascii():
        parted = unicodedata.normalize("NFKD", text.translate(_PLAIN_MARKS))
        text = "".join(sign for sign in parted if not unicodedata.combining(sign))
    return " ".join(text.casefold().split())


def _lines(found: list[BookEntry]) -> str:
    """Tunes with what to ask for them by, each on a line of its own."""
    shown = found[:_MOST_SHOWN]
    width = max(len(entry.reference) for entry in shown)
    lines = [f"\n  {entry.reference:<{width}}  {_about(entry.tune)}" for entry in shown]
    if len(found) > len(shown):
        lines.append(f"\n  and {len(found) - len(shown)} more: backing tunes lists them")
    return "".join(lines)


def _about(tune: TuneText) -> str:
    """A tune's title, dance and key, and the line where it begins."""
    head = read_head(tune)
    known = (tune.title, head.dance, str(head.key or ""), f"line {tune.first}")
    return ", ".join(word for word in known if word)


def _near(book: list[BookEntry], wanted: str) -> str:
    """What there is instead: the numbers round one, or the nearest title."""
    holds = "the book holds one tune"
    if len(book) > 1:
        holds = f"the book holds {len(book)} tunes, {book[0].reference} to {book[-1].reference}"
    number = _number(wanted.partition(".")[0])
    if _is_numeral(number) and len(number) <= _MOST_FIGURES:
        near = sorted(
            (entry for entry in book if _is_short_numeral(entry.tune.number)),
            key=lambda entry: abs(int(entry.tune.number) - int(number)),
        )[:_NEAR]
        near.sort(key=book.index)
        return f"the nearest are {', '.join(map(str, near))}; {holds}" if near else holds
    titles = [title for entry in book for title in entry.tune.titles]
    return did_you_mean(wanted, titles) or holds


def _is_short_numeral(text: str) -> bool:
    return _is_numeral(text) and len(text) <= _MOST_FIGURES
