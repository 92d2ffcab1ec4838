"""Bytes to a checked XML tree: what is too large, too deep or not MusicXML is refused.

MusicXML 4.0, "Compressed .MXL files": a zip archive whose META-INF/container.xml names
the score.  Nothing is ever written to a disk, and nothing outside the bytes is read.
"""

import io
import re
import zipfile
import zlib
from typing import NoReturn
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from backing.errors import TuneError

MOST_BYTES = 32 * 1024 * 1024
MOST_ENTRIES = 1_000
MOST_RATIO = 200
RATIO_FROM = 1024 * 1024
MOST_DEPTH = 100
MOST_ELEMENTS = 600_000
MOST_MEASURES = 20_000
MOST_NOTES = 20_000
_CONTAINER = "META-INF/container.xml"
_DRIVE = re.compile(r"[A-Za-z]:")
_NO_ARCHIVE = (
    zipfile.BadZipFile,
    zlib.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    OSError,
    ValueError,
    KeyError,
)


def read_root(data: bytes) -> Element:
    """The root of a MusicXML score, text or compressed, found by its content.

    Raises TuneError, which names the limit, past 32 MB, 1,000 entries, a compression
    of 200 to 1 (beyond 1 MB), 100 levels, 20,000 measures in a part, 20,000 notes or
    600,000 elements; for entity declarations, paths that lead out of an archive, broken
    archives and XML (with line and column), and other kinds of document.
    """
    if len(data) > MOST_BYTES:
        raise TuneError(f"the file is larger than {_megabytes()}", "split the score in two")
    if data[:2] == b"PK":
        data = _unpack(data)
    root = _Reader().read(data)
    if root.tag == "score-timewise":
        return _to_partwise(root)
    if root.tag != "score-partwise":
        raise TuneError(
            f"this is no MusicXML score: its root element is {str(root.tag)[:40]!r}",
            "export the tune as MusicXML; the root is then score-partwise",
        )
    return root


def _megabytes() -> str:
    return f"{MOST_BYTES // 2**20} MB"


# -- archives -------------------------------------------------------------------


def _unpack(data: bytes) -> bytes:
    """The score in a compressed file."""
    if data.count(b"PK\x01\x02") > MOST_ENTRIES:
        raise TuneError(f"the archive has more than {MOST_ENTRIES:,} entries")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = {info.filename: info for info in archive.infolist()}
            for info in entries.values():
                _check_entry(info)
            return _entry(archive, entries[_score_name(archive, entries)])
    except _NO_ARCHIVE as error:
        raise TuneError(
            f"the compressed file is broken: {str(error)[:80]}", "export or download it again"
        ) from None


def _check_entry(info: zipfile.ZipInfo) -> None:
    name = info.filename.replace("\\", "/")
    shown = repr(info.filename[:60])
    if name.startswith("/") or ".." in name.split("/") or _DRIVE.match(name):
        raise TuneError(f"the archive has an entry that leads out of it: {shown}")
    if info.file_size > MOST_BYTES:
        raise TuneError(f"{shown} in the archive is larger than {_megabytes()}")
    ratio = info.file_size / max(info.compress_size, 1)
    if info.file_size > RATIO_FROM and ratio > MOST_RATIO:
        raise TuneError(f"{shown} in the archive is compressed more than {MOST_RATIO} to 1")


def _score_name(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo]) -> str:
    """The name of the score: the first root file of the container, else the only one."""
    if _CONTAINER in entries:
        container = _Reader().read(_entry(archive, entries[_CONTAINER]))
        for file in container.iter():
            path = file.get("full-path", "")
            if str(file.tag).endswith("rootfile") and path:
                if path in entries:
                    return path
                raise TuneError(f"the archive has no entry {path[:60]!r}, its container says so")
    names = [
        name
        for name in entries
        if name.lower().endswith((".xml", ".musicxml")) and not name.startswith(("META-INF", "__"))
    ]
    if len(names) != 1:
        raise TuneError("the archive does not say which entry is the score")
    return names[0]


def _entry(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise TuneError("the archive is packed in a way that MusicXML does not know")
    with archive.open(info) as file:
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise TuneError(f"{info.filename[:60]!r} in the archive is larger than {_megabytes()}")
    return data


# -- text -----------------------------------------------------------------------


class _Reader:
    """Builds the tree of an XML text and counts as it goes."""

    def __init__(self) -> None:
        self._tree = TreeBuilder()
        self._depth = self._elements = self._measures = self._notes = 0
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._tree.data
        self._parser.EntityDeclHandler = self._entity
        self._parser.ExternalEntityRefHandler = self._external
        self._parser.buffer_text = True

    def read(self, data: bytes) -> Element:
        """The root; TuneError where the text is broken or past a limit."""
        try:
            self._parser.Parse(data, True)
            root = self._tree.close()
        except expat.ExpatError as error:
            raise TuneError(
                f"the XML is broken: {expat.ErrorString(error.code)}",
                "a MusicXML file is XML text, or a compressed file made of it",
                line=error.lineno,
                column=error.offset + 1,
                excerpt=_line(data, error.lineno),
            ) from None
        except (ValueError, LookupError, AssertionError) as error:
            raise TuneError(f"the XML is broken: {str(error)[:80]}") from None
        return root

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._elements += 1
        if self._depth > MOST_DEPTH:
            self._refuse(f"the XML is nested more than {MOST_DEPTH} levels deep")
        if self._elements > MOST_ELEMENTS:
            self._refuse(f"the XML has more than {MOST_ELEMENTS:,} elements")
        if tag == "part":
            self._measures = 0
        elif tag == "measure":
            self._measures += 1
            if self._measures > MOST_MEASURES:
                self._refuse(f"the score has more than {MOST_MEASURES:,} bars")
        elif tag == "note":
            self._notes += 1
            if self._notes > MOST_NOTES:
                self._refuse(
                    f"the score has more than {MOST_NOTES:,} notes",
                    "export the part of the melody alone, or a piece of it",
                )
        self._tree.start(tag, attributes)

    def _end(self, tag: str) -> None:
        self._depth -= 1
        self._tree.end(tag)

    def _entity(self, name: str, *_: object) -> None:
        self._refuse(f"the XML declares an entity ({name[:40]!r}), which no score needs")

    def _external(self, *_: object) -> int:
        self._refuse("the XML refers to an entity outside the file")

    def _refuse(self, message: str, hint: str = "") -> NoReturn:
        raise TuneError(
            message,
            hint,
            line=self._parser.CurrentLineNumber,
            column=self._parser.CurrentColumnNumber + 1,
        )


def _line(data: bytes, number: int) -> str:
    """A line of the text, to be shown beneath a fault in it."""
    start = 0
    for _ in range(number - 1):
        start = data.find(b"\n", start) + 1
        if not start:
            return ""
    stop = data.find(b"\n", start)
    line = data[start : len(data) if stop < 0 else stop][:2000]
    return line.decode("utf-8", "replace").rstrip() if b"\0" not in line else ""


def _to_partwise(root: Element) -> Element:
    """A score that is ordered by measures, ordered by parts."""
    parts: dict[str, Element] = {}
    partwise = Element("score-partwise", root.attrib)
    for child in root:
        if child.tag != "measure":
            partwise.append(child)
            continue
        for part in child.findall("part"):
            name = part.get("id", "")
            if name not in parts:
                parts[name] = Element("part", {"id": name})
            measure = Element("measure", child.attrib)
            measure.extend(list(part))
            parts[name].append(measure)
    partwise.extend(parts.values())
    return partwise
