"""One audio file written block by block, and read again to see what became of it."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import numpy.typing as npt
from mutagen import MutagenError

from backing.files.codecs import Codec, libsndfile
from backing.files.tags import Tags, write_info, write_tags
from backing.render.blocks import Wave

_FULL = 32768  # of 16 bits
#: Frames written at once: libsndfile's Vorbis encoder keeps all it is given on its stack.
_AT_ONCE = 8192
_SEED = 0  # the same sound is the same file
_NOISE = 8 * _AT_ONCE  # frames of noise, taken from another place each time


def encode(path: Path, codec: Codec, rate: int, blocks: Iterator[Wave], tags: Tags) -> float:
    """Write stereo blocks as an audio file; the highest sample that went into it.

    Raises OSError where it cannot be written.
    """
    kind, how = libsndfile().SoundFile, {"format": codec.format, **codec.how}
    highest, frames = 0.0, 0
    dither = _Dither()
    with _faults(), kind(str(path), "w", rate, 2, codec.subtype, **how) as sound:
        if codec.format == "WAV":
            write_info(sound, tags)
        for block in blocks:
            for first in range(0, len(block), _AT_ONCE):
                piece = block[first : first + _AT_ONCE]
                given = dither.sixteen_bits(piece) if codec.lossless else piece
                sound.write(given)
                highest = max(highest, float(given.max()), -float(given.min()))
            frames += len(block)
    with _faults():
        if libsndfile().info(str(path)).frames != frames:
            raise MutagenError("it is cut short")
        write_tags(path, codec.suffix, tags)
    return highest / _FULL if codec.lossless else highest


def decoded_peak(path: Path, heed: Callable[[], None]) -> float:
    """The highest sample of an audio file as a player decodes it; `heed` is called often."""
    highest = 0.0
    with _faults(), libsndfile().SoundFile(str(path)) as sound:
        sound.seekable = lambda: False  # soundfile seeks after each block, which MP3 is bad at
        while len(block := sound.read(_AT_ONCE, dtype="float32")):
            heed()
            highest = max(highest, float(np.abs(block).max()))
    return highest


class _Dither:
    """Triangular noise of one step to either side, which makes rounding inaudible."""

    def __init__(self) -> None:
        self._chance = np.random.default_rng(_SEED)
        one, other = self._chance.random((2, _NOISE, 2), np.float32)
        self._noise = one - other

    def sixteen_bits(self, block: Wave) -> npt.NDArray[np.int16]:
        """Samples of 16 bits; silence stays silent."""
        start = int(self._chance.integers(_NOISE - len(block)))
        levels = block * np.float32(_FULL)
        levels += self._noise[start : start + len(block)]
        silent = block == 0
        if silent.any():
            levels[silent] = 0
        np.rint(levels, out=levels)
        np.clip(levels, -_FULL, _FULL - 1, out=levels)
        return levels.astype(np.int16)


@contextmanager
def _faults() -> Iterator[None]:
    """What the libraries say of a file that cannot be written, as an OSError.

    soundfile asserts that libsndfile took all frames: it does not where a disk is full.
    """
    library = libsndfile()
    try:
        yield
    except (library.LibsndfileError, MutagenError, AssertionError) as error:
        said = getattr(error, "error_string", str(error)).strip(" .") or "it is cut short"
        raise OSError(f"{said} (is the disk full?)") from None
