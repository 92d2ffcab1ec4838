"""The kinds of audio files: how each is written, and at which sample rates."""

from pathlib import Path
from typing import Any, NamedTuple

from backing.errors import FileError
from backing.wording import either

LOWEST_RATE, HIGHEST_RATE = 8000, 192000
_MP3_RATES = (8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000)
#: More than this is no practice file.
MOST_SECONDS = 2 * 3600
#: Bytes of a frame of two sides in 16 bits, and what a WAV file can hold beside its header.
_WAV_FRAME, _MOST_WAV = 4, 2**32 - 2**16
_OPUS_RATES = (8000, 12000, 16000, 24000, 48000)


class Codec(NamedTuple):
    """A kind of file: its suffix, the names that libsndfile has for it, and the rates that
    it knows (none named: any from 8 to 192 kHz).

    `headroom` is what an encoder may add to a peak, in dB; 0: the file holds the very
    samples.  `how` is what soundfile is told besides.
    """

    suffix: str
    format: str
    subtype: str
    rates: tuple[int, ...] = ()
    headroom: float = 0.0
    how: dict[str, Any] = {}  # noqa: RUF012 - nobody writes into it

    @property
    def lossless(self) -> bool:
        """Whether the file holds the very samples."""
        return not self.headroom


#: 16 bits, also for FLAC: 24 make the file twice as large, and what they add lies below
#: -98 dBFS, which no phone and no practice room lets through.  The others at about 190
#: kilobits a second (Opus at 160), where reeds are told from the original by nobody.
CODECS = {
    codec.suffix: codec
    for codec in (
        Codec(".wav", "WAV", "PCM_16"),
        Codec(".flac", "FLAC", "PCM_16"),
        Codec(".ogg", "OGG", "VORBIS", (), 0.3, {"compression_level": 0.4}),
        Codec(".opus", "OGG", "OPUS", _OPUS_RATES, 0.3, {"compression_level": 0.7}),
        Codec(
            ".mp3",
            "MP3",
            "MPEG_LAYER_III",
            _MP3_RATES,
            0.3,
            {"compression_level": 0.2, "bitrate_mode": "VARIABLE"},
        ),
    )
}
AUDIO_SUFFIXES = tuple(CODECS)


def check_audio(path: Path, rate: int) -> Codec:
    """How an audio file with this name and sample rate is written.

    Raises FileError where it cannot be: ask before any work is done.
    """
    codec = CODECS.get(path.suffix.lower())
    if codec is None:
        raise FileError(
            f"{path.name} is no kind of audio file that is written here",
            f"let it end in {either(AUDIO_SUFFIXES)}",
        )
    working = [kind.suffix for kind in CODECS.values() if _is_there(kind)]
    if codec.suffix not in working:
        raise FileError(
            f"the libsndfile on this computer cannot write {codec.suffix}",
            f"it can write {either(working)}; or get a newer one: pip install -U soundfile",
        )
    _check_rate(codec, rate)
    return codec


def check_length(path: Path, seconds: float, rate: int) -> None:
    """Raise FileError where a file would last longer than anybody practises, or be larger than
    its kind can be (a WAV file counts its bytes in 32 bits)."""
    if seconds > MOST_SECONDS:
        raise FileError(
            f"{path.name} would last {seconds / 3600:.1f} hours",
            f"up to {MOST_SECONDS // 3600} hours are possible: ask for fewer times, or for a loop "
            "with --seamless, which a phone repeats by itself",
        )
    if path.suffix.lower() == ".wav" and seconds * rate * _WAV_FRAME > _MOST_WAV:
        raise FileError(
            f"{path.name} would be larger than 4 GB, which a .wav file cannot be",
            "write a .flac file, or give a lower --sample-rate",
        )


def _check_rate(codec: Codec, rate: int) -> None:
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise FileError(
            f"a sample rate of {rate} makes no sense for music",
            f"give one from {LOWEST_RATE} to {HIGHEST_RATE} Hz, such as 44100 or 48000",
        )
    if codec.rates and rate not in codec.rates:
        raise FileError(
            f"{codec.suffix} files have no sample rate of {rate}",
            f"give {either([str(known) for known in codec.rates])}",
        )


def _is_there(codec: Codec) -> bool:
    library = libsndfile()
    return codec.format in library.available_formats() and (
        codec.subtype in library.available_subtypes(codec.format)
    )


def libsndfile() -> Any:
    """soundfile, loaded only where sound is written.  Raises FileError without its library."""
    try:
        import soundfile
    except (ImportError, OSError):
        raise FileError(
            "the library that writes audio files (libsndfile) is not to be found",
            "pip install -U soundfile brings it along; or write a .mid file",
        ) from None
    return soundfile
