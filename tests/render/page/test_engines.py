"""A page from the disk in Chromium, Firefox and WebKitGTK, on a phone's screen: it shows and is
tapped, plays and stops, and lets nothing in or out."""

from itertools import pairwise

import pytest

from backing.cli.main import _run
from backing.files import read_tune

pytestmark = pytest.mark.slow


@pytest.fixture
def open_page(engine, of_pages):
    """Opens a file in each engine in turn."""
    pages = []

    def opened(path):
        pages.append(of_pages("opened").Opened(engine, path))
        return pages[-1]

    yield opened
    for page in pages:
        page.tab.close()


@pytest.fixture
def page(open_page, kettle):
    return open_page(kettle)


def test_the_sheet_shows_at_the_size_of_a_phone(page, of_pages):
    """Every line with its music, no wider than the screen; nothing was loaded, no complaint."""
    lines, wide, loaded = page.tab.evaluate(
        """(lines) => [
          [...document.querySelectorAll(lines)].filter((line) => line.parentElement.offsetParent)
            .map((line) => {
            const { left, right, height } = line.getBoundingClientRect();
            return [left, right, height, line.getBBox().width];
          }),
          innerWidth,
          performance.getEntriesByType("resource").length,
        ]""",
        of_pages("opened").LINES,
    )
    assert len(lines) >= 4
    assert all(left >= 0 and right <= wide and height > 40 for left, right, height, _ in lines)
    assert all(drawn > 100 for *_, drawn in lines)
    scrolls = "() => document.documentElement.scrollWidth > innerWidth"
    assert page.tab.evaluate(scrolls) is False
    assert loaded == 0
    assert page.tab.faults == []


def test_it_plays_after_a_key(page):
    """Which unlocks the sound; the sounding bar is marked."""
    assert page.player("playing") is False
    page.play_or_stop()
    page.until_it_sounds()
    assert page.state_of_sound() == "running"
    assert page.tab.faults == []


def test_the_mark_follows_what_is_heard(page):
    """Later than what is sent, by what the sound card takes; Firefox is never asked for that, for
    it can stand still then (seen here, in the stacks of its threads)."""
    page.play_or_stop()
    page.until_it_sounds()
    asked, firefox = page.tab.evaluate(
        """async () => {
          let asked = 0;
          const get = () => { asked += 1; return 0.25; };
          Object.defineProperty(backing._sound.made.context, "outputLatency", { get });
          await new Promise((done) => setTimeout(done, 300));
          const { delay } = backing._sound;
          return [[asked > 1, delay], navigator.userAgent.includes("Firefox/")];
        }"""
    )
    assert asked == ([False, 0] if firefox else [True, 0.25])


def test_a_bar_that_is_tapped_goes_round(page, of_pages):
    """While it sounds, from the next bar line on; a key lets the whole tune go on."""
    page.play_or_stop()
    page.until_it_sounds()
    page.tap_bar(2)
    round_, sounds = of_pages("opened").ROUND, of_pages("opened").SOUNDS
    page.tab.until(f"document.querySelectorAll('{round_}').length === 1")
    assert page.player("here.span") == {"kind": "bars", "first": 2, "last": 2, "ending": None}
    page.tab.until(f"document.querySelector('{round_}').matches('{sounds}')")
    page.whole_tune()
    page.tab.until(f"!document.querySelector('{round_}')")
    assert page.player("here.span.kind") == "whole"
    assert page.tab.faults == []


def test_the_tempo_changes_in_the_middle_of_a_bar(page):
    """What is scheduled already is heard at the new tempo."""
    page.play_or_stop()
    page.until_it_sounds()
    for _ in range(6):
        page.slower()
    assert page.player("factor") == [7, 10]
    now = page.now()
    page.until_moment(now + 1.5)
    clicks = sorted(note["at"] for note in page.heard("click") if note["at"] > now + 0.1)
    beat = 60 / (112 * 0.7)  # the tune's own tempo: dotted crotchets a minute
    gaps = [after - before for before, after in pairwise(clicks)]
    assert gaps
    assert gaps == pytest.approx([beat] * len(gaps), abs=0.001)
    assert page.tab.faults == []


def test_a_pedal_stops_and_goes(page):
    """Page Down stops and goes on, Page Up starts again, as with `backing play`; no note is
    left sounding."""
    page.play_or_stop_by_pedal()
    page.until_it_sounds()
    page.play_or_stop_by_pedal()
    assert page.player("playing") is False
    now = page.now()
    left = [note for role in ("melody", "bass", "chords") for note in page.heard(role)]
    assert left
    assert all(note["stop"] is not None and note["stop"] <= now + 0.01 for note in left)
    page.again_by_pedal()
    assert page.player("playing") is True
    assert page.tab.faults == []


def test_a_track_is_muted_and_comes_back(page):
    """By its key, before it plays and while it does."""
    page.turn_melody()
    page.play_or_stop()
    page.until_it_sounds()
    assert page.heard("melody") == []
    assert page.heard("bass")
    page.turn_melody()
    page.tab.until("heard.some((note) => note.role === 'melody')")
    assert page.tab.faults == []


def test_all_that_can_be_pressed_or_chosen_is(page):
    """While it plays: each button that shows, then each choice, without a complaint."""
    page.play_or_stop()
    page.until_it_sounds()
    buttons = "button:not(.bar), summary"
    shows = "([all, n]) => document.querySelectorAll(all)[n].checkVisibility()"
    count = page.tab.evaluate("(all) => document.querySelectorAll(all).length", buttons)
    pressed = 0
    for number in range(count):
        if page.tab.evaluate(shows, [buttons, number]):
            page.tap(buttons, number)
            pressed += 1
    assert pressed > 4
    chosen = page.tab.evaluate(
        """async () => {
          let chosen = 0;
          for (const select of document.querySelectorAll("select")) {
            for (const { value } of [...select.options]) {
              select.value = value;
              select.dispatchEvent(new Event("change", { bubbles: true }));
              await new Promise((done) => setTimeout(done, 50));
              chosen += 1;
            }
          }
          return chosen;
        }"""
    )
    assert chosen > 4
    if not page.player("playing"):
        page.play_or_stop()
    page.until_it_sounds()
    assert page.tab.faults == []


def test_the_policy_lets_nothing_out(page):
    """Whatever ran in the page could not fetch, send, or load anything."""
    refused, ran = page.tab.evaluate(
        """async () => {
          const refused = [];
          addEventListener("securitypolicyviolation", (e) => refused.push(e.effectiveDirective));
          await fetch("https://example.org/").catch(() => {});
          navigator.sendBeacon?.("https://example.org/", "x");
          const image = new Image();
          image.src = "https://example.org/x.png";
          const script = document.createElement("script");
          script.textContent = "globalThis.ran = true";
          document.body.append(image, script);
          await new Promise((done) => setTimeout(done, 300));
          return [refused, globalThis.ran ?? false];
        }"""
    )
    assert ran is False
    assert {"connect-src", "img-src", "script-src-elem"} <= set(refused)


EVIL = "</script><img src=x onerror=globalThis.ran=1>"


def test_what_a_stranger_writes_is_text(open_page, of_pages, tmp_path):
    """Titles, words, chord symbols, parts and remarks that look like the page's own language."""
    text = (
        f"X:1\nT:{EVIL}\nT:<svg onload=globalThis.ran=1>\nC:{EVIL}\nM:4/4\nL:1/4\nP:A\nK:G\n"
        f'"G{EVIL}""^{EVIL}"GABc|"<script>ran=1</script>"dcBA|]\nw:{EVIL} <b>a \u2028 b\nW:{EVIL}\n'
    )
    tune, path = tmp_path / "evil.abc", tmp_path / "evil.html"
    tune.write_text(text, encoding="utf-8")
    assert not _run(["page", str(tune), "-o", str(path)])
    page = open_page(path)
    page.play_or_stop()
    page.until_it_sounds()
    title, ran, strangers = page.tab.evaluate(
        """(title) => [
          document.querySelector(title).textContent,
          globalThis.ran ?? null,
          document.querySelectorAll("body img, body script:not(#music)").length,
        ]""",
        of_pages("opened").TITLE,
    )
    assert title == read_tune(tune, "").tune.title == EVIL
    assert ran is None
    assert strangers == 1  # the page's own script
    assert page.tab.faults == []
