"""The option that the commands share which write a file."""

from typing import Annotated

import typer

ReplaceOption = Annotated[
    bool,
    typer.Option(
        "--replace",
        help="Replace a file of this name that backing did not make, or that was changed since.",
    ),
]
