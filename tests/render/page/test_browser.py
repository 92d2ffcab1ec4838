"""A page in a real browser: Chromium, on a phone's screen, with the file on the disk: its buttons
and choices, what it asks the network for, what it remembers, and where no script runs. What holds
in every engine is in test_engines.py."""

from pathlib import Path

import pytest

from backing.cli.main import _run

EXAMPLES = Path(__file__).parents[3] / "examples"
pytestmark = pytest.mark.slow


class Opened:
    """A page as it is open: what it asked the network for, and what it complained about."""

    def __init__(self, context, path, listen):
        self.tab = context.new_page()
        self.asked, self.faults = [], []
        self.tab.on("request", lambda request: self.asked.append(request.url))
        self.tab.on("pageerror", lambda error: self.faults.append(str(error)))
        self.tab.on("console", lambda said: said.type == "error" and self.faults.append(said.text))
        self.tab.goto(path.as_uri())
        self.tab.wait_for_selector(".bar")
        self.tab.evaluate(listen)

    def tap(self, name):
        self.tab.click(f"#{name}")

    def heard(self, role):
        return self.tab.evaluate("role => heard.filter((note) => note.role === role)", role)

    def player(self, what):
        return self.tab.evaluate(f"() => backing.player.{what}")

    def until(self, condition, seconds=15):
        self.tab.wait_for_function(condition, timeout=1000 * seconds)

    def bar(self, index):
        return self.tab.locator(f'.bar[data-bar="{index}"]').first


@pytest.fixture(scope="module")
def open_in(of_pages):
    """A page from a file, in a context of the browser's."""
    return lambda context, path: Opened(context, path, of_pages("opened").LISTEN)


@pytest.fixture
def opened(chromium, kettle, open_in):
    context = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    yield open_in(context, kettle)
    context.close()


def test_it_plays_after_a_tap_and_asks_nobody_for_anything(opened, kettle):
    """The first tap unlocks the sound; the sounding bar is marked; no request but the file."""
    opened.tap("go")
    opened.until("() => document.querySelector('.bar.sounds')")
    assert opened.tab.evaluate("() => backing._sound.made.context.state") == "running"
    assert "Stop" in opened.tab.inner_text("#go")
    assert opened.asked == [kettle.as_uri()]
    assert opened.faults == []


def test_a_bar_that_is_tapped_goes_round(opened):
    """While it sounds, from the next bar line on."""
    opened.tap("go")
    opened.until("() => document.querySelector('.bar.sounds')")
    opened.bar(6).click()
    opened.until("() => document.querySelectorAll('.bar.round').length === 1")
    opened.until("() => document.querySelector('.bar.sounds.round')")
    assert opened.player("here.span") == {"kind": "bars", "first": 6, "last": 6, "ending": None}
    assert "Round and round in bar 6" in opened.tab.inner_text("#asked")
    opened.tap("back")
    opened.until("() => backing.player.here.span.kind === 'whole'")


def test_bars_that_are_drawn_over_go_round(opened):
    """From the one where it begins to the one where it ends."""
    start, stop = (opened.bar(index).bounding_box() for index in (1, 2))
    mouse = opened.tab.mouse
    mouse.move(start["x"] + 20, start["y"] + 60)
    mouse.down()
    mouse.move(stop["x"] + 25, stop["y"] + 60, steps=5)
    mouse.up()
    span = opened.player("here.span")
    assert (span["first"], span["last"]) == (1, 2)


def test_a_track_is_muted_and_comes_back(opened):
    """By the word under the sheet, or by its key."""
    opened.tap("asked")
    opened.tap("melody")
    assert opened.tab.get_attribute("#melody", "aria-pressed") == "false"
    opened.tap("go")
    opened.until("() => document.querySelector('.bar.sounds')")
    assert opened.heard("melody") == []
    opened.tab.keyboard.press("1")
    opened.until("() => heard.some((note) => note.role === 'melody')")
    assert opened.tab.get_attribute("#melody", "aria-pressed") == "true"


def test_an_echo_and_a_ladder_can_be_asked_for(opened):
    """For the bars that go round: your turn after each; faster each round."""
    opened.bar(5).click()
    opened.tab.click("#asked")
    opened.tab.select_option("#ways", "echo")
    opened.tap("go")
    opened.until("() => backing.player.beat?.stretch.kind === 'echo'")
    opened.tap("go")
    for _ in range(6):
        opened.tap("slower")
    opened.tab.select_option("#ways", "ladder")
    opened.tap("go")
    for percent in (70, 75):
        opened.until(
            f"() => document.querySelector('.bar.sounds')"
            f" && document.querySelector('#percent').textContent === '{percent} %'"
        )
    assert opened.faults == []


def test_style_and_box_change_while_it_sounds(opened):
    """Another box is another key, and its own sheet."""
    opened.tap("go")
    opened.until("() => document.querySelector('.bar.sounds')")
    before = {note["key"] for note in opened.heard("melody")}
    opened.tab.click("#asked")
    opened.tab.select_option("#style", "drone")
    opened.tab.select_option("#box", "G/C")
    opened.until("() => document.querySelector('#sheet p')?.textContent.includes('now in')")
    opened.until("() => !backing.player.moving && document.querySelector('.bar.sounds')")
    opened.until("() => heard.length > 80")
    assert {note["key"] for note in opened.heard("melody")} - before
    assert opened.faults == []


def test_it_remembers_what_was_chosen(chromium, kettle, open_in):
    """Closed and opened again: tempo, tracks, style and box; also where nothing can be kept."""
    context = chromium.new_context(viewport={"width": 800, "height": 600})
    first = open_in(context, kettle)
    first.tap("slower")
    first.tap("asked")
    first.tap("melody")
    first.tab.select_option("#style", "drone")
    first.tab.close()
    again = open_in(context, kettle)
    assert again.tab.inner_text("#percent") == "95 %"
    assert again.tab.get_attribute("#melody", "aria-pressed") == "false"
    assert again.tab.input_value("#style") == "drone"
    context.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('none'); } })"
    )
    without = open_in(context, kettle)
    without.tap("slower")
    assert without.tab.inner_text("#percent") == "95 %"
    assert without.faults == []
    context.close()


def test_without_scripts_the_sheet_shows_and_says_how_to_open_it(chromium, kettle):
    """As in a mail program's preview."""
    context = chromium.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto(kettle.as_uri())
    assert tab.locator("#how").is_visible()
    assert not tab.locator("#foot").is_visible()
    lines = tab.locator(".line svg").all()
    assert len(lines) >= 4
    assert all(line.bounding_box()["height"] > 40 for line in lines if line.bounding_box())
    context.close()


PRACTICE = """
practice = "Evening"
tune = "kettle.abc"
box = "D/G"
[[step]]
for = "the hard bars"
bars = "5-6"
percent = 100
count-in = 1
[[step]]
bars = "1"
style = "drone"
percent = 120
count-in = 0
[[step]]
tune = "mare.abc"
bars = "1-2"
percent = 120
count-in = 1
"""


def test_a_practice_file_plays_step_by_step(chromium, tmp_path, open_in):
    """Each step says what it is for; the tunes are both on the sheet; it ends by itself."""
    for name, example in (("kettle", "the-lock-keepers-kettle"), ("mare", "the-towpath-mare")):
        (tmp_path / f"{name}.abc").write_bytes((EXAMPLES / f"{example}.abc").read_bytes())
    (tmp_path / "evening.toml").write_text(PRACTICE, encoding="utf-8")
    path = tmp_path / "evening.html"
    _run(["page", str(tmp_path / "evening.toml"), "-o", str(path)])
    context = chromium.new_context()
    page = open_in(context, path)
    assert page.tab.locator("h2").all_inner_texts() == [
        "The Lock-Keeper's Kettle",
        "The Towpath Mare",
    ]
    page.tap("go")
    page.until("() => document.querySelector('#asked').textContent.includes('the hard bars')")
    page.until("() => document.querySelector('.bar.sounds[data-tune=\"1\"]')", 30)
    page.until("() => !backing.player.playing", 30)
    assert page.faults == []
    context.close()
