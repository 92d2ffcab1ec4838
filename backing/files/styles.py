"""The styles that come with us, and the player's own."""

import os
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files as resource_files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, NamedTuple

from backing.arranging.style import Style
from backing.arranging.style_file import STYLE, parse_shipped_style, parse_style
from backing.arranging.usual import EVERYDAY, styles_for
from backing.data.renamed import name_now
from backing.errors import BackingError, StyleError, did_you_mean
from backing.files.toml_files import SUFFIX, is_toml, is_txt, misnamed, toml_text
from backing.music.dance import find_dance


class StyleFile(NamedTuple):
    """Where a style is kept: its name, its file, whether it is the player's own."""

    name: str
    path: Traversable
    own: bool


def style_files() -> dict[str, StyleFile]:
    """The styles by name, in order: those that come with us and the player's own.

    An own style takes the place of one of ours that has its name.
    """
    found = {}
    for folder, own in ((_styles_folder(), False), (own_styles_folder(), True)):
        for path in _files(folder):
            if path.name.endswith(SUFFIX):
                name = path.name.removesuffix(SUFFIX)
                found[name] = StyleFile(name, path, own)
    return dict(sorted(found.items()))


def style_names() -> list[str]:
    """The names of the styles, in order."""
    return list(style_files())


def own_styles_folder() -> Path:
    """The player's own folder of styles: `$BACKING_STYLES`, else where programs keep such."""
    if named := os.environ.get("BACKING_STYLES"):
        return Path(named)
    home = Path(os.path.expanduser("~"))
    if sys.platform == "win32":
        base = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
    return base / "backing" / "styles"


def misnamed_styles() -> list[BackingError]:
    """What to say of files in the player's own folder that are not read, for they end in .txt."""
    folder = own_styles_folder()
    names = sorted(entry.name for entry in _files(folder))
    found = (misnamed(name, STYLE, folder) for name in names if is_txt(name))
    return [error for error in found if error]


def load_style(name: str) -> Style:
    """A style by its name or the path of a TOML file, either with ":variant" after it.

    What a style of the player's own has no figures for is played by the everyday style.
    Raises StyleError for an unknown name, with the nearest one, and for a faulty file.
    """
    base, colon, variant = name.rpartition(":")
    if not colon or is_toml(name):
        base, variant = name, ""
    style = _load_base(base)
    return style.variant(variant) if variant else style


class StyleShelf(Mapping[str, Style]):
    """Every style by its name, each loaded when it is asked for.

    Raises StyleError for an unknown name, as `load_style` does.
    """

    def __getitem__(self, name: str) -> Style:
        return load_style(name)

    def __iter__(self) -> Iterator[str]:
        return iter(style_names())

    def __len__(self) -> int:
        return len(style_names())


def _load_base(name: str) -> Style:
    if is_toml(name):
        return _load_own(Path(name), Path(name).name[: -len(SUFFIX)])
    files = style_files()
    if name in files and files[name].own:
        return _load_own(own_styles_folder() / files[name].path.name, name)
    now = name_now("style", name)
    if now.name in files:
        style = _load_shipped(now.name)
        return style._replace(notices=now.notices) if now.notices else style
    raise _unknown(name, files)


def _load_own(path: Path, name: str) -> Style:
    """A style from a player's file, which may hold faults and leave metres out."""
    style = parse_style(toml_text(path, STYLE), name, path.name)
    return style if style.for_all else style.falling_back(_load_shipped(EVERYDAY))


@cache
def _load_shipped(name: str) -> Style:
    """One of our styles, read once: its file does not change while the program runs."""
    text = (_styles_folder() / f"{name}{SUFFIX}").read_text(encoding="utf-8")
    return parse_shipped_style(text, name)


def _unknown(name: str, files: dict[str, StyleFile]) -> BackingError:
    """What to say where there is no style of a name: a file, a dance, or the nearest."""
    own = None if is_txt(name) else misnamed(name, STYLE, own_styles_folder())
    if error := own or misnamed(name, STYLE):
        return error
    near = did_you_mean(name, list(files))
    dance = find_dance(name)
    if dance and not near:
        suiting = ", ".join(styles_for(dance, _readable(files)))
        return StyleError(
            f"there is no style {name!r}, which is a dance",
            f"styles for it: {suiting}; without --style the first is taken",
        )
    return StyleError(f"there is no style {name!r}", near or f"the styles are {', '.join(files)}")


def _readable(files: dict[str, StyleFile]) -> list[Style]:
    """The styles whose files have no faults."""
    found = []
    for name in files:
        try:
            found.append(_load_base(name))
        except BackingError:
            continue
    return found


def _files(folder: Traversable) -> list[Traversable]:
    try:
        return [entry for entry in folder.iterdir() if entry.is_file()]
    except (OSError, ValueError):  # ValueError: no such folder in an archive
        return []


@cache
def _styles_folder() -> Traversable:
    """The styles inside the package, or beside it in a checkout; it may lie in an archive."""
    package: Any = resource_files("backing")  # paths and those of archives have a parent
    inside: Traversable = package / "styles"
    beside: Traversable = package.parent / "styles"
    return inside if inside.is_dir() else beside
