"""What a pupil does with a page in a quarter of an hour: in Chromium, on three screens, in light
and dark, with a finger, a pedal, the keyboard alone."""

import math
from pathlib import Path

import pytest

from backing.box.under_notes import button_sign, fingered_bars
from backing.cli.main import _run
from backing.files import load_style, read_tune
from backing.files.boxes import load_box
from backing.practice.asked import Asked
from backing.practice.backing import make_backing
from backing.practice.plan import Plan, Step

EXAMPLES = Path(__file__).parents[3] / "examples"
AXE = Path(__file__).parents[2] / "browser" / "node_modules" / "axe-core" / "axe.min.js"
SCREENS = {
    "phone": (360, 740),
    "on its side": (740, 360),
    "tablet": (820, 1180),
    "desk": (1280, 800),
}
SMALL = (320, 640)
#: Web Content Accessibility Guidelines 2.2, levels A and AA, by axe-core's names for them.
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
#: A finger's target on a phone, in CSS pixels (WCAG 2.2, 2.5.5, level AAA).
FINGER = 44
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def sacks(tmp_path_factory):
    path = tmp_path_factory.mktemp("pupil") / "sacks.html"
    tune = EXAMPLES / "forty-sacks-of-coal.abc"
    words = ["--box", "D/G,G/C", "--styles", "alternating,drone", "-o", str(path)]
    assert not _run(["page", str(tune), *words])
    return path


@pytest.fixture(scope="module")
def lesson(tmp_path_factory):
    path = tmp_path_factory.mktemp("pupil") / "lesson.html"
    practice = EXAMPLES / "a-lesson-on-the-kettle.toml"
    assert not _run(["page", str(practice), "--language", "de", "-o", str(path)])
    return path


class Stand:
    """A page on a screen, and what a pupil does there."""

    def __init__(self, context, path):
        self.context, self.path = context, path
        self.faults = []
        self.open()

    def open(self):
        self.tab = self.context.new_page()
        self.tab.on("pageerror", lambda error: self.faults.append(str(error)))
        self.tab.goto(self.path.as_uri())
        self.tab.wait_for_selector(".bar")

    def tap(self, name):
        self.tab.click(f"#{name}")

    def text(self, name):
        return self.tab.inner_text(f"#{name}")

    def texts(self, *names):
        """Of one moment, while the music goes on."""
        script = "names => names.map((name) => document.getElementById(name).innerText)"
        return tuple(self.tab.evaluate(script, names))

    def player(self, what):
        return self.tab.evaluate(f"() => backing.player.{what}")

    def until(self, condition, seconds=15):
        self.tab.wait_for_function(f"() => {condition}", timeout=1000 * seconds)

    def play(self):
        self.tap("go")
        self.until("document.querySelector('.note')")

    def style_of(self, selector, name):
        script = "([selector, name]) => getComputedStyle(document.querySelector(selector))[name]"
        return self.tab.evaluate(script, [selector, name])


@pytest.fixture
def stand(chromium):
    contexts = []

    def on(path, screen="phone", **how):
        width, height = SCREENS.get(screen, SMALL)
        context = chromium.new_context(viewport={"width": width, "height": height}, **how)
        contexts.append(context)
        return Stand(context, path)

    yield on
    for context in contexts:
        context.close()


# -- with a finger -------------------------------------------------------------------------


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_all_fits_the_screen_and_a_finger(stand, sacks, screen, scheme):
    """Nothing lies outside; what is tapped is large enough; the music has room, in the system's
    colours."""
    page = stand(sacks, screen, color_scheme=scheme)
    for open_too in (False, True):
        if open_too:
            page.tap("asked")
        width, height = SCREENS[screen]
        wide = page.tab.evaluate("() => document.documentElement.scrollWidth")
        assert wide <= width
        least = 36 if screen == "on its side" else FINGER
        for target in page.tab.locator("button:not(.bar), select, summary, .mark").all():
            box = target.bounding_box()
            if box and target.is_visible():
                assert box["height"] >= least, target.get_attribute("id")
                assert box["width"] >= FINGER or target.inner_text()
        foot = page.tab.locator("#foot").bounding_box()
        assert foot["y"] + foot["height"] <= height + 1
        assert open_too or foot["height"] < height * (0.45 if screen == "on its side" else 0.3)
    paper = page.style_of("body", "backgroundColor")
    light = sum(map(int, paper[4:-1].split(","))) / 3
    assert light > 240 if scheme == "light" else light < 40
    assert page.style_of(".line > svg", "color") == page.style_of("body", "color")


def test_a_part_is_practised_from_its_letter(stand, sacks):
    """The letter in the sheet is a target of its own; the whole tune comes back with a tap."""
    page = stand(sacks)
    page.tab.click(".letter >> nth=1")
    assert page.player("here.span.name") == "B"
    assert "B part" in page.text("asked")
    page.tap("back")
    assert page.player("here.span.kind") == "whole"


def test_bars_are_chosen_without_dragging(stand, sacks):
    """WCAG 2.2, 2.5.7: by numbers too, whichever is given first."""
    page = stand(sacks)
    page.tap("asked")
    page.tab.fill("#to", "3")
    page.tab.press("#to", "Tab")
    page.tab.fill("#first", "6")
    page.tab.press("#first", "Tab")
    span = page.player("here.span")
    assert (span["first"], span["last"]) == (3, 6)
    page.tab.select_option("#span", "part A")
    assert page.player("here.span.name") == "A"


def test_tempo_with_its_unit(stand, sacks):
    """Slower and faster say where they lead; the tempo is shown as the note that beats."""
    page = stand(sacks)
    own = page.text("beats")
    for _ in range(4):
        page.tap("slower")
    assert page.text("percent") == "80 %"
    assert (page.text("below"), page.text("above")) == ("75 %", "85 %")
    beats = [float(text.strip(" =")) for text in (own, page.text("beats"))]
    assert beats[1] == pytest.approx(0.8 * beats[0], abs=0.5)
    assert "crotchets" in page.tab.get_attribute("#tempo", "aria-label")


def test_a_way_to_practise_stays_with_other_bars(stand, sacks):
    """By turns with the tune and without: also in the bars that are tapped next."""
    page = stand(sacks)
    page.tap("asked")
    page.tab.select_option("#ways", "echo")
    page.tap("asked")
    page.tab.click('.bar[data-bar="2"]')
    page.tap("go")
    page.until("backing.player.beat?.stretch.kind === 'echo' && backing.player.isMuted('melody')")
    assert page.player("here.span.first") == 3
    assert page.faults == []


def test_how_loud_each_track_is(stand, sacks):
    """Amplitudes go with the square of the level, as in a MIDI file (General MIDI 1)."""
    page = stand(sacks)
    before = page.tab.evaluate("() => backing._sound.made._volumes.get('bass').gain.value")
    page.tap("asked")
    page.tab.evaluate(
        """() => {
          const field = document.getElementById("loud-bass");
          field.value = "50";
          field.dispatchEvent(new Event("input"));
        }"""
    )
    page.tap("go")
    page.until("document.querySelector('.bar.sounds')")
    after = page.tab.evaluate("() => backing._sound.made._volumes.get('bass').gain.value")
    assert after / before == pytest.approx(0.25, rel=0.02)


def test_the_thirds_are_turned_out_and_in(stand, sacks):
    """Chords of three notes become root and fifth, from the next bar on."""
    page = stand(sacks)
    keys = """() => backing.player.course.pieces[0].faces.arrangement().tracks[2]
      .some(({ keys }) => new Set(keys.map((key) => key % 12)).size === 3)"""
    assert page.tab.evaluate(keys) is True
    page.tap("asked")
    page.tab.uncheck("#thirds")
    assert page.tab.evaluate(keys) is False
    page.tab.select_option("#style", "drone")
    assert page.tab.is_checked("#thirds") is False
    page.tab.select_option("#style", "alternating")
    page.tab.check("#thirds")
    assert page.tab.evaluate(keys) is True
    assert page.faults == []


# -- what is seen ------------------------------------------------------------------------


def test_the_note_that_sounds_is_marked(stand, sacks):
    """The mark lies on a note of the bar that sounds, and goes on."""
    page = stand(sacks)
    page.play()
    for _ in range(6):
        found = page.tab.evaluate(
            """() => {
              const note = document.querySelector(".note");
              const middle = (box) => (box.left + box.right) / 2;
              const bar = document.querySelector(".bar.sounds").getBoundingClientRect();
              const x = middle(note.getBoundingClientRect());
              const heads = [...note.parentElement.querySelectorAll("svg use")]
                .filter((use) => /^#gE0A[2-4]$/.test(use.getAttribute("href")))
                .map((use) => middle(use.getBoundingClientRect()));
              return [x, bar.left, bar.right, Math.min(...heads.map((head) => Math.abs(head - x)))];
            }"""
        )
        x, left, right, off = found
        assert left - 1 <= x <= right + 1
        assert off < 3
        page.tab.wait_for_timeout(230)


def test_the_next_button_is_the_one_of_the_fingering(stand, sacks):
    """While it sounds: of the notes after the one that sounds the first, with its direction."""
    tune = read_tune(EXAMPLES / "forty-sacks-of-coal.abc", "").tune
    backing = make_backing(
        tune, Asked(Plan((Step(),)), load_style("alternating"), box=load_box("D/G"))
    )
    rows = fingered_bars(backing.tune, backing.fit.fingering)
    page = stand(sacks)
    page.tap("asked")
    page.tab.check("#button")
    page.tap("asked")
    page.play()
    for _ in range(5):
        over, bar, sign, way = page.tab.evaluate(
            """() => {
              const sound = backing._sound;
              const now = sound.now();
              sound.now = () => now;
              const place = backing.player.placeAt(now);
              backing._show();
              delete sound.now;
              return [place.over, place.bar.index, document.getElementById("sign").textContent,
                document.getElementById("way").textContent];
            }"""
        )
        notes = zip(backing.tune.melody.bars[bar], rows[bar], strict=True)
        coming = [played for note, played in notes if played and note.onset > over + 1 / 256]
        nxt = coming[0] if coming else next(filter(None, rows[bar + 1]))
        assert (sign, way) == (button_sign(nxt.presses), str(nxt.direction))
        page.tab.wait_for_timeout(310)


def test_chord_and_countdown(stand, sacks):
    """The chord that sounds, the next other one, and in how many beats it comes."""
    page = stand(sacks)
    page.tap("go")
    page.until("document.getElementById('chord').textContent === 'G'")
    seen = set()
    for _ in range(12):
        seen.add(page.texts("chord", "coming", "wait"))
        page.tab.wait_for_timeout(120)
    pairs = {(now, coming) for now, coming, _ in seen if now and coming}
    assert ("G", "D") in pairs
    assert all(now != coming for now, coming in pairs)
    assert {wait for _, _, wait in seen} & {"in 1", "in 2"}


@pytest.mark.parametrize("screen", SCREENS)
def test_from_afar(stand, sacks, screen):
    """The line that sounds alone, large; bar, beat, chord 14 mm high where a tablet stands at two
    metres (a sign of 1/150 of the distance is read at a glance: common rule, no source); half of
    the screen, and a pedal, start and stop."""
    page = stand(sacks, screen)
    page.tap("afar")
    page.play()
    width, height = SCREENS[screen]
    shown = [line for line in page.tab.locator(".line").all() if line.is_visible()]
    assert 1 <= len(shown) <= 2
    boxes = [line.bounding_box() for line in shown]
    assert all(box["y"] >= 0 and box["y"] + box["height"] <= height / 2 + 1 for box in boxes)
    assert sum(box["height"] for box in boxes) > 0.3 * height or boxes[0]["width"] > 0.95 * width
    assert page.tab.locator(".line.here .bar.sounds").count() >= 1
    sizes = [
        float(page.style_of(f"#{name}", "fontSize")[:-2]) for name in ("where", "chord", "sign")
    ]
    # a tablet of 820 pixels is about 160 mm wide, a capital 0.7 of its font's size
    assert screen != "tablet" or min(sizes) * 0.7 * 160 / 820 >= 14
    assert min(sizes) >= 0.12 * min(width, height)
    go = page.tab.locator("#go").bounding_box()
    assert go["width"] * go["height"] >= 0.13 * width * height
    for name in ("go", "slower", "faster"):
        box = page.tab.locator(f"#{name}").bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width + 1
        assert box["y"] + box["height"] <= height + 1
        assert min(box["width"], box["height"]) >= 60
    rights = """() => [...document.querySelectorAll("#go, #go *")]
      .map((each) => each.getBoundingClientRect().right)"""
    go, *others = page.tab.evaluate(rights)
    assert max(others) <= go + 1
    page.tab.keyboard.press("PageDown")
    assert page.player("playing") is False
    page.tab.keyboard.press("Escape")
    page.until("!document.body.classList.contains('stand')")
    assert page.faults == []


@pytest.mark.parametrize("name", ["sacks", "lesson"])
def test_on_the_smallest_phone_nothing_is_cut_off(stand, name, request):
    """WCAG 2.2, 1.4.10: at 320 CSS pixels all is there, the next button too, also from afar."""
    page = stand(request.getfixturevalue(name), "small phone")
    page.tap("asked")
    page.tab.check("#button")
    page.tap("asked")
    page.play()
    outside = """() => {
      const field = document.getElementById("go").getBoundingClientRect();
      return [...document.querySelectorAll("#go *")].filter((each) => each.offsetParent)
        .filter((each) => {
          const { left, top, right, bottom } = each.getBoundingClientRect();
          return left < field.left - 1 || right > field.right + 1 || top < field.top - 1
            || bottom > field.bottom + 1;
        }).map((each) => each.id);
    }"""
    assert page.tab.evaluate(outside) == []
    assert page.tab.evaluate("() => document.documentElement.scrollWidth") <= 320
    page.tap("afar")
    page.tab.wait_for_timeout(400)
    assert page.tab.evaluate(outside) == []


def test_print_prints_the_sheet(stand, sacks):
    """Title and music alone, in the wide lines, black on white, also from a dark phone."""
    page = stand(sacks, color_scheme="dark")
    narrow = page.tab.locator(".line:visible").count()
    page.tab.emulate_media(media="print")
    page.tab.evaluate("() => dispatchEvent(new Event('beforeprint'))")
    assert page.tab.locator("h1").is_visible()
    assert not page.tab.locator("#foot").is_visible()
    assert page.tab.locator(".line:visible").count() < narrow
    assert page.style_of(".line > svg", "color") == "rgb(0, 0, 0)"
    page.tab.evaluate("() => dispatchEvent(new Event('afterprint'))")
    assert page.tab.locator(".line:visible").count() == narrow


# -- the steps of a practice ---------------------------------------------------------------


def test_steps_are_listed_and_ticked_and_found_again(stand, lesson):
    """What each is for, and its minutes; the next time begins with the first that is not done."""
    page = stand(lesson)
    rows = page.tab.locator("#list li").all_inner_texts()
    assert len(rows) == 11
    assert "Listen first" in rows[0]
    assert "Min." in rows[0]
    assert page.tab.get_attribute("#list li >> nth=0", "aria-current") == "step"
    for place in (0, 1):
        page.tab.check(f"#list li >> nth={place} >> input")
    assert page.text("ticked") == "2 von 11 erledigt"
    page.tab.close()
    page.open()
    assert page.tab.locator("#list input:checked").count() == 2
    assert page.tab.get_attribute("#list li >> nth=2", "aria-current") == "step"
    page.tab.click("#list li >> nth=6 >> button")
    assert "I play, you play" in page.text("asked")
    page.tap("step-back")
    assert "Straps off" in page.text("asked")
    assert page.faults == []


def test_a_step_is_ticked_when_it_is_over(stand, lesson):
    """Where it goes on by itself; not where the player leaves it."""
    page = stand(lesson)
    page.play()
    page.tap("step-on")
    assert page.tab.locator("#list input:checked").count() == 0
    page.tab.evaluate(
        "() => { backing._sent = false; backing.player.here.step += 1; backing._show(); }"
    )
    assert page.tab.locator("#list input:checked").count() == 1


def test_a_page_speaks_its_language(stand, lesson):
    """Words, rows of buttons, and what a screen reader is told."""
    page = stand(lesson)
    assert page.tab.get_attribute("html", "lang") == "de"
    assert page.text("verb") == "Spielen"
    assert "Druck" in page.tab.inner_html("#sheet")
    assert "push" not in page.tab.inner_html("#sheet")
    assert page.tab.get_attribute(".bar >> nth=1", "aria-label").startswith("Takt 1: Druck")


# -- keyboard, screen reader, care ---------------------------------------------------------


def test_with_the_keyboard_alone(stand, sacks):
    """Tab comes to the sheet, arrows go along its bars, Enter goes round in one; keys of one
    letter can be turned off (WCAG 2.2, 2.1.1, 2.1.2, 2.1.4)."""
    page = stand(sacks)
    reached = []
    for _ in range(30):
        page.tab.keyboard.press("Tab")
        reached.append(
            page.tab.evaluate(
                "() => document.activeElement.id || document.activeElement.className.split(' ')[0]"
            )
        )
    assert {"bar", "go", "asked", "afar", "slower", "faster"} <= set(reached)
    assert reached.count("bar") <= reached.count("go") + 1  # all bars are one stop
    page.tab.focus(".bar[tabindex='0']")
    for _ in range(3):
        page.tab.keyboard.press("ArrowRight")
    assert page.text("percent") == "100 %"
    page.tab.keyboard.press("Enter")
    assert page.player("here.span.first") == 4
    page.tab.focus("#go")
    page.tab.keyboard.press("w")
    assert page.player("here.span.kind") == "whole"
    page.tap("asked")
    page.tab.uncheck("#letters")
    page.tab.evaluate("() => document.activeElement.blur()")
    page.tab.keyboard.press("b")
    assert page.player("here.span.kind") == "whole"
    page.tab.keyboard.press("ArrowDown")
    assert page.text("percent") == "95 %"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["sacks", "lesson"])
def test_nothing_stands_in_anybodys_way(stand, scheme, name, request):
    """axe-core finds nothing against WCAG 2.2 AA: open, with its choices, playing, from afar."""
    page = stand(request.getfixturevalue(name), color_scheme=scheme, bypass_csp=True)
    page.tab.evaluate(AXE.read_text(encoding="utf-8"))
    rules = {"runOnly": [*WCAG, "best-practice"]}

    def check():
        found = page.tab.evaluate("rules => axe.run(document, rules)", rules)["violations"]
        assert [(each["id"], each["nodes"][0]["target"]) for each in found] == []

    check()
    page.tap("asked")
    check()
    page.tap("asked")
    page.play()
    check()
    page.tap("afar")
    page.tab.wait_for_timeout(300)
    check()


def contrast(one, other):
    """WCAG 2.2, the contrast ratio of two colours, as `rgb(r, g, b)`."""

    def luminance(colour):
        parts = [int(part) / 255 for part in colour[4:-1].split(",")]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return (
            math.sumprod((0.2126, 0.7152, 0.0722), linear)
            if hasattr(math, "sumprod")
            else sum(
                weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True)
            )
        )

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_signs_stand_out(stand, sacks, scheme):
    """WCAG 2.2, 1.4.3 and 1.4.11: 4.5 to 1 for what is read, 3 to 1 for marks; 7 for the music."""
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21)
    page = stand(sacks, color_scheme=scheme)
    paper = page.style_of("body", "backgroundColor")
    page.play()
    assert contrast(page.style_of(".line > svg", "color"), paper) > 7
    assert contrast(page.style_of("#asked", "color"), paper) > 4.5
    assert contrast(page.style_of("#coming", "color"), paper) > 4.5
    assert contrast(page.style_of("#slower", "color"), paper) > 4.5
    assert contrast(page.style_of("#dots .over", "backgroundColor"), paper) > 3


def test_the_screen_stays_awake_while_it_plays(stand, sacks):
    """Screen Wake Lock: asked for as it begins, let go as it stops."""
    page = stand(sacks)
    page.tab.evaluate(
        """() => {
          globalThis.locks = [];
          const request = async (kind) => {
            const lock = { kind, released: false, release: async () => { lock.released = true; } };
            locks.push(lock);
            return lock;
          };
          Object.defineProperty(navigator, "wakeLock", { value: { request } });
        }"""
    )
    page.play()
    assert page.tab.evaluate("() => locks.map(({ kind, released }) => [kind, released])") == [
        ["screen", False]
    ]
    page.tap("go")
    page.until("locks.every(({ released }) => released)")


def test_after_25_minutes_it_says_that_it_is_time_to_rest(stand, sacks):
    """Once, until it is seen; short stops do not count, a long one does."""
    page = stand(sacks)
    script = """(rows) => {
      const breaks = new backing._breaks.constructor();
      return rows.map(([second, playing]) => breaks.due(second, playing));
    }"""
    played = [[60 * minute + 1, True] for minute in range(26)]
    assert page.tab.evaluate(script, played) == [False] * 25 + [True]
    short = [[1, True], [60 * 15, True], [60 * 18, False], [60 * 20, True], [60 * 31, True]]
    assert page.tab.evaluate(script, short)[-1] is True
    long = [[1, True], [60 * 15, True], [60 * 21, False], [60 * 22, True], [60 * 40, True]]
    assert page.tab.evaluate(script, long)[-1] is False
    page.tab.evaluate("() => { backing._breaks._played = 1500; }")
    page.until("!document.getElementById('break').hidden")
    page.tap("rested")
    assert not page.tab.locator("#break").is_visible()


def test_the_caution_is_there(stand, sacks):
    """Hearing, hands, a doctor where it hurts, in plain words on every page."""
    page = stand(sacks)
    text = page.text("care")
    assert "headphones" in text
    assert "doctor" in text
