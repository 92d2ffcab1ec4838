"""Tunes and books of tunes from a player's files."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from backing.errors import FileError, Notice, TuneError
from backing.files.kinds import OtherKind, kind_of, of_player
from backing.files.reading import STDIN, file_name, read_bytes
from backing.music.tune import Tune
from backing.parse import abc
from backing.parse.played_as import PlayedAs

#: How many bytes tell that a text is UTF-16 without saying so.
_SAMPLE = 200
_UNTOLD = PlayedAs()


class Reading(NamedTuple):
    """A tune from a file, and what there is to say about the file besides.

    `text` is what it was read from, where that is ABC.
    """

    tune: Tune
    name: str
    notices: tuple[Notice, ...]
    text: abc.TuneText | None = None


def read_tune(
    path: str | Path,
    wanted: str = "",
    *,
    voice: str = "",
    strict: bool | None = None,
    told: PlayedAs = _UNTOLD,
) -> Reading:
    """The tune in a file; of a book the one with this number or title, else the first.

    The path "-" is standard input.  `voice` names the voice, part or track that is the
    melody.  `strict` refuses what ABC 2.1 disallows; None goes by what the text says of
    itself.  `told` is what the player knows of a MIDI file's beats.  Raises
    FileError where the file cannot be read, TuneError where the tune
    cannot, or where several are meant.
    """
    path = Path(path)
    data = read_bytes(path)
    name = file_name(path)
    wanted = wanted.strip()
    try:
        kind = _kind(path, data)
        if wanted and kind != "abc":
            raise TuneError("only ABC files are books of tunes", "leave --tune out")
        if told != _UNTOLD and kind != "midi":
            raise TuneError(
                "the file says its metre and beats itself; only a MIDI file is listened to",
                "leave --metre and --beat out",
            )
        if kind == "midi":
            from backing.parse.midi import parse_midi

            return Reading(parse_midi(data, track=voice, told=told), name, ())
        if kind == "musicxml":
            from backing.parse.musicxml import parse_musicxml

            return Reading(parse_musicxml(data, part=voice), name, ())
        text, notices = _decode(data)
        tunes = _book(text, name)
        chosen = abc.pick_tune(tunes, wanted) if wanted else tunes[0]
        tune = abc.tune_of(chosen, voice=voice, strict=strict)
    except TuneError as error:
        error.source = name
        raise
    if all(map(str.isascii, chosen.lines)):
        notices = ()
    if len(tunes) == 1:
        notices += abc.file_header_notices(chosen)
    elif not wanted:
        notices += (_first_taken(tunes),)
    return Reading(tune, name, notices, chosen)


def read_book(path: str | Path) -> tuple[list[abc.TuneText], tuple[Notice, ...]]:
    """The tunes of a book, none of them read yet, and what there is to say about the file.

    Raises FileError where it cannot be read, TuneError where there is no tune in it.
    """
    path = Path(path)
    name = file_name(path)
    try:
        data = read_bytes(path)
        if _kind(path, data) != "abc":
            raise TuneError("only ABC files are books of tunes", "backing look shows other files")
        text, notices = _decode(data)
        tunes = _book(text, name)
    except TuneError as error:
        error.source = name
        raise
    return tunes, (*notices, *abc.file_header_notices(tunes[-1]), *_double_notices(tunes))


def abc_tunes(path: Path) -> list[abc.TuneText] | None:
    """The tunes of an ABC file, none of them read yet; None for a file of MusicXML or MIDI.

    Raises FileError where it cannot be read, TuneError where there is no tune in it.
    """
    try:
        data = read_bytes(path)
        return _book(_decode(data)[0], file_name(path)) if _kind(path, data) == "abc" else None
    except TuneError as error:
        error.source = file_name(path)
        raise


def tunes_in(path: Path) -> list[abc.TuneText]:
    """The tunes of a book; none where a file is no book, or where what it is shows only when
    it is read.

    Standard input is never one.  Raises FileError where the file cannot be read.
    """
    if path == STDIN:
        return []
    try:
        found, _ = read_book(path)
    except TuneError:
        return []
    return found if len(found) > 1 else []


def _kind(path: Path, data: bytes) -> str:
    """ "abc", "midi" or "musicxml"; FileError for anything else, with what it is."""
    if not data.strip():
        raise TuneError("the file is empty", "save a tune into it, or give another file")
    kind = kind_of(data, path.suffix, lambda data: _decode(data)[0])
    if isinstance(kind, OtherKind):
        raise _refused(file_name(path), kind)
    return kind


def _refused(name: str, other: OtherKind) -> FileError:
    return FileError(f"{name} is {other.what}", other.hint)


def _book(text: str, name: str) -> list[abc.TuneText]:
    tunes = list(abc.split_book(text))
    if tunes:
        return tunes
    if other := of_player(text):
        raise _refused(name, other)
    raise TuneError("there is no tune in this file", "a tune begins with a line like X:1")


def _first_taken(tunes: Sequence[abc.TuneText]) -> Notice:
    first = f"{abc.references(tunes)[0]} {tunes[0].title}".rstrip()
    return Notice(
        f"a book of {len(tunes)} tunes; the first is taken, {first}",
        'choose one with --tune NUMBER or --tune "part of its title"',
    )


def _double_notices(tunes: Sequence[abc.TuneText]) -> list[Notice]:
    double = [number for number in abc.double_numbers(tunes) if number]
    if not double:
        return []
    return [
        Notice(
            f"tune numbers that stand twice in the book: {', '.join(double[:20])}",
            f"ask for one of them with its place: --tune {double[0]}.2",
        )
    ]


def _decode(data: bytes) -> tuple[str, tuple[Notice, ...]]:
    """The text of a file, UTF-8 or UTF-16, else Latin-1, which is said."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace"), ()
    for coding, zeros in (("utf-16-le", data[1:_SAMPLE:2]), ("utf-16-be", data[0:_SAMPLE:2])):
        if len(zeros) > 1 and zeros.count(0) > 0.9 * len(zeros):
            return data.decode(coding, errors="replace"), ()
    try:
        return data.decode("utf-8"), ()
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return data.decode("latin-1"), (
            Notice("the text is not UTF-8", "it is read as Latin-1", line),
        )
