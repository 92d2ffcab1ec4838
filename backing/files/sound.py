"""A performance as a sound file, in one step: sounded, brought to the usual loudness, written."""

from pathlib import Path

from backing.files.audio import Progress, Saved, save_audio
from backing.files.sound_font import font_blocks
from backing.files.tags import Tags
from backing.practice.performance import Performance
from backing.render.mix import frames_of, reed_blocks
from backing.render.tuning import A4, TREMOLO, check_a4, check_tremolo

#: Frames a second where nothing else is asked for: what every kind of file can hold.
USUAL_RATE = 48000


def save_sound(
    path: str | Path,
    performance: Performance,
    *,
    rate: int = USUAL_RATE,
    font: str | Path | None = None,
    a4: float = A4,
    tremolo: float = TREMOLO,
    seamless: bool = False,
    tags: Tags | None = None,
    replace: bool = False,
    progress: Progress | None = None,
) -> Saved:
    """Write a performance as a sound file: .mp3, .wav, .flac, .ogg or .opus, as its suffix says.

    `rate` is in frames a second (8,000 to 192,000; not every kind of file has all of them).
    Without a sound `font` the built-in reeds sound, two for a note of the melody `tremolo`
    cents apart (0 to 30, 0 is dry), those of the left hand half as far, 2.5 at most.  `a4` is
    where A is, in hertz (400 to 480).  `seamless` is for a performance that is a loop: its end
    dies away into its beginning.  `tags` are what the file says of itself, without them its
    title, dance and tempo.  `replace` allows to replace a file that we did not make, or that
    was changed since.  `progress` is told now and then how much is done, from 0 to 1.  Raises
    PracticeError where it cannot be tuned so, FileError where it would last more than two hours
    or cannot be written; then an old file is untouched.
    """
    check_a4(a4)
    check_tremolo(tremolo)
    if font is None:
        blocks = reed_blocks(performance, rate, a4=a4, tremolo=tremolo, loops=seamless)
    else:
        blocks = font_blocks(Path(font), performance, rate, a4=a4)
    return save_audio(
        Path(path),
        blocks,
        rate,
        tags or tags_of(performance),
        frames=frames_of(performance, rate),
        seamless=seamless,
        replace=replace,
        progress=progress,
    )


def tags_of(performance: Performance) -> Tags:
    """What a performance says of itself: title, dance, felt beats a minute at its start."""
    tempo = performance.tempos[0].tempo
    return Tags(performance.title, genre=performance.dance, bpm=round(tempo.beats))
