"""Free reeds of our own: what one key sounds, from its first frame to its last.

A sounding reed is a waveform with as many partials as fit below half the sample rate,
made once for a pitch and strength and gone round as long as the key is held.  Its loop
holds a whole number of periods in a whole number of frames, chosen so that the pitch is
exact to a fifth of a cent.  It speaks softly at first, its upper partials last, and
dies away when the key is let go; so nothing clicks, wherever a note is cut.  Two reeds for
a note are a little apart, and so they beat.
"""

from cmath import rect
from functools import lru_cache
from math import ceil, cos, pi
from typing import Any, NamedTuple, Protocol

import numpy as np

from backing.arranging.arrangement import Role
from backing.render.blocks import Wave
from backing.render.sound_laws import (
    EVEN_DB,
    EVEN_KEY,
    FULL,
    HIGHEST,
    KNOCK_ROOM,
    LEFT_HAND_CENTS,
    STRENGTH_STEP,
)
from backing.render.speaking import Envelope, envelope_of, hurried
from backing.render.timbre import Register, timbres
from backing.render.tuning import A4, TREMOLO

#: A loop has at least so many frames and periods, and less than twice as many: enough to
#: hit any pitch, few enough to stay in a processor's cache.
_FRAMES, _PERIODS = 3000, 8
#: No more frames than this are asked for at once: a loop goes on for so many beyond its
#: end, so that every block is one piece of it.
MOST_FRAMES = 8192
#: A key that is struck again dies away so many times as fast.
_DAMPED = 12


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
    """A reed's loop in full voice, the same as it begins to speak, and what is between them;
    all of one length."""

    full: Wave
    first: Wave
    rest: Wave
    period: int


class ReedSound(Protocol):
    """One key as it sounds: from frame `start` to before frame `end` (None: not yet known).

    A reed starts ahead of its onset, see speaking.py.
    """

    start: int
    end: int | None

    def let_go(self, frame: int) -> None:
        """The key goes up at a frame; the earliest such frame counts."""

    def damp(self, frame: int) -> None:
        """The same key is struck again at a frame."""

    def hurry(self, frame: int, rate: int) -> None:
        """Nothing of it sounds before a frame."""

    def add_to(self, bus: Wave, first: int) -> None:
        """Add what sounds in the frames of `bus` (at most MOST_FRAMES); `first` is the number
        of the first of them."""


class Reed:
    """A reed that speaks: its onset is at a frame, its start before; let go at frame `stop`
    (None: not yet)."""

    __slots__ = (
        "_attack",
        "_fade",
        "_gain",
        "_onset",
        "_release",
        "_tones",
        "end",
        "start",
        "stop",
    )

    def __init__(
        self, tones: tuple[Tone, ...], gain: float, onset: int, envelope: Envelope
    ) -> None:
        self._tones, self._gain, self._onset = tones, np.float32(gain), onset
        self._attack, self._fade, self._release, lead = envelope
        self.start = onset - lead
        self.stop: int | None = None
        self.end: int | None = None

    def let_go(self, frame: int) -> None:
        """The key goes up at a frame; the reed dies away from there."""
        if self.stop is None or frame < self.stop:
            self.stop = max(frame, self.start)
            self.end = self.stop + len(self._release)

    def damp(self, frame: int) -> None:
        """The same key is struck again at a frame: from there the reed dies away faster."""
        self.let_go(frame)
        if self.stop is not None and self.stop <= frame:
            age = frame - self.stop
            rest = self._release[age::_DAMPED]
            self._release = np.concatenate((self._release[:age], rest))
            self.end = self.stop + len(self._release)

    def hurry(self, frame: int, rate: int) -> None:
        """Nothing sounds before a frame; what is late by then comes in at once, softly."""
        late = frame - self.start
        if 0 < late < len(self._attack):
            self._attack = hurried(self._attack, late, rate)

    def add_to(self, bus: Wave, first: int) -> None:
        """Add what sounds in the frames of `bus`, attack, tone and release piece by piece."""
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
            phase = (at - self._onset) % tone.period
            if attacking:
                wave = tone.rest[phase : phase + count] * fade
                wave += tone.first[phase : phase + count]
                wave *= gain
            else:
                wave = tone.full[phase : phase + count] * gain
            out += wave


class Knocking:
    """A knock: it rings on until its own end, however long its key is held."""

    __slots__ = ("_gain", "_wave", "end", "start")

    def __init__(self, wave: Wave, gain: float, start: int) -> None:
        self._wave, self._gain, self.start = wave, np.float32(gain), start
        self.end: int | None = start + len(wave)

    def let_go(self, frame: int) -> None:
        """The key goes up: nothing to hear of that."""

    def damp(self, frame: int) -> None:
        """It is struck again: it rings on."""

    def hurry(self, frame: int, rate: int) -> None:
        """It never sounds before its onset."""

    def add_to(self, bus: Wave, first: int) -> None:
        """Add what sounds in the frames of `bus`."""
        begin, finish = max(self.start, first), min(self.start + len(self._wave), first + len(bus))
        if begin < finish:
            piece = self._wave[begin - self.start : finish - self.start]
            bus[begin - first : finish - first] += self._gain * piece


class Reeds:
    """The reeds of every track at one sample rate and tuning.

    `tremolo` is how far the melody's two reeds are apart, in cents; those of the left hand
    are half as far apart, but no further than 2.5.  0 is dry, and one reed speaks for both.
    """

    def __init__(self, rate: int, a4: float = A4, tremolo: float = TREMOLO) -> None:
        self.rate, self.a4, self.tremolo = rate, a4, tremolo

    def sound(self, role: Role, key: int, velocity: int, onset: int) -> ReedSound:
        """A key whose onset is at a frame; a knock has its own end."""
        if role is Role.CLICK:
            return self._knock(key, velocity, onset)
        register = timbres().registers[role]
        strength = min(127, round(velocity / STRENGTH_STEP) * STRENGTH_STEP)
        frequency = frequency_of(key, self.a4)
        apart = self._apart(role)
        second = -1 if key % 2 and role in (Role.BASS, Role.CHORDS) else 1
        sides = ((-0.5, 0), (0.5, second)) if apart else ((0, 0),)
        tones = tuple(
            _tone(register, frequency * 2 ** (side * apart / 1200), strength, self.rate, reed)
            for side, reed in sides
        )
        level = register.gain - EVEN_DB * (key - EVEN_KEY) / 12
        gain = FULL * loudness_of(velocity) * 10 ** (level / 20) / len(tones) ** 0.5
        return Reed(tones, gain, onset, envelope_of(key, register.release, self.rate))

    def _apart(self, role: Role) -> float:
        """Cents between the two reeds of a key."""
        if role in (Role.MELODY, Role.SECOND):
            return self.tremolo
        return min(self.tremolo / 2, LEFT_HAND_CENTS)

    def button(self, velocity: int, onset: int) -> ReedSound:
        """The soft knock of a button that goes down."""
        gain = FULL * loudness_of(velocity) * 10 ** (timbres().button.gain / 20)
        return Knocking(_button_wave(self.rate), gain, onset)

    def _knock(self, key: int, velocity: int, start: int) -> ReedSound:
        table = timbres()
        wave = _knock_wave(key if key in table.knocks else min(table.knocks), self.rate)
        gain = FULL * loudness_of(velocity) * 10 ** (table.click_gain / 20)
        return Knocking(wave, gain, start)

    def pan(self, role: Role) -> tuple[float, float]:
        """Gains of left and right for a track, of constant power."""
        table = timbres()
        return _sides(table.click_pan if role is Role.CLICK else table.registers[role].pan)


def sides_of(pan: int) -> tuple[float, float]:
    """Gains of left and right for a pan of 0 to 127, of constant power.

    >>> [round(gain, 3) for gain in (*sides_of(0), *sides_of(64), *sides_of(127))]
    [1.0, 0.0, 0.707, 0.707, 0.0, 1.0]
    """
    return _sides((max(pan, 1) - 64) / 63)


def _sides(place: float) -> tuple[float, float]:
    angle = (place + 1) * pi / 4
    return cos(angle), cos(pi / 2 - angle)


@lru_cache(maxsize=512)
def _tone(register: Register, frequency: float, velocity: int, rate: int, reed: int) -> Tone:
    """The loop of a pitch at a strength, of the first reed (0) of a key or the second (1, -1)."""
    period, cycles = _loop(frequency, rate)
    levels = register.levels(frequency, velocity, HIGHEST * rate)
    soft = [level / number for number, level in enumerate(levels, 1)]
    full, first = (_wave(each, period, cycles, reed) for each in (levels, soft))
    return Tone(full, first, full - first, period)


def _loop(frequency: float, rate: int) -> tuple[int, int]:
    """Frames and periods of a loop whose pitch is nearest to a frequency."""
    shortest = max(_FRAMES, ceil(_PERIODS * rate / frequency))
    frames = np.arange(shortest, 2 * shortest)
    periods = frames * (frequency / rate)
    cycles = np.rint(periods)
    best = int(np.argmin(np.abs(cycles / periods - 1)))
    return int(frames[best]), int(cycles[best])


def _wave(levels: list[float], period: int, cycles: int, reed: int) -> Wave:
    """A loop of these partials, of effective value 1; silence where there is none."""
    spectrum = np.zeros(period // 2 + 1, np.complex128)
    for number, level in enumerate(levels, 1):
        spectrum[number * cycles] = rect(level, _phase(number, reed))
    power = sum(level * level for level in levels) / 2
    wave = np.fft.irfft(spectrum, period) * (period / 2 / max(power, 1e-12) ** 0.5)
    return np.resize(wave.astype(np.float32), period + MOST_FRAMES)


def _phase(number: int, reed: int) -> float:
    """Where a partial of the first reed (0) or the second (1, -1) is at the onset.

    Twice its number is a quarter of a period further: partials that two reeds an octave
    apart share never cancel, nor double.  The rest keeps the peaks of a reed low (found by
    trying: 5 to 6 dB above its effective value, in every track).  The second reed's are a
    quarter of a turn ahead or behind, so that a note begins neither loud nor soft, and turn
    and turn about, so that its partials do not beat in step; in the left hand every other key
    is the other way round, so that a chord as a whole neither swells nor fades.
    """
    twos = (number & -number).bit_length() - 1
    odd = number >> twos
    ahead = -1 if number.bit_count() % 2 else 1
    return 2.1 * odd * odd + twos * pi / 2 + reed * ahead * pi / 2


@lru_cache(maxsize=16)
def _knock_wave(key: int, rate: int) -> Wave:
    knock = timbres().knocks[key]
    longest = max(fall for _, _, fall in knock.partials)
    time = np.arange(ceil(longest * KNOCK_ROOM * rate)) / rate
    wave = np.zeros(len(time))
    for hertz, level, fall in knock.partials:
        if hertz < HIGHEST * rate:
            wave += 10 ** (level / 20) * np.exp(-time / fall) * np.sin(2 * pi * hertz * time)
    return wave.astype(np.float32)


@lru_cache(maxsize=4)
def _button_wave(rate: int) -> Wave:
    """Noise in a band, the same each time: its frequencies have the phases of squares times the
    golden ratio, which never fall in step."""
    button = timbres().button
    count = ceil(button.fall * KNOCK_ROOM * rate)
    hertz = np.fft.rfftfreq(count, 1 / rate)
    octaves = np.log2(np.maximum(hertz, 1) / button.hertz)
    band = np.exp(-((2 * octaves / button.octaves) ** 2))
    turns = np.arange(len(hertz)) ** 2 * ((1 + 5**0.5) / 2) % 1
    noise = np.fft.irfft(band * np.exp(2j * pi * turns), count)
    time = np.arange(count) / rate
    rise = np.sin(np.minimum(time / (button.fall / 3), 1) * pi / 2) ** 2
    wave = rise * np.exp(-time / button.fall) * noise
    return np.asarray(wave / np.abs(wave).max(), np.float32)
