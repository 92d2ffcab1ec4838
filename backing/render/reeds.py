"""Free reeds of our own: what one key sounds, from its first frame to its last.

A sounding reed is a waveform with as many partials as fit below half the sample rate,
made once for a pitch and strength and gone round as long as the key is held.  Its loop
holds a whole number of periods in a whole number of frames, chosen so that the pitch is
exact to a hundredth of a cent.  It speaks softly at first, its upper partials last, and
dies away when the key is let go; so nothing clicks, wherever a note is cut.
"""

from functools import lru_cache
from math import ceil, cos, pi
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from backing.arranging.arrangement import Role
from backing.render.timbre import Register, timbres

Wave = npt.NDArray[np.float32]

A4 = 440.0
MOST_TREMOLO = 30.0
#: Frames of a loop: enough to hit any pitch, few enough to stay in a processor's cache.
_SHORTEST, _LONGEST = 3000, 6000
#: Partials stop below this share of the sample rate.
_HIGHEST = 0.46
#: Strengths that sound different: a loop is made for each of them.
_STRENGTH_STEP = 8
#: No more frames than this are asked for at once: a loop goes on for so many beyond its
#: end, so that every block is one piece of it.
MOST_FRAMES = 8192
#: The partials take this many times as long to come in as the tone.
_SLOW_PARTIALS = 2.5
#: Amplitude of a key at full velocity and channel volume, before loudness is set.
_FULL = 0.25
_KNOCK_ROOM = 8  # a knock lasts until e ** -8 of it is left


def frequency_of(key: int, a4: float = A4) -> float:
    """Hertz of a MIDI key number in equal temperament.

    >>> round(frequency_of(60), 3), frequency_of(69, 442.0)
    (261.626, 442.0)
    """
    return a4 * 2 ** ((key - 69) / 12)


def loudness_of(value: int) -> float:
    """Amplitude of a MIDI velocity or volume, as General MIDI recommends: its square.

    Source: General MIDI Level 2, 40 log10(value / 127) dB for channel volume.
    """
    return (value / 127) ** 2


class Tone(NamedTuple):
    """A reed's loop in full voice, and the same as it begins to speak; both of one length."""

    full: Wave
    first: Wave
    period: int


class Sound:
    """One key as it sounds: from frame `start`; let go at frame `stop` (None: not yet).

    `add_to` adds what of it falls into a stretch of frames.
    """

    __slots__ = ("_attack", "_fade", "_gain", "_release", "_tones", "end", "start", "stop")

    def __init__(
        self, tones: tuple[Tone, ...], gain: float, start: int, envelope: "Envelope"
    ) -> None:
        self._tones, self._gain, self.start = tones, np.float32(gain), start
        self._attack, self._fade, self._release = envelope
        self.stop: int | None = None
        self.end: int | None = None

    def let_go(self, frame: int) -> None:
        """The key goes up at a frame; the reed dies away from there."""
        self.stop = max(frame, self.start)
        self.end = self.stop + len(self._release)

    def add_to(self, bus: Wave, first: int) -> None:
        """Add what sounds in the frames of `bus` (at most MOST_FRAMES); `first` is the number
        of the first of them."""
        begin = max(self.start, first)
        finish = first + len(bus) if self.end is None else min(self.end, first + len(bus))
        at = begin
        while at < finish:
            upto = finish
            if self.start <= at < self.start + len(self._attack):
                upto = min(upto, self.start + len(self._attack))
            if self.stop is not None and at < self.stop:
                upto = min(upto, self.stop)
            self._piece(bus[at - first : upto - first], at)
            at = upto

    def _piece(self, out: Wave, at: int) -> None:
        """A piece within which the sound is all attack or none, all release or none."""
        age, count = at - self.start, len(out)
        attacking = age < len(self._attack)
        gain: Any = self._gain
        if attacking:
            gain = gain * self._attack[age : age + count]
            fade = self._fade[age : age + count]
        if self.stop is not None and at >= self.stop:
            gain = gain * self._release[at - self.stop :][:count]
        for tone in self._tones:
            phase = age % tone.period
            wave = tone.full[phase : phase + count]
            if attacking:
                wave = wave * fade + tone.first[phase : phase + count] * (1 - fade)
            out += gain * wave


class Envelope(NamedTuple):
    """How a reed comes and goes, frame by frame: its rise, how its partials come in along
    the same frames, and its fall."""

    attack: Wave
    fade: Wave
    release: Wave


class Reeds:
    """The reeds of every track at one sample rate and tuning.

    `tremolo` is how far the melody's two reeds are apart, in cents; 0 is dry, and one
    reed speaks for both.
    """

    def __init__(self, rate: int, a4: float = A4, tremolo: float = 0.0) -> None:
        self.rate, self.a4, self.tremolo = rate, a4, tremolo

    def sound(self, role: Role, key: int, velocity: int, start: int) -> Sound:
        """A key pressed at a frame; a knock has its own end."""
        if role is Role.CLICK:
            return self._knock(key, velocity, start)
        register = timbres().registers[role]
        strength = min(127, round(velocity / _STRENGTH_STEP) * _STRENGTH_STEP)
        frequency = frequency_of(key, self.a4)
        apart = self.tremolo if role in (Role.MELODY, Role.SECOND) else 0.0
        pitches = [frequency]
        if apart:
            pitches = [frequency * 2 ** (cents / 1200) for cents in (-apart / 2, apart / 2)]
        tones = tuple(_tone(register, pitch, strength, self.rate) for pitch in pitches)
        gain = _FULL * loudness_of(velocity) * 10 ** (register.gain / 20) / len(tones) ** 0.5
        return Sound(tones, gain, start, _envelope(register, self.rate))

    def _knock(self, key: int, velocity: int, start: int) -> Sound:
        table = timbres()
        wave = _knock_wave(key if key in table.knocks else min(table.knocks), self.rate)
        gain = _FULL * loudness_of(velocity) * 10 ** (table.click_gain / 20)
        still = np.zeros(0, np.float32)
        envelope = Envelope(still, still, np.zeros(0, np.float32))
        sound = Sound((Tone(wave, wave, len(wave)),), gain, start, envelope)
        sound.let_go(start + len(wave))
        return sound

    def pan(self, role: Role) -> tuple[float, float]:
        """Gains of left and right for a track, of constant power."""
        table = timbres()
        place = table.click_pan if role is Role.CLICK else table.registers[role].pan
        angle = (place + 1) * pi / 4
        return cos(angle), cos(pi / 2 - angle)


@lru_cache(maxsize=1024)
def _tone(register: Register, frequency: float, velocity: int, rate: int) -> Tone:
    """The loop of a pitch at a strength."""
    period, cycles = _loop(frequency, rate)
    levels = register.levels(frequency, velocity, _HIGHEST * rate)
    soft = [level / number for number, level in enumerate(levels, 1)]
    full, first = (_wave(each, period, cycles) for each in (levels, soft))
    return Tone(full, first, period)


def _loop(frequency: float, rate: int) -> tuple[int, int]:
    """Frames and periods of a loop whose pitch is nearest to a frequency."""
    frames = np.arange(_SHORTEST, _LONGEST, 2)
    periods = frames * (frequency / rate)
    cycles = np.maximum(np.rint(periods), 1)
    best = int(np.argmin(np.abs(cycles / periods - 1)))
    return int(frames[best]), int(cycles[best])


def _wave(levels: list[float], period: int, cycles: int) -> Wave:
    """A loop of these partials, as loud as a sine of effective value 1.

    The phases are those of Schroeder (1970), which keep its peaks low.
    """
    spectrum = np.zeros(period // 2 + 1, np.complex128)
    for number, level in enumerate(levels, 1):
        phase = pi * number * (number - 1) / len(levels)
        spectrum[number * cycles] = level * np.exp(-1j * (phase + pi / 2))
    power = sum(level * level for level in levels) / 2
    wave = np.fft.irfft(spectrum, period) * (period / 2 / power**0.5)
    return np.resize(wave.astype(np.float32), period + MOST_FRAMES)


@lru_cache(maxsize=64)
def _envelope(register: Register, rate: int) -> Envelope:
    length = ceil(register.attack * rate * _SLOW_PARTIALS)
    time = np.arange(length) / rate
    rise = np.sin(np.minimum(time / register.attack, 1) * pi / 2) ** 2
    fade = np.sin(time / (length / rate) * pi / 2) ** 2
    fall = np.cos(np.linspace(0, pi / 2, ceil(register.release * rate))) ** 2
    return Envelope(*(each.astype(np.float32) for each in (rise, fade, fall)))


@lru_cache(maxsize=16)
def _knock_wave(key: int, rate: int) -> Wave:
    knock = timbres().knocks[key]
    longest = max(fall for _, _, fall in knock.partials)
    time = np.arange(ceil(longest * _KNOCK_ROOM * rate)) / rate
    wave = np.zeros(len(time))
    for hertz, level, fall in knock.partials:
        if hertz < _HIGHEST * rate:
            wave += 10 ** (level / 20) * np.exp(-time / fall) * np.sin(2 * pi * hertz * time)
    return wave.astype(np.float32)
