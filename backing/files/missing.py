"""What to say where there is no file of a name: what is there instead."""

from pathlib import Path

from backing.errors import FileError, did_you_mean, reason
from backing.files.kinds import OFTEN_OTHER, TUNE_SUFFIXES
from backing.wording import either

#: What ends alike is read alike: what it is, and the endings.
_ALIKE = (
    ("file ending in .toml", (".toml",)),
    ("sound font", (".sf2", ".sf3")),
    ("tune", TUNE_SUFFIXES),
)
_MOST_NAMED = 4


def no_file(path: Path, suffix: str = "") -> FileError:
    """The error for a file that is not there, with what could be meant: what is called nearly the
    same beside it, else the files there that are read alike, by their suffix; `suffix` is for a
    name without one."""
    return FileError(f"there is no file {path}", _instead(path, path.suffix.lower() or suffix))


def _instead(path: Path, suffix: str) -> str:
    folder = path.parent
    try:
        found = sorted(each for each in folder.iterdir() if each.name[0] != ".")
    except (FileNotFoundError, NotADirectoryError):
        return f"there is no folder {folder} either; {_near_folder(folder)}"
    except OSError as error:
        return f"look for its name: the folder {folder} cannot be read: {reason(error)}"
    # What short names share is mostly their suffix.
    near = [each.name for each in found if did_you_mean(path.stem, [each.stem])]
    if said := did_you_mean(path.name, near):
        return said
    where = "here" if folder == Path() else f"in {folder}"
    what, suffixes = next((each for each in _ALIKE if suffix in each[1]), _ALIKE[-1])
    wanted = {each for each in suffixes if each == suffix or each not in OFTEN_OTHER}
    alike = [each.name for each in found if each.suffix.lower() in wanted and each.is_file()]
    if not alike:
        return f"give the path of one: there is no {what} {where}"
    more = len(alike) - _MOST_NAMED
    others = [f"{more} more"] if more > 0 else []
    return f"is it one of those {where}: {either([*alike[:_MOST_NAMED], *others])}?"


def _near_folder(folder: Path) -> str:
    try:
        names = [each.name for each in folder.parent.iterdir() if each.is_dir()]
    except OSError:
        names = []
    return did_you_mean(folder.name, names) or "give the whole path of the file"
