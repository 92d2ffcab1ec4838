"""What a pupil sees and hears on German and French pages: nothing of ours is left in English."""

import re
from pathlib import Path

import pytest

from backing.cli.main import _run
from backing.files import load_box, load_style, style_names
from backing.language.tables import ENGLISH, LANGUAGES, language_table
from backing.render.page.words import page_table

EXAMPLES = Path(__file__).parents[3] / "examples"
OTHERS = [language for language in LANGUAGES if language != ENGLISH]
PHONE, TABLET = (360, 740), (820, 1180)
#: What shows the words of ours on a page: a tune for boxes that differ, one that lacks notes.
LACKING = """X:1
T:Otters
M:4/4
L:1/8
R:reel
K:D
"D"D2F2 "Bm"A2=f2|"G"C,4 "A7"d4:|
"""
UNTITLED = "X:1\nM:6/8\nL:1/8\nR:slip jig\nK:Bm\nB3 d3|f6|\n"
#: Names that are the same everywhere.
ALIKE = {"pdf", "iphone", "safari", "firefox", "chrome", "edge"}
#: Every text that is shown, and every label that is read aloud, as the page is now.
TEXTS = """() => {
  const found = [];
  const walk = document.createTreeWalker(document.documentElement, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const parent = walk.currentNode.parentElement;
    if (!parent.closest("script, style")) found.push(walk.currentNode.data);
  }
  for (const each of document.querySelectorAll("*")) {
    for (const name of ["aria-label", "title", "placeholder", "alt", "aria-description"]) {
      if (each.hasAttribute(name)) found.push(each.getAttribute(name));
    }
  }
  return found;
}"""
#: Each choice of each list, one after the other.
CHOOSE = """([id, at]) => {
  const list = document.getElementById(id);
  if (at >= list.options.length) return false;
  list.selectedIndex = at;
  list.dispatchEvent(new Event("change"));
  return true;
}"""

pytestmark = pytest.mark.slow


class Listener:
    """A page, and every text that it had so far."""

    def __init__(self, context, path, words_of):
        self.tab, self.words_of = context.new_page(), words_of
        self.found = set()
        self.tab.goto(path.as_uri())

    def hear(self):
        self.found.update(self.tab.evaluate(TEXTS))

    def choose(self, name):
        at = 0
        while self.tab.evaluate(CHOOSE, [name, at]):
            self.tab.wait_for_timeout(60)
            self.hear()
            at += 1

    def go_through(self):
        """All that there is on a page, in every state."""
        self.tab.wait_for_selector(".bar")
        self.hear()
        self.tab.click("#asked")
        self.tab.set_viewport_size(dict(zip(("width", "height"), TABLET, strict=True)))
        for name in ("span", "ways", "style", "box"):
            self.choose(name)
        self.tab.evaluate("() => { document.getElementById('button').click(); }")
        self.tab.click("#asked")
        for name in ("#afar", "#afar", "#go"):
            self.tab.click(name)
            self.hear()
        self.tab.wait_for_selector(".bar.sounds", timeout=20_000)
        self.hear()
        self.tab.evaluate("() => { for (const id of ['break', 'switch']) "
                          "document.getElementById(id).hidden = false; }")  # fmt: skip
        for name in ("faster", "start", "stay", "last", "step-on", "step-back", "go"):
            self.tab.evaluate("id => document.getElementById(id).click()", name)
            self.tab.wait_for_timeout(60)
            self.hear()

    def strange(self, known):
        """The words that nobody knows, each with a text that has it."""
        return {
            word: text
            for text in sorted(self.found)
            for word in self.words_of(text)
            if word not in known
        }


@pytest.fixture
def listen(chromium, all_words):
    contexts = []

    def on(path):
        context = chromium.new_context(
            viewport=dict(zip(("width", "height"), PHONE, strict=True)), has_touch=True
        )
        contexts.append(context)
        return Listener(context, path, all_words.words_of)

    yield on
    for context in contexts:
        context.close()


@pytest.fixture
def known_in(all_words):
    """All words that a page may have in a language: those of our tables, of styles and boxes, and
    what the authors of tunes and practice files wrote, but dances, which have names in each."""
    words_of = all_words.words_of
    styles = [load_style(name) for name in style_names()]
    styles += [style.variant(each.name) for style in styles for each in style.variants]
    boxes = words_of(" ".join(load_box(box).name for box in ("D/G", "C", "B/C")))

    def known(language, *paths):
        tables = all_words.words_in(language_table(language), page_table(language))
        if language == "de":
            tables |= {f"{number}mal" for number in language_table(language)["numbers"]}
        for style in styles:
            tables |= words_of(style.called(language))
        texts = "\n".join(path.read_text(encoding="utf-8") for path in paths)
        return tables | words_of(re.sub(r"(?m)^R:.*$", "", texts)) | boxes | ALIKE

    return known


def page_of(words, language, path):
    assert not _run(["page", *map(str, words), "--language", language, "-o", str(path)])
    return path


@pytest.mark.parametrize("language", OTHERS)
def test_a_page_for_several_boxes(listen, known_in, tmp_path, language):
    """What is said of each box, styles, chords, labels, ways, states: with notes that are
    missing, and buttons that do not answer."""
    tune = tmp_path / "otters.abc"
    tune.write_text(LACKING, encoding="utf-8")
    named = ["--box", "D/G,G/C,B/C,C", "--styles", "alternating,drone,polka:fifths,light"]
    page = listen(page_of([tune, *named], language, tmp_path / "page.html"))
    page.go_through()
    assert page.strange(known_in(language, tune)) == {}
    said = page.tab.inner_text("#sheet")
    assert said.strip()


@pytest.mark.parametrize("language", OTHERS)
def test_a_practice_and_a_plan(listen, known_in, tmp_path, language):
    """Steps with names and without, rests; a plan speaks the language that it was made in."""
    lesson = EXAMPLES / "a-lesson-on-the-kettle.toml"
    tunes = [EXAMPLES / f"{name}.abc" for name in ("the-lock-keepers-kettle",
                                                   "the-lamplighters-round")]  # fmt: skip
    page = listen(page_of([lesson], language, tmp_path / "lesson.html"))
    page.go_through()
    assert page.strange(known_in(language, lesson, *tunes)) == {}
    own = tmp_path / "kettle.abc"
    own.write_text(tunes[0].read_text(encoding="utf-8"), encoding="utf-8")
    plan = tmp_path / "plan.toml"
    asked = ["--box", "D/G", "--minutes", "60", "--language", language]
    assert not _run(["plan", str(own), *asked, "-o", str(plan)])
    page = listen(page_of([plan], language, tmp_path / "plan.html"))
    page.tab.wait_for_selector(".bar")
    page.hear()
    assert page.strange(known_in(language, own)) == {}


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("changes", [(), ("--changes",)], ids=["whole", "changes"])
def test_a_set(listen, known_in, tmp_path, language, changes):
    """Tunes one after the other, and the changes between them."""
    tunes = [EXAMPLES / "the-eel-trap.abc", EXAMPLES / "ice-on-the-tiller.abc"]
    words = [tunes[0], "--then", str(tunes[1]), *changes]
    page = listen(page_of(words, language, tmp_path / "set.html"))
    page.go_through()
    assert page.strange(known_in(language, *tunes)) == {}


@pytest.mark.parametrize("language", OTHERS)
def test_a_site(listen, known_in, tmp_path, language):
    """The index with each of its choices, and the pages that it leads to."""
    book = tmp_path / "book"
    book.mkdir()
    for path in EXAMPLES.glob("*.abc"):
        (book / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    (book / "otters.abc").write_text(LACKING, encoding="utf-8")
    (book / "none.abc").write_text(UNTITLED, encoding="utf-8")
    (book / "lesson.toml").write_text(
        (EXAMPLES / "a-lesson-on-the-kettle.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    site = tmp_path / "site"
    words = ["page", str(book), "--box", "D/G,C", "--language", language, "-o", f"{site}/"]
    assert not _run(words)
    (tmp_path / "titles").write_text("book", encoding="utf-8")
    known = known_in(language, *book.iterdir(), tmp_path / "titles")
    index = listen(site / "index.html")
    index.hear()
    index.tab.fill("#words", "qqqq")
    index.hear()
    index.tab.fill("#words", "")
    for name in ("dance", "key", "grade", "box"):
        index.choose(name)
    for page in sorted(site.glob("*.html")):
        if page.stem in {"index", "lesson"}:
            continue
        index.tab.goto(page.as_uri())
        index.tab.wait_for_selector(".bar")
        index.hear()
        index.choose("box")
    assert index.strange(known) == {}


def test_english_would_be_found(listen, known_in, tmp_path):
    """An English page is full of words that no German one knows."""
    tune = EXAMPLES / "the-eel-trap.abc"
    page = listen(page_of([tune, "--box", "D/G,G/C"], ENGLISH, tmp_path / "page.html"))
    page.tab.wait_for_selector(".bar")
    page.choose("box")
    strange = page.strange(known_in("de", tune))
    assert {"same", "buttons", "dorian", "slower", "bellows"} - strange.keys() == {"bellows"}
