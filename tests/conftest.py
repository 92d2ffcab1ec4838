"""What all tests share: golden texts, and failing instead of skipping in CI."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

GOLDEN = Path(__file__).parent / "data" / "golden"


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--update-golden` writes the golden texts anew; read them before committing."""
    parser.addoption("--update-golden", action="store_true", help="write golden texts anew")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare a text with the one kept under this name."""

    def compare(name: str, text: str) -> None:
        path = GOLDEN / f"{name}.txt"
        if request.config.getoption("--update-golden"):
            path.write_text(text, encoding="utf-8")
        assert path.read_text(encoding="utf-8") == text

    return compare


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """With BACKING_REQUIRE_ALL=1 a skip is a failure: no test hides behind a missing program."""
    report = yield
    if os.environ.get("BACKING_REQUIRE_ALL") == "1" and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"skipped, but BACKING_REQUIRE_ALL=1: {report.longrepr}"
    return report
