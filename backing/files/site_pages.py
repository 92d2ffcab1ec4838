"""The pages of a site on the disk: what each was made from stands in its last lines, so that a
later run knows which of them are as they should be, and which belong to no tune any more."""

import json
import re
from base64 import b64decode, b64encode
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from backing.errors import FileError, reason
from backing.files.marks import marked, why_keep
from backing.files.outputs import save
from backing.files.site_names import INDEX
from backing.render.page.index import IndexRow, RowOnBox

PAGE, SHEET = ".html", ".pdf"
#: The line is among so many last bytes of a page.
_TAIL = 64 * 1024
_LINE = re.compile(rb"^<!-- a page of a site: ([0-9a-f]{32}) ([A-Za-z0-9+/=]*) -->$", re.MULTILINE)


class SitePage(NamedTuple):
    """What a page of a site says of itself: the mark of what it was made from, and its row in the
    index."""

    made_from: str
    row: IndexRow

    @property
    def files(self) -> tuple[str, ...]:
        """The page and its sheets: names of files beside each other."""
        return (self.row.page, *self.row.sheets)


def with_site_line(text: str, page: SitePage) -> bytes:
    """The file of a page that says what it was made from."""
    told = b64encode(json.dumps(page.row, ensure_ascii=False).encode("utf-8")).decode("ascii")
    return f"{text.rstrip()}\n<!-- a page of a site: {page.made_from} {told} -->\n".encode()


def site_page_at(path: Path) -> SitePage | None:
    """What the page there says of itself; None where none is, or it is no page of a site."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, 2)
            file.seek(max(size - _TAIL, 0))
            found = list(_LINE.finditer(file.read()))
    except OSError:
        return None
    try:
        return SitePage(found[-1][1].decode(), _row(json.loads(b64decode(found[-1][2])), path.name))
    except (IndexError, ValueError, TypeError):
        return None


def _row(told: list[object], name: str) -> IndexRow:
    """A row as it was written.  Raises ValueError or TypeError where it was not."""
    _, title, also, dance, boxes, sheets = told
    on_boxes = (RowOnBox(str(box), str(key), int(grade)) for box, key, grade in _list(boxes))
    beside = [str(sheet) for sheet in _list(sheets)]
    if any(re.fullmatch(r"[a-z0-9_-]+\.pdf", sheet) is None for sheet in beside):
        raise ValueError("a sheet has a name that no sheet of ours has")
    others = tuple(str(other) for other in _list(also))
    return IndexRow(name, str(title), others, str(dance), tuple(on_boxes), tuple(beside))


def _list(told: object) -> list[list[str]]:
    if not isinstance(told, list):
        raise TypeError("no list")
    return told


def site_pages(folder: Path) -> dict[str, SitePage]:
    """The pages of a site that lie in a folder, by their names; none where there is no folder."""
    try:
        names = sorted(entry.name for entry in folder.iterdir() if entry.suffix == PAGE)
    except OSError:
        return {}
    found = ((name, site_page_at(folder / name)) for name in names if name != INDEX + PAGE)
    return {name: page for name, page in found if page}


def is_as_made(folder: Path, page: SitePage, made_from: str) -> bool:
    """True where a page was made from the same, and nobody changed it or its sheets since."""
    return page.made_from == made_from and all(is_ours(folder / name) for name in page.files)


def is_ours(path: Path) -> bool:
    """True for a file that we made and nobody changed since."""
    try:
        return path.is_file() and why_keep(path) == ""
    except OSError:
        return False


def save_if_changed(path: Path, data: bytes, *, replace: bool = False) -> bool:
    """Write a file as `save` does, but one that is the same already is left alone; False then."""
    data = marked(data, path.suffix)
    _make_folder(path.parent)
    try:
        if path.read_bytes() == data:
            return False
    except OSError:
        pass  # there is none, or `save` says what is wrong with it
    save(path, data, replace=replace)
    return True


def gone_files(
    folder: Path, before: Iterable[SitePage], kept: Iterable[str]
) -> Iterator[tuple[str, bool]]:
    """The files of pages as they were before that are in no page any more: their names, and
    whether they are as we made them."""
    left = {name for page in before for name in page.files} - set(kept)
    for name in sorted(left):
        if (folder / name).is_file():
            yield name, is_ours(folder / name)


def remove_file(path: Path) -> None:
    """Remove a file.  Raises FileError where it cannot be."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise FileError(f"{path} cannot be removed: {reason(error)}") from None


def check_folder(folder: Path) -> None:
    """Raise FileError where a site cannot go there: before any work is done."""
    if folder.exists() and not folder.is_dir():
        raise FileError(f"{folder} is a file", "give a folder")
    if not folder.absolute().parent.is_dir():
        raise FileError(f"there is no folder {folder.parent}", "make it first, or choose another")


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise FileError(f"{folder} cannot be made: {reason(error)}", "choose another") from None
