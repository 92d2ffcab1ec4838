"""`python -m backing` is `backing`."""

from backing.cli.main import run

run()
