"""What a MIDI file says: lines of notes, and what stands above them."""

import re
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from backing.errors import Notice
from backing.music.key import Key
from backing.parse.midi.safe import MidiData, PlacedEvent

PERCUSSION = 9
_MOST_TEXT = 200
_TOLD = re.compile(r"(key|metre|dance): (.+)")


class HeldKey(NamedTuple):
    """A key held down: first and last tick, MIDI key number, velocity."""

    start: int
    stop: int
    key: int
    velocity: int


@dataclass(frozen=True, slots=True, eq=False)
class ChannelLine:
    """The notes of one channel of one track; both count from 1.  `name` is the track's."""

    track: int
    channel: int
    name: str
    presses: tuple[HeldKey, ...]


class MetreEvent(NamedTuple):
    """A time signature; `clocks` are MIDI clocks (24 a quarter) between clicks."""

    tick: int
    upper: int
    lower: int
    clocks: int


class KeyEvent(NamedTuple):
    """A key signature."""

    tick: int
    key: Key


class TextEvent(NamedTuple):
    """A text, or a marker, at its tick."""

    tick: int
    text: str


class ToldEvent(NamedTuple):
    """A text like "key: D dorian": at its tick, of what, and what it says of it."""

    tick: int
    what: str
    text: str


@dataclass(slots=True)
class Said:
    """What stands above the notes, each in the order of ticks; tempi are microseconds.

    `told` are texts in the words of our own files; `texts` are the others, but for the
    title.
    """

    title: str = ""
    tempos: list[tuple[int, int]] = field(default_factory=list)
    metres: list[MetreEvent] = field(default_factory=list)
    keys: list[KeyEvent] = field(default_factory=list)
    texts: list[TextEvent] = field(default_factory=list)
    markers: list[TextEvent] = field(default_factory=list)
    told: list[ToldEvent] = field(default_factory=list)
    end: int = 0


def read_lines(data: MidiData) -> tuple[list[ChannelLine], list[Notice]]:
    """Every line that has notes, in the order of tracks and channels."""
    lines: list[ChannelLine] = []
    notices: list[Notice] = []
    for number, track in enumerate(data.tracks, 1):
        name = next((tidy(m.name) for _, m in track if m.type == "track_name"), "")
        presses, unended = _presses(track)
        for channel, found in sorted(presses.items()):
            found.sort()
            lines.append(ChannelLine(number, channel + 1, name, tuple(found)))
        if unended:
            many = "1 note is" if unended == 1 else f"{unended} notes are"
            notices.append(
                Notice(f"track {number}: {many} never ended", "held to the end of the track")
            )
    return lines, notices


def _presses(track: Iterable[PlacedEvent]) -> tuple[dict[int, list[HeldKey]], int]:
    """The presses of each channel, and how many were never ended.

    A key struck again while it is down: where it has as many ends as beginnings, the first
    end belongs to the first beginning, else the new beginning ends the press before.
    """
    keys: dict[tuple[int, int], list[tuple[int, int]]] = {}
    tick = 0
    for tick, message in track:
        if message.type in ("note_on", "note_off"):
            velocity = message.velocity if message.type == "note_on" else 0
            keys.setdefault((message.channel, message.note), []).append((tick, velocity))
    found: dict[int, list[HeldKey]] = {}
    unended = 0
    for (channel, key), events in keys.items():
        pressed, left = _paired(key, events, tick)
        unended += left
        if pressed:
            found.setdefault(channel, []).extend(pressed)
    return found, unended


def _paired(key: int, events: list[tuple[int, int]], end: int) -> tuple[list[HeldKey], int]:
    """The presses of one key from (tick, velocity) pairs, velocity 0 for its end; how many
    were held to the end."""
    struck = sum(1 for _, velocity in events if velocity)
    balanced = 2 * struck == len(events)
    found: list[HeldKey] = []
    down: deque[tuple[int, int]] = deque()
    for tick, velocity in events:
        if down and not (velocity and balanced):
            start, loudness = down.popleft()
            found.append(HeldKey(start, max(tick, start + 1), key, loudness))
        if velocity:
            down.append((tick, velocity))
    found += [HeldKey(start, max(end, start + 1), key, loudness) for start, loudness in down]
    return found, len(down)


def read_said(data: MidiData) -> Said:
    """Title, tempi, signatures, texts and markers of all tracks."""
    said = Said()
    for track in data.tracks:
        for tick, message in track:
            if message.is_meta:
                _take(said, tick, message)
            said.end = max(said.end, tick)
    rows: tuple[list[Any], ...] = (
        said.tempos, said.metres, said.keys, said.texts, said.markers,
    )  # fmt: skip
    for events in rows:
        events.sort(key=_tick_of)
    said.title = _title(data, said)
    if said.texts and said.texts[0] == (0, said.title):
        del said.texts[0]
    said.told = [told for event in said.texts if (told := _told(event))]
    said.texts = [event for event in said.texts if not _told(event)]
    return said


def _told(event: TextEvent) -> ToldEvent | None:
    match = _TOLD.fullmatch(event.text)
    return ToldEvent(event.tick, match[1], match[2]) if match else None


def _tick_of(event: tuple[Any, ...]) -> int:
    return int(event[0])


def _take(said: Said, tick: int, message: Any) -> None:
    kind = message.type
    if kind == "set_tempo":
        said.tempos.append((tick, message.tempo))
    elif kind == "time_signature":
        said.metres.append(
            MetreEvent(
                tick,
                message.numerator,
                message.denominator,
                message.clocks_per_click,
            )
        )
    elif kind == "key_signature":
        said.keys.append(KeyEvent(tick, _key(message.key)))
    elif kind in ("text", "marker", "cue_marker"):
        events = said.texts if kind == "text" else said.markers
        events.append(TextEvent(tick, tidy(message.text)))


def _key(name: str) -> Key:
    """A key from mido's name for it, like "Bb" or "F#m"."""
    minor = name.endswith("m")
    alter = {"#": 1, "b": -1}.get(name[1:2], 0)
    return Key(name[0], alter, "minor" if minor else "major")


def _title(data: MidiData, said: Said) -> str:
    """The conductor track's name, else the first text at the start."""
    first = data.tracks[0]
    name = next((tidy(m.name) for _, m in first if m.type == "track_name"), "")
    plays = any(message.type == "note_on" for _, message in first)
    if name and (not plays or len(data.tracks) == 1):
        return name
    texts = (event.text for event in said.texts if event.tick == 0 and not _told(event))
    return next(filter(None, texts), "")


def tidy(text: str) -> str:
    """A text as it was meant: UTF-8 where it can be, blanks and controls tidied.

    >>> tidy("Caf\\xc3\\xa9  waltz"), tidy("Caf\\xe9")
    ('Café waltz', 'Café')
    """
    raw = text.encode("latin-1", errors="replace")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    shown = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(shown.split())[:_MOST_TEXT]
