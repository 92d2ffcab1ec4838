"""Bytes out of a player's file, and what to say where there are none."""

import sys
from pathlib import Path

from backing.errors import FileError, did_you_mean, reason

#: More than this is no book of tunes.
MOST_BYTES = 32 * 1024 * 1024
#: Standard input, as a path.
STDIN = Path("-")


def file_name(path: Path) -> str:
    """What a file is called in a message."""
    return "standard input" if path == STDIN else path.name


def read_bytes(path: Path) -> bytes:
    """All of a file, or of standard input.  Raises FileError."""
    too_large = FileError(
        f"{file_name(path)} is larger than {MOST_BYTES // 2**20} MB", "split the book in two"
    )
    try:
        if path == STDIN:
            if sys.stdin is None:
                raise FileError("standard input is closed", "give the name of a file")
            data = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            if path.stat().st_size > MOST_BYTES:
                raise too_large
            data = path.read_bytes()
    except FileNotFoundError:
        raise FileError(f"there is no file {path}", _near(path)) from None
    except IsADirectoryError:
        raise FileError(f"{path} is a folder", "give a file in it") from None
    except OSError as error:
        raise FileError(f"{path} cannot be read: {reason(error)}") from None
    if len(data) > MOST_BYTES:
        raise too_large
    return data


def _near(path: Path) -> str:
    """A file beside the missing one that is called nearly the same."""
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return f"there is no folder {path.parent} either"
    return did_you_mean(path.name, names)
