"""What a page says, language by language."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

import backing.render.page
from backing.arranging.arrangement import Role
from backing.language.tables import ENGLISH, LANGUAGES
from backing.render.page.script import page_modules
from backing.render.page.words import page_words

HERE = Path(backing.render.page.__file__).parent


def values(text):
    return sorted(re.findall(r"\{(\w+)\}", text))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_says_the_same_things(language):
    """Each table has the texts of the English one, with the same values, none empty."""
    words, english = page_words(language), page_words(ENGLISH)
    assert list(words) == list(english)
    assert all(words.values())
    for key, text in words.items():
        assert values(text) == values(english[key]), key


@pytest.mark.parametrize("language", [language for language in LANGUAGES if language != ENGLISH])
def test_a_table_is_not_left_in_english(language):
    """A few words are the same in two languages, no sentence is."""
    words, english = page_words(language), page_words(ENGLISH)
    same = [key for key in words if words[key] == english[key] and " " in english[key]]
    assert set(same) <= {"minutes", "in_beats"}


def test_no_text_is_left_over():
    """Each is said somewhere: in the page's own language, or by its script."""
    html = (HERE / "page.html").read_text(encoding="utf-8")
    script = "".join(page_modules().values())
    for key in page_words(ENGLISH):
        by_page = f"$w_{key}" in html or key in ("loud", *map(str, Role))
        by_name = f'"{key}"' in script or f"  {key}:" in script or key in ("push", "pull")
        assert by_page or by_name or f"`{key.split('_')[0]}_${{" in script, key


def test_the_page_itself_has_no_words():
    """Every text of page.html comes from the tables."""

    found = []

    class Texts(HTMLParser):
        def handle_data(self, data):
            found.append(data.strip())

    Texts().feed((HERE / "page.html").read_text(encoding="utf-8"))
    assert [text for text in found if text and not text.startswith("$")] == []
