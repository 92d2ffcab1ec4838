"""A performance played by FluidSynth from a player's sound font: stereo blocks.

FluidSynth gets what our MIDI file says, at the nearest of the moments at which it heeds
messages: every 64 frames, so no note is further from its place than 32 of them.
"""

import ctypes
import io
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, redirect_stdout
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from backing.arranging.arrangement import Track
from backing.errors import FileError, reason
from backing.practice.performance import Performance
from backing.render.blocks import Block, Wave
from backing.render.channels import PAN, channel_setup, pan_of
from backing.render.presses import ROLE_ORDER, Seconds, key_presses, ticks
from backing.render.tuning import A4, check_a4

#: FluidSynth makes sound in pieces of so many frames, and looks at messages between them.
_PIECE = 64
_PIECES_A_BLOCK = 128
#: The sample rates that it can make.
LOWEST_RATE, HIGHEST_RATE = 8000, 96000
#: So long may the last notes take to die away, and what is quiet then (amplitude).
_TAIL_SECONDS = 2.0
_QUIET = 1e-5
_SETTINGS: dict[str, Any] = {
    "synth.dynamic-sample-loading": 1,  # only the instruments that are played
    "synth.chorus.active": 0,  # a chorus would put notes out of tune
}
_GAIN = 0.2
_FAILED = -1
_LOG_LEVELS = 5
_INSTALL = (
    "Debian and Ubuntu: sudo apt install libfluidsynth3; macOS: brew install fluid-synth; "
    "Windows: unpack the zip from the FluidSynth project's site and put its bin folder on PATH"
)


#: What FluidSynth is given to say things with: nothing.
_SILENT = ctypes.CFUNCTYPE(None, ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p)(
    lambda level, message, data: None
)


class _Message(NamedTuple):
    """A key that goes up or down at a piece, in the order in which they are sent; with `pan` the
    channel sounds so far left or right as `velocity` says."""

    piece: int
    down: bool
    order: int
    channel: int
    key: int
    velocity: int
    pan: bool = False


def check_sound_font(path: Path, rate: int) -> None:
    """Raise FileError where a sound font cannot be played: ask before any work is done."""
    try:
        with open(path, "rb") as file:
            riff, size, kind = file.read(4), file.read(4), file.read(8)
            room = file.seek(0, 2) - 8
    except OSError as error:
        raise FileError(f"the sound font {path} cannot be read: {reason(error)}") from None
    if riff != b"RIFF" or kind != b"sfbkLIST":
        raise _no_font(path)
    if room < int.from_bytes(size, "little"):
        raise FileError(f"the sound font {path} is cut short", "copy or download it again")
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise FileError(
            f"FluidSynth has no sample rate of {rate}",
            f"give one from {LOWEST_RATE} to {HIGHEST_RATE} Hz, such as 44100 or 48000",
        )
    _fluidsynth()


def font_blocks(
    path: Path, performance: Performance, rate: int, *, a4: float = A4
) -> Iterator[Block]:
    """The performance as blocks of frames at `rate` a second, until all has died away.

    Muted tracks are in `whole` only.  Raises FileError where there is no FluidSynth or no
    sound font in the file, PracticeError where A cannot be at `a4` hertz.
    """
    check_sound_font(path, rate)
    check_a4(a4)
    return _blocks(path, performance, rate, a4)


def _blocks(path: Path, performance: Performance, rate: int, a4: float) -> Iterator[Block]:
    """One synthesiser plays the wanted tracks, another one those that are muted."""
    wanted = [track for track in performance.tracks if not track.muted]
    muted = [track for track in performance.tracks if track.muted] + list(performance.withheld)
    with ExitStack() as stack:
        players = []
        for tracks in (wanted, muted) if muted else (wanted,):
            synth = _Synth(path, rate, tracks, a4)
            stack.callback(synth.close)
            players.append(synth.blocks(_messages(tracks, performance, rate)))
        end = _pieces(performance.seconds, rate)
        last = end + _pieces(_TAIL_SECONDS, rate)
        done = 0
        while done < last:
            waves = [next(player) for player in players]
            whole = waves[0] + waves[1] if muted else waves[0]
            yield Block(waves[0], whole)
            done += _PIECES_A_BLOCK
            if done >= end and np.abs(whole).max() < _QUIET:
                return


def _messages(tracks: Iterable[Track], performance: Performance, rate: int) -> list[_Message]:
    """All keys of some tracks, in the order in which FluidSynth gets them.

    A key is down for one piece at least, lest it never go up.
    """
    seconds = Seconds(performance.tempos, performance.start)
    zero = seconds.at(ticks(performance.start))
    found = []
    for track in tracks:
        order, channel = ROLE_ORDER[track.role], track.channel - 1
        for onset, stop, key, velocity in key_presses(track.events):
            down = _pieces(seconds.at(onset) - zero, rate)
            up = max(_pieces(seconds.at(stop) - zero, rate), down + 1)
            found.append(_Message(down, True, order, channel, key, velocity))
            found.append(_Message(up, False, order, channel, key, 0))
        for at, ears in performance.ears:
            piece = _pieces(seconds.at(ticks(at)) - zero, rate)
            found.append(_Message(piece, False, -1, channel, 0, pan_of(track.role, ears), True))
    return sorted(found)


def _pieces(seconds: float, rate: int) -> int:
    return round(seconds * rate / _PIECE)


class _Synth:
    """A synthesiser with the instruments of some tracks."""

    def __init__(self, path: Path, rate: int, tracks: Iterable[Track], a4: float) -> None:
        library = _fluidsynth()
        self._synth = library.Synth(_GAIN, rate, 16, **_SETTINGS)
        self._write = library.cfunc(
            "fluid_synth_write_float",
            ctypes.c_int,
            *(
                (name, kind, 1)
                for name, kind in (
                    ("synth", ctypes.c_void_p), ("len", ctypes.c_int),
                    ("left", ctypes.c_void_p), ("loff", ctypes.c_int), ("lincr", ctypes.c_int),
                    ("right", ctypes.c_void_p), ("roff", ctypes.c_int), ("rincr", ctypes.c_int),
                )
            ),
        )  # fmt: skip
        if self._synth.sfload(str(path), 1) == _FAILED:
            self.close()
            raise _no_font(path)
        for track in tracks:
            self._set_up(track, a4)

    def _set_up(self, track: Track, a4: float) -> None:
        setup = channel_setup(track, a4)
        if setup.program is not None:
            self._synth.program_change(setup.channel - 1, setup.program - 1)
        for control, value in setup.controls:
            self._synth.cc(setup.channel - 1, control, value)

    def close(self) -> None:
        """Give it back to the library."""
        self._synth.delete()

    def blocks(self, messages: list[_Message]) -> Iterator[Wave]:
        """What it plays, without an end, in blocks of one length."""
        groups = groupby(messages, key=lambda message: message.piece)
        piece, sent = next(groups, (None, iter(())))
        first = 0
        while True:
            block = np.zeros((_PIECES_A_BLOCK * _PIECE, 2), np.float32)
            at = first
            while piece is not None and piece < first + _PIECES_A_BLOCK:
                self._sound(block[(at - first) * _PIECE : (piece - first) * _PIECE])
                self._send(sent)
                at = piece
                piece, sent = next(groups, (None, iter(())))
            self._sound(block[(at - first) * _PIECE :])
            yield block
            first += _PIECES_A_BLOCK

    def _send(self, messages: Iterable[_Message]) -> None:
        for message in messages:
            if message.pan:
                self._synth.cc(message.channel, PAN, message.velocity)
            elif message.down:
                self._synth.noteon(message.channel, message.key, message.velocity)
            else:
                self._synth.noteoff(message.channel, message.key)

    def _sound(self, out: Wave) -> None:
        """Fill some pieces with sound."""
        if len(out):
            place = out.ctypes.data
            self._write(self._synth.synth, len(out), place, 0, 2, place, 1, 2)


def _no_font(path: Path) -> FileError:
    return FileError(
        f"{path} is no sound font",
        "give a file that ends in .sf2 or .sf3; Debian has some: apt install fluid-soundfont-gm",
    )


def _fluidsynth() -> Any:
    """pyfluidsynth with FluidSynth, which shall say nothing itself."""
    try:
        with redirect_stdout(io.StringIO()):
            import fluidsynth
        for level in range(_LOG_LEVELS):
            fluidsynth._fl.fluid_set_log_function(level, _SILENT, None)
    except ModuleNotFoundError:
        raise FileError(
            "a sound font needs pyfluidsynth, which is not installed",
            "pip install pyfluidsynth; and FluidSynth itself. " + _INSTALL,
        ) from None
    except (ImportError, OSError, AttributeError):
        raise FileError("FluidSynth is not installed", _INSTALL) from None
    return fluidsynth
