"""The mark in our files, by which a later run knows them again.

It says "made by backing" and a checksum (CRC-32) of all the rest: in a text it is a comment,
the last line; in MIDI a text event at tick 0; in sound the name of the encoder; in PDF a
keyword, in PNG a text chunk.  Where the
checksum is not true any more, somebody has worked on the file.
"""

import re
from mmap import ACCESS_READ, mmap
from pathlib import Path
from zlib import crc32

#: What stands before and after the mark in a line of text, by the file's suffix.
_COMMENTS = {
    ".abc": (b"% ", b""),
    ".musicxml": (b"<!-- ", b" -->"),
    ".xml": (b"<!-- ", b" -->"),
    ".svg": (b"<!-- ", b" -->"),
    ".html": (b"<!-- ", b" -->"),
    ".htm": (b"<!-- ", b" -->"),
    ".toml": (b"# ", b""),
}
_MIDI_SUFFIXES = (".mid", ".midi")
_WORDS = b"made by backing, checksum "
_DIGITS = 8
#: The mark of a file whose checksum is still to come.
UNSEALED = (_WORDS + b"0" * _DIGITS).decode("ascii")
#: No text of ours is larger; a larger one is not looked into.
_MOST_TEXT = 256 * 1024 * 1024

#: How a PNG begins, how long its last chunk is, and a chunk's checksum.
_PNG, _IEND, _CRC = b"\x89PNG\r\n\x1a\n", 12, 4

NOT_OURS = "it was not made by backing"
CHANGED = "it has been changed since backing made it"


def marked(data: bytes, suffix: str) -> bytes:
    """The same file with our mark in it; a mark that a text had goes.

    Suffixes of ABC, MusicXML, SVG, HTML, TOML, MIDI, PDF and PNG are known; data of other kinds is
    given back as it is.  A PDF comes with `UNSEALED` among its keywords.  The same data is
    marked the same.

    >>> marked(b"X:1\\nK:C\\nC8|\\n", ".abc").decode().splitlines()[-1]
    '% made by backing, checksum d15222e5'
    """
    suffix = suffix.lower()
    if suffix in _COMMENTS:
        return _marked_text(data, *_COMMENTS[suffix])
    if suffix in _MIDI_SUFFIXES:
        return _marked_midi(data)
    return {".pdf": _sealed, ".png": _marked_png}.get(suffix, bytes)(data)


def why_keep(path: Path) -> str:
    """Why a file may not be replaced unasked; "" where we made it and nobody changed it.

    Raises OSError where it cannot be read.
    """
    size = path.stat().st_size
    if path.suffix.lower() in _COMMENTS:
        if size > _MOST_TEXT:
            return NOT_OURS
        return _why_keep_text(path.read_bytes(), *_COMMENTS[path.suffix.lower()])
    return _why_keep_binary(path) if size else NOT_OURS


def _checksum(*pieces: bytes | memoryview) -> bytes:
    total = 0
    for piece in pieces:
        total = crc32(piece, total)
    return b"%08x" % total


# -- text -------------------------------------------------------------------------


def _marked_text(data: bytes, before: bytes, after: bytes) -> bytes:
    bare = _mark_line(before, after).sub(b"", data).rstrip(b"\r\n")
    return bare + b"\n" + before + _WORDS + _checksum(_plain(bare)) + after + b"\n"


def _why_keep_text(data: bytes, before: bytes, after: bytes) -> str:
    text = _plain(data)
    marks = list(_mark_line(before, after).finditer(text))
    if not marks:
        return CHANGED if _WORDS in text else NOT_OURS
    last = marks[-1]
    true = last.end() == len(text) and last[1] == _checksum(_plain(text[: last.start()]))
    return "" if true else CHANGED


def _mark_line(before: bytes, after: bytes) -> re.Pattern[bytes]:
    said = re.escape(before) + _WORDS + rb"([0-9a-f]{8})" + re.escape(after)
    return re.compile(rb"^" + said + rb"\r?$", re.MULTILINE)


def _plain(data: bytes) -> bytes:
    """A text without what mail and editors change unasked: the kind of line ends, a byte
    order mark, empty lines at the end."""
    lines = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return lines.removeprefix(b"\xef\xbb\xbf").rstrip(b"\n")


# -- PDF and PNG -------------------------------------------------------------------


def _sealed(data: bytes) -> bytes:
    out = bytearray(data)
    seal(out)
    return bytes(out)


def _marked_png(data: bytes) -> bytes:
    """A text chunk before the last one (PNG, W3C Recommendation, clause 11.3.3.2)."""
    if not data.startswith(_PNG) or data[-8:-4] != b"IEND":
        return data
    text = b"tEXtComment\0" + UNSEALED.encode("ascii")
    chunk = (len(text) - 4).to_bytes(4, "big") + text + bytes(_CRC)
    out = bytearray(data[:-_IEND] + chunk + data[-_IEND:])
    seal(out)
    stop = len(out) - _IEND - _CRC
    out[stop : stop + _CRC] = crc32(out[stop - len(text) : stop]).to_bytes(_CRC, "big")
    return bytes(out)


# -- MIDI and sound ---------------------------------------------------------------

_FIRST_TRACK = 14  # after MThd, whose length SMF 1.0 fixes
_META_TEXT, _META_NAME = 1, 3


def _marked_midi(data: bytes) -> bytes:
    """A text event after the track's name and the title, which other programs take for one."""
    start = _FIRST_TRACK + 8
    if data[:4] != b"MThd" or data[_FIRST_TRACK : start - 4] != b"MTrk":
        return data
    length = int.from_bytes(data[start - 4 : start], "big")
    at = _past(data, _past(data, start, _META_NAME), _META_TEXT)
    event = bytes((0, 0xFF, _META_TEXT, len(UNSEALED))) + UNSEALED.encode("ascii")
    out = bytearray(data[:at] + event + data[at:])
    out[start - 4 : start] = (length + len(event)).to_bytes(4, "big")
    seal(out)
    return bytes(out)


def _past(data: bytes, at: int, kind: int) -> int:
    """The place after a meta event of this kind, where one of tick 0 stands here."""
    if data[at : at + 3] != bytes((0, 0xFF, kind)):
        return at
    length, at = 0, at + 3
    while data[at] & 0x80:
        length, at = (length | data[at] & 0x7F) << 7, at + 1
    return at + 1 + (length | data[at])


def seal(data: bytearray | mmap) -> int:
    """Put the checksum into the mark of a file that is no text.

    Returns where the page of an Ogg file begins that holds it, and has to be written anew
    for a checksum of its own; -1 for other files, and those without a mark.
    """
    at = _digits_of(data)
    if at < 0:
        return -1
    data[at : at + _DIGITS] = _sum_beside(data, at)
    return _page_of(data, at)


def _why_keep_binary(path: Path) -> str:
    with open(path, "rb") as file, mmap(file.fileno(), 0, access=ACCESS_READ) as data:
        at = _digits_of(data)
        if at < 0:
            return NOT_OURS
        return "" if data[at : at + _DIGITS] == _sum_beside(data, at) else CHANGED


def _digits_of(data: bytearray | mmap) -> int:
    """Where the checksum stands; -1 where there is no mark."""
    at = data.find(_WORDS)
    return at if at < 0 else at + len(_WORDS)


def _sum_beside(data: bytearray | mmap, at: int) -> bytes:
    """The checksum of all but its own digits, and the checksum of what they stand in: of the
    Ogg page, or the PNG chunk."""
    page, stop = _page_of(data, at), at + _DIGITS
    holes = [(at, stop)] if page < 0 else [(page + 22, page + 26), (at, stop)]
    if data[: len(_PNG)] == _PNG:
        holes = [(at, stop), (stop, stop + _CRC)]
    starts, stops = [0, *(hole[1] for hole in holes)], [*(hole[0] for hole in holes), len(data)]
    with memoryview(data) as view:
        pieces = [view[start:stop] for start, stop in zip(starts, stops, strict=True)]
        total = _checksum(*pieces)
        for piece in pieces:
            piece.release()
    return total


def _page_of(data: bytearray | mmap, at: int) -> int:
    return data.rfind(b"OggS", 0, at) if data[:4] == b"OggS" else -1
