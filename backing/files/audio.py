"""Audio files: blocks of sound become a good file on disk.

The sound is put aside first and measured; then its gain is known, and it is written:
at the loudness of other music, with no peak too high after decoding, with titles, whole or
not at all.
"""

from collections.abc import Callable, Iterable, Iterator
from math import inf, pi
from pathlib import Path
from typing import NamedTuple

import numpy as np

from backing.errors import Notice
from backing.files.codecs import AUDIO_SUFFIXES, Codec, check_audio, check_length
from backing.files.encode import decoded_peak, encode
from backing.files.outputs import Writing, written
from backing.files.spool import Spool
from backing.files.tags import Tags, seal_sound
from backing.render.blocks import Block, Wave
from backing.render.levels import (
    CEILING,
    TARGET,
    WINDOW,
    Gain,
    LevelMeter,
    Levels,
    decibels,
    gain_for,
)

__all__ = ["AUDIO_SUFFIXES", "Saved", "Tags", "check_audio", "save_audio"]

#: What is done so far, from 0 to 1.
Progress = Callable[[float], None]

_FADE_SECONDS = 0.005
#: A file that begins or ends above this amplitude is cut there, and fades.
_CUT = 10 ** (-60 / 20)
#: How often a lossy file is written again for a peak that its encoder added.
_ROUNDS = 4
_SPARE = 0.1  # dB
#: Share of the progress that rendering has.
_RENDERING = 0.85
#: Kinds of files that are no good as loops, and why.
_UNEVEN = {
    ".mp3": "have silence added at both ends",
    ".opus": "are least exact at their ends",
}


class Saved(NamedTuple):
    """What was written: LUFS of the whole mix, the highest sample of the file in dBFS as it
    decodes (both minus infinity for silence), what the mix was raised by in dB, how long it
    lasts, and what there is to say."""

    loudness: float
    peak: float
    gain_db: float
    seconds: float
    notices: tuple[Notice, ...]


def save_audio(
    path: Path,
    blocks: Iterable[Block],
    rate: int,
    tags: Tags,
    *,
    frames: int,
    seamless: bool = False,
    replace: bool = False,
    progress: Progress | None = None,
) -> Saved:
    """Write the wanted mix of some blocks as an audio file; its suffix says which kind.

    `frames` is how long the performance lasts; what blocks hold beyond that is its dying
    away.  `seamless` makes a loop of exactly so many frames, the end dying away into the
    beginning.  `replace` allows to replace a file that we did not make, or that was changed
    since.  Raises FileError where it would last more than two hours or cannot be written; then
    an old file is untouched.
    """
    codec = check_audio(path, rate)
    check_length(path, frames / rate, rate)
    tell = progress or (lambda _: None)
    with written(path, replace=replace) as writing, Spool(rate) as spool:
        for block in blocks:
            writing.heed()
            spool.add(block)
            tell(min(spool.frames / max(frames, 1), 1.0) * _RENDERING)
        if seamless:
            spool.fold(frames)
        mix = _Mix(spool, rate, writing.heed, fades=not seamless)
        gain, peak = _write(writing, codec, mix, tags, tell)
        seal_sound(writing.path, codec.suffix)
        tell(1.0)
        return Saved(
            loudness=gain.loudness,
            peak=float(decibels(peak)) if peak else -inf,
            gain_db=float(decibels(gain.factor)),
            seconds=spool.frames / rate,
            notices=tuple(_notices(codec, gain, peak, seamless)),
        )


class _Mix(NamedTuple):
    """What was put aside, at its sample rate; what is called at each block of it; whether it
    fades where it is cut."""

    spool: Spool
    rate: int
    heed: Callable[[], None]
    fades: bool

    def blocks(self) -> Iterator[Block]:
        """All of it, second by second."""
        for block in self.spool.blocks():
            self.heed()
            yield block

    def levels(self) -> Levels:
        """What there is to measure in it."""
        measure = LevelMeter(self.rate)
        for block in self.blocks():
            measure.add(block)
        return measure.levels()

    def wanted(self, gain: Gain) -> Iterator[Wave]:
        """The wanted mix with its gain, as it goes into a file."""
        first, frames = 0, self.spool.frames
        for block in self.blocks():
            wave = block.wanted * gain.over(first, len(block.wanted), self.rate)
            if self.fades and first == 0:
                _fade(wave, self.rate)
            first += len(wave)
            if self.fades and first == frames:
                _fade(wave[::-1], self.rate)
            yield wave


def _fade(wave: Wave, rate: int) -> None:
    """Let sound begin within 5 ms where it does so at once."""
    count = min(round(_FADE_SECONDS * rate), len(wave))
    if np.abs(wave[:1]).max(initial=0) > _CUT:
        rise = np.sin(np.linspace(0, pi / 2, count, endpoint=False)) ** 2
        wave[:count] *= rise[:, np.newaxis].astype(np.float32)


def _write(
    writing: Writing, codec: Codec, mix: _Mix, tags: Tags, tell: Progress
) -> tuple[Gain, float]:
    """Write it, lower again where an encoder made peaks too high; its gain and highest sample."""
    levels = mix.levels()
    ceiling = CEILING - codec.headroom
    for _ in range(_ROUNDS):
        gain = gain_for(levels, ceiling)
        told = _telling(mix.wanted(gain), mix, tell)
        given = encode(writing.path, codec, mix.rate, told, tags)
        peak = given if codec.lossless else decoded_peak(writing.path, writing.heed)
        excess = float(decibels(peak)) - CEILING
        if excess <= 0:
            break
        ceiling = min(ceiling, float(decibels(given))) - excess - _SPARE
    return gain, peak


def _telling(waves: Iterator[Wave], mix: _Mix, tell: Progress) -> Iterator[Wave]:
    """The same waves, while it is told how far they are."""
    done = 0
    for wave in waves:
        yield wave
        done += len(wave)
        tell(_RENDERING + (1 - _RENDERING) * 0.99 * done / mix.spool.frames)


def _notices(codec: Codec, gain: Gain, peak: float, seamless: bool) -> Iterator[Notice]:
    """What is odd about a file."""
    if not peak:
        yield Notice("nothing sounds: the file is silent")
    elif abs(gain.loudness - TARGET) > WINDOW and gain.loudness > -inf:
        yield Notice(
            f"the file is at {gain.loudness:.1f} LUFS, for its peaks stand out so far",
            f"music is mostly near {TARGET:g}: turn it up to play, and down again before other "
            "music",
        )
    if float(decibels(peak)) > CEILING:
        yield Notice(f"a peak of the file is at {decibels(peak):.1f} dBFS")
    if seamless and codec.suffix in _UNEVEN:
        yield Notice(
            f"{codec.suffix} files {_UNEVEN[codec.suffix]}",
            "for a loop without a gap take .flac, .ogg or .wav",
        )
