"""Chromium, by Playwright."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run",
    "--autoplay-policy=user-gesture-required",
)  # fmt: skip


@contextmanager
def chromium_browser(program: str) -> Iterator[Any]:
    """A browser, as Playwright has it."""
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield browser
        browser.close()


class ChromiumPage:
    """A page from a file."""

    def __init__(self, browser: Any, path: Path, size: tuple[int, int]) -> None:
        viewport = dict(zip(("width", "height"), size, strict=True))
        self._context = browser.new_context(viewport=viewport, has_touch=True)
        self._page = self._context.new_page()
        self._faults: list[str] = []
        self._page.on("pageerror", lambda error: self._faults.append(str(error)))
        self._page.on("console", lambda m: m.type == "error" and self._faults.append(m.text))
        self._page.goto(path.as_uri())

    def run(self, code: str) -> str:
        return str(self._page.evaluate(code))

    def tap(self, x: float, y: float) -> None:
        self._page.touchscreen.tap(x, y)

    def press(self, key: str) -> None:
        self._page.keyboard.press(key)

    def faults(self) -> list[str]:
        return self._faults

    def close(self) -> None:
        self._context.close()
