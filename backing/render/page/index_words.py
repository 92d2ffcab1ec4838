"""What the index of a site says, from the table of each language."""

from functools import cache
from typing import NamedTuple

from backing.render.page.words import page_table


class IndexWords(NamedTuple):
    """What the index says in a language.

    `found` and `some` have {shown} and {all} in them.  `grades` are from the easiest, `missing`
    stands for one where the box has not all notes.
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


@cache
def index_words(language: str) -> IndexWords:
    """What the index says in one of the LANGUAGES."""
    table = page_table(language)["index"]
    return IndexWords(**{**table, "grades": tuple(table["grades"])})
