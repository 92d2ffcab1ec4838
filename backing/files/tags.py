"""What an audio file says of itself: title, dance, tempo, for the list on a phone."""

from dataclasses import dataclass
from mmap import mmap
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from mutagen.flac import FLAC
from mutagen.id3 import COMM, TALB, TBPM, TCON, TIT2, TPE1, TSSE
from mutagen.mp3 import MP3
from mutagen.ogg import OggPage
from mutagen.oggopus import OggOpus
from mutagen.oggvorbis import OggVorbis
from mutagen.wave import WAVE

from backing.files.marks import UNSEALED, seal

if TYPE_CHECKING:
    from soundfile import SoundFile

_SOFTWARE = "backing"
_SERIAL = 1
_LATIN, _UTF16 = 0, 1
#: mutagen's classes, which have no types.
_VORBIS: dict[str, Any] = {".flac": FLAC, ".ogg": OggVorbis, ".opus": OggOpus}
_OGG = (".ogg", ".opus")
_ID3: dict[str, Any] = {".mp3": MP3, ".wav": WAVE}


@dataclass(frozen=True, slots=True)
class Tags:
    """What there is to say of a file; empty is left out.

    `artist` is who composed the tune, `album` what the file belongs to, `genre` the dance,
    `bpm` felt beats a minute, `comment` what was made.
    """

    title: str
    artist: str = ""
    album: str = ""
    genre: str = ""
    bpm: int | None = None
    comment: str = ""


def write_tags(path: Path, suffix: str, tags: Tags) -> None:
    """Write tags into an audio file of the kind that a suffix means."""
    if suffix in _VORBIS:
        sound = _VORBIS[suffix](path)
        for name, text in _comments(tags).items():
            sound[name] = text
        sound.save()
    else:
        sound = _ID3[suffix](path)
        if sound.tags is None:
            sound.add_tags()
        for frame in _frames(tags):
            sound.tags.add(frame)
        sound.save(v2_version=3)  # 2.3 is what every player reads


def seal_sound(path: Path, suffix: str) -> None:
    """Put the checksum of a finished audio file into our mark, the encoder in its tags."""
    with open(path, "rb+") as file:
        if suffix in _OGG:
            while _renew_page(file, file.tell()):
                pass
        with mmap(file.fileno(), 0) as data:
            page = seal(data)
        if page >= 0:
            _renew_page(file, page)


def _renew_page(file: BinaryIO, start: int) -> bool:
    """Write a page of an Ogg file anew, with its checksum, and the number of its stream that
    libsndfile takes by chance: the same sound is the same file.  False at the end."""
    kind: Any = OggPage
    file.seek(start)
    try:
        page = kind(file)
    except EOFError:
        return False
    page.serial = _SERIAL
    file.seek(start)
    file.write(page.write())
    return True


def write_info(sound: "SoundFile", tags: Tags) -> None:
    """Give a WAV file its RIFF INFO, before any sound; other programs look only there."""
    for name in ("title", "artist", "album", "genre", "comment"):
        if text := getattr(tags, name):
            setattr(sound, name, text)
    sound.software = _SOFTWARE


def _comments(tags: Tags) -> dict[str, str]:
    """Vorbis comments (Xiph.org's field names)."""
    said = {
        "title": tags.title,
        "artist": tags.artist,
        "album": tags.album,
        "genre": tags.genre,
        "bpm": str(tags.bpm or ""),
        "comment": tags.comment,
        "encoder": UNSEALED,
    }
    return {name: text for name, text in said.items() if text}


def _frames(tags: Tags) -> list[Any]:
    """The same as frames of ID3v2.3."""
    said: dict[Any, str] = {
        TIT2: tags.title,
        TPE1: tags.artist,
        TALB: tags.album,
        TCON: tags.genre,
        TBPM: str(tags.bpm or ""),
    }
    frames = [kind(_UTF16, text) for kind, text in said.items() if text]
    encoder: Any = TSSE
    frames.append(encoder(_LATIN, UNSEALED))
    if tags.comment:
        comment: Any = COMM
        frames.append(comment(_UTF16, "eng", "", tags.comment))
    return frames
