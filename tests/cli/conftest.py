"""Running the command line inside the tests."""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from backing.cli.main import run


@dataclass(frozen=True)
class Result:
    """How a command ended and what it printed."""

    code: int
    out: str
    err: str


Cli = Callable[..., Result]


@pytest.fixture
def cli(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Cli:
    """Run `backing` with these arguments."""

    def call(*arguments: object) -> Result:
        monkeypatch.setattr(sys, "argv", ["backing", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        printed = capsys.readouterr()
        assert "Traceback" not in printed.err
        return Result(code, printed.out, printed.err)

    return call
