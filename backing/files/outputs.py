"""Outputs: what may be replaced, and files written whole or not at all.

A file is replaced unasked only where this program made it and nobody changed it since
(`marks`); it is written beside its place (`parts`) and moved there in one step.  A fault or
a signal (`held`) leaves nothing half-written, and the old file untouched.
"""

import errno
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from backing.errors import FileError, reason
from backing.files.held import HeldSignals
from backing.files.marks import marked, why_keep
from backing.files.parts import clear_dead_parts, make_part
from backing.files.reading import STDIN
from backing.wording import either

_KINDS = {
    stat.S_IFDIR: ("folder", "give a file name in it"),
    stat.S_IFIFO: ("pipe", "give the name of a file"),
    stat.S_IFSOCK: ("socket", "give the name of a file"),
}
_DEVICE = ("device", "give the name of a file")


class Writing(NamedTuple):
    """A file in the making: where to write it, and a function to call now and then, at which
    a signal that asks to end is heeded."""

    path: Path
    heed: Callable[[], None]


def check_output(
    path: Path, source: Path, suffixes: tuple[str, ...], *, replace: bool = False
) -> None:
    """Raise FileError where an output cannot go there: before any work is done.

    `source` is what is read, which is never written, by whatever name.  `replace` allows to
    replace a file that we did not make, or that was changed since.
    """
    if path.suffix.lower() not in suffixes:
        raise FileError(
            f"{path.name} does not end in {either(suffixes)}",
            f"name the output like {path.stem or 'practice'}{suffixes[0]}",
        )
    found = _found(path)
    if found is not None and _is_source(found, source):
        raise FileError(f"{path} is the tune itself", "write the output to another file")
    _check_replacing(path, found, replace=replace)


def save(path: str | Path, data: bytes, *, replace: bool = False) -> None:
    """Write a file whole or not at all, with our mark where its suffix is of ABC, MusicXML,
    TOML or MIDI.

    An old file there is replaced where we made it and nobody changed it since, or where
    `replace` is true.  Raises FileError else, and where it cannot be written; then the old
    file is untouched.
    """
    path = Path(path)
    with written(path, replace=replace) as writing:
        writing.path.write_bytes(marked(data, path.suffix))


@contextmanager
def written(path: Path, *, replace: bool = False) -> Iterator[Writing]:
    """An empty file beside `path` to write into; it takes its place where all went well.

    Signals that end the program wait until they are heeded.  Raises FileError where it
    cannot be written, or an old file not be replaced (see `save`), which is then untouched.
    """
    _check_replacing(path, _found(path), replace=replace)
    try:
        target = _target(path)
        with HeldSignals() as signals:
            clear_dead_parts(target.parent)
            part = make_part(target.parent)
            try:
                yield Writing(part.path, signals.heed)
                signals.heed()
                found = _found(path)
                _check_replacing(path, found, replace=replace)  # it may be a new one by now
                if _target(path) != target:
                    raise FileError(f"{path} leads elsewhere by now", "nothing was changed")
                part.move_to(target, None if found is None else found.st_mode & 0o777)
            finally:
                part.remove()
    except OSError as error:
        raise _unwritten(path, error) from None


# -- what is there ------------------------------------------------------------------


def _target(path: Path) -> Path:
    """The file itself, where the path is a link to it: what is written goes through."""
    return Path(os.path.realpath(path)) if path.is_symlink() else path


def _found(path: Path) -> os.stat_result | None:
    """The file that is there, if any.  Raises FileError where none can be, or no file is."""
    try:
        folder = _target(path).parent
        if not folder.is_dir():
            raise FileError(f"there is no folder {folder}", "make it first, or choose another")
        found = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise FileError(f"{path} is a link that leads in a circle", "remove it") from None
        raise _unwritten(path, error) from None
    if not stat.S_ISREG(found.st_mode):
        kind, hint = _KINDS.get(stat.S_IFMT(found.st_mode), _DEVICE)
        raise FileError(f"{path} is a {kind}", hint)
    return found


def _is_source(found: os.stat_result, source: Path) -> bool:
    """True where the file that is there is the one that is read, by whatever name."""
    try:
        read = os.fstat(0) if source == STDIN else source.stat()
    except OSError:
        return False
    return os.path.samestat(found, read)


def _check_replacing(path: Path, found: os.stat_result | None, *, replace: bool) -> None:
    """Raise FileError where an old file is to stay as it is."""
    if found is None:
        return
    if _is_protected(path, found):
        raise FileError(
            f"{path} is write-protected", "choose another name, or allow that it is written"
        )
    if replace:
        return
    try:
        why = why_keep(path)
    except OSError as error:
        why = f"it cannot be read to see who made it: {reason(error)}"
    if why:
        raise FileError(
            f"{path} is there already, and {why}", "choose another name, or say --replace"
        )


def _is_protected(path: Path, found: os.stat_result) -> bool:
    """True where the file's own permissions forbid to write it: what root is not asked for,
    and what moving another file to its place would not ask for either."""
    user = os.geteuid() if hasattr(os, "geteuid") else None
    if user in (0, found.st_uid):
        return not found.st_mode & stat.S_IWUSR
    return not os.access(path, os.W_OK)


def _unwritten(path: Path, error: OSError) -> FileError:
    return FileError(f"{path} cannot be written: {reason(error)}", "nothing was changed")
