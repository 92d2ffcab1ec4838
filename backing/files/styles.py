"""The styles that come with us, and the player's own."""

import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from backing.arranging.style import Style
from backing.arranging.style_file import parse_shipped_style, parse_style
from backing.errors import StyleError, did_you_mean
from backing.files.reading import read_bytes


class StyleFile(NamedTuple):
    """Where a style is kept: its name, its file, whether it is the player's own."""

    name: str
    path: Path
    own: bool


def style_files() -> dict[str, StyleFile]:
    """The styles by name, in order: those that come with us and the player's own.

    An own style takes the place of one of ours that has its name.
    """
    found = {}
    for folder, own in ((_styles_folder(), False), (own_styles_folder(), True)):
        for path in _toml_files(folder):
            name = path.name[: -len(".toml")]
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


def load_style(name: str) -> Style:
    """A style by its name or the path of a TOML file, either with ":variant" after it.

    Raises StyleError for an unknown name, with the nearest one, and for a faulty file.
    """
    base, colon, variant = name.rpartition(":")
    if not colon or name.lower().endswith(".toml"):
        base, variant = name, ""
    style = _load_base(base)
    return style.variant(variant) if variant else style


class StyleShelf(Mapping[str, Style]):
    """Every style by its name, each loaded when it is asked for."""

    def __getitem__(self, name: str) -> Style:
        return load_style(name)

    def __iter__(self) -> Iterator[str]:
        return iter(style_names())

    def __len__(self) -> int:
        return len(style_names())


def _load_base(name: str) -> Style:
    if name.lower().endswith(".toml"):
        return _load_own(Path(name), Path(name).name[: -len(".toml")])
    files = style_files()
    if name not in files:
        raise StyleError(
            f"there is no style {name!r}",
            did_you_mean(name, list(files)) or f"the styles are {', '.join(files)}",
        )
    if files[name].own:
        return _load_own(files[name].path, name)
    return parse_shipped_style(files[name].path.read_text(encoding="utf-8"), name)


def _load_own(path: Path, name: str) -> Style:
    """A style from a player's file, which may hold faults."""
    try:
        return parse_style(read_bytes(path).decode("utf-8-sig"), name)
    except UnicodeDecodeError:
        raise StyleError("the style is not UTF-8 text", source=path.name) from None
    except StyleError as error:
        error.source = path.name
        raise


def _toml_files(folder: Path) -> list[Path]:
    try:
        return [path for path in folder.iterdir() if path.name.endswith(".toml")]
    except OSError:
        return []


def _styles_folder() -> Path:
    """The styles inside the installed package, or beside it in a checkout."""
    package = Path(__file__).parent.parent
    inside = package / "styles"
    return inside if inside.is_dir() else package.parent / "styles"
