"""What all tests share: golden texts, and failing instead of skipping in CI."""

import importlib.util
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

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


@pytest.fixture(scope="session")
def bench() -> Callable[[str], ModuleType]:
    """A module of tests/bench by its name: they are scripts, and no package."""

    def load(name: str) -> ModuleType:
        path = Path(__file__).parent / "bench" / f"{name}.py"
        spec = importlib.util.spec_from_file_location(f"bench_{name}", path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module

    return load


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """With BACKING_REQUIRE_ALL=1 a skip is a failure: no test hides behind a missing program."""
    report = yield
    if os.environ.get("BACKING_REQUIRE_ALL") == "1" and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"skipped, but BACKING_REQUIRE_ALL=1: {report.longrepr}"
    return report
