"""The tables of the languages: each says all, with the same values."""

import re
import string
from pathlib import Path

import pytest

import backing
from backing.files import load_style, style_names
from backing.language.tables import ENGLISH, LANGUAGES, language_table
from backing.music.dance import DANCES
from backing.music.key import MODES
from backing.render.page.words import page_table

OTHERS = [language for language in LANGUAGES if language != ENGLISH]
SOURCES = [path.read_text(encoding="utf-8") for path in Path(backing.__file__).parent.rglob("*.py")]
#: A space that may break before a sign that French sets apart (common practice, no source).
TORN = re.compile(r" [:;?!%»]|« ")


def forms_of(text):
    """A text, or both forms of one that counts."""
    return list(text.values()) if isinstance(text, dict) else [text]


def places(text):
    """The names of the values that stand in a text, however many forms it has."""
    parts = (part for form in forms_of(text) for part in string.Formatter().parse(form))
    return {name for _, name, _, _ in parts if name}


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_says_the_same_things(language):
    """Each has the texts of the English table, with the same values, none empty."""
    texts, english = language_table(language)["texts"], language_table(ENGLISH)["texts"]
    assert list(texts) == list(english)
    for key, text in texts.items():
        assert places(text) - {"number"} == places(english[key]) - {"number"}, key
        assert isinstance(text, dict) == isinstance(english[key], dict), key
        assert all(forms_of(text)), key
        assert set(text) == {"one", "many"} if isinstance(text, dict) else True


@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_is_left_in_english(language):
    """Words may be the same in two languages, no text of several words is."""
    texts, english = language_table(language)["texts"], language_table(ENGLISH)["texts"]
    letters = {key: re.sub(r"\{\w+\}|[^a-z]", "", str(text)) for key, text in texts.items()}
    same = {key for key, text in texts.items() if text == english[key] and letters[key]}
    assert same <= ({"minutes", "air"} if language == "fr" else set())


@pytest.mark.parametrize("language", OTHERS)
def test_every_name_has_one(language):
    """Modes, notes that differ, octaves, dances, intervals, leaps."""
    table, english = language_table(language), language_table(ENGLISH)
    assert set(MODES) <= set(table["keys"])
    assert set(table["dances"]) == {dance.name for dance in DANCES}
    for kind in ("intervals", "leaps"):
        assert list(table[kind]) == list(english[kind])
    assert len(table["numbers"]) == len(english["numbers"])
    notes = {f"{letter}{sign}" for letter in "ABCDEFG" for sign in ("#", "##", "b", "bb")}
    assert notes <= set(table["note-names"])
    assert list(table["octaves"]) == [str(octave) for octave in range(9)]


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", style_names())
def test_our_styles_have_a_title_in_each_language(name, language):
    """Their variants too; in English they go by their names."""
    style = load_style(name)
    assert language in dict(style.titles)
    assert style.called(ENGLISH) == name
    for variant in style.variants:
        called = style.variant(variant.name).called(language)
        assert called == f"{style.called(language)}, {dict(variant.titles)[language]}"


def test_no_text_is_left_over():
    """Each is said somewhere."""
    said = "".join(SOURCES)
    for key in language_table(ENGLISH)["texts"]:
        assert f'"{key}"' in said or key in ("push", "pull"), key


def test_french_signs_stay_at_their_words(all_words):
    """No line of French begins with a colon, a semicolon, a question mark or a per cent sign."""
    texts = [*all_words.leaves(language_table("fr")), *all_words.leaves(page_table("fr"))]
    assert [text for text in texts if TORN.search(text.strip())] == []
