"""Streams that are closed, full or gone, Ctrl-C at any moment: a message or silence, never a
traceback."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG = str(EXAMPLES / "the-lock-keepers-kettle.abc")

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX's streams and signals")


#: Says that it is there when Ctrl-C is the system's affair already, as `run` leaves it.
CAREFUL = (
    "import signal; signal.signal(signal.SIGINT, signal.SIG_DFL); "
    "signal.getsignal = lambda number: signal.default_int_handler; print(flush=True); "
    "from backing.__main__ import start; start()"
)


def ran(script):
    """How a shell script ends in which $B is the program and $T a tune."""
    env = {**os.environ, "B": f"{sys.executable} -m backing", "T": JIG}
    result = subprocess.run(
        ["bash", "-c", script], capture_output=True, text=True, check=False, env=env, timeout=60
    )
    assert "Traceback" not in result.stderr
    assert "Exception ignored" not in result.stderr
    return result


@pytest.mark.slow
def test_a_closed_stdin(tmp_path):
    """Standard input that is closed is said."""
    result = ran("$B look - <&-")
    assert result.returncode == 1
    assert result.stderr.startswith("error: ")


@pytest.mark.slow
def test_a_closed_stdout():
    """Where stdout is closed nothing is shown, and nothing breaks."""
    assert ran("$B look $T >&-").returncode == 0
    assert ran("$B chords $T --again >&-").returncode == 0


@pytest.mark.slow
def test_a_closed_stderr(tmp_path):
    """Where stderr is closed the file is made, and the talk does not go to stdout."""
    result = ran(f"$B make $T -o {tmp_path}/a.mid 2>&-")
    assert (result.returncode, result.stdout) == (0, "")
    assert (tmp_path / "a.mid").exists()


@pytest.mark.slow
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full")
@pytest.mark.parametrize("command", ["look $T", "tunes $T", "chords $T --again", "boxes"])
def test_a_full_stdout(command):
    """A full disk under stdout is said, in one line."""
    result = ran(f"$B {command} > /dev/full")
    assert result.returncode == 1
    assert "error: the output cannot be written: no space left on device" in result.stderr


@pytest.mark.slow
def test_nobody_listens():
    """A pipe whose reader has gone ends quietly."""
    result = ran("$B boxes D/G --file | true; echo ${PIPESTATUS[0]}")
    assert result.stdout in ("1\n", "0\n")  # 0 where all was written before the reader went
    assert result.stderr == ""


@pytest.mark.slow
@pytest.mark.parametrize("moment", [0.0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.13, 0.16, 0.2, 0.25, 0.3])
def test_ctrl_c_at_any_moment(tmp_path, moment):
    """Ctrl-C while it loads, works or leaves ends it without a traceback."""
    process = subprocess.Popen(
        [sys.executable, "-c", CAREFUL, "make", JIG, "-o", tmp_path / "a.mid"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    process.stdout.readline()
    time.sleep(moment)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=30)
    assert "Traceback" not in err
    assert process.returncode in (0, 130, -signal.SIGINT)
    assert [path.name for path in tmp_path.iterdir() if path.suffix != ".mid"] == []


def test_memory_that_runs_out(cli, monkeypatch):
    """Where memory runs out that is said, with what to do."""

    def greedy(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr("backing.cli.main.app", greedy)
    result = cli("look", JIG)
    assert result.code == 1
    assert result.err == (
        "error: there is not enough memory for this\nhint: ask for less of the tune at once\n"
    )
