"""Tune books: where each tune of an ABC text begins and ends.

ABC 2.1 clauses 2.2 and 3.1.1: a file header up to the first empty line, then tunes
that begin with `X:` and end at an empty line; other text is skipped.
"""

import re
from collections import deque
from collections.abc import Iterator
from typing import NamedTuple

from backing.errors import TuneError, did_you_mean

_VERSION = re.compile(r"(\d+)(?:\.(\d+))?")
_DEFAULT = re.compile(r"[BCDFGHILMmNORrSUZ]:|%")
#: Of the fields between tunes so many, the last ones, hold for the tunes after them.
_MOST_DEFAULTS = 200


class TuneText(NamedTuple):
    """The text of one tune: its number and title, and its lines with the first's number.

    `header` are the lines of the file header with their numbers: defaults of every tune.
    `version` is what the file's first line says of its ABC ("%abc-2.1").
    """

    number: str
    title: str
    first: int
    lines: tuple[str, ...]
    header: tuple[tuple[int, str], ...] = ()
    version: str = ""


def split_lines(text: str) -> list[str]:
    """The lines of a text, whatever ends them (clause 8); a byte order mark is dropped."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def split_book(text: str) -> Iterator[TuneText]:
    """The tunes of a text, one at a time."""
    lines = split_lines(text)
    whole_file = not any(_is_number(line) for line in lines)
    header, at = _file_header(lines, whole_file)
    version = lines[0] if lines[0].startswith("%abc") else ""
    later: deque[tuple[int, str]] = deque(maxlen=_MOST_DEFAULTS)
    while at < len(lines):
        stop = at + 1
        if not lines[at].strip():
            at = stop
            continue
        while stop < len(lines) and lines[stop].strip() and not _is_number(lines[stop]):
            stop += 1
        if _begins_tune(lines[at:stop], whole_file):
            found = _tune_text(lines[at:stop], at + 1, (*header, *later))
            yield found._replace(version=version)
        elif not is_strict(version):
            later.extend(_defaults(lines, at, stop))
        at = stop


def is_strict(version: str) -> bool:
    """True where a text says that it is ABC 2.1 or newer (clauses 12.2, 12.3)."""
    match = _VERSION.search(version)
    return match is not None and (int(match[1]), int(match[2] or 0)) >= (2, 1)


def looks_like_abc(text: str) -> bool:
    """True where a line of the text begins as a tune's header does."""
    return any(line[:2] in ("X:", "K:", "T:", "M:", "L:") for line in split_lines(text[:100_000]))


def pick_tune(tunes: list[TuneText], wanted: str) -> TuneText:
    """The tune with this number, or else the first whose title holds this text.

    Raises TuneError where there is none.
    """
    if found := find_tunes(tunes, wanted):
        return found[0]
    near = did_you_mean(wanted, [tune.title for tune in tunes if tune.title])
    numbers = [tune.number for tune in tunes if tune.number]
    holds = f"the book holds {len(tunes)} tunes"
    if numbers:
        holds += f", numbers {numbers[0]} to {numbers[-1]}"
    raise TuneError(f"no tune {wanted!r} in the book", near or holds)


def find_tunes(tunes: list[TuneText], wanted: str) -> list[TuneText]:
    """The tunes with this number, or else those whose titles hold this text."""
    wanted = wanted.strip()
    numbered = [tune for tune in tunes if tune.number == wanted]
    if numbered or not wanted:
        return numbered
    return [tune for tune in tunes if wanted.lower() in tune.title.lower()]


def double_numbers(tunes: list[TuneText]) -> list[str]:
    """The numbers that more than one tune of the book has."""
    seen: set[str] = set()
    double = []
    for tune in tunes:
        if tune.number in seen and tune.number not in double:
            double.append(tune.number)
        seen.add(tune.number)
    return double


def _is_number(line: str) -> bool:
    """True for the field that begins a tune; `X:|` is a rest before a bar line (clause 3)."""
    return line.startswith("X:") and line[2:3] not in ("|", ":")


def _file_header(lines: list[str], whole_file: bool) -> tuple[tuple[tuple[int, str], ...], int]:
    """The file header's lines with their numbers, and where the rest begins.

    Fields with a key, or with music where no tune has a number, are a tune (clause 2.3).
    """
    header: list[tuple[int, str]] = []
    is_tune = False
    for index, line in enumerate(lines):
        if not line.strip():
            return ((), 0) if is_tune else (tuple(header), index)
        if _is_number(line):
            break
        if line[1:2] == ":" or line.startswith("%"):
            header.append((index + 1, line))
            is_tune |= line.startswith("K:")
        else:
            is_tune |= whole_file
    return (), 0


def _defaults(lines: list[str], start: int, stop: int) -> tuple[tuple[int, str], ...]:
    """Fields between tunes, and nothing else: defaults of the tunes after them, as older files
    have them (clause 10)."""
    found = [(index + 1, lines[index]) for index in range(start, stop)]
    return tuple(found) if all(_DEFAULT.match(line) for _, line in found) else ()


def _begins_tune(lines: list[str], whole_file: bool) -> bool:
    if not whole_file:
        return _is_number(lines[0])
    first = next((line for line in lines if not line.startswith("%")), "")
    return first[:1].isalpha() and first[1:2] == ":"


def _tune_text(lines: list[str], first: int, header: tuple[tuple[int, str], ...]) -> TuneText:
    number = title = ""
    for line in lines:
        value = line[2:].partition("%")[0].strip()
        if _is_number(line) and not number:
            number = value
        elif line.startswith("T:"):
            title = value
            break
        elif line.startswith("K:"):
            break
    return TuneText(number, title, first, tuple(lines), header)
