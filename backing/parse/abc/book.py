"""Tune books: where each tune of an ABC text begins and ends.

ABC 2.1 clauses 2.2 and 3.1.1: a file header up to the first empty line, then tunes
that begin with `X:` and end at an empty line; other text is skipped.
"""

import re
from collections import deque
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from backing.errors import Notice
from backing.parse.abc.blocks import (
    Pasted,
    TextPlace,
    block_end,
    is_field,
    is_number,
    next_block,
)
from backing.parse.abc.text import unescape
from backing.parse.abc.tokens import strip_comment

_VERSION = re.compile(r"(\d+)(?:\.(\d+))?")
_DEFAULT = re.compile(r"[BCDFGHILMmNORrSUZ]:|%")
#: Of the fields between tunes so many, the last ones, hold for the tunes after them.
_MOST_DEFAULTS = 200


class TuneText(NamedTuple):
    """The text of one tune: its number and title, and its lines with the first's number.

    `header` are the lines of the file header with their numbers: defaults of every tune.
    `version` is what the file's first line says of its ABC ("%abc-2.1").  Where the text had
    to be put right to be ABC, `mended` says what was done, and `places` has for each line
    where it stands in the file; sources of notes count in `lines`, messages in the file.
    `notices` are others about the text.
    """

    number: str
    title: str
    first: int
    lines: tuple[str, ...]
    header: tuple[tuple[int, str], ...] = ()
    version: str = ""
    places: tuple[TextPlace, ...] = ()
    mended: tuple[Notice, ...] = ()
    notices: tuple[Notice, ...] = ()

    @property
    def titles(self) -> tuple[str, ...]:
        """All titles, those between its lines of music too."""
        return tuple(_text_of(line) for line in self.lines if line.startswith("T:"))


def split_lines(text: str) -> list[str]:
    """The lines of a text, whatever ends them (clause 8); a byte order mark is dropped."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def split_book(text: str) -> Iterator[TuneText]:
    """The tunes of a text, one at a time."""
    whole = Pasted(split_lines(text))
    version = whole.lines[0] if whole.lines[0].startswith("%abc") else ""
    fragment = not any(map(is_number, whole.lines))
    if fragment:
        from backing.parse.abc.pasted import unquote

        whole = unquote(whole.lines)
        fragment = not any(map(is_number, whole.lines))
    lines = whole.lines
    header, at = _file_header(lines, fragment)
    searched = 0
    later: deque[tuple[int, str]] = deque(maxlen=_MOST_DEFAULTS)
    while (at := next_block(lines, at)) < len(lines):
        stop = block_end(lines, at)
        if _begins_tune(lines[at:stop], fragment):
            begin, inside = at, stop
            if stop > searched and all(map(is_field, lines[at:stop])):
                from backing.parse.abc.pasted import end_of_tune

                stop, searched = end_of_tune(lines, at, stop)
            for tune in _tunes(whole, begin, stop, inside):
                yield tune._replace(header=(*header, *later), version=version)
        elif not is_strict(version):
            later.extend(_defaults(lines, at, stop))
        at = stop


def _tunes(whole: Pasted, start: int, stop: int, inside: int) -> list[TuneText]:
    """The tune in these lines; several where they run together.  `inside` is where the first
    empty line stands, if that is one of them."""
    lines, places, said = whole.lines[start:stop], whole.places[start:stop], whole.said
    below = next_block(whole.lines, stop)
    alone = below == len(whole.lines) or is_number(whole.lines[below])
    keyed = any(line.startswith("K:") for line in lines)
    if alone and keyed and inside == stop and ":" not in lines[0][2:]:
        return [_tune_text(lines, start + 1, places, said)]
    return _mended_tunes(whole, start, stop, inside)


def _mended_tunes(whole: Pasted, start: int, stop: int, inside: int) -> list[TuneText]:
    """The tunes in lines that may not be quite ABC."""
    from backing.parse.abc.pasted import empty_line_notice, music_below, run_apart, runs_together

    lines, places, said = whole.lines[start:stop], whole.places[start:stop], whole.said
    if inside < stop:
        said = (*said, empty_line_notice(inside + 1, whole.written(inside)))
        lines = [line if line.strip() else "%" for line in lines]
    notices = music_below(whole, stop)
    if runs_together(lines):
        places = places or [TextPlace(at + 1, 0, whole.lines[at]) for at in range(start, stop)]
        return [
            _tune_text(tune.lines, start + 1, tune.places, (*said, *tune.said), notices)
            for tune in run_apart(lines, places)
        ]
    return [_tune_text(lines, start + 1, places, said, notices)]


def is_strict(version: str) -> bool:
    """True where a text says that it is ABC 2.1 or newer (clauses 12.2, 12.3)."""
    match = _VERSION.search(version)
    return match is not None and (int(match[1]), int(match[2] or 0)) >= (2, 1)


def looks_like_abc(text: str) -> bool:
    """True where a line of the text begins as a tune's header does."""
    starts = (line.lstrip(" \t>|")[:2] for line in split_lines(text[:100_000]))
    return any(start in ("X:", "K:", "T:", "M:", "L:") for start in starts)


def _file_header(lines: Sequence[str], fragment: bool) -> tuple[tuple[tuple[int, str], ...], int]:
    """The file header's lines with their numbers, and where the rest begins.

    Fields with a key, or with music where no tune has a number, are a tune (clause 2.3).
    """
    header: list[tuple[int, str]] = []
    is_tune = False
    for index, line in enumerate(lines):
        if not line.strip():
            return ((), 0) if is_tune else (tuple(header), index)
        if is_number(line):
            break
        if line[1:2] == ":" or line.startswith("%"):
            header.append((index + 1, line))
            is_tune |= line.startswith("K:") or (fragment and _runs_together(line))
        else:
            is_tune |= fragment
    return (), 0


def _runs_together(line: str) -> bool:
    from backing.parse.abc.pasted import runs_together

    return runs_together([line])


def _defaults(lines: Sequence[str], start: int, stop: int) -> tuple[tuple[int, str], ...]:
    """Fields between tunes, and nothing else: defaults of the tunes after them, as older files
    have them (clause 10.5.2)."""
    found = [(index + 1, lines[index]) for index in range(start, stop)]
    return tuple(found) if all(_DEFAULT.match(line) for _, line in found) else ()


def _begins_tune(lines: Sequence[str], fragment: bool) -> bool:
    if not fragment:
        return is_number(lines[0])
    first = next((line for line in lines if not line.startswith("%")), "")
    return first[:1].isalpha() and first[1:2] == ":"


def _tune_text(
    lines: Sequence[str], first: int, places: Sequence[TextPlace],
    mended: tuple[Notice, ...], notices: tuple[Notice, ...] = (),
) -> TuneText:  # fmt: skip
    number = title = ""
    for line in lines:
        if is_number(line) and not number:
            number = _text_of(line)
        elif line.startswith("T:"):
            title = _text_of(line)
            break
        elif line.startswith("K:"):
            break
    return TuneText(
        number, title, first, tuple(lines), places=tuple(places), mended=mended, notices=notices
    )


def _text_of(line: str) -> str:
    """What a field of text says."""
    return unescape(strip_comment(line[2:]).strip())
