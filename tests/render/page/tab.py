"""A page that is open in an engine, with one way to drive them all."""

import json
import time
from typing import Any, Protocol

#: Seconds to wait for what the page does.
PATIENCE = 20


class Driver(Protocol):
    """What an engine does for one page on a phone's screen, with nothing kept from other pages."""

    def run(self, code: str) -> str:
        """What a promise of a text comes to."""

    def tap(self, x: float, y: float) -> None:
        """The page is tapped, so many pixels from the left and from above; with a mouse where the
        driver has no finger, in all but Chromium."""

    def press(self, key: str) -> None:
        """A key, by the name that browsers have for it."""

    def faults(self) -> list[str]:
        """What the page complained about: faults of its script, errors on the console."""

    def close(self) -> None:
        """Done with it."""


class Tab:
    """A page; each value that it is asked about goes as JSON."""

    def __init__(self, driver: Driver) -> None:
        self.driver = driver
        self.tap, self.press, self.close = driver.tap, driver.press, driver.close

    @property
    def faults(self) -> list[str]:
        """What the page complained about."""
        return self.driver.faults()

    def evaluate(self, code: str, value: Any = None) -> Any:
        """What a function of JavaScript, which may be asynchronous, makes of a value."""
        call = f"({code})({json.dumps(value)})"
        run = f"(async () => JSON.stringify((await {call}) ?? null))()"
        return json.loads(self.driver.run(run))

    def until(self, condition: str, seconds: float = PATIENCE) -> None:
        """Wait until an expression is true."""
        end = time.monotonic() + seconds
        while not self.evaluate(f"() => Boolean({condition})"):
            assert time.monotonic() < end, f"not within {seconds} s: {condition}; {self.faults}"
            time.sleep(0.05)
