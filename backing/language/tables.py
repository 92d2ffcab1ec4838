"""The tables of the languages: every text that players may be told in their own.

A text has {names} for its values.  One that counts has two forms, `one` and `many`, and {number}
for how many in words.
"""

from collections.abc import Mapping
from functools import cache
from typing import Any

ENGLISH = "en"
#: The languages that there are tables for, by their tags (BCP 47), with what they call themselves.
LANGUAGES = {ENGLISH: "English", "de": "Deutsch", "fr": "français"}


@cache
def language_table(language: str) -> Mapping[str, Any]:
    """All texts in one of the LANGUAGES: single ones by what they are for, names in tables."""
    import tomllib
    from importlib.resources import files

    text = files(__package__).joinpath(f"{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def text_in(language: str, key: str, number: int | None = None) -> str:
    """A text by what it is for, with its {names}; of one that counts the form for a number.

    >>> text_in("de", "fast-notes", 1), text_in("en", "pickup")
    ('eine schnelle Note', 'the pickup')
    """
    text = language_table(language)["texts"][key]
    if not isinstance(text, str):
        text = text["one" if number == 1 else "many"]
    return str(text)


def name_in(language: str, kind: str, name: str) -> str:
    """What a thing is called; as we call it ourselves where the language has no other name.

    >>> name_in("de", "dances", "waltz"), name_in("en", "dances", "waltz")
    ('Walzer', 'waltz')
    """
    return str(language_table(language)[kind].get(name, name))
