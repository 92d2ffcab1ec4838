"""Types and style, checked with the project's own settings."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize(
    "command",
    [
        pytest.param(["mypy", "--no-error-summary"], marks=pytest.mark.slow),
        ["ruff", "check", "--quiet", "."],
        ["ruff", "format", "--check", "--quiet", "."],
    ],
    ids=["mypy", "ruff check", "ruff format"],
)
def test_the_code_is_clean(command: list[str]) -> None:
    """mypy (strict) and ruff have nothing to say."""
    run = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr
