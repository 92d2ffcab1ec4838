"""What a page says, one table a language."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

ENGLISH = "en"
#: The languages that there are tables for, by their tags (BCP 47), with what they call themselves.
LANGUAGES = {ENGLISH: "English", "de": "Deutsch", "fr": "français"}


@cache
def page_words(language: str) -> Mapping[str, str]:
    """The texts of a page in one of the LANGUAGES, by what they are for."""
    text = files(__package__).joinpath(f"{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
