"""What a page costs: making it, its size, opening it on a slow phone, the first sound, and whether
its scheduling ever comes too late.

    python tests/bench/page.py [--minutes 10] [--runs 5]

A tune of 32 bars with three styles, two boxes, two widths.  Goals: made within 1.2 s from process
start, below 700 KB; in Chromium with a processor four times as slow usable within 1 s and heard
within 150 ms of the tap; with one six times as slow nothing too late in ten minutes.  Times are as
noisy as the machine.  Chromium is Debian's.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from playwright.sync_api import sync_playwright

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "the-towpath-mare.abc"
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
    """Time the making."""
    took = []
    for _ in range(runs):
        began = time.perf_counter()
        command = [sys.executable, "-m", "backing", *MAKE, "-o", str(path)]
        subprocess.run(command, check=True, capture_output=True)
        took.append(time.perf_counter() - began)
    print(
        f"made in {median(took):.2f} s (best {min(took):.2f}), {path.stat().st_size / 1000:.0f} KB"
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
    given = parser.parse_args()
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
