"""The tunes of a site: those of a book, or of a folder and the folders in it."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError, FileError, TuneError, lay_out
from backing.files.kinds import OFTEN_OTHER, TUNE_SUFFIXES, of_player
from backing.files.reading import STDIN, file_name, read_bytes
from backing.files.site_names import page_stems
from backing.files.toml_files import is_toml
from backing.files.tunes import abc_tunes
from backing.parse.abc import TuneText, looks_like_abc, references

#: Files that may hold something else: what tells that it is a tune.
_PERHAPS = (*OFTEN_OTHER, ".toml")
_HEAD = 4096


class SiteTune(NamedTuple):
    """A tune, or a practice file, of a site: where it is and what messages call that file; the
    name of its page without a suffix; of ABC its text."""

    path: Path
    where: str
    stem: str
    text: TuneText | None = None

    @property
    def practice(self) -> bool:
        """True for a practice file."""
        return self.text is None and is_toml(self.path.name)

    @property
    def place(self) -> str:
        """Where it is, in words."""
        return f"{self.where}, line {self.text.first}" if self.text else self.where

    def content(self) -> bytes:
        """All of it that a page is made from.  Raises FileError where it cannot be read."""
        if self.text is None:
            return read_bytes(self.path)
        _, _, _, lines, header, version, *_ = self.text
        return "\n".join((version, *(line for _, line in header), "", *lines)).encode(
            "utf-8", "surrogatepass"
        )


class SiteTunes(NamedTuple):
    """The tunes of a site in their order, its title ("" for none), and what could not be read, as
    messages."""

    title: str
    tunes: tuple[SiteTune, ...]
    faults: tuple[str, ...]


class _TitledTune(NamedTuple):
    """A tune, by what it is called, and what tells it from others that are called so."""

    tune: SiteTune
    title: str
    what: str


def site_tunes(source: Path, out: Path) -> SiteTunes:
    """All tunes of a book or a folder; `out` is the site's folder, which is not looked into.

    Raises FileError and TuneError where there is none.
    """
    if source == STDIN or not source.is_dir():
        found = _tunes_of(source, file_name(source), "")
        faults: list[str] = []
        title = "" if source == STDIN else source.stem
    else:
        found, faults = _tunes_below(source, out)
        title = source.resolve().name
    stems = page_stems((each.title, each.what) for each in found)
    tunes = [each.tune._replace(stem=stem) for each, stem in zip(found, stems, strict=True)]
    return SiteTunes(title, tuple(tunes), tuple(faults))


def _tunes_below(folder: Path, out: Path) -> tuple[list[_TitledTune], list[str]]:
    """The tunes of a folder and the folders in it, and the files that cannot be read."""
    found: list[_TitledTune] = []
    faults: list[str] = []
    for path in _files_below(folder, out):
        where = path.relative_to(folder).as_posix()
        try:
            found += _tunes_of(path, where, f"{Path(where).with_suffix('')} ")
        except BackingError as error:
            if isinstance(error, TuneError):
                error.source = where
            faults.append(error.text())
    if not found and not faults:
        raise FileError(
            f"there are no tunes in {folder}", "a tune is ABC, MusicXML or MIDI: .abc, .mid ..."
        )
    return found, faults


def _files_below(folder: Path, out: Path) -> Iterator[Path]:
    """The files that may hold tunes, in an order that is the same on every system; none that
    are hidden, and those of the site itself neither."""
    found: list[Path] = []

    def refuse(error: OSError) -> None:
        raise FileError(f"{error.filename} cannot be read: {error.strerror}")

    for here, folders, names in os.walk(folder, onerror=refuse):
        folders[:] = [
            name for name in folders if name[0] != "." and not _is_same(Path(here, name), out)
        ]
        found += [Path(here, name) for name in names if name[0] != "."]
    found.sort(key=lambda path: (path.as_posix().lower(), path.as_posix()))
    return (path for path in found if _may_hold(path))


def _is_same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False


def _may_hold(path: Path) -> bool:
    """True for a file with a tune, or a practice file, by its name and its first lines."""
    suffix = path.suffix.lower()
    if suffix not in _PERHAPS:
        return suffix in TUNE_SUFFIXES
    try:
        if suffix == ".toml":
            return of_player(read_bytes(path).decode("utf-8", "replace")) is None
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except (OSError, FileError):
        return True  # what is wrong with it is said when it is read
    if suffix == ".xml":
        return b"<score-" in head or b"<\0s\0c\0o\0r\0e\0" in head
    return looks_like_abc(head.decode("utf-8", "replace"))


def _tunes_of(path: Path, where: str, before: str) -> list[_TitledTune]:
    """The tunes of a file, with their titles and what tells them from others; one that is not
    ABC goes by the file's name."""
    texts = None if is_toml(path.name) else abc_tunes(path)
    if texts is None:
        return [_TitledTune(SiteTune(path, where, ""), path.stem, path.suffix)]
    alone = len(texts) == 1 and before
    return [
        _TitledTune(
            SiteTune(path, where, "", text), text.title,
            before if alone else f"{before}{reference}",
        )
        for text, reference in zip(texts, references(texts), strict=True)
    ]  # fmt: skip


def tune_fault(tune: SiteTune, error: BackingError) -> str:
    """What is wrong with a tune, and where it is."""
    if isinstance(error, TuneError):
        error.source = tune.where
        error.line = error.line or (tune.text.first if tune.text else 0)
        return error.text()
    return lay_out("error", error.message, error.hint, where=tune.place)
