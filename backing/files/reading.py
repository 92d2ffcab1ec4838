"""Bytes out of a player's file, and what to say where there are none."""

import sys
from pathlib import Path
from stat import S_ISBLK, S_ISCHR
from typing import BinaryIO

from backing.errors import FileError, reason
from backing.files.missing import no_file

#: More than this is no book of tunes.
MOST_BYTES = 32 * 1024 * 1024
_BLOCK = 1024 * 1024
#: Standard input, as a path.
STDIN = Path("-")


def file_name(path: Path) -> str:
    """What a file is called in a message."""
    return "standard input" if path == STDIN else path.name


def read_bytes(path: Path) -> bytes:
    """All of a file, or of standard input.

    What counts is what has been read, not what the system says of the file.  Raises FileError
    past 32 MB, for a device, and where it cannot be read.
    """
    try:
        if path == STDIN:
            if sys.stdin is None:
                raise FileError("standard input is closed", "give the name of a file")
            return _all_of(sys.stdin.buffer, path)
        mode = path.stat().st_mode
        if S_ISCHR(mode) or S_ISBLK(mode):
            raise FileError(f"{path} is a device, not a file", "give a file, or - for a pipe")
        with path.open("rb") as file:
            return _all_of(file, path)
    except (FileNotFoundError, NotADirectoryError):
        raise no_file(path) from None
    except IsADirectoryError:
        raise FileError(f"{path} is a folder", "give a file in it") from None
    except OSError as error:
        raise FileError(f"{path} cannot be read: {reason(error)}") from None


def _all_of(file: BinaryIO, path: Path) -> bytes:
    """What a file holds, block by block, as long as it is not too much."""
    data = bytearray()
    while block := file.read(_BLOCK):
        data += block
        if len(data) > MOST_BYTES:
            raise FileError(
                f"{file_name(path)} is larger than {MOST_BYTES // 2**20} MB",
                "split the book in two",
            )
    return bytes(data)
