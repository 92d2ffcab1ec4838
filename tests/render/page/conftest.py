"""What the tests of the page share: cases of music, and Node to run the page's modules with."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

BROWSER = Path(__file__).parents[2] / "browser"
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run",
    "--autoplay-policy=user-gesture-required",
)  # fmt: skip


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
def chromium():
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no Chromium (Debian: chromium)")
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield browser
        browser.close()
