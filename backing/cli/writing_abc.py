"""A tune as ABC again, with what its text held besides."""

from dataclasses import replace

from backing.errors import BackingError, Notice
from backing.files import Reading
from backing.music.tune import Tune
from backing.parse.abc import kept_text, split_book, tune_of
from backing.render.abc import render_abc


def abc_again(reading: Reading, tune: Tune, voice: str = "") -> tuple[str, tuple[Notice, ...]]:
    """A tune made from the one that was read, as ABC, and what there is to say of it.

    Remarks, directives and the words of voices stay where they stood.  Where the tune would
    read otherwise with them they are left out, which is said.
    """
    if reading.text is None:
        return render_abc(tune), ()
    kept = kept_text(reading.text)
    if kept is not None:
        text = render_abc(tune, kept)
        if reads_as(text, tune, voice):
            return text, ()
    said = Notice(
        "remarks, directives and what is said of voices and clefs are left out",
        "the tune would read otherwise with them; copy them from the old text",
    )
    return render_abc(tune), (said,)


def reads_as(text: str, tune: Tune, voice: str = "") -> bool:
    """True where a text is this tune; texts beside the music may stand in another order."""
    try:
        again = tune_of(next(split_book(text)), voice=voice)
    except (BackingError, StopIteration):
        return False
    return _ordered(again) == _ordered(tune)


def _ordered(tune: Tune) -> Tune:
    return replace(tune, number="", texts=tuple(sorted(tune.texts)))
