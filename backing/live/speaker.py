"""The built-in reeds through the sound card, as a port that takes MIDI messages.

The card asks for frames in blocks, and a block may be ten or twenty milliseconds; a
message is placed at its own frame in it, the same short time after the moment that it was
due.  So the rhythm is exact whatever the size of the blocks.  That time is long enough for
slow reeds to speak ahead of their onsets.  A key that is struck again needs no lift: what
sounded of it is damped within four milliseconds, and the new tone takes longer to rise, so
that a dip is heard between.
"""

from collections import deque
from collections.abc import Callable, Generator, Iterable, Sequence
from contextlib import suppress
from time import perf_counter, sleep
from typing import Any

import miniaudio
import numpy as np

from backing.arranging.arrangement import CHANNELS, LEVELS, Role, Track
from backing.errors import PortError
from backing.live import wire
from backing.live.native import hushed
from backing.render.blocks import Wave
from backing.render.breath import Pressure
from backing.render.channels import PAN, VOLUME
from backing.render.mix import Desk
from backing.render.reeds import MOST_FRAMES, Reeds, ReedSound
from backing.render.sound_laws import BREATH_SECONDS
from backing.render.speaking import longest_lead

RATE = 48000
_BLOCK_MS = 10
#: Seconds from when a message is due to the frame in which the slowest reed begins to speak: at
#: least so many, and some more than the card asks ahead, up to the most.
_LATENCY, _MARGIN, _MOST_LATENCY = 0.025, 0.005, 0.1
#: How fast the card's own clock is followed, a block, once it is known; the first blocks
#: count more.  Where it is off by so many seconds, the card has stumbled, and begins anew.
_FOLLOW, _STUMBLE = 0.002, 0.05
#: Frames that the slowest reed speaks ahead of its onset.
_LEAD = longest_lead(RATE)
#: Frames of the curve of pressure.
_CYCLE = round(BREATH_SECONDS * RATE)
#: Without a question from the card for so long, it is gone; then it is looked for so often.
_PATIENCE = 1.0
#: Seconds that the reeds have to die away before the card is closed.
_LAST_BREATH = 0.15
_ROLES = {channel: role for role, channel in CHANNELS.items()}
_NOTE_OFF, _NOTE_ON, _CONTROL = 0x80, 0x90, 0xB0
_Backend = miniaudio.Backend
#: Every way to a real card; where there is none, nothing is played into the void.
REAL = [each for each in _Backend if each not in (_Backend.NULL, _Backend.CUSTOM)]


class Speaker:
    """Reeds and sound card.  Raises PortError where there is no card."""

    def __init__(
        self,
        reeds: Reeds,
        tracks: Iterable[Track] = (),
        backends: Sequence[Any] = REAL,
        now: Callable[[], float] = perf_counter,
    ) -> None:
        self._reeds, self._backends, self._now = reeds, list(backends), now
        self._frame = 0
        self._zero = 0.0
        self._latency = _LATENCY
        self._closed = False
        self._clear()
        self._warm(tracks)
        self._asked = self._looked = now()
        self._device = self._open()

    @property
    def name(self) -> str:
        """How the sound gets to the card."""
        return f"the sound card ({self._device.backend})"

    @property
    def gone(self) -> bool:
        """True while the card asks for no sound; it is looked for now and then."""
        if self._asks:
            return False
        if not self._closed and self._now() - self._looked >= _PATIENCE:
            self._looked = self._now()
            self._revive()
        return True

    @property
    def _asks(self) -> bool:
        return not self._closed and self._now() - self._asked < _PATIENCE

    def send(self, message: bytes, due: float) -> None:
        """Sound a message, a little after it is due."""
        self._messages.append((due, message))

    def breathe(self, due: float) -> None:
        """Let the pressure dip, up to where the notes that are due at the same moment begin."""
        self._breaths.append(due)

    def end(self, messages: Sequence[bytes], due: float) -> None:
        """Sound the messages that end everything."""
        for message in messages:
            self.send(message, due)

    def close(self) -> None:
        """Let what sounds die away, then let go of the card; a second time does nothing."""
        if self._asks:
            sleep(self._latency + _LEAD / RATE + _LAST_BREATH)
        self._closed = True
        self._device.close()

    def _clear(self) -> None:
        """Nothing sounds, and nothing is to."""
        self._messages: deque[tuple[float, bytes]] = deque()
        self._breaths: deque[float] = deque()
        self._pressure = Pressure(RATE, _CYCLE)
        self._desks = {role: Desk(self._reeds, role, LEVELS[role]) for role in Role}
        self._held: dict[tuple[int, int], ReedSound] = {}

    def _warm(self, tracks: Iterable[Track]) -> None:
        """Make the waves that these tracks need, before they are needed."""
        self._reeds.button(127, 0)
        self._pressure.over(0, 1)
        for track in tracks:
            for key, velocity in {(k, e.velocity) for e in track.events for k in e.pitches}:
                self._reeds.sound(track.role, key, velocity, 0)

    def _open(self) -> Any:
        """The card, which asks for sound from now on."""
        frames = self._frames()
        next(frames)
        with hushed():
            for backend in self._backends:
                with suppress(miniaudio.MiniaudioError):
                    device = _card(backend)
                    device.start(frames)
                    return device
        raise PortError(
            "there is no sound card that can be played through",
            "connect loudspeaker or headphones; or play through a synthesiser, --port NAME "
            "('backing ports' lists them); or make an audio file, backing make -o tune.ogg",
        )

    def _revive(self) -> None:
        """Look for the card anew: one that is still held may not be opened again."""
        self._device.close()
        self._clear()
        with suppress(PortError):
            self._device = self._open()

    def _frames(self) -> Generator[Wave | bytes, int, None]:
        """The sound itself, as many frames as the card asks for each time."""
        wanted = yield b""
        asks = 0
        while True:
            self._asked = self._now()
            off = self._asked - self._frame / RATE - self._zero
            asks = 1 if asks == 0 or abs(off) > _STUMBLE else asks + 1
            self._zero += off * max(_FOLLOW, 1 / asks)
            ahead = (self._frame + wanted) / RATE + self._zero - self._asked
            self._latency = max(self._latency, min(ahead + _MARGIN, _MOST_LATENCY))
            blocks = []
            while wanted > 0:
                count = min(wanted, MOST_FRAMES)
                blocks.append(self._block(count))
                wanted -= count
            wanted = yield blocks[0] if len(blocks) == 1 else np.concatenate(blocks)

    def _block(self, count: int) -> Wave:
        first = self._frame
        while self._messages:
            due, message = self._messages[0]
            frame = self._frame_of(due)
            if frame - _LEAD >= first + count:
                break
            self._messages.popleft()
            self._hear(message, max(frame, first))
        mix = np.zeros((count, 2), np.float32)
        while self._breaths:
            frame = self._frame_of(self._breaths[0])
            if frame - self._pressure.lead >= first + count:
                break
            self._breaths.popleft()
            self._pressure.breathe(frame, first)
        factors = self._pressure.over(first, count)
        for desk in self._desks.values():
            if desk.sounding:
                desk.add_to([mix], first, factors)
        self._frame += count
        return np.clip(mix, -1, 1, out=mix)

    def _frame_of(self, due: float) -> int:
        """The frame in which a note begins whose message is due at a moment."""
        return round((due + self._latency - self._zero) * RATE) + _LEAD

    def _hear(self, message: bytes, frame: int) -> None:
        """Do what a message says at a frame: notes, volume, and all notes off."""
        status, channel = message[0] & 0xF0, (message[0] & 0x0F) + 1
        role = _ROLES.get(channel)
        if role is None or status not in (_NOTE_OFF, _NOTE_ON, _CONTROL):
            return
        number, value = message[1], message[2]
        if status == _CONTROL:
            if number == VOLUME:
                self._desks[role].set_level(value)
            elif number == PAN:
                self._desks[role].set_pan(value)
            elif number in (wire.ALL_NOTES_OFF, wire.ALL_SOUND_OFF):
                for place in [place for place in self._held if place[0] == channel]:
                    self._held.pop(place).let_go(frame)
            return
        held = self._held.pop((channel, number), None)
        if held is not None and role is not Role.CLICK:
            held.let_go(frame)
        if status == _NOTE_ON and value:
            self._held[channel, number] = self._desks[role].press(number, value, frame, self._frame)


def _card(backend: Any) -> Any:
    """The card that one way leads to.  Of several ways at once the library tries only the
    first that this computer has, with a card or without."""
    return miniaudio.PlaybackDevice(
        output_format=miniaudio.SampleFormat.FLOAT32,
        nchannels=2,
        sample_rate=RATE,
        buffersize_msec=_BLOCK_MS,
        backends=[backend],
        app_name="backing",
    )
