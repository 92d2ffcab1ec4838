"""A site in a real browser: its index searched, a link followed, and back again."""

from itertools import cycle
from pathlib import Path

import pytest

from backing.cli.main import _run
from backing.render.page.index import IndexRow, RowOnBox, render_index
from backing.render.page.index_words import index_words

pytestmark = pytest.mark.slow
EXAMPLES = Path(__file__).parents[3] / "examples"
PHONE = {"width": 360, "height": 740}
SHOWN = "() => [...document.querySelectorAll('tbody a')].map((link) => link.textContent)"
#: Rows that are not on the screen have no inner text.
CELLS = """(name) => [...document.querySelectorAll(`tbody .${name}`)].map((cell) =>
  [...cell.childNodes].filter((each) => !each.hidden).map((each) => each.textContent).join(""))"""
EVIL = "</script><img src=x onerror=globalThis.ran=1>"


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """A site of all examples, the book and the practice file among them, for two boxes."""
    out = tmp_path_factory.mktemp("web") / "site"
    assert not _run(["page", str(EXAMPLES), "--box", "D/G,G/C", "-o", f"{out}/"])
    return out


def invented(number):
    """So many tunes, of which every eighth has an accent and every fifth is a waltz."""
    names = cycle(
        ["Heron", "Kettle", "Élan", "Otter", "Lock-Keeper's Barge", "Weir", "Eel", "Quay"]
    )
    dances = cycle(["jig", "reel", "waltz", "polka", "march"])
    keys = cycle(["D major", "G major", "E minor"])
    return [
        IndexRow(
            f"t{at}.html", f"The {name} {at}", (), dance,
            (RowOnBox("D/G", key, at % 6), RowOnBox("G/C", "C major", 1)), (),
        )
        for at, name, dance, key in zip(range(number), names, dances, keys, strict=False)
    ]  # fmt: skip


def graded(row):
    level = row.boxes[0].grade
    return index_words("en").grades[level - 1] if level else index_words("en").missing


class Index:
    """An index as it is open."""

    def __init__(self, context, path):
        self.tab = context.new_page()
        self.faults, self.asked = [], []
        self.tab.on("request", lambda request: self.asked.append(request.url))
        self.tab.on("pageerror", lambda error: self.faults.append(str(error)))
        self.tab.on("console", lambda said: said.type == "error" and self.faults.append(said.text))
        self.tab.goto(path.as_uri())

    @property
    def shown(self):
        return self.tab.evaluate(SHOWN)

    @property
    def said(self):
        return self.tab.inner_text("#found")

    def cells(self, name):
        return self.tab.evaluate(CELLS, name)


@pytest.fixture
def context(chromium):
    made = chromium.new_context(viewport=PHONE, has_touch=True)
    yield made
    made.close()


@pytest.fixture
def many(context, tmp_path):
    """A thousand tunes on a phone's screen."""
    path = tmp_path / "index.html"
    path.write_text(render_index("A thousand", invented(1000)), encoding="utf-8")
    page = Index(context, path)
    yield page
    assert page.faults == []


def test_a_tune_is_found_opened_played_and_left_again(context, site):
    """What was searched for is there again; nothing but the site's own files was asked for."""
    index = Index(context, site / "index.html")
    whole = len(index.shown)
    assert whole == int(index.said.split()[0]) >= 14
    index.tab.fill("#words", "TOWPATH má")
    assert index.shown == ["The Towpath Mare"]
    assert index.said == f"1 of {whole} tunes"
    index.tab.click("tbody a")
    index.tab.wait_for_selector(".bar")
    index.tab.click("#go")
    index.tab.wait_for_function("() => document.querySelector('.bar.sounds')")
    index.tab.go_back()
    index.tab.wait_for_selector("#search:not([hidden])")
    assert index.tab.input_value("#words") == "TOWPATH má"
    assert index.shown == ["The Towpath Mare"]
    index.tab.click("#clear")
    assert len(index.shown) == whole
    assert all(url.startswith(site.as_uri()) for url in index.asked)
    assert index.faults == []


def test_each_page_leads_back_by_its_link_and_by_key(context, site):
    """Every link of the index leads to a page, and Enter on its own link back, though there Enter
    plays again from the start."""
    index = Index(context, site / "index.html")
    links = index.tab.eval_on_selector_all("tbody a", "all => all.map((a) => a.href)")
    assert sorted(links) == sorted(p.as_uri() for p in site.iterdir() if p.name != "index.html")
    index.tab.goto(links[0])
    index.tab.wait_for_selector(".bar")
    index.tab.focus("#home a")
    index.tab.keyboard.press("Enter")
    index.tab.wait_for_url("**/index.html")


def test_a_thousand_titles_answer_as_one_types(many):
    """Each letter at once: what is shown and what is said are right before the next one comes."""
    rows = {
        f"{row.title} {row.dance} {row.boxes[0].key} {graded(row)}": row for row in invented(1000)
    }
    many.tab.keyboard.press("Tab")
    for length, letter in enumerate("elan 12", 1):
        many.tab.keyboard.type(letter)
        typed = "elan 12"[:length].split()
        wanted = [
            row.title
            for text, row in rows.items()
            if all(word in text.lower().replace("é", "e") for word in typed)
        ]
        assert sorted(many.shown) == sorted(wanted)
        assert many.said.startswith(f"{len(wanted)} ")
        assert length == 1 or len(wanted) < 1000
    at_once = many.tab.evaluate(
        """() => {
          const words = document.getElementById("words");
          words.value = "waltz eel";
          words.dispatchEvent(new Event("input"));
          return document.querySelectorAll("tbody tr").length;
        }"""
    )
    assert at_once == len(
        [row for row in invented(1000) if "Eel" in row.title and row.dance == "waltz"]
    )
    many.tab.fill("#words", "no such tune")
    assert many.shown == []
    assert "No tune is found" in many.said


def test_filters_and_search_go_together(many):
    """By dance, key and grade; another box has its own keys and grades."""
    many.tab.select_option("#dance", "waltz")
    many.tab.select_option("#key", "E minor")
    many.tab.select_option("#grade", "very hard")
    many.tab.fill("#words", "otter")
    assert set(many.cells("dance")) == {"waltz"}
    assert set(many.cells("key")) == {"E minor"}
    assert set(many.cells("grade")) == {"very hard"}
    assert all("Otter" in title for title in many.shown)
    many.tab.select_option("#box", "G/C")
    assert many.tab.input_value("#key") == ""
    assert set(many.cells("key")) == {"C major"}
    many.tab.reload()
    assert many.tab.input_value("#box") == "1"
    assert set(many.cells("dance")) == {"waltz"}


def test_columns_put_the_rows_in_order(many):
    """Once up, again down; a screen reader is told which; equal ones stay in order of title."""
    many.tab.click("thead .grade button")
    levels = ["easy", "fairly easy", "middling", "hard", "very hard", "notes missing"]
    seen = [levels.index(text) for text in many.cells("grade")]
    assert seen == sorted(seen)
    easy = [title for title, level in zip(many.shown, seen, strict=True) if level == 0]
    many.tab.click("thead .grade button")
    assert many.tab.get_attribute("thead .grade", "aria-sort") == "descending"
    assert many.tab.get_attribute("thead .title", "aria-sort") is None
    assert many.shown[-len(easy) :] == easy[::-1]
    many.tab.click("thead .title button")
    first = many.shown
    many.tab.click("thead .title button")
    assert many.shown == first[::-1]


def test_it_is_used_by_keys_alone_and_says_what_it_is(many):
    """Tab goes through search, choices and columns in their order; each has a name."""
    names = []
    for _ in range(10):
        many.tab.keyboard.press("Tab")
        names.append(
            many.tab.evaluate(
                """() => {
                  const at = document.activeElement;
                  return at.labels?.[0]?.firstChild.textContent.trim() || at.textContent;
                }"""
            )
        )
    titles = ["Search", "Dance", "Key", "Grade", "Box", "Title", "Dance", "Key", "Grade"]
    assert names == [*titles, "The Eel 6"]
    assert many.tab.get_attribute("#found", "role") == "status"
    snapshot = many.tab.locator("#tunes").aria_snapshot()
    assert 'rowheader "The Eel 6"' in snapshot
    assert 'columnheader "Title' in snapshot


def test_what_is_touched_is_large_enough(many):
    """On a phone 44 pixels high and wide (WCAG 2.2, 2.5.8 asks for 24), and nothing is wider than
    the screen."""
    boxes = many.tab.evaluate(
        """() => [...document.querySelectorAll("input, select, button, tbody a")]
          .filter((each) => each.offsetParent).slice(0, 40)
          .map((each) => { const { width, height } = each.getBoundingClientRect();
            return [each.outerHTML, width, height]; })"""
    )
    assert len(boxes) > 20
    small = [box for box in boxes if box[1] < 43.9 or box[2] < 42]
    assert not small
    assert many.tab.evaluate("() => document.documentElement.scrollWidth") == PHONE["width"]


CONTRAST = """() => {
  const light = (text) => {
    const [r, g, b] = text.match(/[\\d.]+/g).slice(0, 3).map((v) => v / 255)
      .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const paper = light(getComputedStyle(document.body).backgroundColor);
  const against = (colour) => {
    const [a, b] = [light(colour), paper].sort((x, y) => y - x);
    return (a + 0.05) / (b + 0.05);
  };
  const of = (name) => getComputedStyle(document.querySelector(name));
  const texts = ["h1", "label", "tbody a", "tbody td", "#found", "thead button", "#clear", "input"];
  return [texts.map((name) => against(of(name).color)), against(of("input").borderTopColor)];
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_can_be_read_by_day_and_by_night(chromium, tmp_path, scheme):
    """Texts 4.5 to 1 against the paper, edges 3 to 1 (WCAG 2.2, 1.4.3 and 1.4.11)."""
    (tmp_path / "index.html").write_text(render_index("Ten", invented(10)), encoding="utf-8")
    context = chromium.new_context(viewport=PHONE, color_scheme=scheme)
    index = Index(context, tmp_path / "index.html")
    texts, edge = index.tab.evaluate(CONTRAST)
    assert min(texts) >= 4.5
    assert edge >= 3
    dark = index.tab.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert (dark == "rgb(255, 253, 248)") == (scheme == "light")
    context.close()


def test_without_scripts_it_is_a_list_of_links(chromium, site):
    """All tunes, and no control that would do nothing."""
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    tab = context.new_page()
    tab.goto((site / "index.html").as_uri())
    assert tab.locator("tbody a").count() >= 14
    assert tab.locator("button:visible, input:visible, select:visible").count() == 0
    tab.get_by_text("The Towpath Mare", exact=True).click()
    assert tab.locator("h1").inner_text() == "The Towpath Mare"
    context.close()


def test_what_a_stranger_calls_a_tune_is_text(context, tmp_path):
    """Titles, dances and keys that look like the page's own language, typed into the search and in
    the address too."""
    rows = [IndexRow("a.html", EVIL, (EVIL,), EVIL, (RowOnBox(EVIL, EVIL, 1),) * 2, ())] * 2
    path = tmp_path / "index.html"
    path.write_text(render_index(EVIL, rows), encoding="utf-8")
    index = Index(context, path)
    index.tab.fill("#words", EVIL)
    index.tab.wait_for_function("() => location.hash.includes('words')")
    index.tab.reload()
    assert index.tab.input_value("#words") == EVIL
    assert index.shown == [EVIL, EVIL]
    assert index.tab.title() == EVIL
    assert index.tab.evaluate("() => globalThis.ran ?? null") is None
    assert index.tab.locator("img").count() == 0
    assert set(index.asked) == {path.as_uri()}
    assert index.faults == []
