"""`backing play` in a real terminal (tmux), to a real port (JACK), looked at as a player would."""

import os
import re
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

TUNE = """X:1
T:Quick
M:2/4
L:1/8
Q:1/4=240
K:G
|:"G"G2B2|"D"d2A2|"G"BGdB|1"D"A4:|2"G"G4|]
"""
PATIENCE = 30
READY, OVER = "ready to play", "played to the end"


class Window:
    """A terminal of so many columns and lines, in which a shell runs."""

    def __init__(self, columns: int, rows: int, folder: Path) -> None:
        self._socket = folder / "tmux"
        size = ["-x", str(columns), "-y", str(rows)]
        self._tmux("-f", os.devnull, "new-session", "-d", *size, "-c", str(folder), "sh")

    def _tmux(self, *arguments: str) -> str:
        command = ["tmux", "-u", "-S", str(self._socket), *arguments]
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout

    @property
    def text(self) -> str:
        """What stands in the window."""
        return self._tmux("capture-pane", "-p")

    def type(self, *keys: str) -> None:
        """Press keys, by tmux's names for them."""
        self._tmux("send-keys", *keys)

    def resize(self, columns: int, rows: int) -> None:
        """Give the window another size."""
        self._tmux("resize-window", "-x", str(columns), "-y", str(rows))

    def until(self, pattern: str) -> str:
        """Wait until something stands there; all that does then."""
        end = time.monotonic() + PATIENCE
        while not re.search(pattern, text := self.text):
            assert time.monotonic() < end, f"in vain: {pattern} in\n{text}"
            time.sleep(0.02)
        return text

    def cursor(self) -> tuple[bool, bool]:
        """Whether the cursor is seen, and whether this is the other screen."""
        flags = self._tmux("display-message", "-p", "#{cursor_flag} #{alternate_on}").split()
        return flags[0] == "1", flags[1] == "1"

    def close(self) -> None:
        """End the shell and what runs in it."""
        self._tmux("kill-server")


@pytest.fixture
def window(jack: str, tmp_path: Path) -> Iterator[Callable[..., Window]]:
    """Play the tune in a terminal of so many columns and lines."""
    if not shutil.which("tmux"):
        pytest.skip("tmux is not installed")
    (tmp_path / "quick.abc").write_text(TUNE, encoding="utf-8")
    opened: list[Window] = []

    def play(columns: int, rows: int, *options: str, term: str = "") -> Window:
        opened.append(Window(columns, rows, tmp_path))
        paths = shlex.quote(os.pathsep.join(sys.path))
        started = f"PYTHONPATH={paths} JACK_DEFAULT_SERVER={jack} {term and f'TERM={term}'}"
        program = f"{sys.executable} -m backing play quick.abc --virtual {shlex.join(options)}"
        opened[-1].type(f"clear; echo {READY}; {started} {program}; echo {OVER}", "Enter")
        return opened[-1]

    yield play
    for each in opened:
        each.close()


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (200, 60), (40, 12)])
def test_the_window_is_used_and_left_as_it_was(window, size):
    """In windows of four sizes beat, chord and the next one are to be seen; at the end the window
    is as it was, with what the start said, and the cursor is back."""
    playing = window(*size, "--count-in", "1")
    text = playing.until("in [12] beat")
    assert READY not in text
    assert playing.cursor() == (False, True)
    assert max(map(len, text.splitlines())) < size[0]
    assert "now" in playing.until(r"\bnow\b")
    playing.until(r"█ 2 ─")
    playing.until(r"─ 2 █")
    playing.type("q")
    left = playing.until(f"(?m)^{OVER}$").split()
    assert playing.cursor() == (True, False)
    said = " ".join(left)
    assert READY in said
    assert "playing Quick" in said
    assert "█" not in said


def test_a_player_steers_and_sees_it(window):
    """Marks, loops, the table of keys and stopping are seen in place; a window that gets narrow
    is drawn anew."""
    playing = window(80, 24, "--count-in", "1")
    playing.until("now")
    playing.type("f")
    playing.until("from bar [1-5] to …")
    playing.type("t")
    playing.until(r"only bars? [1-5]")
    playing.type("?")
    table = playing.until("from here")
    assert re.search("(?m)^space, page down +stop and go$", table)
    assert "now" not in table
    playing.type("?")
    assert "stop and go" not in playing.until("now")
    playing.type("?")
    playing.until("stop and go")
    playing.type("Space")
    stopped = playing.until("stopped at bar")
    assert "stop and go" not in stopped
    assert re.search(r"only bars? [1-5]", stopped)
    playing.resize(60, 20)
    end = time.monotonic() + PATIENCE
    while max(map(len, playing.text.splitlines())) >= 60 or "stopped at bar" not in playing.text:
        assert time.monotonic() < end, playing.text
        time.sleep(0.05)
    playing.type("q")
    playing.until(f"(?m)^{OVER}$")


def test_a_terminal_without_control_sequences_is_only_told(window):
    """With TERM=dumb there is the line of the start and nothing else, also the keys by request."""
    playing = window(80, 24, term="dumb")
    playing.until("playing Quick")
    playing.type("?")
    text = playing.until("q +end")
    assert "█" not in text
    playing.type("q")
    playing.until(f"(?m)^{OVER}$")
