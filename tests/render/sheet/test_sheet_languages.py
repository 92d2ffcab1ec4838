"""Sheets in German and French: nothing of ours is left in English."""

import pytest

from backing.language.tables import ENGLISH, LANGUAGES, language_table
from backing.parse.abc import parse_abc
from backing.render.sheet.look import SheetLook
from backing.render.sheet.sheets import render_book, render_sheet

pytestmark = pytest.mark.slow
OTHERS = [language for language in LANGUAGES if language != ENGLISH]
#: A tune that needs every line of the legend, and says where it comes from.
BODY = (
    "X:1\nT:Otters\nO:Quay\nB:Weir\nS:Mole\nZ:Crane\nD:Heron\nR:march\nM:2/4\nL:1/8\nK:D\n"
    '"D"{e}d2 [fa]2|"G"B2 "F#"a2|"A"{B}c2 "Bb"=f2|"D"d4:|\n'
)
LOOKS = {
    "staff": SheetLook(fingers=True, air=True, hard=True),
    "strip": SheetLook(kind="strip"),
    "grid": SheetLook(kind="grid"),
}


@pytest.fixture
def otters(page):
    tune = parse_abc(BODY)
    return [page(tune, box) for box in ("D/G", "B/C", "D")]


@pytest.fixture
def strange(all_words):
    """The words of a sheet that a language does not have, nor the tune."""

    def found(text, language):
        known = all_words.words_in(language_table(language)) | all_words.words_of(BODY)
        return all_words.words_of(text) - known

    return found


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("language", OTHERS)
def test_all_words_are_of_the_language(otters, look_at, strange, language, look):
    """Each word on paper is in the language's table, or the tune's own."""
    shown = LOOKS[look]._replace(language=language)
    text = look_at(render_sheet(otters, shown).files[0]).text
    assert strange(text, language) == set()
    assert look == "grid" or shown.ways[0] in text


def test_english_would_be_found(otters, look_at, strange):
    """A sheet in English is full of words that no German one has."""
    text = look_at(render_sheet(otters, SheetLook()).files[0]).text
    assert {"button", "bellows", "upper"} <= strange(text, "de")


@pytest.mark.parametrize("language", OTHERS)
def test_a_book_speaks_it_too(otters, look_at, strange, language):
    """Contents and the index by key."""
    texts = language_table(language)["texts"]
    text = look_at(render_book("Otters", [otters[:1]], SheetLook(language=language)).files[0]).text
    assert texts["first-bars"].split()[0] in text
    assert {"de": "Marsch, D-Dur", "fr": "marche, ré majeur"}[language] in text
    assert strange(text, language) == set()
