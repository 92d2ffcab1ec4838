"""Part files: what is being written, beside its place, until it is whole.

Each has a name that no other run can have, and is locked while its run lives; whoever can
lock one has found what a dead run left behind.
"""

import os
import re
import sys
import time
from contextlib import suppress
from pathlib import Path
from stat import S_ISREG

from backing.errors import FileError

_NAME = re.compile(r"\.backing-[0-9a-f]{16}\.part")
_TRIES = 10
#: Where files cannot be locked, a part file that nobody touched for so long is a dead one's.
_DEAD_SECONDS = 24 * 60 * 60
_WINDOWS = sys.platform == "win32"
_BINARY = getattr(os, "O_BINARY", 0)
#: Only a plain file is opened, without waiting for anything.
_CAUTIOUS = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)


class PartFile:
    """A file that one run writes; `path` is its name as long as it is no more than a part."""

    def __init__(self, path: Path, file: int) -> None:
        self.path = path
        self._file = file

    def move_to(self, target: Path, mode: int | None) -> None:
        """Let it take its place in one step, whole and on disk, with these permissions."""
        os.fsync(self._file)
        if mode is not None:
            self.path.chmod(mode)
        if _WINDOWS:  # where nothing moves that is open, and nobody removes it either
            self._close()
        self.path.replace(target)

    def remove(self) -> None:
        """Let nothing of it stay, where it has not taken its place."""
        self._close()
        with suppress(OSError):
            self.path.unlink(missing_ok=True)

    def _close(self) -> None:
        if self._file >= 0:
            os.close(self._file)
        self._file = -1


def make_part(folder: Path) -> PartFile:
    """An empty part file, which is this run's alone.  Raises OSError, and FileError where
    others remove it again and again."""
    for _ in range(_TRIES):
        path = folder / f".backing-{os.urandom(8).hex()}.part"
        file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
        # In the moment before it is locked another run may have taken it for a dead one's.
        if _lock(file) is not False and _is_there(path, file):
            return PartFile(path, file)
        os.close(file)
    raise FileError(f"part files vanish from {folder}", "another program removes them")


def clear_dead_parts(folder: Path) -> None:
    """Remove the part files that dead runs left in a folder, as far as we may."""
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _NAME.fullmatch(entry.name):
                with suppress(OSError):
                    _clear(folder / entry.name)


def _clear(path: Path) -> None:
    file = os.open(path, os.O_RDWR | _CAUTIOUS | _BINARY)
    try:
        dead = S_ISREG(os.fstat(file).st_mode) and _is_dead(file) and _is_there(path, file)
        if dead and not _WINDOWS:
            path.unlink()  # while it is locked: a run that just made it makes another then
    finally:
        os.close(file)
    if dead and _WINDOWS:
        path.unlink()


def _is_dead(file: int) -> bool:
    locked = _lock(file)
    if locked is None:
        return time.time() - os.fstat(file).st_mtime > _DEAD_SECONDS
    return locked


def _is_there(path: Path, file: int) -> bool:
    """True where a name still means this open file."""
    try:
        return os.path.samestat(path.lstat(), os.fstat(file))
    except FileNotFoundError:
        return False


if sys.platform == "win32":

    def _lock(file: int) -> bool | None:
        """None: open files cannot be removed here, so that none need be locked."""
        return None

else:
    import fcntl

    def _lock(file: int) -> bool | None:
        """Lock an open file; False where another run has, None where files have no locks."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return None
        return True
