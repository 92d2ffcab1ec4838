"""What the tests of the page share: the engines that it is tried in, and Node to run its modules
with."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from backing.cli.main import _run
from backing.render.page.script import joined_modules, page_modules

BROWSER = Path(__file__).parents[2] / "browser"
EXAMPLES = Path(__file__).parents[3] / "examples"
#: A phone held upright, in pixels.
PHONE = (390, 844)


@pytest.fixture(scope="session")
def node():
    """Runs a script of tests/browser on lines of JSON, and gives back what it says, line by
    line."""
    program = shutil.which("node")
    if program is None:
        pytest.skip("no Node (Debian: nodejs)")

    def run(script, values):
        lines = "".join(f"{json.dumps(value)}\n" for value in values)
        done = subprocess.run(
            [program, str(BROWSER / script)],
            input=lines, capture_output=True, text=True, encoding="utf-8", check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return [json.loads(line) for line in done.stdout.splitlines()]

    return run


@pytest.fixture(scope="session")
def program():
    """Where a program is, of a package of Debian's."""

    def find(name, package):
        found = shutil.which(name)
        if found is None:
            pytest.skip(f"no {name} (Debian: {package})")
        return found

    return find


@pytest.fixture(scope="session")
def chromium(of_pages, program):
    """As Playwright has it, for what it alone can do."""
    with of_pages("chromium").chromium_browser(program("chromium", "chromium")) as browser:
        yield browser


@pytest.fixture(scope="session")
def chromium_page(of_pages, chromium):
    return lambda path: of_pages("chromium").ChromiumPage(chromium, path, PHONE)


@pytest.fixture(scope="session")
def firefox_page(of_pages, program, tmp_path_factory):
    firefox = of_pages("firefox")
    programs = program("node", "nodejs"), program("firefox-esr", "firefox-esr")
    if not (BROWSER / "node_modules" / "puppeteer-core").exists():
        pytest.skip("no puppeteer (npm ci in tests/browser)")
    folder = tmp_path_factory.mktemp("sound")
    with (
        firefox.sound_card(program("pulseaudio", "pulseaudio"), folder) as sound,
        firefox.firefox_asked(*programs, sound) as ask,
    ):
        yield lambda path: firefox.FirefoxPage(ask, path, PHONE)


@pytest.fixture(scope="session")
def webkit_page(of_pages, program):
    webkit = of_pages("webkit")
    driver = program("WebKitWebDriver", "webkit2gtk-driver")
    with (
        webkit.screen(program("Xvfb", "xvfb")) as display,
        webkit.webkit_pages(driver, display, PHONE) as opened,
    ):
        yield opened


@pytest.fixture(scope="session", params=["chromium", "firefox", "webkit"])
def engine(request, of_pages):
    """Each engine in turn: it opens a file as a page."""
    opened = request.getfixturevalue(f"{request.param}_page")
    return lambda path: of_pages("tab").Tab(opened(path))


@pytest.fixture(scope="session")
def modules_tab(engine, tmp_path_factory):
    """A page with nothing but the modules of ours, and those of the tests, in each engine."""
    texts = {
        **page_modules(),
        **{
            each: (BROWSER / f"{each}.mjs").read_text("utf-8") for each in ("playing", "fake_sound")
        },
        "all": 'import { play } from "./playing.mjs";\n'
        'import { ReedSound } from "./sound.js";\nexport const all = [play, ReedSound];\n',
    }
    path = tmp_path_factory.mktemp("modules") / "modules.html"
    script = joined_modules(texts, "all")
    path.write_text(f"<!doctype html><head></head><script>{script}</script>", encoding="utf-8")
    tab = engine(path)
    yield tab
    tab.close()


@pytest.fixture(scope="session")
def kettle(tmp_path_factory):
    """A page of a tune for two boxes, in two styles."""
    path = tmp_path_factory.mktemp("page") / "kettle.html"
    tune = EXAMPLES / "the-lock-keepers-kettle.abc"
    words = ["page", str(tune), "--box", "D/G,G/C", "--styles", "jig,drone", "-o", str(path)]
    assert not _run(words)
    return path
