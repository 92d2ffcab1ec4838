"""What `backing make` does for an audio file: reeds or sound font, tags, progress."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace as replaced
from pathlib import Path
from typing import NamedTuple

import typer

from backing.cli.printing import say_notices
from backing.files.audio import Progress, Tags
from backing.files.sound import save_sound, tags_of
from backing.music.tune import Tune
from backing.practice.performance import Performance

_STEPS = 1000


class SoundChoice(NamedTuple):
    """How an audio file is to sound: frames a second, the sound font (None: the built-in
    reeds), whether it is a loop without a seam, hertz of A, cents between two reeds."""

    rate: int
    font: Path | None
    seamless: bool
    a4: float
    tremolo: float


def write_sound(
    output: Path,
    performance: Performance,
    tune: Tune,
    sound: SoundChoice,
    title: str,
    said: list[str],
    *,
    replace: bool,
) -> str:
    """Write a performance as an audio file; how large it became, in words.

    `title` tells it from others in a phone's list; `said` are the parts of what was made in
    words, without the tune's name.
    """
    with _progress(output.name) as tell:
        saved = save_sound(
            output,
            performance,
            rate=sound.rate,
            font=sound.font,
            a4=sound.a4,
            tremolo=sound.tremolo,
            seamless=sound.seamless,
            tags=_tags(performance, tune, title, said),
            replace=replace,
            progress=tell,
        )
    say_notices(saved.notices)
    return _size(output.stat().st_size)


def _size(count: int) -> str:
    """So many bytes, as a phone counts them.

    >>> _size(592_000), _size(6_996_328)
    ('592 kB', '7.0 MB')
    """
    return f"{count / 1e6:.1f} MB" if count >= 1e6 else f"{count / 1e3:.0f} kB"


def _tags(performance: Performance, tune: Tune, title: str, said: list[str]) -> Tags:
    """What players of sound files show; the album is the tune."""
    return replaced(
        tags_of(performance),
        title=title,
        artist=", ".join(tune.composers),
        album=performance.title,
        comment=", ".join(said),
    )


@contextmanager
def _progress(name: str) -> Iterator[Progress]:
    """A bar on a terminal."""
    if not sys.stderr.isatty():
        yield lambda done: None
        return
    with typer.progressbar(length=_STEPS, label=f"making {name}", file=sys.stderr) as shown:
        yield lambda done: shown.update(max(0, round(done * _STEPS) - shown.pos))
