"""The words of a text, and all words that tables of a language have."""

import re
from collections.abc import Iterator
from typing import Any


def words_of(text: str) -> set[str]:
    """The words of a text, in small letters; chord symbols are none."""
    found = re.findall(r"[a-zß-öø-ÿœ]{2,}", text.casefold())
    return {word for word in found if not re.fullmatch("[a-g]m", word)}


def leaves(table: Any) -> Iterator[str]:
    """All texts of a table, and of the tables in it."""
    for value in table.values() if isinstance(table, dict) else table:
        if isinstance(value, str):
            yield value
        else:
            yield from leaves(value)


def words_in(*tables: Any) -> set[str]:
    """Every word of tables; the names of values that stand in their texts are none."""
    texts = [re.sub(r"\{\w+\}", " ", text) for table in tables for text in leaves(table)]
    return set().union(*map(words_of, texts))
