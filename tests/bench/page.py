"""What a page costs: making it, its size, opening it on a slow phone, the first sound, and whether
its scheduling ever comes too late.

    python tests/bench/page.py [--minutes 10] [--runs 5] [--pages 40]

A tune of 32 bars with three styles, two boxes, two widths.  Goals: made within 1.2 s from process
start, below 700 KB; in Chromium with a processor four times as slow usable within 1 s and heard
within 150 ms of the tap; with one six times as slow nothing too late in ten minutes.  Then many
pages in a process that is warm, as a site is made, of the examples and of music21's collection: one
box, one style, two widths; goal 250 ms of processor time each.  Times are as noisy as the machine:
compare two versions in turns.  Chromium is Debian's.
"""

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from common import collection_paths
from playwright.sync_api import sync_playwright

from backing.errors import BackingError
from backing.files import load_box, load_style, read_tune
from backing.practice.asked import Asked
from backing.practice.backing import make_backing
from backing.practice.plan import Plan, Step
from backing.render.page.music import PageChoice
from backing.render.page.page import PageSheet, render_page
from backing.render.sheet.look import SheetPage

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
EXAMPLE = EXAMPLES / "the-towpath-mare.abc"
MAKE = ["page", str(EXAMPLE), "--box", "D/G,G/C", "--styles", "sustained,alternating,drone"]
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run")
USABLE = "performance.getEntriesByName('usable')[0]"
#: Marks when the page can be used, as seen from the start of its loading.
WATCH = """new MutationObserver(() => {
  if (document.querySelector('.bar') && !performance.getEntriesByName('usable').length) {
    performance.mark('usable');
  }
}).observe(document, { subtree: true, childList: true });"""
#: Seconds from a tap to the moment for which the first key is scheduled.
FIRST_SOUND = """() => new Promise((found) => {
  const sound = backing._sound;
  const press = sound.press.bind(sound);
  let tapped = 0;
  document.getElementById('go').addEventListener('click', () => {
    tapped = performance.now();
  }, true);
  sound.press = (role, key, velocity, at) => {
    sound.press = press;
    const wait = performance.now() - tapped + 1000 * (at - sound.now());
    found(wait + 1000 * (sound.made.context.baseLatency ?? 0));
    return press(role, key, velocity, at);
  };
})"""


def make(path: Path, runs: int) -> None:
    """Time the making, as a player has it: the bytecode of the program is there."""
    took = []
    around = {**os.environ, "PYTHONPYCACHEPREFIX": str(path.parent)}
    around.pop("PYTHONDONTWRITEBYTECODE", None)
    for _ in range(runs + 1):
        began = time.perf_counter()
        command = [sys.executable, "-m", "backing", *MAKE, "-o", str(path), "--replace"]
        subprocess.run(command, check=True, capture_output=True, env=around)
        took.append(time.perf_counter() - began)
    del took[0]  # it wrote the bytecode
    print(
        f"made in {median(took):.2f} s (best {min(took):.2f}), {path.stat().st_size / 1000:.0f} KB"
    )


def make_many(title: str, paths: list[Path]) -> None:
    """Processor time of a page of each tune, as if one after the other in a site."""
    box, style = load_box("D/G"), load_style("alternating")
    parts = []
    for path in [paths[0], *paths]:
        try:
            tune = read_tune(path).tune
            began = time.thread_time()
            made = make_backing(tune, Asked(Plan((Step(),)), style, box=box))
            arranged = time.thread_time()
            sheet = PageSheet("D/G", (SheetPage(made.tune, made.fit),))
            render_page(tune.title, [PageChoice("D/G", "x", (made,))], [sheet], made.plan)
        except BackingError:  # such a tune has no page
            continue
        parts.append((arranged - began, time.thread_time() - arranged))
    del parts[0]  # it loaded what all need
    arranging, rendering = (1000 * sum(part) / len(parts) for part in zip(*parts, strict=True))
    print(
        f"{title}: {len(parts)} pages, {arranging + rendering:.0f} ms each: "
        f"arranging and fingering {arranging:.0f}, the page {rendering:.0f}"
    )


def open_page(context, path: Path, rate: int):
    """A page on a processor so many times as slow."""
    tab = context.new_page()
    context.new_cdp_session(tab).send("Emulation.setCPUThrottlingRate", {"rate": rate})
    tab.add_init_script(WATCH)
    tab.goto(path.as_uri())
    tab.wait_for_selector(".bar")
    return tab


def main() -> None:
    """Print all of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--pages", type=int, default=40)
    given = parser.parse_args()
    make_many("examples", sorted(EXAMPLES.glob("*.abc")))
    paths = collection_paths()
    if paths:
        random.Random(1).shuffle(paths)
        make_many("music21's collection", paths[: given.pages])
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "page.html"
        make(path, given.runs)
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(FLAGS))
        usable, heard = [], []
        for _ in range(given.runs):
            context = browser.new_context(viewport={"width": 390, "height": 844})
            tab = open_page(context, path, 4)
            usable.append(tab.evaluate(f"{USABLE}.startTime"))
            time.sleep(1)  # nobody taps sooner than the sheet is read
            tab.evaluate(f"() => {{ globalThis.first = ({FIRST_SOUND})(); }}")
            tab.click("#go")
            heard.append(tab.evaluate("() => globalThis.first"))
            context.close()
        print(f"4 times as slow: usable after {median(usable):.0f} ms")
        print(f"4 times as slow: first sound {median(heard):.0f} ms after the tap")
        context = browser.new_context(viewport={"width": 390, "height": 844})
        tab = open_page(context, path, 6)
        tab.click("#go")
        time.sleep(60 * given.minutes)
        late = tab.evaluate("() => backing.player.late")
        print(f"6 times as slow: {late} keys too late in {given.minutes:g} minutes")
        browser.close()


if __name__ == "__main__":
    main()
