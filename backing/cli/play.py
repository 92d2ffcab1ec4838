"""`backing play`: playing along, steered by keys and pedals."""

from pathlib import Path
from typing import Annotated

import typer

from backing.cli.options import PORTS, PracticeArgument
from backing.cli.wish import Wish, takes_a_wish
from backing.errors import UsageError


@takes_a_wish
def play(
    tune: PracticeArgument,
    wish: Wish,
    port: Annotated[
        str | None,
        typer.Option(
            help="Play to this MIDI port: its name or part of it, as in 'backing ports'. Without "
            "it the built-in reeds sound through the sound card.",
            show_default=False,
            rich_help_panel=PORTS,
        ),
    ] = None,
    virtual: Annotated[
        bool,
        typer.Option(
            "--virtual",
            help="Be a MIDI port of our own, called backing, for others to join.",
            rich_help_panel=PORTS,
        ),
    ] = False,
    pedal: Annotated[
        str | None,
        typer.Option(
            help="Listen to this MIDI input, a pedal or controller: its name or part of it.",
            show_default=False,
            rich_help_panel=PORTS,
        ),
    ] = None,
    controls: Annotated[
        Path | None,
        typer.Option(
            help="A file (.toml) that says which key or pedal does what.", show_default=False
        ),
    ] = None,
    clock: Annotated[
        bool, typer.Option("--clock", help="Send MIDI clock with start, stop and song position.")
    ] = False,
) -> None:
    """Play along: the backing sounds now, and follows keys and pedals.

    It counts in and goes round until it is ended, or --times times. Space or a pedal's
    Page Down stops and goes, Page Up starts again from the count-in, ? shows all keys.
    Keep the volume moderate, above all in headphones.

    Examples:

      backing play examples/the-lock-keepers-kettle.abc --percent 60 --bars 5-6 --mute melody

      backing play examples/the-lock-keepers-kettle.abc --port synth --clock
    """
    for name, given in (("--port", port), ("--pedal", pedal)):
        if given is not None and not given.strip():
            raise UsageError(f"{name} needs a name", "backing ports lists them")
    if port and virtual:
        raise UsageError("--port and --virtual exclude each other", "give one of them, not both")
    if clock and not (port or virtual):
        raise UsageError("--clock goes with --port or --virtual", "say --port NAME too")
    from backing.cli.playing import play_along

    play_along(tune, wish, port=port, virtual=virtual, pedal=pedal, controls=controls, clock=clock)
