"""What kind of file a player gave: one of the three that hold tunes, or what else it is."""

import re
import tomllib
from collections.abc import Callable
from typing import NamedTuple

from backing.parse.abc import looks_like_abc

#: Which kind of file a suffix means; others are told by their content.
_KINDS = {
    ".abc": "abc", ".txt": "abc", ".mid": "midi", ".midi": "midi", ".kar": "midi",
    ".musicxml": "musicxml", ".xml": "musicxml", ".mxl": "musicxml",
}  # fmt: skip
#: What the names of files end in that may hold tunes.
TUNE_SUFFIXES = tuple(_KINDS)
#: Those of which most hold something else.
OFTEN_OTHER = (".txt", ".xml")
_PAGE = (b"<!doctype html", b"<html")
_SCORE = (b"<score-partwise", b"<score-timewise")
#: A tune's number at the start of a line, whatever page stands round it.
_NUMBER = r"(?m)^X:[ \t]*\d"
_HEAD = 4096
_LARGEST_TOML = 200_000
_COPY = "copy the tune's text into a plain text file and give that"
_NOTATION = "look for the tune as ABC, MusicXML or MIDI: those can be read"
_UNPACK = "unpack it and give the tune that is in it"


class OtherKind(NamedTuple):
    """What a file is that is none with a tune, and what to do about it."""

    what: str
    hint: str


_IMAGE = OtherKind("a picture", _NOTATION)
_RECORDING = OtherKind("a sound file", _NOTATION)
_UNKNOWN = OtherKind("not a kind of file that is read here", "give a tune as ABC, MusicXML or MIDI")
_ARCHIVE = OtherKind("an archive", _UNPACK)
#: What files begin with that hold no tune.
_BEGINNINGS: tuple[tuple[bytes, OtherKind], ...] = (
    (b"%PDF", OtherKind("a PDF", f"{_COPY}; where it shows printed notes, {_NOTATION}")),
    (b"\xd0\xcf\x11\xe0", OtherKind("an old Word or other office document", _COPY)),
    (b"{\\rtf", OtherKind("a formatted text (RTF)", _COPY)),
    (b"\x89PNG", _IMAGE), (b"\xff\xd8\xff", _IMAGE), (b"GIF8", _IMAGE), (b"II*\0", _IMAGE),
    (b"MM\0*", _IMAGE), (b"<svg", _IMAGE),
    (b"ID3", _RECORDING), (b"OggS", _RECORDING), (b"fLaC", _RECORDING), (b"\xff\xfb", _RECORDING),
    (b"\x1f\x8b", OtherKind("a compressed file", _UNPACK)), (b"7z\xbc\xaf", _ARCHIVE),
    (b"Rar!", _ARCHIVE),
)  # fmt: skip
#: Names inside a zip archive that say what it is.
_IN_ARCHIVES: tuple[tuple[bytes, OtherKind], ...] = (
    (b"word/document", OtherKind("a Word document", _COPY)),
    (b"vnd.oasis.opendocument.text", OtherKind("an OpenDocument text", _COPY)),
    (b"xl/workbook", OtherKind("a spreadsheet", _COPY)),
    (b"ppt/presentation", OtherKind("a presentation", _COPY)),
)  # fmt: skip
#: Keys of the other files of a player, and how those are given.
_OF_PLAYERS = (
    ({"figure", "harmony"}, "a style", "--style"), ({"outer", "left"}, "a box", "--box"),
    ({"keys", "midi"}, "controls for the keyboard or a pedal", "--controls"),
    ({"profile"}, "a profile of fingering", "--profile"),
)  # fmt: skip


def kind_of(data: bytes, suffix: str, read: Callable[[bytes], str]) -> str | OtherKind:
    """ "abc", "midi" or "musicxml", by the first bytes, else by the suffix, else by what the
    text says that `read` makes of the bytes; or what else it is."""
    suffix = suffix.lower()
    if data.startswith(b"MThd"):
        return "midi"
    if other := _by_beginning(data):
        return other
    kind = _KINDS.get(suffix)
    if data.startswith(b"PK\x03\x04"):
        return _archive(data, kind)
    if suffix == ".toml":
        return of_player(read(data)) or OtherKind("a data file (TOML)", "give a tune")
    head = data[:_HEAD]
    if any(tag in head for tag in _SCORE):
        return "musicxml"
    if any(tag in head.lower() for tag in _PAGE) or suffix in (".html", ".htm"):
        return _page(read(data), kind)
    tagged = head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<")
    if tagged and kind != "abc":
        return "musicxml"
    if kind is not None:
        return kind
    text = read(data)
    return "abc" if looks_like_abc(text) else of_player(text) or _UNKNOWN


def of_player(text: str) -> OtherKind | None:
    """What a file of a player's own says, where it is a style, a box or the like."""
    if len(text) > _LARGEST_TOML or "=" not in text:
        return None
    try:
        keys = set(tomllib.loads(text))
    except (ValueError, RecursionError):
        return None
    for known, what, option in _OF_PLAYERS:
        if keys & known:
            return OtherKind(what, f"give it with {option}, and a tune as ABC, MusicXML or MIDI")
    return None


def _by_beginning(data: bytes) -> OtherKind | None:
    if data.startswith(b"RIFF") or data[4:8] == b"ftyp":
        return _IMAGE if data[8:12] in (b"WEBP", b"heic", b"avif", b"mif1") else _RECORDING
    return next((other for start, other in _BEGINNINGS if data.startswith(start)), None)


def _archive(data: bytes, kind: str | None) -> str | OtherKind:
    """A zip archive is a compressed score, or something else that its entries tell."""
    for name, other in _IN_ARCHIVES:
        if name in data:
            return other
    score = kind == "musicxml" or b"META-INF/container.xml" in data or b".xml" in data
    return "musicxml" if score else _ARCHIVE


def _page(text: str, kind: str | None) -> str | OtherKind:
    """A tune inside a web page is free text round a tune (ABC 2.1 clause 2.2.3) in a file that
    should be ABC."""
    if kind == "abc" and re.search(_NUMBER, text):
        return "abc"
    if kind is None:
        return OtherKind("a web page", _COPY)
    return OtherKind(
        "a web page instead of a tune", "download it again: look for the tune's own link"
    )
