"""Bytes to checked MIDI messages: what is broken, too large or of another kind is refused.

Every event is walked over before mido reads it, so that a fault is told with its track and
tick and no more is built than is allowed.  Chunks of unknown kinds are skipped (SMF 1.0).
"""

from dataclasses import dataclass
from io import BytesIO
from typing import Any

import mido

from backing.errors import Notice, TuneError

MOST_BYTES = 32 * 1024 * 1024
MOST_MESSAGES = 250_000
_HEADER = 14
_AGAIN = "export or download it again"
#: Bytes of data after each channel status, by its upper four bits.
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
_END, _TEMPO, _METRE, _KEY, _OTHER = 0x2F, 0x51, 0x58, 0x59, 0x7F
#: How many bytes each meta event of fixed size holds; others are made harmless.
_META_BYTES = {0x00: 2, 0x20: 1, 0x21: 1, _TEMPO: 3, 0x54: 5, _METRE: 4, _KEY: 2}
_META_NAMES = {_TEMPO: "tempo", _METRE: "time signature", _KEY: "key signature"}

#: (tick, message)
PlacedEvent = tuple[int, Any]


@dataclass(frozen=True, slots=True)
class MidiData:
    """A checked file: ticks a quarter, and each track's messages at absolute ticks."""

    ppq: int
    format: int
    tracks: tuple[tuple[PlacedEvent, ...], ...]
    notices: tuple[Notice, ...] = ()


def read_midi(data: bytes) -> MidiData:
    """The messages of a file; TuneError says what is wrong with it, in which track, where.

    Refused are files over 32 MB or 250,000 messages, format 2, SMPTE time, 0 ticks a
    quarter, broken or missing chunks.
    """
    if len(data) > MOST_BYTES:
        raise TuneError(f"the file is larger than {MOST_BYTES // 2**20} MB", "split it in two")
    format_, promised, ppq = _read_header(data)
    chunks = _track_chunks(data)
    if len(chunks) < promised:
        raise TuneError(
            f"the header promises {promised} tracks, the file has {len(chunks)}",
            "it may be cut off: " + _AGAIN,
        )
    notices: list[Notice] = []
    messages = 0
    for number, chunk in enumerate(chunks, 1):
        walk = _Walk(chunk, number, MOST_MESSAGES - messages)
        walk.check()
        messages += walk.messages
        notices += walk.notices
    return MidiData(ppq, format_, _decode(chunks, ppq), tuple(notices))


def _read_header(data: bytes) -> tuple[int, int, int]:
    """Format, number of tracks and ticks a quarter."""
    if not data.startswith(b"MThd"):
        raise TuneError("this is no MIDI file: it does not begin with MThd")
    if len(data) < _HEADER or int.from_bytes(data[4:8], "big") < 6:
        raise TuneError("the header of the MIDI file is cut off", _AGAIN)
    format_, promised, division = (int.from_bytes(data[at : at + 2], "big") for at in (8, 10, 12))
    if format_ == 2:
        raise TuneError(
            "the file has format 2: tracks that do not belong together",
            "save it as format 0 or 1",
        )
    if format_ > 2:
        raise TuneError(f"the header names format {format_}, which does not exist", _AGAIN)
    if division & 0x8000:
        raise TuneError(
            "the file counts time in film frames (SMPTE), not in beats",
            "save it with ticks a quarter note",
        )
    if division == 0:
        raise TuneError("the header gives 0 ticks a quarter note", _AGAIN)
    return format_, promised, division


def _track_chunks(data: bytes) -> list[bytearray]:
    """The content of each track chunk."""
    chunks: list[bytearray] = []
    at = 8 + int.from_bytes(data[4:8], "big")
    while at + 8 <= len(data):
        name, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        body = data[at + 8 : at + 8 + size]
        if name == b"MTrk":
            if len(body) < size:
                raise TuneError(
                    f"track {len(chunks) + 1} is cut off: {len(body):,} of {size:,} bytes "
                    "are there",
                    _AGAIN,
                )
            chunks.append(bytearray(body))
        elif not name.isalnum():
            raise TuneError(f"a broken chunk begins at byte {at:,}", _AGAIN)
        at += 8 + size
    if not chunks:
        raise TuneError("there is no track in this MIDI file", _AGAIN)
    return chunks


class _Walk:
    """Walks over the events of a track, counts them and refuses what cannot be read."""

    def __init__(self, chunk: bytearray, number: int, budget: int) -> None:
        self.chunk = chunk
        self.number = number
        self.budget = budget
        self.at = self.tick = self.messages = 0
        self.notices: list[Notice] = []

    def check(self) -> None:
        """Walk to the end of the track; what follows its end event is cut away."""
        running = 0
        while self.at < len(self.chunk):
            self.messages += 1
            if self.messages > self.budget:
                raise TuneError(
                    f"the file has more than {MOST_MESSAGES:,} messages",
                    "save the track of the melody alone, or a piece of it",
                )
            self.tick += self.number_at()
            status = self.byte() if self.peek() >= 0x80 else running
            if status == 0xFF:
                if self.meta() == _END:
                    del self.chunk[self.at :]
            else:
                running = self.event(status)

    def event(self, status: int) -> int:
        """Walk over an event; the status that the next may leave out is returned."""
        if status >> 4 in _DATA_BYTES:
            for _ in range(_DATA_BYTES[status >> 4]):
                if self.byte() > 0x7F:
                    raise self.fault("an event is broken: a data byte is over 127")
            return status
        if status in (0xF0, 0xF7):
            self.skip(self.number_at())
            return 0
        if not status:
            raise self.fault("there are data where an event should begin")
        raise self.fault(f"the byte {status:02X} begins no event of a MIDI file")

    def meta(self) -> int:
        """Walk over a meta event; its kind is returned."""
        place = self.at
        kind = self.byte()
        size = self.number_at()
        start = self.at
        self.skip(size)
        content = self.chunk[start : self.at]
        if kind == _TEMPO and content == b"\0\0\0":
            raise self.fault("the tempo is 0 microseconds a quarter")
        if size != _META_BYTES.get(kind, size) or not _is_sound(kind, content):
            self.chunk[place] = _OTHER
            if kind in _META_NAMES:
                self.notices.append(
                    Notice(
                        f"track {self.number}, tick {self.tick}: a {_META_NAMES[kind]} "
                        "cannot be read",
                        "left out",
                    )
                )
        return kind

    def peek(self) -> int:
        if self.at >= len(self.chunk):
            raise self.fault("the track ends inside an event")
        return self.chunk[self.at]

    def byte(self) -> int:
        value = self.peek()
        self.at += 1
        return value

    def skip(self, size: int) -> None:
        if self.at + size > len(self.chunk):
            raise self.fault("the track ends inside an event")
        self.at += size

    def number_at(self) -> int:
        """A number of variable length, at most four bytes."""
        value = 0
        for _ in range(4):
            byte = self.byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise self.fault("a number is longer than four bytes")

    def fault(self, message: str) -> TuneError:
        return TuneError(f"track {self.number}, tick {self.tick}: {message}", _AGAIN)


def _is_sound(kind: int, content: bytearray) -> bool:
    """False for a time or key signature that cannot be meant."""
    if kind == _METRE:
        return content[0] > 0 and content[1] <= 7
    if kind == _KEY:
        return (content[0] <= 7 or content[0] >= 249) and content[1] <= 1
    return True


def _decode(chunks: list[bytearray], ppq: int) -> tuple[tuple[PlacedEvent, ...], ...]:
    """The messages as mido reads them, each at its absolute tick."""
    out = BytesIO()
    out.write(b"MThd" + (6).to_bytes(4, "big"))
    for number in (1, len(chunks), ppq):
        out.write(number.to_bytes(2, "big"))
    for chunk in chunks:
        out.write(b"MTrk" + len(chunk).to_bytes(4, "big"))
        out.write(chunk)
    out.seek(0)
    try:
        tracks = mido.MidiFile(file=out).tracks
    except Exception as error:
        said = str(error)[:80] or type(error).__name__
        raise TuneError(f"the MIDI file is broken: {said}", _AGAIN) from None
    return tuple(_placed(track) for track in tracks)


def _placed(track: Any) -> tuple[PlacedEvent, ...]:
    tick = 0
    placed: list[PlacedEvent] = []
    for message in track:
        tick += message.time
        placed.append((tick, message))
    return tuple(placed)
