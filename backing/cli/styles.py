"""`backing styles`: the accompaniment styles, one a line, or one of them drawn."""

from typing import Annotated

import typer

from backing.arranging.style import Style
from backing.cli.figure_text import style_drawn
from backing.cli.printing import say, say_notices, show
from backing.errors import BackingError
from backing.files import StyleFile, load_style, own_styles_folder, style_files
from backing.files.styles import misnamed_styles


def styles(
    name: Annotated[
        str,
        typer.Argument(
            help="Draw this style: a name, name:variant, or a style file (.toml).",
            show_default=False,
        ),
    ] = "",
) -> None:
    """List the accompaniment styles, or draw the figures of one.

    A style's variants are named after it, as in alternating:fifths. Styles of your own
    are read from the folder that BACKING_STYLES names, else from backing/styles where
    your programs keep their settings.
    """
    if name:
        _draw(name)
        return
    files = style_files()
    width = max(len(known) for known in files)
    for known, file in files.items():
        try:
            style = load_style(known)
        except BackingError as error:
            say(error.text())
            continue
        own = " (your own)" if file.own else ""
        variants = "".join(f" Also {known}:{variant.name}." for variant in style.variants)
        show(f"{known:<{width}}  {style.title}{own}. {style.use}{variants}")
    for misnamed in misnamed_styles():
        say(misnamed.text())
    if not any(file.own for file in files.values()):
        say(f"styles of your own go into {own_styles_folder()}")


def _draw(name: str) -> None:
    style = load_style(name)
    say_notices(style.notices)
    by_path = ".toml" in name.lower()
    file = None if by_path else style_files().get(style.name.partition(":")[0])
    show(described(style, file))


def described(style: Style, file: StyleFile | None) -> str:
    """A style in words and drawn."""
    lines = [f"{style.name}: {style.title}", style.use]
    if style.second is not None and style.second.use:
        lines.append(f"The second time: {style.second.use}")
    for variant in style.variants:
        said = f": {variant.use}" if variant.use else ""
        lines.append(f"Also {style.name.partition(':')[0]}:{variant.name}{said}")
    if file:
        lines.append(f"Its file is {file.path}")
    return "\n".join([*lines, "", style_drawn(style)])
