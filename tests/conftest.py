"""What all tests share: golden texts, the same examples in every run, and failing instead of
skipping in CI."""

import gc
import importlib.util
import os
import signal
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import HealthCheck, settings

#: However slow the machine is, the laws hold; "chance" looks for new examples to them.
settings.register_profile("chance", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("suite", settings.get_profile("chance"), derandomize=True)
settings.load_profile("suite")

GOLDEN = Path(__file__).parent / "data" / "golden"


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--update-golden` writes the golden texts anew; read them before committing."""
    parser.addoption("--update-golden", action="store_true", help="write golden texts anew")


def pytest_configure(config: pytest.Config) -> None:
    """Started in the background by a shell, or by nohup, the tests would hand on to the programs
    that they try that Ctrl-C, Ctrl-\\ and a hangup are not heeded."""
    usual = {"SIGINT": signal.default_int_handler, "SIGQUIT": signal.SIG_DFL,
             "SIGHUP": signal.SIG_DFL}  # fmt: skip
    for name, handler in usual.items():
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_IGN:
            signal.signal(number, handler)


def pytest_collection_finish() -> None:
    """Ten thousand tests in memory are searched for rubbish less often: they are none."""
    gc.set_threshold(100_000, 50, 100)


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
    return lambda name: _load(Path("bench") / name)


@pytest.fixture(scope="session")
def stage() -> ModuleType:
    """What the tests of the player share: tests/live/stage.py."""
    return _load(Path("live") / "stage")


@pytest.fixture(scope="session")
def of_pages() -> Callable[[str], ModuleType]:
    """A module of tests/render/page by its name."""
    return cache(lambda name: _load(Path("render") / "page" / name))


@pytest.fixture(scope="session")
def all_words() -> ModuleType:
    """Which words texts and tables of a language have: tests/language/all_words.py."""
    return _load(Path("language") / "all_words")


def _load(place: Path) -> ModuleType:
    """A module of the tests, which are no package."""
    path = (Path(__file__).parent / place).with_suffix(".py")
    spec = importlib.util.spec_from_file_location("_".join(place.parts), path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def sound_font() -> Path:
    """The smallest General MIDI sound font where Linux systems keep them."""
    folders = ("/usr/share/sounds/sf2", "/usr/share/sounds/sf3", "/usr/share/soundfonts")
    found = [font for folder in folders for font in Path(folder).glob("*.sf[23]")]
    there = [font for font in found if font.is_file()]  # a link may point nowhere
    if not there:
        pytest.skip("no sound font (Debian: timgm6mb-soundfont)")
    return min(there, key=lambda font: font.stat().st_size)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """With BACKING_REQUIRE_ALL=1 a skip is a failure: no test hides behind a missing program."""
    report = yield
    if os.environ.get("BACKING_REQUIRE_ALL") == "1" and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"skipped, but BACKING_REQUIRE_ALL=1: {report.longrepr}"
    return report
