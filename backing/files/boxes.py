"""The boxes that come with us, and a player's own; what fingering costs on them."""

import re
from functools import cache
from importlib.resources import files as resource_files
from pathlib import Path

from backing.box.costs import COSTS, Costs, is_profile, parse_costs, profile
from backing.box.layout import Layout
from backing.box.layout_file import BOX, parse_layout
from backing.errors import BoxError, did_you_mean
from backing.files.toml_files import is_toml, misnamed, toml_text

#: The path of a player's own box, and variants after it.
_OWN_BOX = re.compile(r"(.+\.toml)(:.*)?$", re.IGNORECASE | re.DOTALL)

_NAME = re.compile(r'^name = "([^"]+)"$', re.MULTILINE)


def box_names() -> list[str]:
    """The names of the boxes that come with us, in order."""
    return sorted(_box_texts())


def load_box(name: str) -> Layout:
    """A box by its name or the path of a TOML file, either with ":variant"s after it.

    The name's case does not matter.  Raises BoxError for an unknown name, with the nearest
    one, and for a faulty file.
    """
    if own := _OWN_BOX.match(name):
        path, words = Path(own[1]), (own[2] or "").split(":")[1:]
        box = parse_layout(toml_text(path, BOX), path.name)
    else:
        box, words = _known_box(name)
    return box.with_variants(words)


def _known_box(name: str) -> tuple[Layout, list[str]]:
    """The box that a name begins with, and the variants after it."""
    boxes = {known.lower(): known for known in _box_texts()}
    base, *words = name.split(":")
    if words and f"{base}:{words[0]}".lower() in boxes:
        base = f"{base}:{words.pop(0)}"
    if base.lower() not in boxes:
        if error := misnamed(base, BOX):
            raise error
        near = did_you_mean(base, box_names()) or f"the boxes are {', '.join(box_names())}"
        raise BoxError(f"there is no box {base!r}", near)
    return _box(boxes[base.lower()]), words


def load_costs(name: str) -> Costs:
    """A profile of fingering by its name, or a player's own costs from a TOML file.

    Raises BoxError for an unknown name, with the nearest one, and for a faulty file.
    """
    if is_toml(name):
        return parse_costs(toml_text(Path(name), COSTS), Path(name).name)
    if error := None if is_profile(name) else misnamed(name, COSTS):
        raise error
    return profile(name)


def box_text(name: str) -> str:
    """The file of one of our boxes, variants left out of the name."""
    box, _ = _known_box(name)
    return _box_texts()[box.name]


@cache
def _box(name: str) -> Layout:
    """One of our boxes: most commands want no more than one of them."""
    return parse_layout(_box_texts()[name], "a box of ours")


@cache
def _box_texts() -> dict[str, str]:
    """The files of the boxes that come with us, by the names in them."""
    folder = resource_files("backing.box").joinpath("layouts")
    texts = [
        entry.read_text(encoding="utf-8")
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    ]
    return {name[1]: text for text in texts if (name := _NAME.search(text))}
