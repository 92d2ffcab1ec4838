"""The TOML files that players write: which one a name means, and its text."""

import re
from pathlib import Path

from backing.data.file_kind import FileKind
from backing.data.toml_text import decoded
from backing.errors import BackingError
from backing.files.reading import file_name, read_bytes

SUFFIX = ".toml"
#: What editors put behind a name, and file managers hide.
_TXT = re.compile(r"(\.toml)?\.txt$", re.IGNORECASE)


def toml_text(path: Path, kind: FileKind) -> str:
    """The text of a player's file, a byte order mark left out.

    Raises FileError where there is none, and the kind's error where it is too large or not
    UTF-8.
    """
    return decoded(read_bytes(path), file_name(path), kind)


def is_toml(name: str) -> bool:
    """True for the name of such a file; other names are of what comes with us."""
    return name.lower().endswith(SUFFIX)


def misnamed(name: str, kind: FileKind, folder: Path = Path()) -> BackingError | None:
    """The kind's error where a name that we do not know means a file without its ending."""
    if is_txt(name):
        return _to_rename(folder / name, kind)
    for ending in (f"{SUFFIX}.txt", ".txt"):
        if (folder / f"{name}{ending}").is_file():
            return _to_rename(folder / f"{name}{ending}", kind)
    if Path(f"{name}{SUFFIX}").is_file():
        return kind.error(
            f"there is no {kind.noun} {name!r}", f"write {name}{SUFFIX} for the file of that name"
        )
    return None


def is_txt(name: str) -> bool:
    """True for a text file, which may be one of ours under a wrong name."""
    return bool(_TXT.search(name))


def _to_rename(path: Path, kind: FileKind) -> BackingError:
    if not path.is_file():
        return kind.error(f"there is no file {path}", f"a file of yours ends in {SUFFIX}")
    return kind.error(
        f"{path} does not end in {SUFFIX}", f"rename it to {_TXT.sub('', path.name)}{SUFFIX}"
    )
