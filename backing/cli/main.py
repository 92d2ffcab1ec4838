"""The `backing` command and its parts."""

import os
import sys
from importlib import import_module
from io import TextIOWrapper

import typer

from backing.errors import BackingError

#: Each is a function of its name in the module of its name.
COMMANDS = (
    "make",
    "play",
    "look",
    "tunes",
    "chords",
    "boxes",
    "fit",
    "move",
    "styles",
    "ports",
)


def app(asked: str) -> typer.Typer:
    """The command line with the command that is asked for, else with all of them.

    What one command needs need not wait for what the others do.
    """
    made = typer.Typer(
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    )
    made.callback()(about)
    for name in (asked,) if asked in COMMANDS else COMMANDS:
        made.command(name)(getattr(import_module(f"backing.cli.{name}"), name))
    return made


def about() -> None:
    """Backings to practise with: from a tune and an accompaniment style to melody, bass,
    chords and click, slowed down, looped, with the melody muted if you like.
    """


def run() -> None:
    """Run the command line; every fault of ours ends in a message, never in a traceback."""
    # numpy's matrices are small here: a second thread would only wait for the first.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        app(sys.argv[1] if len(sys.argv) > 1 else "")()
    except BackingError as error:
        print(error.text(), file=sys.stderr)
        sys.exit(1)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
