"""Firefox, by puppeteer over WebDriver BiDi, with a sound card that nobody hears."""

import json
import os
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

DRIVER = Path(__file__).parents[2] / "browser" / "firefox.mjs"
#: Seconds in which a sound server is there.
PATIENCE = 20

Ask = Callable[..., Any]


@contextmanager
def firefox_asked(node: str, program: str, sound: str) -> Iterator[Ask]:
    """What asks Firefox for things, by their names in tests/browser/firefox.mjs; where it plays
    to, as PulseAudio has it."""
    driver = subprocess.Popen(
        [node, str(DRIVER), program],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8",
        env={**os.environ, "PULSE_SERVER": sound},
    )  # fmt: skip
    with driver:  # it ends Firefox and itself when nothing more comes
        yield lambda way, **more: _asked(driver, way, more)


def _asked(driver: "subprocess.Popen[str]", way: str, more: dict[str, Any]) -> Any:
    assert driver.stdin is not None
    assert driver.stdout is not None
    driver.stdin.write(json.dumps({"way": way, **more}) + "\n")
    driver.stdin.flush()
    said = json.loads(driver.stdout.readline() or '{"fault": "Firefox did not start"}')
    assert "fault" not in said, said["fault"]
    return said["value"]


@contextmanager
def sound_card(program: str, folder: Path) -> Iterator[str]:
    """A PulseAudio that plays to nobody, with its files in a folder; where it listens."""
    place = f"unix:{folder / 'socket'}"
    listening = f"module-native-protocol-unix socket={folder / 'socket'} auth-anonymous=1"
    command = [
        program, "-n", "--daemonize=no", "--use-pid-file=no",
        "--exit-idle-time=-1", "--disable-shm=yes", "-L", "module-null-sink", "-L", listening,
    ]  # fmt: skip
    env = {**os.environ, "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, env=env, **quiet) as server:  # type: ignore[call-overload]
        try:
            end = time.monotonic() + PATIENCE
            while not (folder / "socket").exists():
                assert time.monotonic() < end, "PulseAudio did not start"
                time.sleep(0.05)
            yield place
        finally:
            server.terminate()


class FirefoxPage:
    """A page from a file."""

    def __init__(self, ask: Ask, path: Path, size: tuple[int, int]) -> None:
        width, height = size
        self._ask = ask
        self._tab = ask("open", url=path.as_uri(), width=width, height=height)

    def run(self, code: str) -> str:
        return str(self._ask("run", tab=self._tab, code=code))

    def tap(self, x: float, y: float) -> None:
        self._ask("tap", tab=self._tab, x=x, y=y)

    def press(self, key: str) -> None:
        self._ask("press", tab=self._tab, key=key)

    def faults(self) -> list[str]:
        found: list[str] = self._ask("faults", tab=self._tab)
        return found

    def close(self) -> None:
        self._ask("close", tab=self._tab)
