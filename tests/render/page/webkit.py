"""WebKitGTK, of the family of Safari's engine, by WebDriver, on a screen that nobody sees."""

import json
import os
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from http import HTTPStatus
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

Size = tuple[int, int]
#: Seconds in which the driver listens, and in which a script has to end.
PATIENCE, LONGEST = 20, 120
#: WebDriver (W3C), 17.4.2: normalised key values.
KEYS = {
    "PageUp": "\ue00e",
    "PageDown": "\ue00f",
    "ArrowUp": "\ue013",
    "ArrowDown": "\ue015",
}
#: Keeps what the page complains about, from its first line on. It stands before the page's policy,
#: which so does not hold for it.
_FAULTS_KEPT = """<script>
globalThis.faults = [];
addEventListener("error", (e) => faults.push(e.message ?? `not loaded: ${e.target}`), true);
addEventListener("unhandledrejection", (e) => faults.push(`unhandled: ${e.reason}`));
addEventListener("securitypolicyviolation", (e) => faults.push(`refused: ${e.effectiveDirective}`));
for (const kind of ["error", "warn"]) {
  const say = console[kind].bind(console);
  console[kind] = (...said) => { faults.push(said.join(" ")); say(...said); };
}
</script>"""


@contextmanager
def webkit_pages(
    program: str, display: str, size: Size
) -> Iterator[Callable[[Path], "WebKitPage"]]:
    """What opens pages on a screen, each with a driver of its own: one drives one window."""
    env = {
        **os.environ,
        "DISPLAY": display,
        "DBUS_SESSION_BUS_ADDRESS": "disabled:",
        "GST_PLUGIN_FEATURE_RANK": "jackaudiosink:NONE",  # a server of other tests is not for it
    }
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with ExitStack() as stack:

        def open_page(path: Path) -> WebKitPage:
            port = _free_port()
            command = [program, f"--port={port}"]
            driver = stack.enter_context(subprocess.Popen(command, env=env, **quiet))  # type: ignore[call-overload]
            stack.callback(driver.terminate)
            _wait_for(port)
            return WebKitPage(driver, port, path, size)

        yield open_page


@contextmanager
def screen(program: str) -> Iterator[str]:
    """The name of a screen of Xvfb's."""
    command = [program, "-displayfd", "1", "-screen", "0", "1280x1024x24", "-nolisten", "tcp"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as server:
        assert server.stdout is not None
        try:
            yield f":{server.stdout.readline().strip()}"
        finally:
            server.terminate()


class WebKitPage:
    """A page from a file, in a window of its own: 447 pixels wide at least."""

    def __init__(
        self, driver: "subprocess.Popen[bytes]", port: int, path: Path, size: Size
    ) -> None:
        self._driver, self._port, self._session = driver, port, "/session"
        self._session += "/" + self._ask("", {"capabilities": {}})["sessionId"]
        self._ask("/timeouts", {"script": 1000 * LONGEST})
        width, height = size
        self._ask("/window/rect", {"x": 0, "y": 0, "width": width, "height": height})
        # what is said on its console no driver hears
        text = path.read_text(encoding="utf-8")
        heard = path.with_suffix(".heard.html")
        heard.write_text(text.replace("<head>", f"<head>{_FAULTS_KEPT}", 1), encoding="utf-8")
        self._ask("/url", {"url": heard.as_uri()})

    def _ask(self, what: str, value: Any, method: str = "POST") -> Any:
        """A command of WebDriver (W3C)."""
        connection = HTTPConnection("127.0.0.1", self._port)
        with closing(connection):
            connection.request(method, self._session + what, json.dumps(value))
            answer = connection.getresponse()
            said = json.load(answer)["value"]
        assert answer.status == HTTPStatus.OK, said
        return said

    def run(self, code: str) -> str:
        answer = "(said) => arguments[0]([said]), (fault) => arguments[0]([null, String(fault)])"
        script = f"({code}).then({answer});"
        said, *fault = self._ask("/execute/async", {"script": script, "args": []})
        assert not fault, fault[0]
        return str(said)

    def _act(self, kind: str, *actions: dict[str, Any]) -> None:
        self._ask("/actions", {"actions": [{"type": kind, "id": kind, "actions": actions}]})

    def tap(self, x: float, y: float) -> None:
        move = {"type": "pointerMove", "x": round(x), "y": round(y)}
        down, up = ({"type": f"pointer{way}", "button": 0} for way in ("Down", "Up"))
        self._act("pointer", move, down, up)

    def press(self, key: str) -> None:
        value = KEYS.get(key, key)
        self._act("key", *({"type": f"key{way}", "value": value} for way in ("Down", "Up")))

    def faults(self) -> list[str]:
        found: list[str] = self._ask("/execute/sync", {"script": "return faults;", "args": []})
        return found

    def close(self) -> None:
        with self._driver:
            self._ask("", {}, "DELETE")
            self._driver.terminate()


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _wait_for(port: int) -> None:
    end = time.monotonic() + PATIENCE
    while True:
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) == 0:
                return
        assert time.monotonic() < end, "WebKitWebDriver did not start"
        time.sleep(0.05)
