"""Changed files at the readers: a little of what tests/bench/fuzz.py does for hours."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

FUZZ = Path(__file__).parent.parent / "bench" / "fuzz.py"


@pytest.mark.skipif(sys.platform == "win32", reason="limits and alarms are POSIX's")
@pytest.mark.parametrize(("reader", "inputs"), [("abc", 800), ("musicxml", 40), ("midi", 80)])
def test_changed_files_are_read_or_refused(tmp_path, reader, inputs):
    """Files that seeded chance has changed raise nothing but our own errors, and what is read
    of them is the same tune when it is written and read again."""
    done = subprocess.run(
        [sys.executable, FUZZ, reader, "--chance", "--inputs", str(inputs), "--seed", "11",
         "--seconds", "300", "--found", tmp_path / "found"],
        capture_output=True, text=True, check=False, timeout=400,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{inputs:,} inputs of {reader}, seed 11" in done.stdout
