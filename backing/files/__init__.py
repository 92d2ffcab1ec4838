"""The only part that opens a player's files, and the styles and boxes that come with us.

Boxes load when they are first asked for: most commands need none.  What makes sound (`sound`,
`audio`, `sound_font`) is not named here, for it loads numpy: import it where it is needed.
"""

from typing import TYPE_CHECKING, Any

from backing.files.naming import name_for
from backing.files.outputs import check_output, save
from backing.files.reading import MOST_BYTES, STDIN
from backing.files.styles import (
    StyleFile,
    StyleShelf,
    load_style,
    own_styles_folder,
    style_files,
    style_names,
)
from backing.files.tunes import Reading, read_book, read_tune, tunes_in

if TYPE_CHECKING:
    from backing.files.boxes import box_names, box_text, load_box, load_costs

__all__ = [
    "MOST_BYTES",
    "STDIN",
    "Reading",
    "StyleFile",
    "StyleShelf",
    "box_names",
    "box_text",
    "check_output",
    "load_box",
    "load_costs",
    "load_style",
    "name_for",
    "own_styles_folder",
    "read_book",
    "read_tune",
    "save",
    "style_files",
    "style_names",
    "tunes_in",
]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"backing.files has no {name!r}")
    from backing.files import boxes

    return getattr(boxes, name)
