"""The index of a site: its rows, its words in three languages, what a stranger's text is in it."""

import base64
import hashlib
import html.parser
import json
import string
from importlib.resources import files

import pytest

from backing.box.grade import GRADES
from backing.cli.page_making import page_of_tune, page_wish
from backing.cli.wish import Wish
from backing.language.tables import LANGUAGES
from backing.music.saying import key_said
from backing.parse.abc import parse_abc
from backing.render.page.index import IndexRow, RowOnBox, by_title, index_row, render_index
from backing.render.page.index_words import IndexWords, index_words
from backing.render.page.page import render_page
from backing.render.page.style import style_sheet

EVIL = "</script><img src=x onerror=globalThis.ran=1>\"'&"
TUNE = 'X:1\nT:Eel\nT:The Elver\nT:Eel\nR:{dance}\nM:6/8\nL:1/8\nK:{key}\n"G"GAB d3|"G"G3 G3|]\n'


def row(title, dance="jig", key="D major", grade=1, page="eel.html", box="D/G"):
    return IndexRow(page, title, (), dance, (RowOnBox(box, key, grade),), ())


class Cells(html.parser.HTMLParser):
    """The rows of the table as lists of texts, the links, and all elements with attributes."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.rows, self.links, self.elements, self.texts = [], [], [], {}
        self._within = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self._within.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag == "a":
            self.links.append(dict(attrs)["href"])

    def handle_endtag(self, tag):
        while self._within and self._within.pop() != tag:
            pass

    def handle_data(self, data):
        if "td" in self._within or "th" in self._within:
            self.rows[-1][-1] += data
        if self._within:
            self.texts[self._within[-1]] = self.texts.get(self._within[-1], "") + data


def made_row(key="G", dance="Double Jig", box="D/G,G/C", low=""):
    text = TUNE.format(key=key, dance=dance).replace("GAB", f"GA{low or 'B'}")
    made = page_of_tune(parse_abc(text), page_wish(Wish(box=box), ""))
    return index_row("eel.html", made.title, made.sheets, ("eel_d-g.pdf",))


@pytest.mark.parametrize(("language", "said"), [("en", "all tunes"), ("de", "alle Stücke")])
def test_a_page_leads_to_all_tunes_where_there_are_others(language, said):
    """By one link before its title; a page that stands alone has none."""
    made = page_of_tune(parse_abc(TUNE.format(key="G", dance="jig")), page_wish(Wish(), ""))
    told = (made.title, made.choices, made.sheets, made.plan)
    page = Cells(render_page(*told, home='index.html?"', language=language))
    assert page.links == ['index.html?"']
    assert page.texts["a"] == said
    assert Cells(render_page(*told)).links == []


def test_a_row_says_title_dance_and_on_each_box_key_and_grade():
    """The dance by our name for it; the same buttons are another key on another box."""
    found = made_row()
    assert (found.title, found.also, found.dance) == ("Eel", ("The Elver",), "jig")
    assert [(each.box, each.key) for each in found.boxes] == [
        ("D/G", "G major"),
        ("G/C", "C major"),
    ]
    assert all(1 <= each.grade <= len(GRADES) for each in found.boxes)


def test_a_row_of_a_tune_that_tells_little():
    """Without a key there is none, a dance that is not known stands as it is; without a box there
    is no grade, and where notes are missing on it neither."""
    found = made_row(key="none", dance="Springar", box="")
    assert (found.dance, found.boxes) == ("Springar", (RowOnBox("", "", 0),))
    assert made_row(low="B,,", box="D/G").boxes[0].grade == 0


@pytest.mark.parametrize("title", ["", "  ", "\u200b\u202e"])
def test_a_title_that_shows_nothing_is_no_link(title):
    """Its page's name stands for it; a title of signs is one."""
    sheets = page_of_tune(parse_abc(TUNE.format(key="G", dance="")), page_wish(Wish(), "")).sheets
    assert index_row("tune-3.html", title, sheets).title == "tune-3"
    assert index_row("tune-3.html", "***", sheets).title == "***"


def test_titles_are_in_order_without_their_article():
    """Case, accents and signs do not count; equal ones stay as their pages are called."""
    titles = ["The Otter", "étude", "'A' Heron", "eel", "Die Eule", "Zwölf", "Theo", "The"]
    found = [each.title for each in by_title([row(title) for title in titles])]
    assert found == ["eel", "étude", "Die Eule", "'A' Heron", "The Otter", "The", "Theo", "Zwölf"]


def test_what_it_shows_without_a_script():
    """A table of links in the order of the titles, and no control that does nothing."""
    page = Cells(render_index("Tunes", [row("Heron", page="heron.html"), row("Eel", grade=5)]))
    assert page.rows == [
        ["Title", "Dance", "Key", "Grade"],
        ["Eel", "jig", "D major", "very hard"],
        ["Heron", "jig", "D major", "easy"],
    ]
    assert page.links == ["eel.html", "heron.html"]
    hidden = {attrs.get("id") for _, attrs in page.elements if "hidden" in attrs}
    assert hidden == {"search", "clear"}


def test_columns_that_nothing_stands_in_are_left_out():
    """No grade without a box, no sheets where there are none; of several boxes each can be
    chosen."""
    assert Cells(render_index("", [row("Eel", box="")])).rows[0] == ["Title", "Dance", "Key"]
    two = made_row()
    page = Cells(render_index("", [two, IndexRow("p.html", "Evening", (), "", (), ())]))
    assert page.rows[0][-1] == "To print"
    assert page.rows[1][0] == "Eel also: The Elver"
    assert page.rows[2] == ["Evening", "practice", "", "", ""]
    assert ("option", {"value": "1"}) in page.elements


def test_what_a_stranger_writes_is_text():
    """In titles, dances, keys, names of boxes and of the book; links lead beside the index only."""
    evil = row(EVIL, dance=EVIL, key=EVIL, page="javascript:alert(1)", box=EVIL)._replace(
        also=(EVIL,), sheets=("//example.org/x.pdf",)
    )
    text = render_index(EVIL, [evil, evil._replace(boxes=evil.boxes * 2)])
    page = Cells(text)
    assert page.texts["title"] == page.texts["h1"] == EVIL
    assert page.rows[1][1:3] == [EVIL, EVIL]
    known = {
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "main",
        "h1",
        "div",
        "label",
        "input",
    }
    known |= {
        "select",
        "option",
        "p",
        "span",
        "button",
        "table",
        "thead",
        "tbody",
        "tr",
        "th",
        "td",
    }
    known |= {"a", "small", "script"}
    assert {tag for tag, _ in page.elements} <= known
    assert not [name for _, attrs in page.elements for name in attrs if name.startswith("on")]
    assert set(page.links) == {"javascript%3Aalert%281%29", "%2F%2Fexample.org%2Fx.pdf"}


def test_the_policy_allows_the_script_and_the_style_and_nothing_else():
    """Content Security Policy Level 3, 2.3.1: a script runs whose SHA-256 is named."""
    text = render_index("Tunes", [row("Eel")])
    policy = next(a["content"] for _, a in Cells(text).elements if "http-equiv" in a)
    kinds = dict(each.strip().split(" ", 1) for each in policy.split(";"))
    script = files("backing.render.page").joinpath("index.js").read_text(encoding="utf-8")
    for kind, own in (("script-src", script), ("style-src", style_sheet("index"))):
        assert f">{own}</" in text
        digest = base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()
        assert kinds.pop(kind) == f"'sha256-{digest}'"
    assert kinds == dict.fromkeys(("default-src", "base-uri", "form-action"), "'none'")
    assert "http://" not in text
    assert "https://" not in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_language_has_all_words(language):
    """With the same places to fill in; grades for all that there are."""
    words = index_words(language)
    for name in IndexWords._fields:
        text = getattr(words, name)
        if isinstance(text, str):
            assert text
            assert _places(text) == _places(getattr(index_words("en"), name)), name
    assert len(words.grades) == len(GRADES)
    page = Cells(render_index("Tunes", [row("Eel", key="F# minor")], language))
    assert ("html", {"lang": language}) in page.elements
    assert page.rows[1][2] == key_said("F# minor", language)


def _places(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_the_english_grades_are_ours():
    """What the index says is what `backing fit` says."""
    assert index_words("en").grades == GRADES


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("B minor", ("B minor", "h-Moll", "si mineur")),
        ("Bb major", ("Bb major", "B-Dur", "si bémol majeur")),
        ("A mixolydian", ("A mixolydian", "A-Mixolydisch", "la mixolydien")),
        ("A pipes", ("A pipes", "A-Dudelsack", "la de cornemuse")),
        ("D exp ^f", ("D exp ^f", "D ^f", "ré ^f")),
        ("E phrygian ^g", ("E phrygian ^g", "E-Phrygisch ^g", "mi phrygien ^g")),
        ("", ("", "", "")),
    ],
)
def test_keys_in_each_language(key, said):
    """As players of each say them (common practice, no source)."""
    assert tuple(key_said(key, language) for language in LANGUAGES) == said


def test_what_the_script_is_told_cannot_end_it():
    """Its words are data in the page."""
    text = render_index("Tunes", [row("Eel")], "fr")
    data = text.split('id="said">')[1].split("</script>")[0]
    assert json.loads(data)["some"] == "{shown} airs sur {all}"
