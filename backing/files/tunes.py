"""Tunes and books of tunes from a player's files; a file's suffix chooses its reader."""

from pathlib import Path
from typing import NamedTuple

from backing.errors import FileError, Notice, TuneError
from backing.files.reading import name_of, read_bytes
from backing.music.tune import Tune
from backing.parse import abc

#: Which kind of file a suffix means; others are told by their content.
_SUFFIXES = {
    ".abc": "abc", ".txt": "abc", ".mid": "midi", ".midi": "midi", ".kar": "midi",
    ".musicxml": "musicxml", ".xml": "musicxml", ".mxl": "musicxml",
}  # fmt: skip


class Reading(NamedTuple):
    """A tune from a file, and what there is to say about the file besides.

    `text` is what it was read from, where that is ABC.
    """

    tune: Tune
    name: str
    notices: tuple[Notice, ...]
    text: abc.TuneText | None = None


def read_tune(
    path: Path, wanted: str = "", *, voice: str = "", strict: bool | None = None
) -> Reading:
    """The tune in a file; of a book the one with this number or title, else the first.

    The path "-" is standard input.  `voice` names the voice, part or track that is the
    melody.  `strict` refuses what ABC 2.1 disallows; None goes by what the text says of
    itself.  Raises FileError where the file cannot be read, TuneError where the tune
    cannot.
    """
    data = read_bytes(path)
    name = name_of(path)
    try:
        if not data.strip():
            raise TuneError("the file is empty", "save a tune into it, or give another file")
        kind = _kind_of(path, data)
        if kind == "midi":
            from backing.parse.midi import parse_midi

            return Reading(parse_midi(data, track=voice), name, ())
        if kind == "musicxml":
            from backing.parse.musicxml import parse_musicxml

            return Reading(parse_musicxml(data, part=voice), name, ())
        text, notices = _decode(data)
        tunes = _book(text)
        chosen = abc.pick_tune(tunes, wanted) if wanted else tunes[0]
        notices += _book_notices(tunes, wanted)
        return Reading(
            abc.read_tune(chosen, voice=voice, strict=strict), name, tuple(notices), chosen
        )
    except TuneError as error:
        error.source = name
        raise


def read_book(path: Path) -> tuple[list[abc.TuneText], tuple[Notice, ...]]:
    """The tunes of a book, none of them read yet, and what there is to say about the file.

    Raises FileError where it cannot be read, TuneError where there is no tune in it.
    """
    try:
        data = read_bytes(path)
        if _kind_of(path, data) != "abc":
            raise TuneError("only ABC files are books of tunes", "backing look shows other files")
        text, notices = _decode(data)
        tunes = _book(text)
    except TuneError as error:
        error.source = name_of(path)
        raise
    return tunes, (*notices, *_double_notices(tunes))


def _book(text: str) -> list[abc.TuneText]:
    tunes = list(abc.split_book(text))
    if not tunes:
        raise TuneError("there is no tune in this file", "a tune begins with a line like X:1")
    return tunes


def _kind_of(path: Path, data: bytes) -> str:
    """What a file holds: by its first bytes, else by its suffix, else by what it says."""
    if data.startswith(b"MThd"):
        return "midi"
    kind = _SUFFIXES.get(path.suffix.lower())
    tagged = data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<")
    # A tune inside a web page is free text round a tune (ABC 2.1 clause 2.2.3).
    if data.startswith(b"PK\x03\x04") or (tagged and kind != "abc"):
        return "musicxml"
    if kind is not None:
        return kind
    if abc.looks_like_abc(data.decode("latin-1")):
        return "abc"
    raise FileError(
        f"{name_of(path)} is not a kind of file that is read here",
        "give a tune as ABC, MusicXML or MIDI",
    )


def _book_notices(tunes: list[abc.TuneText], wanted: str) -> list[Notice]:
    notices = []
    found = abc.find_tunes(tunes, wanted) if wanted else []
    if len(found) > 1 and found[0].number != wanted.strip():
        others = ", ".join(tune.title for tune in found[1:6])
        notices.append(
            Notice(
                f"{len(found)} titles hold {wanted!r}; the first is taken",
                f"the others are {others}",
            )
        )
    if len(tunes) > 1 and not wanted:
        first = tunes[0]
        notices.append(
            Notice(
                f"a book of {len(tunes)} tunes; the first is taken, "
                f"{first.number} {first.title}".rstrip(),
                'choose one with --tune NUMBER or --tune "part of its title"',
            )
        )
    return notices + _double_notices(tunes)


def _double_notices(tunes: list[abc.TuneText]) -> list[Notice]:
    double = abc.double_numbers(tunes)
    if not double:
        return []
    return [
        Notice(
            f"tune numbers that stand twice in the book: {', '.join(double[:20])}",
            "a number means the first of them; choose the other by its title",
        )
    ]


def _decode(data: bytes) -> tuple[str, list[Notice]]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace"), []
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        notice = Notice("the text is not UTF-8", "it is read as Latin-1", line)
        return data.decode("latin-1"), [notice]
