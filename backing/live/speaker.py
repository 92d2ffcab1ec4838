"""The built-in reeds through the sound card, as a port that takes MIDI messages.

The card asks for frames in blocks, and a block may be ten or twenty milliseconds; a
message is placed at its own frame in it, the same short time after the moment that it was
due.  So the rhythm is exact whatever the size of the blocks.
"""

from collections import deque
from collections.abc import Callable, Generator, Iterable, Sequence
from time import perf_counter, sleep
from typing import Any

import miniaudio
import numpy as np

from backing.arranging.arrangement import CHANNELS, LEVELS, Role, Track
from backing.errors import PortError
from backing.live import wire
from backing.render.mix import Desk
from backing.render.reeds import MOST_FRAMES, Reeds, Sound, Wave

RATE = 48000
_BLOCK_MS = 10
#: Seconds from when a message is due to when the card is given it.
_LATENCY = 0.025
#: How fast the card's own clock is followed, a block.
_FOLLOW = 0.002
#: Without a question from the card for so long, it is gone; then it is looked for so often.
_PATIENCE = 1.0
#: Seconds that the reeds have to die away before the card is closed.
_LAST_BREATH = 0.15
_ROLES = {channel: role for role, channel in CHANNELS.items()}
_NOTE_OFF, _NOTE_ON, _CONTROL = 0x80, 0x90, 0xB0
_VOLUME = 7
_Backend = miniaudio.Backend
#: Every way to a real card; where there is none, nothing is played into the void.
REAL = [each for each in _Backend if each not in (_Backend.NULL, _Backend.CUSTOM)]


class Speaker:
    """Reeds and sound card.  Raises PortError where there is no card."""

    def __init__(
        self,
        reeds: Reeds,
        backends: Sequence[Any] = REAL,
        now: Callable[[], float] = perf_counter,
    ) -> None:
        self._reeds, self._backends, self._now = reeds, list(backends), now
        self._messages: deque[tuple[float, bytes]] = deque()
        self._desks = {role: Desk(reeds, role, LEVELS[role]) for role in Role}
        self._held: dict[tuple[int, int], Sound] = {}
        self._frame = 0
        self._zero = 0.0
        self._asked = self._looked = now()
        self._device = self._open()
        self._start()

    @property
    def name(self) -> str:
        """How the sound gets to the card."""
        return f"the sound card ({self._device.backend})"

    @property
    def gone(self) -> bool:
        """True while the card asks for no sound; it is looked for now and then."""
        now = self._now()
        if now - self._asked < _PATIENCE:
            return False
        if now - self._looked >= _PATIENCE:
            self._looked = now
            self._revive()
        return True

    def send(self, message: bytes, due: float) -> None:
        """Sound a message, a little after it is due."""
        self._messages.append((due, message))

    def warm(self, tracks: Iterable[Track]) -> None:
        """Make the waves that these tracks need, before they are needed."""
        for track in tracks:
            for key, velocity in {(k, e.velocity) for e in track.events for k in e.pitches}:
                self._reeds.sound(track.role, key, velocity, 0)

    def close(self) -> None:
        """Let what sounds die away, then let go of the card."""
        if self._device.running:
            sleep(_LAST_BREATH)
        self._device.close()

    def _open(self) -> Any:
        try:
            return miniaudio.PlaybackDevice(
                output_format=miniaudio.SampleFormat.FLOAT32,
                nchannels=2,
                sample_rate=RATE,
                buffersize_msec=_BLOCK_MS,
                backends=self._backends,
                app_name="backing",
            )
        except miniaudio.MiniaudioError as error:
            raise PortError(
                "there is no sound card that can be played through",
                "connect loudspeaker or headphones; or play through a synthesiser, --port NAME "
                "('backing ports' lists them); or make an audio file, backing make -o tune.ogg",
            ) from error

    def _start(self) -> None:
        frames = self._frames()
        next(frames)
        self._asked = self._now()
        self._zero = self._asked - self._frame / RATE
        self._device.start(frames)

    def _revive(self) -> None:
        try:
            device = self._open()
        except PortError:
            return
        self._device.close()
        self._device = device
        self._messages.clear()
        self._start()

    def _frames(self) -> Generator[Wave | bytes, int, None]:
        """The sound itself, as many frames as the card asks for each time."""
        wanted = yield b""
        while True:
            self._asked = self._now()
            self._zero += _FOLLOW * (self._asked - self._frame / RATE - self._zero)
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
            frame = round((due + _LATENCY - self._zero) * RATE)
            if frame >= first + count:
                break
            self._messages.popleft()
            self._hear(message, max(frame, first))
        mix = np.zeros((count, 2), np.float32)
        for desk in self._desks.values():
            if desk.sounding:
                desk.add_to([mix], first)
        self._frame += count
        return np.clip(mix, -1, 1, out=mix)

    def _hear(self, message: bytes, frame: int) -> None:
        """Do what a message says at a frame: notes, volume, and all notes off."""
        status, channel = message[0] & 0xF0, (message[0] & 0x0F) + 1
        role = _ROLES.get(channel)
        if role is None or status not in (_NOTE_OFF, _NOTE_ON, _CONTROL):
            return
        number, value = message[1], message[2]
        if status == _CONTROL:
            if number == _VOLUME:
                self._desks[role].set_level(value)
            elif number in (wire.ALL_NOTES_OFF, wire.ALL_SOUND_OFF):
                for place in [place for place in self._held if place[0] == channel]:
                    self._held.pop(place).let_go(frame)
            return
        held = self._held.pop((channel, number), None)
        if held is not None and role is not Role.CLICK:
            held.let_go(frame)
        if status == _NOTE_ON and value:
            self._held[channel, number] = self._desks[role].press(number, value, frame)
