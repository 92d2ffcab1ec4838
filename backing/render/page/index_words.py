"""What the index of a site says, from the table of each language."""

import re
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from backing.render.page.words import language_table


class IndexWords(NamedTuple):
    """What the index says in a language.

    `found` and `some` have {shown} and {all} in them.  `grades` are from the easiest, `missing`
    stands for one where the box has not all notes.  `modes`, `keys` and `dances` go by our own
    names, and those that are missing stay as they are.
    """

    home: str
    search: str
    hint: str
    title: str
    dance: str
    key: str
    grade: str
    box: str
    sheet: str
    also: str
    practice: str
    every_dance: str
    every_key: str
    every_grade: str
    clear: str
    one: str
    found: str
    some: str
    none: str
    grades: tuple[str, ...]
    missing: str
    key_form: str
    modes: Mapping[str, str]
    keys: Mapping[str, str]
    dances: Mapping[str, str]


@cache
def index_words(language: str) -> IndexWords:
    """What the index says in one of the LANGUAGES."""
    table = language_table(language)["index"]
    return IndexWords(**{**table, "grades": tuple(table["grades"])})


def key_said(key: str, words: IndexWords) -> str:
    """A key as `str(Key)` says it, in a language.

    >>> [key_said("F# minor", words) for words in map(index_words, ("en", "de", "fr"))]
    ['F# minor', 'Fis-Moll', 'fa dièse mineur']
    """
    match = re.fullmatch(r"([A-G][#b]?) ([a-z]+)", key)
    if match is None or (words.modes and match[2] not in words.modes):
        return key
    tonic, mode = match.groups()
    return words.key_form.format(
        tonic=words.keys.get(tonic, tonic), mode=words.modes.get(mode, mode)
    )
