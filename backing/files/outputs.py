"""Outputs: written whole beside their place and moved there in one step.

A fault leaves nothing half-written, and the old file untouched.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from backing.errors import FileError, reason


def check_output(path: Path, source: Path, suffixes: tuple[str, ...]) -> None:
    """Raise FileError where an output cannot go there: before any work is done."""
    if path.suffix.lower() not in suffixes:
        raise FileError(
            f"{path.name} does not end in {_or(suffixes)}",
            f"name the output like {path.stem or 'practice'}{suffixes[0]}",
        )
    folder = path.parent
    try:
        if not folder.is_dir():
            raise FileError(f"there is no folder {folder}", "make it first, or choose another")
        if path.is_dir():
            raise FileError(f"{path} is a folder", "give a file name in it")
        if path.exists() and source.exists() and path.samefile(source):
            raise FileError(f"{path} is the tune itself", "write the output to another file")
    except OSError as error:
        raise FileError(f"{path} cannot be written: {reason(error)}") from None


def _or(names: tuple[str, ...]) -> str:
    return " or ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def save(path: Path, data: bytes) -> None:
    """Write a file whole or not at all; an old one there is replaced.

    Raises FileError where it cannot be written; then the old file is untouched.
    """
    with written(path) as beside:
        beside.write_bytes(data)


@contextmanager
def written(path: Path) -> Iterator[Path]:
    """An empty file beside `path` to write into; it takes its place where all went well.

    Raises FileError where it cannot be written; then an old file there is untouched.
    """
    target = path.resolve() if path.is_symlink() else path
    beside = target.with_name(f".backing-{os.getpid()}.part")
    try:
        beside.touch(exist_ok=False)
        yield beside
        with open(beside, "rb+") as out:
            os.fsync(out.fileno())
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        beside.replace(target)
    except OSError as error:
        raise FileError(
            f"{path} cannot be written: {reason(error)}", "nothing was changed"
        ) from None
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
