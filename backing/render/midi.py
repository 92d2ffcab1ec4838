"""A performance as a Standard MIDI File (SMF 1.0, RP-001).

Format 1: a conductor track (tempo, time signatures with the click on the felt beat, key
signatures, markers, chord symbols), then melody, bass, chords and click.  Format 0 puts
all of it in one track, for simple players.  Texts are UTF-8.

What the signatures of MIDI cannot say stands beside them in words, as text events that a
player may ignore: "key: D dorian", "metre: (2+2+3)/8", "metre: 4/4 felt in 2/2",
"dance: reel".
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from math import gcd
from operator import itemgetter
from struct import pack
from typing import Any

import mido
from mido.midifiles.meta import meta_charset

from backing.arranging.arrangement import MappedBar, Track
from backing.music.key import Key
from backing.music.metre import Metre, parse_metre
from backing.practice.performance import Performance
from backing.render.channels import PAN, channel_setup, pan_of
from backing.render.presses import PPQ, ROLE_ORDER, key_presses, ticks
from backing.render.tuning import A4, check_a4

_CLOCKS_A_WHOLE = 96
_FIRST_SYSTEM = 0xF0
_MAJORS_BY_FIFTHS = (
    "Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#",
)  # fmt: skip
_MINORS_BY_FIFTHS = (
    "Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m",
    "A#m",
)  # fmt: skip

#: What a message says besides its time: type and values, in the order of `_FIELDS`.
MessageFields = tuple[Any, ...]
#: (tick, order within the tick, what is said there)
TimedMessage = tuple[int, int, MessageFields]
_FIELDS = {
    "note_on": ("channel", "note", "velocity"),
    "note_off": ("channel", "note", "velocity"),
    "program_change": ("channel", "program"),
    "control_change": ("channel", "control", "value"),
    "track_name": ("name",),
    "text": ("text",),
    "marker": ("text",),
    "set_tempo": ("tempo",),
    "key_signature": ("key",),
    "time_signature": ("numerator", "denominator", "clocks_per_click"),
    "end_of_track": (),
}
_FIRST, _OFF, _META, _ON = 0, 1, 2, 3


def render_midi(performance: Performance, *, single_track: bool = False, a4: float = A4) -> bytes:
    """The bytes of a MIDI file: format 1, or format 0 with `single_track`.

    Muted tracks are left out.  Tick 0 is the start of the performance.  `a4` is where A
    is, in hertz (400 to 480); raises PracticeError where it cannot be there.
    """
    check_a4(a4)
    conductor = _conductor(performance)
    sounding = [track for track in performance.tracks if not track.muted]
    start = ticks(performance.start)
    end = ticks(performance.stop) - start
    lines = [
        (track.role.value, [*_track(track, start, a4), *_pans(track, performance)])
        for track in sounding
    ]
    if single_track:
        everything = conductor + [placed for _, line in lines for placed in line]
        chunks = [_chunk(performance.title, everything, end)]
    else:
        chunks = [_chunk(performance.title, conductor, end)]
        chunks += [_chunk(name, line, end) for name, line in lines]
    header = b"MThd" + pack(">IHHH", 6, 0 if single_track else 1, len(chunks), PPQ)
    return header + b"".join(chunks)


def _chunk(name: str, placed: list[TimedMessage], end: int) -> bytes:
    """A track: its name first, messages in the order of their ticks, ended at `end`.

    A status byte that repeats is left out (running status); meta events cancel it.
    """
    placed.sort(key=itemgetter(0, 1))
    data = bytearray(_length(0) + _bytes(("track_name", name)))
    at = running = 0
    for tick, _, said in placed:
        message = _bytes(said)
        data += _length(tick - at)
        data += message[1:] if message[0] == running else message
        running = message[0] if message[0] < _FIRST_SYSTEM else 0
        at = tick
    data += _length(max(end - at, 0)) + _bytes(("end_of_track",))
    return b"MTrk" + pack(">I", len(data)) + bytes(data)


@lru_cache(maxsize=65536)
def _bytes(said: MessageFields) -> bytes:
    """A message as mido encodes it, texts in UTF-8.

    Equal messages are encoded once, and joined here: mido's own file writer encodes each
    anew, which took half the time of a whole practice file.
    """
    kind, *values = said
    fields = dict(zip(_FIELDS[kind], values, strict=True))
    maker = mido.Message if "channel" in fields else mido.MetaMessage
    with meta_charset("utf-8"):
        return bytes(maker(kind, **fields).bytes())


@lru_cache(maxsize=4096)
def _length(ticks: int) -> bytes:
    """A variable-length quantity (SMF 1.0): seven bits a byte, the last without its top bit."""
    if ticks < 0:
        raise ValueError(f"{ticks} ticks before the message before it")
    out = [ticks & 0x7F]
    while ticks := ticks >> 7:
        out.insert(0, ticks & 0x7F | 0x80)
    return bytes(out)


def _track(track: Track, start: int, a4: float) -> list[TimedMessage]:
    """A track's notes, and its channel's set-up; tick 0 is `start`."""
    setup = channel_setup(track, a4)
    channel = setup.channel - 1
    placed: list[TimedMessage] = []
    if setup.program is not None:
        placed.append((0, _FIRST, ("program_change", channel, setup.program - 1)))
    for control, value in setup.controls:
        placed.append((0, _FIRST, ("control_change", channel, control, value)))
    order = _ON + ROLE_ORDER[track.role]
    for onset, stop, key, velocity in key_presses(track.events):
        placed.append((onset - start, order, ("note_on", channel, key, velocity)))
        placed.append((stop - start, _OFF, ("note_off", channel, key, 0)))
    return placed


def _pans(track: Track, performance: Performance) -> Iterator[TimedMessage]:
    """Where the track goes to another ear."""
    start = ticks(performance.start)
    for onset, ears in performance.ears:
        said = ("control_change", track.channel - 1, PAN, pan_of(track.role, ears))
        yield ticks(onset) - start, _FIRST, said


def _conductor(performance: Performance) -> list[TimedMessage]:
    """Tempo, metre and key where they change; the title, markers and chord symbols."""
    start = ticks(performance.start)
    placed: list[TimedMessage] = [(0, _FIRST, ("text", performance.title))]
    if performance.dance.strip():
        placed.append((0, _FIRST, ("text", f"dance: {performance.dance}")))
    for tempo in performance.tempos:
        quarters = tempo.tempo.wholes * 4
        microseconds = ticks_round(60_000_000 / quarters)
        placed.append((ticks(tempo.onset) - start, _META, ("set_tempo", microseconds)))
    placed += _metres(performance.bars, start)
    placed += _time_signatures(performance.bars, start)
    placed += _key_signatures(performance.bars, start)
    for kind, texts in (("marker", performance.markers), ("text", performance.chords)):
        for text in texts:
            tick = max(ticks(text.onset) - start, 0)
            placed.append((tick, _META, (kind, text.text)))
    return placed


def ticks_round(number: Fraction) -> int:
    """The nearest whole number, halves up."""
    return (2 * number.numerator + number.denominator) // (2 * number.denominator)


def _time_signatures(bars: tuple[MappedBar, ...], start: int) -> list[TimedMessage]:
    placed: list[TimedMessage] = []
    current: tuple[int, int, int] | None = None
    for onset, length, bar in _metrical(bars):
        signature = time_signature(bar, length)
        if signature != current:
            current = signature
            placed.append((ticks(onset) - start, _META, ("time_signature", *signature)))
    return placed


def _metres(bars: tuple[MappedBar, ...], start: int) -> list[TimedMessage]:
    """The metres in words, each where it changes."""
    placed: list[TimedMessage] = []
    metre = None
    for bar in bars:
        if bar.metre is not metre and bar.metre != metre:
            metre = bar.metre
            text = f"metre: {metre_words(metre)}"
            placed.append((ticks(bar.onset) - start, _META, ("text", text)))
    return placed


def metre_words(metre: Metre) -> str:
    """A metre as it is written, with its feel where that is another than usual.

    >>> metre_words(parse_metre("4/4").with_beats(Fraction(1, 2), Fraction(1, 2)))
    '4/4 felt in 2/2'
    """
    written = metre.written or str(metre)
    return written if parse_metre(written) == metre else f"{written} felt in {metre.feel}"


def _metrical(bars: tuple[MappedBar, ...]) -> Iterable[tuple[Fraction, Fraction, MappedBar]]:
    """Bars as the metre counts them: a short bar and the pickup that completes it are one."""
    index = 0
    while index < len(bars):
        bar = bars[index]
        following = bars[index + 1] if index + 1 < len(bars) else None
        if following and following.begins and bar.room and bar.room == following.length:
            yield bar.onset, bar.length + following.length, bar
            index += 2
        else:
            yield bar.onset, bar.length, bar
            index += 1


def time_signature(bar: MappedBar, length: Fraction) -> tuple[int, int, int]:
    """Numerator, denominator and MIDI clocks a click of a bar that lasts `length`.

    A bar of another length than its metre's has a signature of its own.  The click is
    the felt beat; where beats are uneven, the longest note that divides them all.
    """
    metre = bar.metre
    if not metre.free and length == metre.length:
        return metre.count, metre.unit, _clocks(metre.beats)
    unit = max(metre.unit, length.denominator)
    while unit > 128 or unit & (unit - 1):
        unit = 4 if unit & (unit - 1) else 128
    count = max(1, min(255, ticks_round(length * unit)))
    return count, unit, max(1, min(_clocks(metre.beats), ticks_round(length * _CLOCKS_A_WHOLE)))


def _clocks(beats: tuple[Fraction, ...]) -> int:
    """MIDI clocks (24 a quarter) between clicks."""
    clocks = [ticks_round(beat * _CLOCKS_A_WHOLE) for beat in beats] or [24]
    return max(1, min(255, clocks[0] if len(set(clocks)) == 1 else gcd(*clocks)))


def _key_signatures(bars: tuple[MappedBar, ...], start: int) -> list[TimedMessage]:
    """The keys, each where it changes: in words, and as a signature where that changes."""
    placed: list[TimedMessage] = []
    current, key = "", None
    for bar in bars:
        if bar.key is key or bar.key == key:
            continue
        key = bar.key
        tick = ticks(bar.onset) - start
        placed.append((tick, _META, ("text", f"key: {key_words(key)}")))
        name = key_name(key)
        if name != current:
            placed.append((tick, _META, ("key_signature", name)))
            current = name
    return placed


def key_words(key: Key) -> str:
    """A key as a player names it, in words that ABC understands.

    >>> from backing.music.key import parse_key
    >>> key_words(parse_key("Edor")), key_words(parse_key("none"))
    ('E dorian', 'none')
    """
    return {"none": "none", "pipes": "HP"}.get(key.mode) or str(key)


def key_name(key: Key) -> str:
    """The name of the major or minor key with this signature.

    MIDI knows no modes: the signature is the mode's, major or minor by its third.

    >>> from backing.music.key import parse_key
    >>> key_name(parse_key("Edor")), key_name(parse_key("Dmix"))
    ('Bm', 'G')
    """
    fifths = max(-7, min(7, key.fifths))
    return (_MINORS_BY_FIFTHS if key.minor else _MAJORS_BY_FIFTHS)[fifths + 7]
