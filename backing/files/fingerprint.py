"""What a page is made from, as one short mark: where it is the same the page would be too."""

from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from importlib.resources import files as resource_files
from importlib.resources.abc import Traversable

from backing.files.styles import style_files

#: Libraries whose newer versions draw, set or read otherwise.
_LIBRARIES = ("verovio", "typst", "music21", "mido")
_COMPILED = "__pycache__"


def fingerprint(*pieces: bytes) -> str:
    """A mark of these pieces in their order: the first 32 digits of a SHA-256.

    >>> fingerprint(b"ab", b"c") == fingerprint(b"a", b"bc")
    False
    """
    found = sha256()
    for piece in pieces:
        found.update(b"%d:" % len(piece) + piece)
    return found.hexdigest()[:32]


@cache
def program_mark() -> bytes:
    """A mark of the program itself, file by file, of the libraries that it draws with, and of all
    styles, the player's own too."""
    pieces: list[bytes] = [f"{name} {version(name)}".encode() for name in _LIBRARIES]
    for name, data in _files_below(resource_files("backing"), ""):
        pieces += [name.encode(), data]
    for name, style in style_files().items():
        with suppress(OSError):  # one that cannot be read is in no page
            pieces += [name.encode(), style.path.read_bytes()]
    return fingerprint(*pieces).encode()


def _files_below(folder: Traversable, before: str) -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir() and entry.name != _COMPILED:
            yield from _files_below(entry, f"{before}{entry.name}/")
        elif entry.is_file() and not entry.name.endswith(".pyc"):
            yield f"{before}{entry.name}", entry.read_bytes()
