"""The only module that opens a player's files, and the styles that come with us.

A file's suffix chooses its reader or its output.  Outputs are written whole beside
their place and moved there in one step: a fault leaves nothing half-written.
"""

import os
import sys
from contextlib import suppress
from functools import cache
from importlib.resources import files as resource_files
from pathlib import Path
from typing import NamedTuple

from backing.arranging.style import Style
from backing.arranging.style_file import parse_shipped_style, parse_style
from backing.box.costs import Costs, parse_costs, profile
from backing.box.layout import Layout
from backing.box.layout_file import parse_layout
from backing.errors import BoxError, FileError, Notice, StyleError, TuneError, did_you_mean
from backing.music.tune import Tune
from backing.parse import abc

#: More than this is no book of tunes.
MOST_BYTES = 32 * 1024 * 1024
#: Which kind of file a suffix means; others are told by their content.
_SUFFIXES = {
    ".abc": "abc", ".txt": "abc", ".mid": "midi", ".midi": "midi", ".kar": "midi",
    ".musicxml": "musicxml", ".xml": "musicxml", ".mxl": "musicxml",
}  # fmt: skip
#: Standard input, as a path.
STDIN = Path("-")


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
    data = _read_bytes(path)
    name = _name(path)
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
        data = _read_bytes(path)
        if _kind_of(path, data) != "abc":
            raise TuneError("only ABC files are books of tunes", "backing look shows other files")
        text, notices = _decode(data)
        tunes = _book(text)
    except TuneError as error:
        error.source = _name(path)
        raise
    return tunes, (*notices, *_double_notices(tunes))


def _name(path: Path) -> str:
    return "standard input" if path == STDIN else path.name


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
        f"{_name(path)} is not a kind of file that is read here",
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


def _read_bytes(path: Path) -> bytes:
    too_large = FileError(
        f"{_name(path)} is larger than {MOST_BYTES // 2**20} MB", "split the book in two"
    )
    try:
        if path == STDIN:
            data = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            if path.stat().st_size > MOST_BYTES:
                raise too_large
            data = path.read_bytes()
    except FileNotFoundError:
        raise FileError(f"there is no file {path}", _near(path)) from None
    except IsADirectoryError:
        raise FileError(f"{path} is a folder", "give a file in it") from None
    except OSError as error:
        raise FileError(f"{path} cannot be read: {_reason(error)}") from None
    if len(data) > MOST_BYTES:
        raise too_large
    return data


def _near(path: Path) -> str:
    """A file beside the missing one that is called nearly the same."""
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return f"there is no folder {path.parent} either"
    return did_you_mean(path.name, names)


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()


# -- styles ---------------------------------------------------------------------


class StyleFile(NamedTuple):
    """Where a style is kept: its name, its file, whether it is the player's own."""

    name: str
    path: Path
    own: bool


def style_files() -> dict[str, StyleFile]:
    """The styles by name, in order: those that come with us and the player's own.

    An own style takes the place of one of ours that has its name.
    """
    found = {}
    for folder, own in ((_styles_folder(), False), (own_styles_folder(), True)):
        for path in _toml_files(folder):
            name = path.name[: -len(".toml")]
            found[name] = StyleFile(name, path, own)
    return dict(sorted(found.items()))


def style_names() -> list[str]:
    """The names of the styles, in order."""
    return list(style_files())


def own_styles_folder() -> Path:
    """The player's own folder of styles: `$BACKING_STYLES`, else where programs keep such."""
    if named := os.environ.get("BACKING_STYLES"):
        return Path(named)
    home = Path(os.path.expanduser("~"))
    if sys.platform == "win32":
        base = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
    return base / "backing" / "styles"


def load_style(name: str) -> Style:
    """A style by its name or the path of a TOML file, either with ":variant" after it.

    Raises StyleError for an unknown name, with the nearest one, and for a faulty file.
    """
    base, colon, variant = name.rpartition(":")
    if not colon or name.lower().endswith(".toml"):
        base, variant = name, ""
    style = _load_base(base)
    return style.variant(variant) if variant else style


def _load_base(name: str) -> Style:
    if name.lower().endswith(".toml"):
        return _load_own(Path(name), Path(name).name[: -len(".toml")])
    files = style_files()
    if name not in files:
        raise StyleError(
            f"there is no style {name!r}",
            did_you_mean(name, list(files)) or f"the styles are {', '.join(files)}",
        )
    if files[name].own:
        return _load_own(files[name].path, name)
    return parse_shipped_style(files[name].path.read_text(encoding="utf-8"), name)


def _load_own(path: Path, name: str) -> Style:
    """A style from a player's file, which may hold faults."""
    try:
        return parse_style(_read_bytes(path).decode("utf-8-sig"), name)
    except UnicodeDecodeError:
        raise StyleError("the style is not UTF-8 text", source=path.name) from None
    except StyleError as error:
        error.source = path.name
        raise


def _toml_files(folder: Path) -> list[Path]:
    try:
        return [path for path in folder.iterdir() if path.name.endswith(".toml")]
    except OSError:
        return []


def _styles_folder() -> Path:
    """The styles inside the installed package, or beside it in a checkout."""
    package = Path(__file__).parent
    inside = package / "styles"
    return inside if inside.is_dir() else package.parent / "styles"


# -- boxes ----------------------------------------------------------------------


def box_names() -> list[str]:
    """The names of the boxes that come with us, in order."""
    return sorted(_boxes())


def load_box(name: str) -> Layout:
    """A box by its name or the path of a TOML file, either with ":variant"s after it.

    The name's case does not matter.  Raises BoxError for an unknown name, with the nearest
    one, and for a faulty file.
    """
    end = name.lower().rfind(".toml") + len(".toml")
    if end >= len(".toml"):
        box, words = _own_box(Path(name[:end])), name[end:].split(":")[1:]
    else:
        box, words = _known_box(name)
    return box.with_variants(words)


def _known_box(name: str) -> tuple[Layout, list[str]]:
    """The box that a name begins with, and the variants after it."""
    boxes = {known.lower(): box for known, box in _boxes().items()}
    base, *words = name.split(":")
    if words and f"{base}:{words[0]}".lower() in boxes:
        base = f"{base}:{words.pop(0)}"
    if base.lower() not in boxes:
        near = did_you_mean(base, box_names()) or f"the boxes are {', '.join(box_names())}"
        raise BoxError(f"there is no box {base!r}", near)
    return boxes[base.lower()], words


def _own_box(path: Path) -> Layout:
    try:
        return parse_layout(_read_bytes(path).decode("utf-8-sig"), path.name)
    except UnicodeDecodeError:
        raise BoxError("the box is not UTF-8 text", source=path.name) from None


def load_costs(name: str) -> Costs:
    """A profile of fingering by its name, or a player's own costs from a TOML file.

    Raises BoxError for an unknown name, with the nearest one, and for a faulty file.
    """
    if not name.lower().endswith(".toml"):
        return profile(name)
    path = Path(name)
    try:
        return parse_costs(_read_bytes(path).decode("utf-8-sig"), path.name)
    except UnicodeDecodeError:
        raise BoxError("the costs are not UTF-8 text", source=path.name) from None


def box_text(name: str) -> str:
    """The file of one of our boxes, variants left out of the name."""
    box, _ = _known_box(name)
    return next(text for text in _box_texts() if parse_layout(text, "").name == box.name)


@cache
def _boxes() -> dict[str, Layout]:
    """The boxes that come with us, by their names."""
    boxes = [parse_layout(text, "a box of ours") for text in _box_texts()]
    return {box.name: box for box in boxes}


@cache
def _box_texts() -> tuple[str, ...]:
    folder = resource_files("backing.box").joinpath("layouts")
    return tuple(
        entry.read_text(encoding="utf-8")
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    )


# -- outputs --------------------------------------------------------------------


def check_output(path: Path, source: Path, suffixes: tuple[str, ...]) -> None:
    """Raise FileError where an output cannot go there: before any work is done."""
    if path.suffix.lower() not in suffixes:
        raise FileError(
            f"{path.name} does not end in {' or '.join(suffixes)}",
            f"name the output like {path.stem or 'practice'}{suffixes[0]}",
        )
    folder = path.parent
    try:
        if not folder.is_dir():
            raise FileError(f"there is no folder {folder}", "make it first, or choose another")
        if path.is_dir():
            raise FileError(f"{path} is a folder", "give a file name in it")
        if path.exists() and source.exists() and path.samefile(source):
            raise FileError(f"{path} is the tune itself", "write the output to another file")
    except OSError as error:
        raise FileError(f"{path} cannot be written: {_reason(error)}") from None


def save(path: Path, data: bytes) -> None:
    """Write a file whole or not at all; an old one there is replaced.

    Raises FileError where it cannot be written; then the old file is untouched.
    """
    target = path.resolve() if path.is_symlink() else path
    beside = target.with_name(f".backing-{os.getpid()}.part")
    try:
        with open(beside, "xb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        beside.replace(target)
    except OSError as error:
        raise FileError(
            f"{path} cannot be written: {_reason(error)}", "nothing was changed"
        ) from None
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
