"""What a page says, one table a language."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def page_table(language: str) -> Mapping[str, Any]:
    """All that is said by pages alone, in one of the LANGUAGES: the texts of a page by what they
    are for, those of the index of a site in `index`."""
    text = files(__package__).joinpath(f"{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def page_words(language: str) -> Mapping[str, str]:
    """The texts of a page in one of the LANGUAGES, by what they are for."""
    return {key: text for key, text in page_table(language).items() if isinstance(text, str)}
