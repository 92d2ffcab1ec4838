"""The types that the page's script says of itself."""

import subprocess
from pathlib import Path

import pytest

BROWSER = Path(__file__).parents[2] / "browser"

pytestmark = pytest.mark.slow


def test_the_types_of_the_script_hold():
    """TypeScript, which reads the types in the comments, has nothing to say."""
    checker = BROWSER / "node_modules" / "typescript" / "bin" / "tsc"
    if not checker.exists():
        pytest.skip("no TypeScript (npm ci in tests/browser)")
    run = subprocess.run(
        ["node", str(checker), "-p", str(BROWSER)], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr
