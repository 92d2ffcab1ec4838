"""The style sheets of our pages, with the colours that they share."""

from functools import cache
from importlib.resources import files


@cache
def style_sheet(name: str) -> str:
    """A style sheet by its name, "page" or "index", after the colours."""
    folder = files(__package__)
    texts = [folder.joinpath(f"{each}.css").read_text("utf-8") for each in ("colours", name)]
    return "".join(texts)
