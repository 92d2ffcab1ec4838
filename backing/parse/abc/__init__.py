"""ABC notation (ABC 2.1) to tunes.

`split_book` finds the tunes of a text, `tune_of` reads one, `parse_abc` does both.
"""

from dataclasses import replace

from backing.errors import TuneError
from backing.music.tune import Tune
from backing.parse.abc.book import TuneText, looks_like_abc, split_book
from backing.parse.abc.header import file_header_notices
from backing.parse.abc.kept import kept_text
from backing.parse.abc.meant import double_numbers, has_in_title, pick_tune, references
from backing.parse.abc.tune import Head, read_head, tune_of

__all__ = [
    "Head",
    "TuneText",
    "double_numbers",
    "file_header_notices",
    "has_in_title",
    "kept_text",
    "looks_like_abc",
    "parse_abc",
    "pick_tune",
    "read_head",
    "references",
    "split_book",
    "tune_of",
]


def parse_abc(text: str, wanted: str = "") -> Tune:
    """A tune from ABC text: the one with this number or title, else the first.

    Raises TuneError where there is no tune, or none such, or several, or it cannot be read.

    >>> parse_abc("X:1\\nT:Two notes\\nK:G\\nG2 F2|").melody.bars[0][1].pitches[0].midi
    66
    """
    tunes = list(split_book(text))
    if not tunes:
        raise TuneError("there is no tune in this text", "a tune begins with a line like X:1")
    chosen = pick_tune(tunes, wanted) if wanted.strip() else tunes[0]
    tune = tune_of(chosen)
    said = file_header_notices(chosen) if len(tunes) == 1 else ()
    return replace(tune, notices=(*said, *tune.notices)) if said else tune
