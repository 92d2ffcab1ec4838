"""The `backing` command and its parts."""

import os
import sys
from io import TextIOWrapper

import typer

from backing.cli.boxes import boxes
from backing.cli.chords import chords
from backing.cli.fit import fit
from backing.cli.look import look
from backing.cli.make import make
from backing.cli.move import move
from backing.cli.play import play
from backing.cli.ports import ports
from backing.cli.styles import styles
from backing.cli.tunes import tunes
from backing.errors import BackingError

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help=(
        "Backings to practise with: from a tune and an accompaniment style to melody, bass, "
        "chords and click, slowed down, looped, with the melody muted if you like."
    ),
)
app.command()(make)
app.command()(play)
app.command()(look)
app.command()(tunes)
app.command()(chords)
app.command()(boxes)
app.command()(fit)
app.command()(move)
app.command()(styles)
app.command()(ports)


def run() -> None:
    """Run the command line; every fault of ours ends in a message, never in a traceback."""
    # numpy's matrices are small here: a second thread would only wait for the first.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        app()
    except BackingError as error:
        print(error.text(), file=sys.stderr)
        sys.exit(1)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
